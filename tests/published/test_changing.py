"""Curing at a changing temperature against worked values and scipy's integrals.

Sources: the form of ASTM C1074 (from memory) with profiles worked out from it beforehand
(computed, R = 8.314462618 J/mol/K); fib Model Code 2010, Eq. 5.1-85 (reproduced with
structuralcodes 0.7.2, ``t_T``); scipy's quad (computed).
"""

import math

import pytest
from scipy.integrate import quad

from assistant.trade.changing import (
    STEPS_BETWEEN_READINGS,
    CureTable,
    equivalent_age_by_table,
    progress_along,
    progress_so_far,
    remaining_time,
)
from assistant.trade.cure import Limits
from assistant.units import Q

WIDE = Limits(Q(-5, "degC"), Q(70, "degC"))


def table_of(factors):
    """One hour at the reference; elsewhere the factor's share of it."""
    rows = tuple((Q(c, "degC"), Q(1 / factor, "hour")) for c, factor in factors.items())
    return CureTable(rows, WIDE)


def profile(*pairs):
    return [(Q(c, "degC"), Q(hours, "hour")) for c, hours in pairs]


def test_model_code_profile():
    # 15 °C x 2 h + 20 °C x 2 h + 30 °C x 1 h: 5.13750 h (reproduced); rows of the same
    # function at 0, 20 and 40 °C; 273 against 273.15
    table = table_of({0: 0.36714, 20: 0.99812, 40: 2.38798})
    found = progress_so_far(table, profile((15, 2), (20, 2), (30, 1)))
    assert found.share == pytest.approx(5.13750, rel=2e-4)


def test_c1074_profile():
    # Q = 5000 K, Ts = 20 °C: factors 0.74382, 1, 1.75528; the same profile 5.24292 h (computed)
    table = table_of({15: 0.74382, 20: 1.0, 30: 1.75528})
    found = progress_so_far(table, profile((15, 2), (20, 2), (30, 1)))
    assert found.share == pytest.approx(5.24292, abs=2e-5)
    age = equivalent_age_by_table(table, found.share, Q(20, "degC"))
    assert age.m_as("hour") == pytest.approx(5.24292, abs=2e-5)


def test_second_profile_and_what_is_left():
    # Ea = 50 kJ/mol, reference 21 °C: 15 °C x 2 h + 21 °C x 1 h + 30 °C x 1 h = 4.14145 h
    # (computed). A stage of 6 h at 21 °C then has 1.85855 h left there, at 30 °C (factor
    # 1.83482) 1.01293 h
    factors = {5: 0.30851, 21: 1.0, 60: 10.94924}
    rows = tuple((Q(c, "degC"), Q(6 / factor, "hour")) for c, factor in factors.items())
    table = CureTable(rows, WIDE)
    found = progress_so_far(table, profile((15, 2), (21, 1), (30, 1)))
    assert found.share * 6 == pytest.approx(4.14145, abs=1e-4)
    left = remaining_time(table, found.share, Q(21, "degC"))
    assert left.m_as("hour") == pytest.approx(1.85855, abs=1e-4)
    left = remaining_time(table, found.share, Q(30, "degC"))
    assert left.m_as("hour") == pytest.approx(1.85855 / 1.83482, abs=1e-4)


@pytest.mark.parametrize(("first", "last"), [(15, 30), (30, 15), (12, 14)])
def test_a_slope_against_scipys_integral(first, last):
    # rate of the C1074 form, Q = 5000 K, Ts = 20 °C, one hour at the reference, T straight
    # from one reading to the other over 4 h
    def rate(celsius):
        return math.exp(-5000 * (1 / (celsius + 273.15) - 1 / 293.15))

    exact = quad(lambda t: rate(first + (last - first) * t / 4), 0, 4, epsabs=1e-12)[0]
    table = table_of({celsius: rate(celsius) for celsius in (5, 60)})
    readings = [(Q(0, "hour"), Q(first, "degC")), (Q(4, "hour"), Q(last, "degC"))]
    found = progress_along(table, readings, Q(4, "hour"))
    # a lower sum: never above, below by half a slice's rise at most
    most = abs(rate(first) / rate(last) - 1) / STEPS_BETWEEN_READINGS
    assert found.share <= exact + 1e-9
    assert found.share == pytest.approx(exact, rel=most)


def test_doubling_rule_profile():
    # an hour at 52 °F is half an hour at 70 °F, at 88 °F two (common practice, no source)
    table = CureTable(((Q(70, "degF"), Q(2, "hour")),), Limits(Q(50, "degF"), Q(95, "degF")))
    found = progress_so_far(table, [(Q(52, "degF"), Q(1, "hour")), (Q(88, "degF"), Q(15, "min"))])
    assert found.share * 2 == pytest.approx(0.5 + 0.5)
