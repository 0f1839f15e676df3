"""Dew points against psychrolib, CoolProp and a printed table of both.

Table below: psychrolib 2.5.0 and CoolProp 8.0.0 at 101325 Pa, reproduced; the psychrolib
figure for 25 °C and 80 % also stands in that library's source header (seen). Both libraries
are also run here. psychrolib holds the same ASHRAE equations, so it checks the coefficients
and the inversion; CoolProp's real-gas air is a different formula.
"""

import CoolProp.CoolProp as coolprop
import psychrolib
import pytest

from assistant.trade.air import AIR_RANGE, dew_point, surface_check, vapor_pressure
from assistant.units import Q

psychrolib.SetUnitSystem(psychrolib.SI)
SEA_LEVEL_PA = 101325

# °C and relative humidity in percent: psychrolib, CoolProp
TABLE = {
    (5, 70): (-0.008, -0.009),
    (10, 80): (6.713, 6.713),
    (15, 65): (8.482, 8.483),
    (20, 50): (9.272, 9.274),
    (21, 60): (12.947, 12.949),
    (25, 60): (16.701, 16.704),
    (25, 80): (21.3094, 21.3107),
    (30, 70): (23.928, 23.931),
    (35, 40): (19.385, 19.391),
}
HUMIDITIES = (5, 20, 35, 50, 65, 80, 95, 100)


def ours(celsius, percent):
    return dew_point(Q(celsius, "degC"), percent / 100).m_as("degC")


@pytest.mark.parametrize(("given", "printed"), TABLE.items())
def test_the_table(given, printed):
    # reproduced; 0.0006 is the table's own rounding, 0.007 how far the two libraries differ
    assert ours(*given) == pytest.approx(printed[0], abs=0.0006)
    assert ours(*given) == pytest.approx(printed[1], abs=0.007)


@pytest.mark.parametrize(("percent", "fahrenheit"), [(50, 50.53), (60, 55.49)])
def test_seventy_fahrenheit(percent, fahrenheit):
    # reproduced with psychrolib 2.5.0
    found = dew_point(Q(70, "degF"), percent / 100)
    assert found.m_as("degF") == pytest.approx(fahrenheit, abs=0.005)


@pytest.mark.parametrize("percent", HUMIDITIES)
def test_the_whole_range_against_psychrolib(percent):
    # run here; at 0 °C itself psychrolib takes humidity over ice
    for celsius in range(1, 51):
        reference = psychrolib.GetTDewPointFromRelHum(celsius, percent / 100)
        assert ours(celsius, percent) == pytest.approx(reference, abs=1e-6)


@pytest.mark.parametrize("percent", HUMIDITIES)
def test_the_whole_range_against_coolprop(percent):
    # run here; real-gas humid air; the worst of the range is 0.0185 °C, in hot dry air
    for celsius in range(1, 51, 2):
        reference = coolprop.HAPropsSI(
            "D", "T", celsius + 273.15, "P", SEA_LEVEL_PA, "R", percent / 100
        )
        assert ours(celsius, percent) + 273.15 == pytest.approx(reference, abs=0.02)


def test_the_range_is_the_one_that_was_compared():
    assert [bound.m_as("degC") for bound in AIR_RANGE] == pytest.approx([0, 50])


@pytest.mark.parametrize(("celsius", "pascal"), [(0, 611.2), (20, 2338.8), (100, 101325)])
def test_saturation_pressure(celsius, pascal):
    # 0 °C and 20 °C: steam tables, from memory; 100 °C: the boiling point at one atmosphere,
    # which the equations meet to 0.1 % (ASHRAE's own scale, from memory)
    found = vapor_pressure(Q(celsius, "degC")).m_as("Pa")
    assert found == pytest.approx(pascal, rel=1e-3)


def test_three_degrees_above_the_dew_point():
    # ISO 8502-4: 3 °C (from memory). By hand from the table: 20 °C and 50 % give 9.272 °C,
    # so 12.3 °C is a go and 12.2 °C is none.
    air = Q(20, "degC")
    assert surface_check(Q(12.3, "degC"), air, 0.5).go
    assert not surface_check(Q(12.2, "degC"), air, 0.5).go


def test_a_go_also_meets_five_degrees_fahrenheit():
    # MIL-HDBK-1110: 5 °F (seen). 5 °F is 2.78 °C: what is a go here is a go there.
    found = surface_check(Q(55.93, "degF"), Q(70, "degF"), 0.5)
    assert found.go
    assert found.margin.m_as("delta_degF") >= 5
    five = surface_check(Q(50.53 + 5.1, "degF"), Q(70, "degF"), 0.5)
    assert not five.go
