"""Foam: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.bead import Package
from assistant.trade.foam import (
    box_volume,
    cavity_filled,
    foam_liquid,
    foam_needed,
    foam_risen,
)
from assistant.units import Q

PACKAGE = Package(Q(200, "mL"), Q(4, "mL"), Q(2, "mL"), Q(6, "mL"))  # usable: 188 mL

cavities = st.floats(10, 500_000)  # mL
expansions = st.floats(1, 60)
wastes = st.floats(0, 0.5)


def test_by_hand():
    # 2000 / 6 = 333.33; * 8 = 2666.67; + 10 % = 366.67: two cartridges of 188
    found = foam_needed(Q(2, "liter"), 6, 8, PACKAGE, 0.1)
    assert found.liquid.m_as("mL") == pytest.approx(333.333, abs=0.001)
    assert found.rises_to.m_as("mL") == pytest.approx(2666.667, abs=0.001)
    assert found.material.needed.m_as("mL") == pytest.approx(390.667, abs=0.001)
    assert (found.material.cartridges, found.material.tips) == (2, 2)


def test_one_cartridge_without_waste_unless_said():
    assert cavity_filled(PACKAGE, 6).m_as("mL") == pytest.approx(188 * 6)
    found = foam_needed(Q(600, "mL"), 6, 8, PACKAGE).material
    assert found.waste.m_as("mL") == 0
    assert found.needed.m_as("mL") == pytest.approx(100 + 12)


@given(cavities, expansions)
def test_round_trip(cavity, expansion):
    liquid = foam_liquid(Q(cavity, "mL"), expansion)
    assert foam_risen(liquid, expansion).m_as("mL") == pytest.approx(cavity, rel=1e-12)
    assert liquid.m_as("mL") <= cavity


@given(cavities, cavities, expansions, wastes)
def test_a_larger_cavity_never_needs_less(one, other, least, waste):
    small, large = (
        foam_needed(Q(cavity, "mL"), least, 60, PACKAGE, waste).material
        for cavity in sorted((one, other))
    )
    assert small.needed <= large.needed
    assert small.cartridges <= large.cartridges


@given(cavities, expansions, expansions)
def test_more_rise_never_needs_more(cavity, one, other):
    less, more = (foam_liquid(Q(cavity, "mL"), rise) for rise in sorted((one, other)))
    assert more <= less


@given(expansions, st.integers(1, 50), wastes)
def test_what_cartridges_fill_takes_those_cartridges(least, count, waste):
    cavity = cavity_filled(PACKAGE, least, count, waste)
    assert foam_needed(cavity, least, 60, PACKAGE, waste).material.cartridges == count
    assert foam_needed(cavity * 1.001, least, 60, PACKAGE, waste).material.cartridges == count + 1


@given(st.floats(5, 5000), st.floats(5, 500), st.floats(5, 500))
def test_units_and_order_make_no_difference(a, b, c):
    metric = box_volume(Q(a, "mm"), Q(b, "mm"), Q(c, "mm"))
    us = box_volume(Q(c, "mm").to("inch"), Q(a, "mm").to("foot"), Q(b, "mm").to("inch"))
    assert us.m_as("mL") == pytest.approx(metric.m_as("mL"), rel=1e-12)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_what_is_nothing_is_refused(wrong):
    good = Q(10, "mm")
    for sides in ((Q(wrong, "mm"), good, good), (good, Q(wrong, "mm"), good),
                  (good, good, Q(wrong, "mm"))):  # fmt: skip
        with pytest.raises(ValueError, match="above zero"):
            box_volume(*sides)
    with pytest.raises(ValueError, match="cavity"):
        foam_liquid(Q(wrong, "mL"), 6)
    with pytest.raises(ValueError, match="liquid"):
        foam_risen(Q(wrong, "mL"), 6)


@pytest.mark.parametrize("wrong", [0.9, -1, math.nan, math.inf])
def test_an_expansion_that_is_none_is_refused(wrong):
    with pytest.raises(ValueError, match="expansion"):
        foam_liquid(Q(1, "liter"), wrong)
    with pytest.raises(ValueError, match="expansion"):
        cavity_filled(PACKAGE, wrong)


def test_other_refusals():
    with pytest.raises(ValueError, match="least expansion"):
        foam_needed(Q(1, "liter"), 8, 6, PACKAGE)
    with pytest.raises(ValueError, match="cartridges"):
        cavity_filled(PACKAGE, 6, 0)
    for wrong in (-0.1, math.nan, math.inf):
        with pytest.raises(ValueError, match="waste"):
            cavity_filled(PACKAGE, 6, 1, wrong)


def test_a_foam_that_always_rises_the_same():
    found = foam_needed(Q(600, "mL"), 6, 6, PACKAGE)
    assert found.rises_to.m_as("mL") == pytest.approx(600)
