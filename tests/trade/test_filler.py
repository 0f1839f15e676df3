"""Filler: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.filler import (
    filled_volume,
    filler_needed,
    hardener_mass,
    lifts,
    seam_area,
)
from assistant.units import Q

sizes = st.floats(1, 5000)  # mm
depths = st.floats(0.1, 50)  # mm
wastes = st.floats(0, 0.5)
DENSITY, SHARE, LIFT = Q(1.1, "g/mL"), 0.02, Q(3, "mm")


def needed(length, width, depth, waste=0.0):
    area = seam_area(Q(length, "mm"), Q(width, "mm"))
    return filler_needed(area, Q(depth, "mm"), DENSITY, SHARE, LIFT, waste)


def test_by_hand():
    # 500 mm * 40 mm * 4 mm = 80 mL; + 25 % = 100 mL; * 1.1 = 110 g; 2 % = 2.2 g; 4/3 -> 2
    found = needed(500, 40, 4, 0.25)
    assert found.on_panel.m_as("mL") == pytest.approx(80)
    assert found.volume.m_as("mL") == pytest.approx(100)
    assert found.mass.m_as("gram") == pytest.approx(110)
    assert found.hardener.m_as("gram") == pytest.approx(2.2)
    assert found.lifts == 2


def test_a_lift_filled_to_the_brim_is_one_lift():
    assert lifts(Q(3, "mm"), LIFT) == 1
    assert lifts(Q(3.01, "mm"), LIFT) == 2
    assert lifts(Q(3, "mm").to("inch"), LIFT) == 1
    assert lifts(Q(9, "mm"), LIFT) == 3


@given(sizes, sizes, depths, depths, wastes)
def test_deeper_or_more_waste_never_needs_less(length, width, one, other, waste):
    less, more = (needed(length, width, depth, waste) for depth in sorted((one, other)))
    assert less.volume <= more.volume
    assert less.lifts <= more.lifts
    assert needed(length, width, one).volume <= needed(length, width, one, waste).volume


@given(sizes, sizes, depths, wastes)
def test_units_in_make_no_difference(length, width, depth, waste):
    metric = needed(length, width, depth, waste)
    area = seam_area(Q(length, "mm").to("foot"), Q(width, "mm").to("inch")).to("foot**2")
    us = filler_needed(
        area, Q(depth, "mm").to("inch"), DENSITY.to("pound/gallon"), SHARE, LIFT, waste
    )
    assert us.mass.m_as("gram") == pytest.approx(metric.mass.m_as("gram"), rel=1e-9)
    assert us.hardener.m_as("gram") == pytest.approx(metric.hardener.m_as("gram"), rel=1e-9)


@given(depths, depths)
def test_no_lift_is_thicker_than_allowed_and_one_less_would_be(depth, thickest):
    count = lifts(Q(depth, "mm"), Q(thickest, "mm"))
    assert depth / count <= thickest * (1 + 1e-8)
    assert count == 1 or depth / (count - 1) > thickest


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_what_is_nothing_is_refused(wrong):
    good = Q(1, "mm")
    with pytest.raises(ValueError, match="length"):
        seam_area(Q(wrong, "mm"), good)
    with pytest.raises(ValueError, match="width"):
        seam_area(good, Q(wrong, "mm"))
    with pytest.raises(ValueError, match="area"):
        filled_volume(Q(wrong, "mm**2"), good)
    with pytest.raises(ValueError, match="depth"):
        filled_volume(Q(1, "mm**2"), Q(wrong, "mm"))
    with pytest.raises(ValueError, match="lift"):
        lifts(good, Q(wrong, "mm"))
    with pytest.raises(ValueError, match="depth"):
        lifts(Q(wrong, "mm"), good)
    with pytest.raises(ValueError, match="share"):
        hardener_mass(Q(1, "gram"), wrong)
    with pytest.raises(ValueError, match="filler's mass"):
        hardener_mass(Q(wrong, "gram"), 0.02)
    with pytest.raises(ValueError, match="density"):
        filler_needed(Q(1, "mm**2"), good, Q(wrong, "g/mL"), SHARE, LIFT)


@pytest.mark.parametrize("wrong", [-0.1, math.nan, math.inf])
def test_a_waste_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match="waste"):
        needed(1, 1, 1, wrong)
