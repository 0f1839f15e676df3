"""Times at a temperature against worked values of the equivalent-age method.

Sources: the form of ASTM C1074 (from memory) with worked values computed from it, R =
8.314462618 J/mol/K; the temperature function of fib Model Code 2010, Eq. 5.1-85, reproduced
with structuralcodes 0.7.2 (``t_T``); trade facts as marked.

A time falls by the factor the rate grows by, so 1/factor is a time, and a table made of two
such times must give the others back.
"""

import pytest

from assistant.trade.cure import (
    Basis,
    Limits,
    TimeRange,
    arrhenius_factor,
    equivalent_age,
    progress,
    stage_time,
    time_at_temperature,
)
from assistant.trade.rounding import clamp_time_up, work_time_down
from assistant.units import Q

R = Q(8.314462618, "J/mol/K")
WIDE = Limits(Q(-5, "degC"), Q(70, "degC"))

# Ea = 50 kJ/mol, reference 21 °C (computed from the Arrhenius form)
FACTORS_50_KJ = {
    5: 0.30851,
    10: 0.45193,
    15: 0.65331,
    25: 1.31558,
    30: 1.83482,
    40: 3.45706,
    60: 10.94924,
}
FIVE_DIGITS = 2e-5  # relative: the factors are printed to five decimals

# fib Model Code 2010, Eq. 5.1-85 (reproduced with structuralcodes 0.7.2)
FACTORS_FIB = {0: 0.36714, 10: 0.61614, 20: 0.99812, 21: 1.04557, 30: 1.56624, 40: 2.38798}


def table_of(factors, *celsius):
    return [(Q(c, "degC"), Q(1 / factors[c], "hour")) for c in celsius]


@pytest.mark.parametrize(("celsius", "factor"), FACTORS_50_KJ.items())
def test_arrhenius_factor(celsius, factor):
    found = arrhenius_factor(Q(celsius, "degC"), Q(21, "degC"), Q(50, "kJ/mol"))
    assert found == pytest.approx(factor, abs=5e-6)


@pytest.mark.parametrize("celsius", [10, 15, 25, 30, 40])
def test_interpolation_is_arrhenius(celsius):
    found = time_at_temperature(table_of(FACTORS_50_KJ, 5, 60), Q(celsius, "degC"), WIDE)
    assert found.basis is Basis.FITTED
    assert found.time.m_as("hour") == pytest.approx(1 / FACTORS_50_KJ[celsius], rel=FIVE_DIGITS)


def test_interpolation_finds_the_reference_temperature():
    # At the reference the factor is 1 by definition (ASTM C1074 form).
    found = time_at_temperature(table_of(FACTORS_50_KJ, 15, 30), Q(21, "degC"), WIDE)
    assert found.time.m_as("hour") == pytest.approx(1, rel=FIVE_DIGITS)


@pytest.mark.parametrize("celsius", [10, 20, 21, 30])
def test_interpolation_agrees_with_the_model_code(celsius):
    # The code's formula has 273 where this program has 273.15: they agree to 0.02 %.
    found = time_at_temperature(table_of(FACTORS_FIB, 0, 40), Q(celsius, "degC"), WIDE)
    assert found.time.m_as("hour") == pytest.approx(1 / FACTORS_FIB[celsius], rel=2e-4)


def test_equivalent_age_of_a_changing_temperature():
    # Q = 5000 K, Ts = 20 °C: 15 °C x 2 h + 20 °C x 2 h + 30 °C x 1 h = 5.24292 h (computed)
    profile = [(Q(15, "degC"), Q(2, "hour")), (Q(20, "degC"), Q(2, "hour"))]
    profile.append((Q(30, "degC"), Q(60, "minute")))
    energy = Q(5000, "kelvin") * R
    age = equivalent_age(profile, Q(20, "degC"), energy)
    assert age.m_as("hour") == pytest.approx(5.24292, abs=5e-6)
    factors = [arrhenius_factor(t, Q(20, "degC"), energy) for t, _ in profile]
    assert factors == pytest.approx([0.74382, 1, 1.75528], abs=5e-6)


def test_second_equivalent_age():
    # Ea = 50 kJ/mol, reference 21 °C: 15 °C x 2 h + 21 °C x 1 h + 30 °C x 1 h (computed)
    profile = [(Q(c, "degC"), Q(h, "hour")) for c, h in ((15, 2), (21, 1), (30, 1))]
    age = equivalent_age(profile, Q(21, "degC"), Q(50, "kJ/mol"))
    assert age.m_as("hour") == pytest.approx(4.14145, abs=5e-6)
    # The same from a table: with one hour at the reference, progress counts those hours.
    table = [*table_of(FACTORS_50_KJ, 5, 60), (Q(21, "degC"), Q(1, "hour"))]
    assert progress(profile, table, WIDE) == pytest.approx(4.14145, rel=FIVE_DIGITS)


def test_progress_agrees_with_the_model_code():
    # The same profile by Eq. 5.1-85: 5.13750 h (reproduced, t_T); 273 against 273.15
    profile = [(Q(c, "degC"), Q(h, "hour")) for c, h in ((15, 2), (20, 2), (30, 1))]
    done = progress(profile, table_of(FACTORS_FIB, 0, 20, 40), WIDE)
    assert done == pytest.approx(5.13750, rel=2e-4)


@pytest.mark.parametrize(
    ("cold", "warm", "kilojoules"),
    [(16, 26, 49.85), (21, 31, 51.56), (11, 21, 48.17), (25, 35, 52.95)],
)
def test_doubling_rule_has_the_activation_energy_it_implies(cold, warm, kilojoules):
    # Ea = R ln 2 / (1/T1 - 1/T2) (computed): the rule and the Arrhenius form meet there.
    by_rule = time_at_temperature([(Q(warm, "degC"), Q(1, "hour"))], Q(cold, "degC"), WIDE)
    assert by_rule.basis is Basis.RULE_OF_THUMB
    factor = arrhenius_factor(Q(cold, "degC"), Q(warm, "degC"), Q(kilojoules, "kJ/mol"))
    assert by_rule.time.m_as("hour") == pytest.approx(1 / factor, rel=2e-4)


class TestTradeFacts:
    """40 to 50 min of work time and 1.5 to 2 h of clamp time at 70 °F (21 °C).

    Common practice, no source.
    """

    limits = Limits(Q(50, "degF"), Q(100, "degF"))
    work = ((Q(70, "degF"), TimeRange(Q(40, "minute"), Q(50, "minute"))),)
    clamp = ((Q(70, "degF"), TimeRange(Q(1.5, "hour"), Q(2, "hour"))),)

    @pytest.mark.parametrize("room", [Q(70, "degF"), Q(21, "degC")])
    def test_at_room_temperature(self, room):
        work = stage_time(self.work, "work", room, self.limits)
        clamp = stage_time(self.clamp, "clamp", room, self.limits)
        assert work_time_down(work.time).m_as("minute") == 40
        assert clamp_time_up(clamp.time).m_as("minute") == 120
        assert work.basis is clamp.basis is Basis.TABLE

    def test_clamp_time_at_fifty_five(self):
        # 2 h x 2^(15/18) = 213.8 min, up to 5 min: 3 h 35 min
        clamp = stage_time(self.clamp, "clamp", Q(55, "degF"), self.limits)
        assert clamp.basis is Basis.RULE_OF_THUMB
        assert clamp.time.m_as("minute") == pytest.approx(213.82, abs=0.01)
        assert clamp_time_up(clamp.time).m_as("minute") == 3 * 60 + 35
