"""Rows of spots, clamps and rivets: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.spacing import row_at_spacing, spacing_of_row
from assistant.units import Q

lengths = st.floats(10, 1e5)  # mm
spacings = st.floats(5, 1000)  # mm


def row(length, spacing, edge=0.0):
    return row_at_spacing(Q(length, "mm"), Q(spacing, "mm"), Q(edge, "mm"))


@given(lengths, spacings)
def test_no_gap_is_wider_and_one_less_would_be(length, spacing):
    found = row(length, spacing)
    assert found.spacing.m_as("mm") <= spacing * (1 + 1e-8)
    if found.count > 2:
        assert length / (found.count - 2) > spacing * (1 - 1e-8)


@given(lengths, spacings)
def test_back_from_the_count(length, spacing):
    found = row(length, spacing)
    back = spacing_of_row(Q(length, "mm"), found.count)
    assert back.m_as("mm") == pytest.approx(found.spacing.m_as("mm"))
    assert row(length, back.m_as("mm")).count == found.count


@given(lengths, lengths, spacings)
def test_more_length_never_needs_less(one, other, spacing):
    short, long = sorted((one, other))
    assert row(short, spacing).count <= row(long, spacing).count


@given(lengths, spacings, spacings)
def test_a_wider_spacing_never_needs_more(length, one, other):
    close, wide = sorted((one, other))
    assert row(length, close).count >= row(length, wide).count


@given(lengths, spacings)
def test_units_in_make_no_difference(length, spacing):
    us = row_at_spacing(Q(length, "mm").to("foot"), Q(spacing, "mm").to("inch"))
    assert us.count == row(length, spacing).count


def test_ends_are_taken_off_both_sides():
    # 600 - 2 * 20 = 560 = 14 gaps of 40
    found = row(600, 40, 20)
    assert (found.count, found.spacing.m_as("mm")) == (15, 40)
    assert spacing_of_row(Q(600, "mm"), 15, Q(20, "mm")).m_as("mm") == 40


def test_a_short_length_still_takes_two():
    assert (row(10, 1000).count, row(10, 1000).spacing.m_as("mm")) == (2, 10)
    assert row(40, 40).count == 2
    assert row(0.5, 0.25).count == 3
    assert row(40.001, 40).count == 3


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_what_is_not_above_zero_is_refused(wrong):
    with pytest.raises(ValueError, match="length must be above zero"):
        row(wrong, 40)
    with pytest.raises(ValueError, match="spacing must be above zero"):
        row(600, wrong)
    with pytest.raises(ValueError, match="length must be above zero"):
        spacing_of_row(Q(wrong, "mm"), 3)


def test_other_refusals():
    with pytest.raises(ValueError, match="nothing is left"):
        row(600, 40, 300)
    with pytest.raises(ValueError, match="zero or more"):
        row(600, 40, -1)
    with pytest.raises(ValueError, match="2 or more in the row, not 1"):
        spacing_of_row(Q(600, "mm"), 1)
    assert row(600, 40, 299.9).count == 2
