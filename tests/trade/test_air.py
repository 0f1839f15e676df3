"""Dew: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.air import (
    DRY_MARGIN,
    dew_point,
    least_dry,
    relative_humidity,
    surface_check,
    vapor_pressure,
)
from assistant.units import Q

airs = st.floats(0, 50)
humidities = st.floats(0.01, 1)
ICE_STEP = 1e-4


def dew(air, humidity):
    return dew_point(Q(air, "degC"), humidity).m_as("degC")


@given(airs, humidities)
def test_back_to_the_humidity(air, humidity):
    point = dew(air, humidity)
    found = relative_humidity(Q(air, "degC"), Q(point, "degC"))
    # at 0 °C the equations for ice and for water differ by ICE_STEP: what lies between is 0 °C
    assert found == pytest.approx(humidity, rel=ICE_STEP if abs(point) < 1e-6 else 1e-9)


@pytest.mark.parametrize("humidity", [0.99995, 1])
def test_at_freezing_the_dew_point_is_freezing(humidity):
    assert dew(0, humidity) == pytest.approx(0, abs=1e-6)


@given(airs, airs, humidities)
def test_warmer_air_has_a_higher_dew_point(one, other, humidity):
    cold, hot = sorted((one, other))
    assert dew(cold, humidity) <= dew(hot, humidity) + 1e-9


@given(airs, humidities, humidities)
def test_damper_air_has_a_higher_dew_point(air, one, other):
    dry, damp = sorted((one, other))
    assert dew(air, dry) <= dew(air, damp) + 1e-9 <= air + 2e-9


@given(airs)
def test_saturated_air_is_at_its_dew_point(air):
    assert dew(air, 1.0) == pytest.approx(air, abs=1e-9)


@given(st.floats(-20, 80), airs, humidities)
def test_go_is_what_the_margin_says(metal, air, humidity):
    found = surface_check(Q(metal, "degC"), Q(air, "degC"), humidity)
    assert found.margin.m_as("delta_degC") == pytest.approx(metal - dew(air, humidity), abs=1e-9)
    assert found.go == (metal >= found.least.m_as("degC") - 1e-9)
    assert not (found.go and found.wet)


@given(st.floats(-20, 80), airs, humidities)
def test_units_in_make_no_difference(metal, air, humidity):
    celsius = surface_check(Q(metal, "degC"), Q(air, "degC"), humidity)
    fahrenheit = surface_check(Q(metal, "degC").to("degF"), Q(air, "degC").to("degF"), humidity)
    assert fahrenheit.margin.m_as("delta_degC") == pytest.approx(
        celsius.margin.m_as("delta_degC"), abs=1e-9
    )


def test_exactly_the_margin_is_a_go_and_a_hair_less_is_not():
    air = Q(20, "degC")
    least = least_dry(dew_point(air, 0.5))
    assert surface_check(least, air, 0.5).go
    assert surface_check(least.to("degF"), air, 0.5).go
    assert not surface_check(Q(least.m_as("degC") - 1e-6, "degC"), air, 0.5).go
    assert DRY_MARGIN.m_as("delta_degF") == pytest.approx(5.4)


def test_metal_at_the_dew_point_is_wet():
    air = Q(20, "degC")
    assert surface_check(air, air, 1.0).wet
    assert not surface_check(Q(20.01, "degC"), air, 1.0).wet
    assert not surface_check(Q(20.01, "degC"), air, 1.0).go


@pytest.mark.parametrize("humidity", [0, 0.0099, 1.001, -0.5, math.nan])
def test_humidity_out_of_range(humidity):
    with pytest.raises(ValueError, match="humidity must be from 1 to 100 %"):
        dew_point(Q(20, "degC"), humidity)


@pytest.mark.parametrize("air", [-0.1, 50.1, math.nan])
def test_air_out_of_range(air):
    with pytest.raises(ValueError, match="air must be from 0 to 50"):
        dew_point(Q(air, "degC"), 0.5)
    with pytest.raises(ValueError, match="air must be"):
        relative_humidity(Q(air, "degC"), Q(-5, "degC"))


def test_both_ends_of_the_range_are_in_it():
    assert dew_point(Q(32, "degF"), 0.01) < dew_point(Q(122, "degF"), 1)


def test_a_dew_point_above_the_air_is_refused():
    with pytest.raises(ValueError, match="above the temperature of the air"):
        relative_humidity(Q(20, "degC"), Q(21, "degC"))


@pytest.mark.parametrize("celsius", [-100, 200])
def test_both_ends_of_the_formulas_are_in_their_range(celsius):
    assert vapor_pressure(Q(celsius, "degC")).magnitude > 0
    beyond = Q(celsius + math.copysign(0.01, celsius), "degC")
    with pytest.raises(ValueError, match="known from -100 to 200 °C"):
        vapor_pressure(beyond)


def test_a_refused_humidity_is_told_in_percent():
    with pytest.raises(ValueError, match=r"not 120 %"):
        dew_point(Q(20, "degC"), 1.2)
