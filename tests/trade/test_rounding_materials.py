"""Rounding of weights, reaches and shares of a mixture."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.rounding import (
    coverage_down,
    leftover_down,
    mass_up,
    material_up,
    percent_down,
    percent_up,
    reach_down,
    share_nearest,
)
from assistant.units import Q

amounts = st.floats(0.1, 1e5)


@pytest.mark.parametrize(
    ("function", "value", "unit", "told"),
    [
        (coverage_down, 9.9, "foot ** 2", 9.5),
        (coverage_down, 19.14, "foot ** 2", 19),
        (coverage_down, 1.7782, "meter ** 2", 1.75),
        (coverage_down, 10.29, "meter ** 2", 10.2),
        (mass_up, 9.2, "gram", 9.5),
        (mass_up, 10.2, "gram", 11),
        (mass_up, 162.2, "gram", 165),
        (mass_up, 1001, "gram", 1050),
        (mass_up, 5.72, "ounce", 5.8),
        (mass_up, 10.1, "ounce", 10.5),
        (mass_up, 50.1, "ounce", 51),
        (mass_up, 1.01, "pound", 1.05),
        (mass_up, 12.31, "kilogram", 12.4),
        (material_up, 5.2439, "liter", 5.25),
        (material_up, 1.3853, "gallon", 1.4),
        (leftover_down, 2.0509, "liter", 2.05),
        (leftover_down, 123.9, "gallon", 123),
        (reach_down, 11.9, "inch", 11.75),
        (reach_down, 232.9, "inch", 232),
        (reach_down, 99.9, "mm", 99),
        (reach_down, 999, "mm", 995),
        (reach_down, 5919, "mm", 5910),
        (share_nearest, 0.116, "ounce", 0.12),
        (share_nearest, 5.333, "fluid_ounce", 5.3),
        (share_nearest, 118.29, "mL", 118),
        (share_nearest, 118.51, "mL", 119),
        (share_nearest, 3.34, "gram", 3.3),
        (share_nearest, 120.4, "fluid_ounce", 120),
    ],
)
def test_steps(function, value, unit, told):
    assert function(Q(value, unit), unit).m_as(unit) == pytest.approx(told, rel=1e-12)


@given(amounts, st.sampled_from(["gram", "ounce"]))
def test_weight_is_never_less(value, unit):
    told = mass_up(Q(value, unit), unit).m_as(unit)
    assert value * (1 - 1e-8) <= told <= value * 1.11 + 0.5


@given(amounts, st.sampled_from(["inch", "mm"]))
def test_reach_is_never_further(value, unit):
    told = reach_down(Q(value, unit), unit).m_as(unit)
    assert told <= value * (1 + 1e-8)
    assert told >= value * 0.9 - 1


@given(amounts, st.sampled_from(["mL", "gram", "fluid_ounce", "ounce"]))
def test_a_share_is_off_by_a_twentieth_at_most(value, unit):
    told = share_nearest(Q(value, unit), unit).m_as(unit)
    assert told == pytest.approx(value, rel=0.05 + 1e-9)


@pytest.mark.parametrize("function", [mass_up, share_nearest])
def test_less_than_nothing_is_refused(function):
    with pytest.raises(ValueError, match="zero or more"):
        function(Q(-1, "gram"), "gram")


@pytest.mark.parametrize(
    ("share", "up", "down"), [(0.123, 0.13, 0.12), (0.12, 0.12, 0.12), (0, 0, 0), (1.999, 2, 1.99)]
)
def test_percents_are_whole(share, up, down):
    assert percent_up(share) == pytest.approx(up)
    assert percent_down(share) == pytest.approx(down)


@pytest.mark.parametrize(
    ("liters", "stated"), [(9.96, 10), (10.04, 10.1), (99.91, 100), (100.05, 101), (100.5, 101)]
)
def test_large_volumes_are_told_in_fewer_decimals(liters, stated):
    found = material_up(Q(liters, "liter"), "liter").magnitude
    assert found == pytest.approx(stated)


@pytest.mark.parametrize(
    ("amount", "unit", "stated"),
    [
        (0.123, "mL", 0.12), (0.996, "mL", 1), (1.23, "mL", 1.2), (1.23, "fluid_ounce", 1.2),
        (5.56, "mL", 5.6), (5.54, "mL", 5.5),
        (10.4, "mL", 10), (99.6, "mL", 100), (0.123, "gram", 0.12), (10.4, "gram", 10),
        (0.123, "fluid_ounce", 0.12), (10.44, "fluid_ounce", 10.4), (99.94, "fluid_ounce", 99.9),
        (100.4, "fluid_ounce", 100), (0.123, "ounce", 0.12), (100.4, "ounce", 100),
    ],
)  # fmt: skip
def test_shares_in_the_steps_of_cups_and_scales(amount, unit, stated):
    assert share_nearest(Q(amount, unit), unit).magnitude == pytest.approx(stated, rel=1e-9)
