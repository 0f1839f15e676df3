"""Sheet and joint: properties, edges, refusals."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.joint import (
    MARKS,
    STEEPEST_TAPER,
    bond_area,
    cut_line,
    nearest_mark,
    taper,
    total,
)
from assistant.units import Q

lengths = st.floats(1, 1e5)  # mm
angles = st.floats(1, 89)
sixteenths = st.integers(0, 4000).map(lambda n: Fraction(n, 16))


@given(lengths, lengths)
def test_area_by_hand_and_in_any_unit(length, width):
    found = bond_area(Q(length, "mm"), Q(width, "mm"))
    assert found.m_as("mm^2") == pytest.approx(length * width)
    us = bond_area(Q(length, "mm").to("foot"), Q(width, "mm").to("inch"))
    assert us.m_as("mm^2") == pytest.approx(length * width)


@given(lengths, angles, angles)
def test_a_flatter_taper_is_never_narrower(thickness, one, other):
    flat, steep = (taper(Q(thickness, "mm"), Q(a, "degree")) for a in sorted((one, other)))
    assert flat.run >= steep.run
    assert flat.face >= steep.face
    assert steep.face > steep.run


@given(lengths, angles)
def test_back_to_the_angle(thickness, angle):
    found = taper(Q(thickness, "mm"), Q(angle, "degree"))
    back = math.degrees(math.asin(thickness / found.face.m_as("mm")))
    assert back == pytest.approx(angle, rel=1e-6)


@given(lengths, lengths)
def test_the_cut_leaves_the_overlap(edge, overlap):
    found = cut_line(Q(edge, "mm"), Q(overlap, "mm"))
    assert found.m_as("mm") - edge == pytest.approx(overlap, rel=1e-6)


@given(st.lists(sixteenths, min_size=1, max_size=4), st.lists(sixteenths, max_size=3))
def test_sixteenths_add_up_exactly(added, taken):
    found = total(*([Q(float(f), "inch") for f in terms] for terms in (added, taken)))
    assert Fraction(found.magnitude) == sum(added) - sum(taken)


@given(st.lists(lengths, min_size=1, max_size=4))
def test_what_is_added_and_taken_away_leaves_nothing(terms):
    terms = [Q(t, "mm") for t in terms]
    assert total(terms, terms).magnitude == 0


@given(st.floats(0, 1e5), st.sampled_from(sorted(MARKS)))
def test_no_mark_is_nearer(length, mark):
    found = nearest_mark(Q(length, "mm"), mark)
    step, unit = MARKS[mark]
    step_mm = Q(float(step), unit).m_as("mm")
    over = found.over.m_as("mm")
    assert abs(over) <= step_mm / 2 + 1e-6
    assert found.length.m_as("mm") - length == pytest.approx(over, abs=1e-6)
    steps = found.length.m_as(unit) / float(step)
    assert steps == pytest.approx(round(steps))


@given(st.integers(0, 4000), st.sampled_from(sorted(MARKS)))
def test_a_length_on_a_mark_stays(steps, mark):
    step, unit = MARKS[mark]
    found = nearest_mark(Q(float(steps * step), unit), mark)
    assert found.length.magnitude == float(steps * step)
    assert found.over.m_as("mm") == pytest.approx(0, abs=1e-9)


def test_halfway_goes_to_the_longer():
    assert nearest_mark(Q(1 / 32, "inch"), "sixteenth").length.magnitude == 1 / 16
    assert nearest_mark(Q(2.5, "mm"), "millimeter").length.magnitude == 3
    assert nearest_mark(Q(2.4999, "mm"), "millimeter").length.magnitude == 2


def test_both_ends_of_the_angles_are_in_the_range():
    assert taper(Q(1, "mm"), Q(1, "degree")).run > taper(Q(1, "mm"), Q(89, "degree")).run
    assert STEEPEST_TAPER.m_as("degree") == 10


@pytest.mark.parametrize("angle", [0, 0.99, 89.01, 90, math.nan])
def test_angles_out_of_range(angle):
    with pytest.raises(ValueError, match="from 1 to 89 degrees"):
        taper(Q(1, "mm"), Q(angle, "degree"))


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_sizes_of_nothing_are_refused(wrong):
    for name, use in (
        ("length", lambda q: bond_area(q, Q(1, "mm"))),
        ("width", lambda q: bond_area(Q(1, "mm"), q)),
        ("thickness", lambda q: taper(q, Q(5, "degree"))),
        ("overlap", lambda q: cut_line(Q(1, "mm"), q)),
    ):
        with pytest.raises(ValueError, match=f"the {name} must be above zero"):
            use(Q(wrong, "mm"))


@pytest.mark.parametrize("wrong", [-1, math.nan, math.inf])
def test_other_refusals(wrong):
    with pytest.raises(ValueError, match="zero or more from its mark"):
        cut_line(Q(wrong, "mm"))
    with pytest.raises(ValueError, match="zero or more, not"):
        nearest_mark(Q(wrong, "mm"), "sixteenth")
    if not math.isfinite(wrong):
        with pytest.raises(ValueError, match="finite"):
            total([Q(wrong, "mm")])
    with pytest.raises(ValueError, match="unknown mark 'eighth'"):
        nearest_mark(Q(1, "mm"), "eighth")
    assert cut_line(Q(0, "mm")).m_as("inch") == pytest.approx(1)
