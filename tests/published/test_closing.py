"""The hottest metal for an assembly time, against worked values and a root finder.

Sources: the Arrhenius form with factors worked out beforehand (ASTM C1074 form, from
memory; computed); fib Model Code 2010, Eq. 5.1-85 (reproduced with structuralcodes 0.7.2);
scipy's brentq (computed); trade facts as marked.
"""

import pytest
from scipy.optimize import brentq

from assistant.trade.assembly import assembly_time
from assistant.trade.cure import Limits, hottest_for_time, time_at_temperature
from assistant.units import Q

WIDE = Limits(Q(-5, "degC"), Q(70, "degC"))


@pytest.mark.parametrize(
    ("celsius", "factor"),
    # Ea = 50 kJ/mol, reference 21 °C (computed)
    [(10, 0.45193), (15, 0.65331), (25, 1.31558), (30, 1.83482), (40, 3.45706)],
)
def test_arrhenius_factors_lead_back_to_their_temperatures(celsius, factor):
    rows = [(Q(c, "degC"), Q(1 / f, "hour")) for c, f in ((5, 0.30851), (60, 10.94924))]
    found = hottest_for_time(rows, Q(1 / factor, "hour"), WIDE)
    assert found.temperature.m_as("degC") == pytest.approx(celsius, abs=2e-3)


@pytest.mark.parametrize(("celsius", "factor"), [(10, 0.61614), (20, 0.99812), (30, 1.56624)])
def test_the_model_codes_factors_lead_back(celsius, factor):
    # Eq. 5.1-85 (reproduced); 273 against 273.15: a hundredth of a kelvin
    rows = [(Q(c, "degC"), Q(1 / f, "hour")) for c, f in ((0, 0.36714), (40, 2.38798))]
    found = hottest_for_time(rows, Q(1 / factor, "hour"), WIDE)
    assert found.temperature.m_as("degC") == pytest.approx(celsius, abs=0.01)


def test_a_whole_job_by_a_root_finder():
    # 40 min of work time at 70 °F, doubling per 18 °F (common practice, no source); a bead of
    # 3 m at 5 mm/s, 3 min to place, 30 clamps of 30 s: 10 + 3 + 15 = 28 min (by hand)
    total = assembly_time(
        Q(3, "m"), Q(5, "mm/s"), Q(3, "minute"), 30, Q(30, "second")
    ).total  # fmt: skip
    assert total.m_as("minute") == pytest.approx(28)
    root = brentq(lambda f: 40 * 2 ** ((70 - f) / 18) - 28, 50, 100)
    found = hottest_for_time([(Q(70, "degF"), Q(40, "minute"))], total, WIDE)
    assert found.temperature.m_as("degF") == pytest.approx(root, abs=1e-6)
    there = time_at_temperature([(Q(70, "degF"), Q(40, "minute"))], found.temperature, WIDE)
    assert there.time.m_as("minute") == pytest.approx(28)
