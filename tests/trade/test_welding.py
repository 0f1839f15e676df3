"""Weld buttons: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.welding import (
    Button,
    governing_thickness,
    judge_peel_test,
    nominal_button,
    smallest_button,
)
from assistant.units import Q

thicknesses = st.floats(0.4, 3.0)
stacks = st.lists(thicknesses, min_size=1, max_size=3)
diameters = st.floats(0, 18)


def mm(values):
    return [Q(value, "mm") for value in values]


@given(thicknesses, thicknesses)
def test_a_thicker_sheet_never_asks_for_a_smaller_button(one, other):
    thin, thick = mm(sorted((one, other)))
    for button in (smallest_button, nominal_button):
        assert button(thin) <= button(thick)
    assert smallest_button(thin) < nominal_button(thin)


@given(stacks)
def test_the_order_of_the_sheets_makes_no_difference(stack):
    found = {governing_thickness(mm(order)).m_as("mm") for order in (stack, stack[::-1])}
    assert len(found) == 1
    assert found <= set(stack)


@given(thicknesses)
def test_back_to_the_sheet(thickness):
    back = (smallest_button(Q(thickness, "mm")).m_as("mm") / 4) ** 2
    assert back == pytest.approx(thickness)


@given(stacks, st.lists(diameters, min_size=1, max_size=5))
def test_one_button_too_small_fails_all(stack, buttons):
    found = judge_peel_test(mm(stack), mm(buttons))
    assert found.passed == (min(buttons) >= found.smallest.m_as("mm") - 1e-9)
    assert len(found.buttons) == len(buttons)
    if not found.passed:
        assert not judge_peel_test(mm(stack), mm([*buttons, 18])).passed


@given(stacks, st.lists(diameters, min_size=1, max_size=5))
def test_units_in_make_no_difference(stack, buttons):
    inches = [[q.to("inch") for q in mm(values)] for values in (stack, buttons)]
    assert judge_peel_test(*inches).buttons == judge_peel_test(mm(stack), mm(buttons)).buttons


def test_exactly_the_limit_is_accepted_in_inches_too():
    (found,) = judge_peel_test(mm([1]), [Q(4 / 25.4, "inch")]).buttons
    assert found is Button.ACCEPTED
    (found,) = judge_peel_test(mm([1]), [Q(5 / 25.4, "inch")]).buttons
    assert found is Button.NOMINAL


def test_no_button_fails():
    assert judge_peel_test(mm([1]), mm([0])).buttons == (Button.TOO_SMALL,)


@pytest.mark.parametrize("wrong", [0.39, 3.01, 0, -1, math.nan])
def test_sheets_out_of_range(wrong):
    with pytest.raises(ValueError, match=r"from 0\.4 to 3 mm thick"):
        governing_thickness(mm([1, wrong]))


def test_both_ends_of_the_range_are_in_it():
    assert governing_thickness([Q(0.4, "mm"), Q(3 / 25.4, "inch")]).m_as("mm") == 0.4


def test_other_refusals():
    with pytest.raises(ValueError, match="one to 3 thicknesses, not 4"):
        governing_thickness(mm([1, 1, 1, 1]))
    with pytest.raises(ValueError, match="one to 3 thicknesses, not 0"):
        governing_thickness([])
    with pytest.raises(ValueError, match="at least one button"):
        judge_peel_test(mm([1]), [])
    for wrong in (-1, math.nan, math.inf):
        with pytest.raises(ValueError, match="zero or more"):
            judge_peel_test(mm([1]), mm([wrong]))
    for wrong in (0, -1, math.nan, math.inf):
        with pytest.raises(ValueError, match="governing thickness must be above zero"):
            smallest_button(Q(wrong, "mm"))
