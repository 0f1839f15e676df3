"""Rounding of dew points, margins, lengths and weld buttons."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade import rounding
from assistant.units import Q


@pytest.mark.parametrize(
    ("celsius", "stated"), [(9.272, 9.5), (9.5, 9.5), (9.501, 10), (-0.008, 0), (-3.2, -3)]
)
def test_dew_points_go_up_to_half_degrees(celsius, stated):
    assert rounding.dew_point_up(Q(celsius, "degC"), "degC").m_as("degC") == stated
    assert rounding.dew_point_up(Q(celsius, "degC"), "degF").m_as("degC") >= celsius - 1e-9


@pytest.mark.parametrize(
    ("difference", "stated"), [(3, 3), (2.999, 2.9), (7.47, 7.4), (-0.01, -0.1), (0.05, 0)]
)
def test_margins_go_down_to_tenths(difference, stated):
    found = rounding.margin_down(Q(difference, "delta_degC"), "delta_degC")
    assert found.m_as("delta_degC") == stated


def test_a_margin_that_is_just_enough_is_still_said_to_be():
    for unit, limit in (("delta_degC", 3.0), ("delta_degF", 5.4)):
        assert rounding.margin_down(Q(3, "delta_degC"), unit).m_as(unit) == limit


@pytest.mark.parametrize(
    ("inches", "up", "down"),
    [(1, 1, 1), (1.01, 1 + 1 / 16, 1), (0.3125, 0.3125, 0.3125), (0.32, 0.375, 0.3125)],
)
def test_lengths_in_sixteenths(inches, up, down):
    assert rounding.length_up(Q(inches, "inch"), "inch").magnitude == up
    assert rounding.length_down(Q(inches, "inch"), "inch").magnitude == down


def test_lengths_in_millimetres_and_buttons():
    assert rounding.length_up(Q(6.03, "mm"), "mm").magnitude == 7
    assert rounding.length_down(Q(6.97, "mm"), "mm").magnitude == 6
    assert rounding.button_up(Q(3.578, "mm"), "mm").magnitude == 3.58
    assert rounding.button_up(Q(4, "mm"), "mm").magnitude == 4
    # 4 / 25.4 = 0.15748
    assert rounding.button_up(Q(4, "mm"), "inch").magnitude == 0.158


@given(st.floats(0, 1e5), st.sampled_from(["inch", "mm"]))
def test_lengths_err_to_the_named_side(millimetres, unit):
    exact = Q(millimetres, "mm")
    slack = Q(1e-8 * max(1, millimetres), "mm")
    assert rounding.length_down(exact, unit) <= exact + slack
    assert rounding.length_up(exact, unit) >= exact - slack
    assert rounding.button_up(exact, unit) >= exact - slack
    step = Q(rounding.LENGTH_STEPS[unit], unit)
    assert rounding.length_up(exact, unit) - rounding.length_down(exact, unit) <= step + slack


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_what_is_no_figure_is_refused(wrong):
    for rounded in (rounding.length_up, rounding.length_down, rounding.button_up):
        with pytest.raises(ValueError, match="finite"):
            rounded(Q(wrong, "mm"), "mm")
    with pytest.raises(ValueError, match="finite"):
        rounding.dew_point_up(Q(wrong, "degC"), "degC")
    with pytest.raises(ValueError, match="finite"):
        rounding.margin_down(Q(wrong, "delta_degC"), "delta_degC")


@given(st.floats(0, 1e6), st.sampled_from(sorted(rounding.AREA_STEPS)))
def test_areas_are_never_said_too_large(square_millimetres, unit):
    exact = Q(square_millimetres, "mm**2")
    stated = rounding.area_down(exact, unit)
    assert stated.m_as("mm**2") <= square_millimetres * (1 + 1e-8)
    assert stated.m_as(unit) >= exact.m_as(unit) * 0.9 - 0.1


@pytest.mark.parametrize(
    ("size", "unit", "stated"),
    [
        (0.31, "inch", 0.3125),
        (0.3125, "inch", 0.3125),
        (0.3126, "inch", 0.375),
        (0.01, "inch", 0.0625),
        (8.9, "mm", 9),
        (9, "mm", 9),
        (9.1, "mm", 9.5),
        (0.2, "mm", 0.5),
    ],
)
def test_beads_go_up_to_the_next_size_a_tip_is_cut_to(size, unit, stated):
    assert rounding.bead_up(Q(size, unit), unit).magnitude == stated
