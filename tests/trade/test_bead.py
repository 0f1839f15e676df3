"""Beads and the material for them: properties, edges, refusals."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.trade.bead import (
    SHAPES,
    Package,
    bead_area,
    bead_volume,
    material_needed,
)
from assistant.units import Q

PACKAGE = Package(Q(220, "mL"), Q(5, "mL"), Q(3, "mL"), Q(9, "mL"))  # usable: 203 mL

lengths = st.floats(1, 1e5)  # mm
sizes = st.floats(1, 25.4)  # mm
wastes = st.floats(0, 0.5)


def volume(shape, size, length, beads=1):
    return bead_volume(bead_area(shape, Q(size, "mm")), Q(length, "mm"), beads)


def test_half_round_is_half_of_round():
    whole = bead_area("round", Q(10, "mm")).m_as("mm^2")
    assert bead_area("half-round", Q(10, "mm")).m_as("mm^2") == pytest.approx(whole / 2)


def test_a_triangle_is_as_high_as_wide_unless_said():
    assert bead_area("triangular", Q(10, "mm")).m_as("mm^2") == pytest.approx(50)
    assert bead_area("triangular", Q(10, "mm"), Q(4, "mm")).m_as("mm^2") == pytest.approx(20)


def test_two_beads_hold_twice_as_much():
    assert volume("round", 8, 500, 2).m_as("mL") == pytest.approx(
        2 * volume("round", 8, 500).m_as("mL")
    )


@given(st.sampled_from(SHAPES), sizes, lengths)
def test_units_in_make_no_difference(shape, size, length):
    metric = bead_volume(bead_area(shape, Q(size, "mm")), Q(length, "mm"))
    us = bead_volume(bead_area(shape, Q(size, "mm").to("inch")), Q(length, "mm").to("foot"))
    assert us.m_as("mL") == pytest.approx(metric.m_as("mL"), rel=1e-12)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_sizes_and_lengths_of_nothing_are_refused(wrong):
    for shape in SHAPES:
        with pytest.raises(ValueError, match="above zero"):
            bead_area(shape, Q(wrong, "mm"))
    with pytest.raises(ValueError, match="height"):
        bead_area("triangular", Q(10, "mm"), Q(wrong, "mm"))
    with pytest.raises(ValueError, match="length"):
        bead_volume(Q(50, "mm^2"), Q(wrong, "mm"))
    with pytest.raises(ValueError, match="cross-section"):
        bead_volume(Q(wrong, "mm^2"), Q(1, "m"))
    with pytest.raises(ValueError, match="volume"):
        material_needed(Q(wrong, "mL"), PACKAGE)


def test_other_refusals():
    with pytest.raises(ValueError, match="unknown bead shape"):
        bead_area("square", Q(10, "mm"))
    with pytest.raises(ValueError, match="no height"):
        bead_area("round", Q(10, "mm"), Q(10, "mm"))
    with pytest.raises(ValueError, match="number of beads"):
        bead_volume(Q(50, "mm^2"), Q(1, "m"), 0)
    with pytest.raises(ValueError, match="waste"):
        material_needed(Q(50, "mL"), PACKAGE, waste=-0.1)
    with pytest.raises(ValueError, match="extra tips"):
        material_needed(Q(50, "mL"), PACKAGE, extra_tips=-1)
    with pytest.raises(ValueError, match="hold more"):
        Package(Q(17, "mL"), Q(5, "mL"), Q(3, "mL"), Q(9, "mL"))
    with pytest.raises(ValueError, match="purge_per_tip"):
        Package(Q(50, "mL"), Q(5, "mL"), Q(-3, "mL"), Q(9, "mL"))


def test_one_cartridge_by_hand():
    # 100 mL + 10 % = 110; 5 purge + 3 + 9 tip = 17; 127 of 220
    found = material_needed(Q(100, "mL"), PACKAGE, waste=0.1)
    assert (found.cartridges, found.tips) == (1, 1)
    assert found.waste.m_as("mL") == pytest.approx(10)
    assert found.lost.m_as("mL") == pytest.approx(17)
    assert found.needed.m_as("mL") == pytest.approx(127)
    assert found.left_over.m_as("mL") == pytest.approx(93)


def test_a_cartridge_used_to_the_drop_is_one_cartridge():
    assert material_needed(Q(203, "mL"), PACKAGE).cartridges == 1
    assert material_needed(Q(203, "mL"), PACKAGE).left_over.m_as("mL") == pytest.approx(0)
    assert material_needed(Q(203.01, "mL"), PACKAGE).cartridges == 2
    assert material_needed(Q(203 / 1.1, "mL"), PACKAGE, waste=0.1).cartridges == 1


def test_float_noise_leaves_nothing_over_rather_than_less():
    found = material_needed(Q(203 * (1 + 5e-10), "mL"), PACKAGE)
    assert (found.cartridges, found.left_over.m_as("mL")) == (1, 0)


def test_an_extra_tip_costs_its_own_loss():
    plain = material_needed(Q(100, "mL"), PACKAGE)
    paused = material_needed(Q(100, "mL"), PACKAGE, extra_tips=2)
    assert paused.tips == plain.tips + 2
    assert (paused.needed - plain.needed).m_as("mL") == pytest.approx(24)
    # and may cost a cartridge
    assert material_needed(Q(195, "mL"), PACKAGE).cartridges == 1
    assert material_needed(Q(195, "mL"), PACKAGE, extra_tips=1).cartridges == 2


@given(lengths, lengths, sizes, wastes)
def test_more_length_never_needs_less(one, other, size, waste):
    short, long = (
        material_needed(volume("round", size, length), PACKAGE, waste)
        for length in sorted((one, other))
    )
    assert short.needed <= long.needed
    assert short.cartridges <= long.cartridges
    assert short.tips <= long.tips


@given(lengths, sizes, wastes, wastes)
def test_more_waste_never_needs_less(length, size, one, other):
    less, more = (
        material_needed(volume("round", size, length), PACKAGE, waste)
        for waste in sorted((one, other))
    )
    assert less.needed <= more.needed


@given(lengths, sizes, wastes, st.integers(0, 5))
def test_the_cartridges_hold_it_and_one_less_would_not(length, size, waste, extra):
    bead = volume("round", size, length)
    found = material_needed(bead, PACKAGE, waste, extra)
    held = found.cartridges * 220
    assert held - found.needed.m_as("mL") == pytest.approx(
        found.left_over.m_as("mL"), abs=1e-6 * held
    )
    total = bead.m_as("mL") * (1 + waste) + found.cartridges * 5 + found.tips * 12
    assert found.needed.m_as("mL") == pytest.approx(total)
    assert total <= held * (1 + 1e-9)
    if found.cartridges > 1:
        fewer = found.cartridges - 1
        on_joint = bead.m_as("mL") * (1 + waste) + extra * 12
        assume(abs(fewer * 203 - on_joint) > 1e-6)
        assert fewer * 203 < on_joint
