"""Mixing and coating: properties, edges, refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.coating import (
    coating_area,
    coating_volume,
    cup_marks,
    mix_for_total,
    mix_from_first,
)
from assistant.units import Q

ratios = st.lists(st.floats(0.1, 20), min_size=2, max_size=4)
volumes = st.floats(1, 20_000)  # mL
areas = st.floats(0.001, 100)  # m^2
films = st.floats(1, 500)  # um
shares = st.floats(0.05, 1)
wastes = st.floats(0, 0.5)
coats = st.integers(1, 10)


@given(ratios, volumes)
def test_parts_make_up_the_total_in_their_ratio(ratio, total):
    parts = mix_for_total(ratio, Q(total, "mL"))
    assert math.fsum(part.m_as("mL") for part in parts) == pytest.approx(total, rel=1e-12)
    for part, share in zip(parts, ratio, strict=True):
        assert part.m_as("mL") * ratio[0] == pytest.approx(parts[0].m_as("mL") * share, rel=1e-12)


@given(ratios, volumes)
def test_round_trip_by_the_first_part(ratio, total):
    parts = mix_for_total(ratio, Q(total, "mL"))
    back = mix_from_first(ratio, parts[0])
    assert [p.m_as("mL") for p in back] == pytest.approx([p.m_as("mL") for p in parts], rel=1e-12)
    marks = cup_marks(parts)
    assert marks[0] == parts[0]
    assert marks[-1].m_as("mL") == pytest.approx(total, rel=1e-12)


@given(areas, coats, films, shares, shares, wastes)
def test_round_trip_by_the_area(area, count, film, solids, transfer, waste):
    volume = coating_volume(Q(area, "m**2"), count, Q(film, "um"), solids, transfer, waste)
    back = coating_area(volume, count, Q(film, "um"), solids, transfer, waste)
    assert back.m_as("m**2") == pytest.approx(area, rel=1e-9)


@given(areas, areas, coats, films, shares, shares, wastes)
def test_more_never_needs_less(one, other, count, film, solids, transfer, waste):
    def volume(area, count=count, film=film, solids=solids, transfer=transfer, waste=waste):
        return coating_volume(Q(area, "m**2"), count, Q(film, "um"), solids, transfer, waste)

    less, more = sorted((one, other))
    assert volume(less) <= volume(more)
    assert volume(less) < volume(less, count=count + 1)
    assert volume(less) < volume(less, film=film + 1)
    assert volume(less) <= volume(less, solids=solids / 2)
    assert volume(less) <= volume(less, transfer=transfer / 2)
    assert volume(less, waste=0) <= volume(less)


@given(areas, coats, films)
def test_units_in_make_no_difference(area, count, film):
    metric = coating_volume(Q(area, "m**2"), count, Q(film, "um"), 0.4, 0.5)
    us = coating_volume(
        Q(area, "m**2").to("foot**2"), count, Q(film, "um").to("thou"), 0.4, 0.5
    )  # fmt: skip
    assert us.m_as("mL") == pytest.approx(metric.m_as("mL"), rel=1e-9)


@pytest.mark.parametrize("wrong", [0, -1, math.nan, math.inf])
def test_what_is_nothing_is_refused(wrong):
    with pytest.raises(ValueError, match="ratio"):
        mix_for_total((4, wrong), Q(1, "liter"))
    with pytest.raises(ValueError, match="total"):
        mix_for_total((4, 1), Q(wrong, "mL"))
    with pytest.raises(ValueError, match="first part"):
        mix_from_first((4, 1), Q(wrong, "mL"))
    with pytest.raises(ValueError, match="area"):
        coating_volume(Q(wrong, "m**2"), 1, Q(1, "um"), 0.5, 0.5)
    with pytest.raises(ValueError, match="volume"):
        coating_area(Q(wrong, "mL"), 1, Q(1, "um"), 0.5, 0.5)
    for function, amount in ((coating_volume, Q(1, "m**2")), (coating_area, Q(1, "mL"))):
        with pytest.raises(ValueError, match="film"):
            function(amount, 1, Q(wrong, "um"), 0.5, 0.5)


@pytest.mark.parametrize("wrong", [0, -0.1, 1.01, math.nan])
def test_shares_past_their_ends_are_refused(wrong):
    for function, amount in ((coating_volume, Q(1, "m**2")), (coating_area, Q(1, "mL"))):
        with pytest.raises(ValueError, match="solids"):
            function(amount, 1, Q(1, "um"), wrong, 0.5)
        with pytest.raises(ValueError, match="transfer"):
            function(amount, 1, Q(1, "um"), 0.5, wrong)


def test_other_refusals():
    with pytest.raises(ValueError, match="two parts"):
        mix_for_total((4,), Q(1, "liter"))
    for function, amount in ((coating_volume, Q(1, "m**2")), (coating_area, Q(1, "mL"))):
        with pytest.raises(ValueError, match="coats"):
            function(amount, 0, Q(1, "um"), 0.5, 0.5)
        for wrong in (-0.1, math.nan, math.inf):
            with pytest.raises(ValueError, match="waste"):
                function(amount, 1, Q(1, "um"), 0.5, 0.5, wrong)
