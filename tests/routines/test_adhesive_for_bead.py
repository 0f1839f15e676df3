"""The adhesive question, from slots to sentence."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.routines.adhesive_for_bead import ROUTINE
from assistant.units import Q

VOLUMES = ("bead_volume", "waste_volume", "purge_and_tips", "material_needed", "left_over")
lengths = st.floats(1, 1e5)  # mm
sizes = st.floats(1, 25.4)  # mm


def ask(bench, **slots):
    return ROUTINE.answer(slots, bench)


def test_forty_inches(us):
    found = ask(us, length=Q(40, "inch"))
    # pi/4 * (3/8 in)^2 * 40 in = 72.396 mL (computed, 1 in = 25.4 mm)
    assert found.figures["bead_volume"].m_as("mL") == pytest.approx(72.396, abs=5e-4)
    # by hand from the card: 72.396 * 1.1 + 5 + 4 + 9 = 97.636 of 220 mL
    assert found.figures["material_needed"].m_as("mL") == pytest.approx(97.636, abs=1e-3)
    assert found.figures["left_over"].m_as("mL") == pytest.approx(122.364, abs=1e-3)
    assert (found.figures["cartridges"], found.figures["tips"]) == (1, 1)
    assert found.sentence == (
        "40 in of 3/8 in round bead: about 73 mL or 2.5 fl oz in the bead. "
        "With 10 % waste, purge and tip hold-up: about 98 mL. "
        "1 cartridge of 220 mL and 1 tip (Long-open panel adhesive), about 120 mL left over."
    )
    assert found.spoken == (
        "Forty inches of three-eighths bead: about seventy-three milliliters or two and a half "
        "fluid ounces in the bead. With ten percent waste, purge and tip, about ninety-eight "
        "milliliters: one cartridge and one tip of long open, about one hundred twenty "
        "milliliters left over. I assumed the bead size and the product, an invented one."
    )


def test_a_metric_shop_hears_metric(metric):
    found = ask(metric, length=Q(2, "m"))
    assert "9.5 mm round bead" in found.sentence
    for text in (found.sentence, found.spoken):
        assert not re.search(r"\b(in|inch|inches|oz|ounces?)\b(?! the)", text)


def test_what_is_assumed_is_named(us):
    told = " | ".join(ask(us, length=Q(40, "inch")).assumptions)
    for words in ("bead size not given: 3/8 in", "shape not given: round", "10 %", "invented"):
        assert words in told
    told = " | ".join(
        ask(
            us,
            length=Q(40, "inch"),
            bead=Q(0.5, "inch"),
            shape="round",
            waste=0.2,
            product="fast",
        ).assumptions
    )
    assert "not given" not in told
    assert "not named" not in told
    assert "invented" in told


def test_a_named_product_is_used(us):
    found = ask(us, length=Q(40, "inch"), product="fast")
    # by hand: 72.396 * 1.1 = 79.636; a 50 mL cartridge gives 50 - 2 - 2 - 3 = 43: two of them
    assert (found.figures["product"], found.figures["cartridges"]) == ("fast", 2)
    assert found.figures["material_needed"].m_as("mL") == pytest.approx(93.636, abs=1e-3)
    assert "I assumed the bead size. That product is invented." in found.spoken
    assert "work time is short" in " ".join(found.cautions)


def test_said_waste_replaces_the_cards(us):
    # by hand: 72.396 * 0.2, and none
    found = ask(us, length=Q(40, "inch"), waste=0.2)
    assert found.figures["waste_volume"].m_as("mL") == pytest.approx(14.479, abs=1e-3)
    assert "With 20 % waste" in found.sentence
    assert ask(us, length=Q(40, "inch"), waste=0.0).figures["waste_volume"].magnitude == 0


def test_shapes(us):
    def volume(**slots):
        figures = ask(us, length=Q(1, "m"), bead=Q(10, "mm"), **slots).figures
        return figures["bead_volume"].m_as("mL")

    assert volume() == volume(shape="round") == pytest.approx(25 * math.pi)
    assert volume(shape="half-round") == pytest.approx(12.5 * math.pi)
    assert volume(shape="triangular") == pytest.approx(50)
    assert volume(shape="triangular", height=Q(12, "mm")) == pytest.approx(60)
    assert volume(height=Q(12, "mm")) == pytest.approx(60)  # only a V notch has a height
    assert volume(shape="round", height=Q(12, "mm")) == pytest.approx(25 * math.pi)


def test_shape_and_height_are_repeated(us):
    found = ask(us, length=Q(1, "foot"), bead=Q(0.5, "inch"), height=Q(0.25, "inch"))
    assert "1/2 in wide, 1/4 in high triangular bead" in found.sentence
    assert "one-half inch wide, one-quarter inch high triangular bead" in found.spoken
    found = ask(us, length=Q(1, "foot"), shape="half-round")
    assert "three-eighths half-round bead" in found.spoken
    ignored = ask(us, length=Q(1, "foot"), shape="round", height=Q(0.25, "inch"))
    assert "height is not used" in " ".join(ignored.assumptions)


def test_several_beads(us):
    one, two = (ask(us, length=Q(40, "inch"), beads=n) for n in (1, 2))
    assert two.figures["bead_volume"].m_as("mL") == pytest.approx(
        2 * one.figures["bead_volume"].m_as("mL")
    )
    assert two.spoken.startswith("Two beads of forty inches each, three-eighths: about")
    assert two.sentence.startswith("2 beads of 40 in each, 3/8 in round: about")


def test_the_usual_cautions(us):
    told = " ".join(ask(us, length=Q(40, "inch")).cautions)
    for word in ("vehicle maker", "data sheet", "gloves", "eye", "air"):
        assert word in told


@given(lengths, sizes, st.sampled_from(["fast", "long-open"]), st.integers(1, 4))
def test_what_is_said_errs_to_the_safe_side(us, metric, length, size, product, beads):
    slots = {
        "length": Q(length, "mm"),
        "bead": Q(size, "mm"),
        "product": product,
        "beads": beads,
    }
    for bench in (us, metric):
        found = ask(bench, **slots)
        bead, needed, left = (
            float(text.replace(",", ""))
            for text in re.findall(r"about ([\d.,]+) mL", found.sentence)
        )
        assert bead >= found.figures["bead_volume"].m_as("mL") * (1 - 1e-8)
        assert needed >= found.figures["material_needed"].m_as("mL") * (1 - 1e-8)
        assert left <= found.figures["left_over"].m_as("mL") * (1 + 1e-8)
        assert not re.search(r"\d|[%°/]", found.spoken)
        assert not re.search(r"\b(mL|in|mm|ft|oz)\b(?! the)", found.spoken)


@given(lengths, st.none() | sizes)
def test_the_unit_system_never_changes_the_figures(us, metric, length, size):
    slots = {"length": Q(length, "mm")} | ({"bead": Q(size, "mm")} if size else {})
    ours, theirs = ask(us, **slots).figures, ask(metric, **slots).figures
    assert ours.keys() == theirs.keys()
    for name in VOLUMES:
        assert ours[name].m_as("mL") == pytest.approx(theirs[name].m_as("mL"), rel=1e-12)
    assert (ours["cartridges"], ours["tips"]) == (theirs["cartridges"], theirs["tips"])


@given(lengths, lengths, sizes)
def test_more_length_never_needs_less(us, one, other, size):
    short, long = (
        ask(us, length=Q(length, "mm"), bead=Q(size, "mm")).figures
        for length in sorted((one, other))
    )
    for name in ("bead_volume", "material_needed", "cartridges", "tips"):
        assert short[name] <= long[name]
