"""Sheet and joint, from phrasing and slots to sentence."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines import (
    bond_area,
    cut_line,
    fastener_count,
    length_sum,
    nearest_mark,
    taper_width,
)
from assistant.units import Q

ROUTINES = [
    module.ROUTINE
    for module in (bond_area, cut_line, fastener_count, length_sum, nearest_mark, taper_width)
]


def ask(routine, bench, **slots):
    return routine.ROUTINE.answer(slots, bench)


def test_bond_area(us, metric):
    slots = {"length": Q(40, "inch"), "width": Q(0.75, "inch")}
    # by hand: 40 x 3/4 = 30 in^2 = 193.548 cm^2, down 193
    found = ask(bond_area, us, **slots)
    assert found.sentence == "A bond 40 in long and 3/4 in wide: about 30 in²."
    assert found.spoken == (
        "A bond forty inches long and three-quarter inch wide: about thirty square inches."
    )
    assert "about 193 cm²" in ask(bond_area, metric, **slots).sentence
    assert "no design stresses (ASTM D4896)" in " ".join(found.cautions)


def test_cut_line_from_a_measured_edge(us, metric):
    found = ask(cut_line, us, edge=Q(32.5, "inch"), overlap=Q(1, "inch"))
    assert found.sentence == (
        "Edge of the new panel at 32 1/2 in, overlap 1 in: cut the existing panel at 33 1/2 in "
        "from the same mark, on the side that comes off."
    )
    assert "overlap not given" not in " ".join(found.assumptions)
    # by hand: 800 + 25.4 = 825.4, up 826: what is too long can still be trimmed
    found = ask(cut_line, metric, edge=Q(800, "mm"))
    assert "cut the existing panel at 826 mm" in found.sentence
    assert found.assumptions[0] == "overlap not given: 25.4 mm"
    assert found.spoken.endswith("I assumed the overlap.")
    assert "common practice, no source" in found.basis


def test_a_bare_overlap_is_in_the_shops_unit():
    (overlap,) = [slot for slot in cut_line.SLOTS if slot.name == "overlap"]
    assert overlap.default_unit == {"us": "inch", "metric": "mm"}


def test_cut_line_without_an_edge_tells_how_to_mark_it(us, metric):
    found = ask(cut_line, us)
    assert found.sentence == (
        "Lay the new panel on and mark its edge on the existing one. From that mark measure 1 in "
        "toward the part that comes off, and cut there: 1 in of the existing panel stays under "
        "the new one."
    )
    assert "measure 30 mm toward" in ask(cut_line, metric, overlap=Q(30, "mm")).sentence


def test_taper(us, metric):
    # 1 mm / tan 8 = 7.115, / sin 8 = 7.185 (computed): up 8 mm; 0.280 in, up 5/16
    slots = {"thickness": Q(1, "mm"), "angle": 8.0}
    found = ask(taper_width, metric, **slots)
    assert found.figures["run"].m_as("mm") == pytest.approx(7.115, abs=5e-4)
    assert found.figures["face"].m_as("mm") == pytest.approx(7.185, abs=5e-4)
    assert found.sentence == "Taper through 1 mm at 8°: 8 mm wide, 8 mm along the slope."
    assert ask(taper_width, us, **slots).spoken == (
        "Taper through one millimeter at eight degrees: five-sixteenths inch wide, "
        "five-sixteenths inch along the slope."
    )


def test_a_steep_taper_is_told(us):
    # 1/8 in / tan 30 = 0.2165, / sin 30 = 0.25 (computed): up 1/4 and 1/4
    found = ask(taper_width, us, thickness=Q(0.125, "inch"), angle=30.0)
    assert found.sentence == (
        "Taper through 1/8 in at 30°: 1/4 in wide, 1/4 in along the slope. A taper for a "
        "blended joint lies under 10°."
    )
    assert "under ten degrees" in found.spoken
    assert "blended" in ask(taper_width, us, thickness=Q(1, "mm"), angle=10.0).sentence
    assert "blended" not in ask(taper_width, us, thickness=Q(1, "mm"), angle=9.9).sentence


def test_without_an_angle_the_taper_lies_under_ten_degrees(metric):
    # 1 mm / tan 10 = 5.671 (computed), up 6
    found = ask(taper_width, metric, thickness=Q(1, "mm"))
    assert found.sentence == (
        "Taper through 1 mm at under 10°: more than 6 mm wide, 6 mm along the slope."
    )
    assert found.assumptions == ("angle not given: under 10 degrees",)


@pytest.mark.parametrize("fastener", ["clamp", "screw", "rivet"])
def test_fasteners(us, fastener):
    # by hand: 40 / 3 = 13.3, so 14 gaps of 2.857 in, 2 13/16 on a tape
    found = ask(fastener_count, us, fastener=fastener, length=Q(40, "inch"), spacing=Q(3, "inch"))
    assert found.figures["count"] == 15
    assert found.sentence == f"40 in at 3 in or less: 15 {fastener}s, about 2 13/16 in apart."
    assert found.cautions[0].startswith("The vehicle maker")


def test_fasteners_between_the_ends(metric):
    # by hand: (1000 - 50) / 50 = 19 gaps
    found = ask(
        fastener_count, metric,
        fastener="rivet", length=Q(1, "m"), spacing=Q(50, "mm"), edge=Q(25, "mm"),
    )  # fmt: skip
    assert found.sentence == (
        "1 m at 50 mm or less: 20 rivets, about 50 mm apart, the first 25 mm from each end."
    )
    with pytest.raises(Refusal, match="Nothing is left of 40 mm with 20 mm off each end"):
        ask(
            fastener_count, metric,
            fastener="rivet", length=Q(40, "mm"), spacing=Q(50, "mm"), edge=Q(20, "mm"),
        )  # fmt: skip


def test_sums_of_fractions(us, metric):
    slots = {"first": Q(0.375, "inch"), "plus": (Q(5 / 16, "inch"),)}
    # by hand: 6/16 + 5/16 = 11/16 in = 17.4625 mm
    found = ask(length_sum, us, **slots)
    assert found.sentence == "3/8 in + 5/16 in = 11/16 in."
    assert found.spoken == (
        "Three-eighths inch plus five-sixteenths inch is eleven-sixteenths inch."
    )
    assert ask(length_sum, metric, **slots).sentence == "3/8 in + 5/16 in = 17.5 mm."
    # by hand: 2 4/16 - 3/16 = 2 1/16
    found = ask(length_sum, us, first=Q(2.25, "inch"), minus=(Q(3 / 16, "inch"),))
    assert found.sentence == "2 1/4 in - 3/16 in = 2 1/16 in."
    found = ask(
        length_sum, us, first=Q(12.7, "mm"), plus=(Q(1, "inch"),), minus=(Q(0.25, "inch"),)
    )
    assert found.sentence == "12.7 mm + 1 in - 1/4 in = 1 1/4 in."


def test_less_than_nothing_is_refused(us):
    with pytest.raises(Refusal, match=r"1/4 in - 3/8 in: more is taken away") as no:
        ask(length_sum, us, first=Q(0.25, "inch"), minus=(Q(0.375, "inch"),))
    assert no.value.spoken.startswith("One-quarter inch minus three-eighths inch: more")


def test_nearest_mark(us):
    found = ask(nearest_mark, us, length=Q(0.37, "inch"), mark="sixteenth")
    # by hand: 0.375 - 0.37 = 0.005
    assert found.sentence == (
        "0.37 in to the nearest sixteenth: 3/8 in, which is about 0.005 in longer."
    )
    # by hand: 1 3/8 in = 34.925 mm
    found = ask(nearest_mark, us, length=Q(1.375, "inch"), mark="millimeter")
    assert found.spoken.startswith(
        "One and three-eighths inches to the nearest millimeter: thirty-five millimeters, which "
        "is about zero point zero eight millimeters longer"
    )
    # by hand: 9.6 mm = 0.37795 in, 0.00295 in over 3/8
    found = ask(nearest_mark, us, length=Q(9.6, "mm"), mark="thirty-second")
    assert found.sentence.endswith("3/8 in, which is about 0.003 in shorter.")
    found = ask(nearest_mark, us, length=Q(9.525, "mm"), mark="thirty-second")
    assert found.sentence == "9.5 mm is 3/8 in exactly."


def test_cutting_and_drilling_have_cautions(us):
    for found in (ask(cut_line, us), ask(taper_width, us, thickness=Q(1, "mm"))):
        told = " ".join(found.cautions)
        for word in ("vehicle maker", "gloves", "eyes", "respirator"):
            assert word in told


lengths = st.floats(20, 5e4)


@given(lengths, st.floats(1, 500), st.floats(5, 900))
def test_what_is_said_errs_to_the_safe_side(us, metric, length, width, spacing):
    fitted = {"fastener": "clamp", "length": Q(length, "mm"), "spacing": Q(spacing, "mm")}
    for bench, area_unit in ((us, "inch**2"), (metric, "cm**2")):
        area = ask(bond_area, bench, length=Q(length, "mm"), width=Q(width, "mm"))
        stated = float(re.search(r"about ([\d,.]+)", area.sentence)[1].replace(",", ""))
        assert stated <= area.figures["bond_area"].m_as(area_unit) * (1 + 1e-8)
        count = ask(fastener_count, bench, **fitted)
        assert count.figures["spacing"].m_as("mm") <= spacing * (1 + 1e-8)
        cut = ask(cut_line, bench, edge=Q(length, "mm"))
        for found in (area, count, cut):
            assert not re.search(r"\d|[%°/]", found.spoken)
    stated = float(re.search(r"panel at ([\d,]+) mm from", cut.sentence)[1].replace(",", ""))
    assert stated >= cut.figures["cut_line"].m_as("mm") - 1e-6
    assert count.figures["count"] == ask(fastener_count, us, **fitted).figures["count"]


@given(st.floats(0.1, 25), st.floats(1, 89))
def test_a_taper_is_never_said_too_narrow(us, metric, thickness, angle):
    slots = {"thickness": Q(thickness, "mm"), "angle": angle}
    for bench, unit in ((us, "inch"), (metric, "mm")):
        found = ask(taper_width, bench, **slots)
        assert not re.search(r"\d|[%°/]", found.spoken)
        if unit == "mm":
            told = re.search(r": ([\d,]+) mm wide, ([\d,]+) mm along", found.sentence)
            run, face = (int(text.replace(",", "")) for text in told.groups())
            assert run >= found.figures["run"].m_as("mm") - 1e-6
            assert face >= found.figures["face"].m_as("mm") - 1e-6


PHRASINGS = {
    "what is the bond area of forty inches by three quarters": (
        "bond_area", ("length", "forty inches"), ("width", "three quarters")),
    "bond area for one meter by twenty millimeters wide": (
        "bond_area", ("length", "one meter"), ("width", "twenty millimeters")),
    "bond area": ("bond_area",),
    "where is the cut line": ("cut_line",),
    "cut line for the panel edge at thirty two inches with a one inch overlap": (
        "cut_line", ("edge", "thirty two inches"), ("overlap", "one inch")),
    "where do i cut the old panel with an overlap of thirty millimeters": (
        "cut_line", ("overlap", "thirty millimeters")),
    "cut line with a five sixteenth inch overlap": ("cut_line", ("overlap", "five sixteenth inch")),
    "cut line with one inch overlap": ("cut_line", ("overlap", "one inch")),
    "where's the cut line with a three quarter inch overlap": (
        "cut_line", ("overlap", "three quarter inch")),
    "how wide is the taper for one millimeter at eight degrees": (
        "taper_width", ("thickness", "one millimeter"), ("angle", "eight")),
    "bevel width for an eighth of an inch at thirty degrees": (
        "taper_width", ("thickness", "an eighth of an inch"), ("angle", "thirty")),
    "how wide is the bevel": ("taper_width",),
    "how many clamps for forty inches every three inches": (
        "fastener_count", ("fastener", "clamps"), ("length", "forty inches"),
        ("spacing", "three inches")),
    "how many rivets in one meter spaced fifty millimeters apart starting one inch from each end": (
        "fastener_count", ("fastener", "rivets"), ("length", "one meter"),
        ("spacing", "fifty millimeters"), ("edge", "one inch")),
    "how many screws on six feet": ("fastener_count", ("fastener", "screws"),
        ("length", "six feet")),
    "what is three eighths plus five sixteenths": (
        "length_sum", ("first", "three eighths"), ("plus", "five sixteenths")),
    "two and a quarter minus three sixteenths": (
        "length_sum", ("first", "two and a quarter"), ("minus", "three sixteenths")),
    "what's four feet two inches plus three and three eighths inches minus a half": (
        "length_sum", ("first", "four feet two inches"), ("plus", "three and three eighths inches"),
        ("minus", "a half")),
    "three eighths plus a quarter plus one and one sixteenth plus a half": (
        "length_sum", ("first", "three eighths"), ("plus", "a quarter"),
        ("plus", "one and one sixteenth"), ("plus", "a half")),
    "what is point three seven inches to the nearest sixteenth": (
        "nearest_mark", ("length", "point three seven inches"), ("mark", "sixteenth")),
    "nearest thirty second to nine point five millimeters": (
        "nearest_mark", ("mark", "thirty second"), ("length", "nine point five millimeters")),
    "nearest millimeter to one and three eighths inches": (
        "nearest_mark", ("mark", "millimeter"), ("length", "one and three eighths inches")),
}  # fmt: skip


@pytest.mark.parametrize("words", PHRASINGS)
def test_phrasings(senses_in, words):
    rule, *tags = PHRASINGS[words]
    assert senses_in("joint", words) == {(rule, tuple(tags))}


@pytest.mark.parametrize(
    "words",
    ["three eighths", "what is three eighths", "three eighths plus", "how many nails for a foot",
     "how wide is the taper at fifty percent"],
)  # fmt: skip
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("joint", words) == set()


@pytest.mark.parametrize("routine", ROUTINES, ids=lambda routine: routine.name)
def test_every_sentence_has_one_sense(linked, senses_in, routine):
    rng = random.Random(8)
    for _ in range(120):
        reading = sample(linked("joint"), rng, f"joint.{routine.name}")
        assert senses_in("joint", reading.text) == {(reading.rule, reading.tags)}
