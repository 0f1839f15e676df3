"""The temperature for a time against worked values and a root finder that knows no inverse.

Sources: the Arrhenius form with worked factors computed from it (ASTM C1074 form, from
memory); the temperature function of fib Model Code 2010, Eq. 5.1-85, reproduced with
structuralcodes 0.7.2; scipy's brentq; trade facts as marked.
"""

import pytest
from scipy.optimize import brentq

from assistant.trade.cure import Limits, temperature_for_time, time_at_temperature
from assistant.units import Q

WIDE = Limits(Q(-5, "degC"), Q(70, "degC"))

# Ea = 50 kJ/mol, reference 21 °C (computed from the Arrhenius form)
FACTORS_50_KJ = {5: 0.30851, 10: 0.45193, 15: 0.65331, 25: 1.31558, 30: 1.83482, 40: 3.45706,
                 60: 10.94924}  # fmt: skip
# fib Model Code 2010, Eq. 5.1-85 (reproduced with structuralcodes 0.7.2)
FACTORS_FIB = {0: 0.36714, 10: 0.61614, 20: 0.99812, 21: 1.04557, 30: 1.56624, 40: 2.38798}


def table_of(factors, *celsius):
    return [(Q(c, "degC"), Q(1 / factors[c], "hour")) for c in celsius]


@pytest.mark.parametrize("celsius", [10, 15, 25, 30, 40])
def test_arrhenius_factors_lead_back_to_their_temperatures(celsius):
    # printed to five decimals: a thousandth of a kelvin
    time = Q(1 / FACTORS_50_KJ[celsius], "hour")
    found = temperature_for_time(table_of(FACTORS_50_KJ, 5, 60), time, WIDE)
    assert found.temperature.m_as("degC") == pytest.approx(celsius, abs=2e-3)


@pytest.mark.parametrize("celsius", [10, 20, 21, 30])
def test_the_model_codes_factors_lead_back(celsius):
    # the code has 273 where this program has 273.15: a hundredth of a kelvin
    time = Q(1 / FACTORS_FIB[celsius], "hour")
    found = temperature_for_time(table_of(FACTORS_FIB, 0, 40), time, WIDE)
    assert found.temperature.m_as("degC") == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize("minutes", [45, 55, 75, 85])
def test_against_a_root_finder(minutes):
    rows = [(Q(f, "degF"), Q(m, "minute")) for f, m in ((60, 90), (70, 60), (80, 40))]

    def late(fahrenheit):
        there = time_at_temperature(rows, Q(fahrenheit, "degF"), WIDE)
        return there.time.m_as("minute") - minutes

    # scipy's brentq on the forward function (computed)
    root = brentq(late, 60.6, 79.4, xtol=1e-10)
    found = temperature_for_time(rows, Q(minutes, "minute"), WIDE)
    assert found.temperature.m_as("degF") == pytest.approx(root, abs=1e-6)


def test_the_doubling_rule_backwards():
    # twice as fast 18 °F (10 K) warmer (common practice, no source)
    rows = [(Q(70, "degF"), Q(2, "hour"))]
    for hours, fahrenheit in ((1, 88), (2, 70), (4, 52)):
        found = temperature_for_time(rows, Q(hours, "hour"), WIDE)
        assert found.temperature.m_as("degF") == pytest.approx(fahrenheit, abs=1e-9)
