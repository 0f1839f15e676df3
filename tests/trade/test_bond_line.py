"""Bond line, reach and tips: properties and edges."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.bead import Package, bead_reach, round_area, tips_for_pauses
from assistant.trade.bond_line import bead_for_bond_line, pressed, spread_thickness
from assistant.units import Q

lengths = st.floats(0.1, 500)
PACKAGE = Package(Q(220, "mL"), Q(5, "mL"), Q(4, "mL"), Q(9, "mL"))


def mm(value):
    return Q(value, "mm")


@given(lengths, lengths)
def test_the_bead_spread_over_its_flange_has_its_thickness(width, thickness):
    bead = round_area(bead_for_bond_line(mm(width), mm(thickness)))
    assert spread_thickness(bead, mm(width)).m_as("mm") == pytest.approx(thickness, rel=1e-9)
    found = pressed(bead, mm(width), mm(thickness))
    assert found.squeezed_out == pytest.approx(0, abs=1e-9)
    assert found.covered == pytest.approx(1, rel=1e-9)


@given(lengths, lengths, lengths)
def test_nothing_is_lost_and_nothing_made(diameter, width, thickness):
    area = round_area(mm(diameter)).m_as("mm^2")
    found = pressed(Q(area, "mm^2"), mm(width), mm(thickness))
    stays = found.covered * width * thickness
    assert stays + found.squeezed_out * area == pytest.approx(area, rel=1e-9)
    assert 0 <= found.squeezed_out < 1
    assert 0 < found.covered <= 1


@given(lengths, lengths, lengths, st.floats(1, 3))
def test_pressed_thinner_more_comes_out(diameter, width, thickness, factor):
    area = round_area(mm(diameter))
    thin = pressed(area, mm(width), mm(thickness))
    thick = pressed(area, mm(width), mm(thickness * factor))
    assert thin.squeezed_out >= thick.squeezed_out
    assert thin.covered >= thick.covered


@given(lengths, lengths, st.sampled_from(["inch", "m"]))
def test_the_unit_makes_no_difference(width, thickness, unit):
    one = bead_for_bond_line(mm(width), mm(thickness))
    other = bead_for_bond_line(mm(width).to(unit), mm(thickness).to(unit))
    assert one.m_as("mm") == pytest.approx(other.m_as("mm"), rel=1e-9)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_what_is_no_length_is_refused(wrong):
    for call in (
        lambda: bead_for_bond_line(mm(wrong), mm(1)),
        lambda: bead_for_bond_line(mm(1), mm(wrong)),
        lambda: spread_thickness(Q(wrong, "mm^2"), mm(1)),
        lambda: spread_thickness(Q(1, "mm^2"), mm(wrong)),
        lambda: pressed(Q(1, "mm^2"), mm(1), mm(wrong)),
        lambda: bead_reach(Q(wrong, "mm^2"), PACKAGE),
        lambda: tips_for_pauses([], Q(wrong, "minute")),
    ):
        with pytest.raises(ValueError, match="above zero"):
            call()


def test_the_reach_has_its_bounds():
    area = Q(10, "mm^2")
    assert bead_reach(area, PACKAGE).m_as("m") == pytest.approx(20.2)
    assert bead_reach(Q(0.5, "mm^2"), PACKAGE).m_as("m") == pytest.approx(404)
    assert bead_reach(area, PACKAGE, 3).m_as("m") == pytest.approx(60.6)
    assert bead_reach(area, PACKAGE, 1, 0.01).m_as("m") == pytest.approx(20)
    with pytest.raises(ValueError, match="1 or more"):
        bead_reach(area, PACKAGE, 0)
    for wrong in (-0.1, math.nan):
        with pytest.raises(ValueError, match="waste"):
            bead_reach(area, PACKAGE, 1, wrong)


def test_tips_for_pauses():
    life = Q(30, "minute")
    pauses = [Q(29.9, "minute"), Q(0.5, "hour"), Q(1, "hour"), Q(0, "minute")]
    assert tips_for_pauses(pauses, life) == 2
    assert tips_for_pauses([], life) == 0
    for wrong in (-1, math.nan):
        with pytest.raises(ValueError, match="pause"):
            tips_for_pauses([Q(wrong, "minute")], life)


@given(st.lists(st.floats(0, 1000), max_size=6), st.floats(0.1, 1000), st.floats(1, 3))
def test_a_longer_tip_life_never_costs_more_tips(pauses, life, factor):
    asked = [Q(pause, "minute") for pause in pauses]
    short, long = (tips_for_pauses(asked, Q(life * f, "minute")) for f in (1, factor))
    assert long <= short <= len(pauses)
