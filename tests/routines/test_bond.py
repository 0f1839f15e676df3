"""Beads and bond lines, several beads in one request, pauses: from words to sentence."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.routines import (
    adhesive_for_bead,
    adhesive_for_runs,
    bead_for_flange,
    bead_reach,
    bond_line,
    squeeze_out,
)
from assistant.units import Q

sizes = st.floats(1.5, 25.4)  # mm
widths = st.floats(3, 200)  # mm
lines = st.floats(0.05, 6)  # mm

PHRASINGS = [
    (
        "adhesive_for_runs",
        "how much adhesive for thirty inches of three eighths and two feet of quarter",
        [("length", "thirty inches"), ("bead", "three eighths"), ("length", "two feet"),
         ("bead", "quarter")],
    ),
    (
        "adhesive_for_runs",
        "how many cartridges do we need for one meter of ten millimeter bead and two meters of "
        "six millimeter bead and half a meter of eight millimeter bead with the fast set",
        [("length", "one meter"), ("bead", "ten millimeter"), ("length", "two meters"),
         ("bead", "six millimeter"), ("length", "half a meter"), ("bead", "eight millimeter"),
         ("product", "fast set")],
    ),
    (
        "adhesive_for_bead",
        "how much adhesive for forty inches with two pauses of forty minutes",
        [("length", "forty inches"), ("pauses", "two"), ("pause", "forty minutes")],
    ),
    (
        "adhesive_for_bead",
        "how many tips for forty inches with a pause of an hour",
        [("length", "forty inches"), ("pause", "an hour")],
    ),
    ("bead_reach", "how far does a cartridge go with a half inch bead", [("bead", "half inch")]),
    ("bead_reach", "how far will one cartridge reach", []),
    (
        "bead_reach",
        "how far do two cartridges go with a six millimeter bead using the fast",
        [("cartridges", "two"), ("bead", "six millimeter"), ("product", "fast")],
    ),
    (
        "bead_reach",
        "how much bead can i lay from three cartridges",
        [("cartridges", "three")],
    ),
    ("bead_reach", "how long a bead does a cartridge lay", []),
    (
        "bead_for_flange",
        "what size bead do i need for a one inch flange with a thirty thousandths bond line",
        [("width", "one inch"), ("thousandths", "thirty")],
    ),
    (
        "bead_for_flange",
        "how wide must the bead be for a twenty five millimeter flange",
        [("width", "twenty five millimeter")],
    ),
    (
        "bead_for_flange",
        "what bead fills the bond line for a one and a half inch flange and a half millimeter "
        "bond line",
        [("width", "one and a half inch"), ("bond_line", "half millimeter")],
    ),
    ("bead_for_flange", "what bead diameter is needed", []),
    (
        "bead_for_flange",
        "which size bead for a one inch flange and thirty thou",
        [("width", "one inch"), ("thousandths", "thirty")],
    ),
    (
        "squeeze_out",
        "how much squeezes out of a three eighths bead on a one inch flange",
        [("bead", "three eighths"), ("width", "one inch")],
    ),
    (
        "squeeze_out",
        "how much squeeze out is there with a ten millimeter bead on a twenty millimeter flange "
        "with a point eight millimeter bond line",
        [("bead", "ten millimeter"), ("width", "twenty millimeter"),
         ("bond_line", "point eight millimeter")],
    ),
    ("squeeze_out", "what share squeezes out of a half inch bead", [("bead", "half inch")]),
    ("bond_line", "how thick is the bond line", []),
    (
        "bond_line",
        "how thick will the bond line be with a three eighths bead on a one inch flange with "
        "thirty thou spacers",
        [("bead", "three eighths"), ("width", "one inch"), ("thousandths", "thirty")],
    ),
    (
        "bond_line",
        "what is the bond line thickness with quarter millimeter spacers",
        [("bond_line", "quarter millimeter")],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "words", "tags"), PHRASINGS)
def test_phrasings(senses_in, rule, words, tags):
    grammar = "adhesive" if rule.startswith("adhesive") else "bond"
    ((found, heard),) = senses_in(grammar, words)
    assert (found, list(heard)) == (rule, tags)


def ml(quantity):
    return quantity.m_as("mL")


def runs(bench, *pairs, **slots):
    lengths, beads = zip(*pairs, strict=True)
    return adhesive_for_runs.ROUTINE.answer({"length": lengths, "bead": beads, **slots}, bench)


def test_several_beads(us):
    found = runs(
        us, (Q(30, "inch"), Q(0.375, "inch")), (Q(2, "foot"), Q(0.25, "inch")),
        product="long-open",
    )  # fmt: skip
    # by hand: pi/4 (0.375^2 x 30 + 0.25^2 x 24) in3 = 4.491457 in3 = 73.6018 mL
    assert ml(found.figures["bead_volume"]) == pytest.approx(73.6018, abs=1e-3)
    # x 1.1 + 5 + 4 + 9
    assert ml(found.figures["material_needed"]) == pytest.approx(98.962, abs=1e-3)
    assert found.sentence.startswith("30 in of 3/8 in and 2 ft of 1/4 in bead: about 74 mL or")
    assert found.spoken.startswith(
        "Thirty inches of three-eighths and two feet of one-quarter inch bead: about"
    )


@given(st.lists(st.tuples(st.floats(1, 1e4), sizes), min_size=2, max_size=4))
def test_several_beads_add_up(us, metric, pairs):
    asked = [(Q(length, "mm"), Q(size, "mm")) for length, size in pairs]
    found = runs(us, *asked)
    single = [
        adhesive_for_bead.ROUTINE.answer({"length": length, "bead": size}, us).figures
        for length, size in asked
    ]
    total = sum(ml(one["bead_volume"]) for one in single)
    assert ml(found.figures["bead_volume"]) == pytest.approx(total, rel=1e-9)
    assert found.figures["cartridges"] <= sum(one["cartridges"] for one in single)
    said = float(re.search(r"about ([\d.,]+) mL", found.sentence)[1].replace(",", ""))
    assert said >= total * (1 - 1e-8)
    assert runs(metric, *asked).figures == found.figures


def test_a_pause_past_the_tip_life_costs_a_tip(us):
    def ask(**slots):
        return adhesive_for_bead.ROUTINE.answer({"length": Q(40, "inch"), **slots}, us)

    # the card's tip lives 30 min; a tip costs 4 + 9 mL
    two = ask(pause=Q(40, "minute"), pauses=2)
    assert (two.figures["tips"], two.figures["extra_tips"]) == (3, 2)
    assert ml(two.figures["material_needed"]) == pytest.approx(97.636 + 26, abs=1e-3)
    assert "one more for each of 2 pauses of 40 min: the tip life is 30 min" in " ".join(
        two.assumptions
    )
    assert "ages" in " ".join(two.cautions)
    assert ask(pause=Q(30, "minute")).figures["tips"] == 2
    short = ask(pause=Q(29, "minute"), pauses=3)
    assert short.figures["tips"] == 1
    assert "shorter than the tip life" in " ".join(short.assumptions)


def reach(bench, **slots):
    return bead_reach.ROUTINE.answer(slots, bench)


def test_how_far_a_cartridge_goes(us, metric):
    found = reach(us, bead=Q(0.5, "inch"))
    # by hand: 202 mL / (126.677 mm2 x 1.1) = 1449.6 mm = 57.07 in
    assert found.figures["reach"].m_as("mm") == pytest.approx(1449.64, abs=0.01)
    assert "lays about 57 in of 1/2 in bead" in found.sentence
    assert "One cartridge of long open lays about fifty-seven inches" in found.spoken
    assert "1.44 m of 10 mm" not in reach(metric, bead=Q(10, "mm")).sentence
    # 202 / (78.540 x 1.1) = 2338.1 mm, down
    assert "2.33 m of 10 mm bead" in reach(metric, bead=Q(10, "mm")).sentence
    assert "2 cartridges of 220 mL (Long-open panel adhesive) lay" in reach(
        us, cartridges=2
    ).sentence
    assert "I assumed the bead size and the product" in reach(us).spoken


@given(st.integers(1, 20), sizes, st.sampled_from(["fast", "long-open"]))
def test_the_reach_takes_exactly_its_cartridges(us, metric, cartridges, size, product):
    slots = {"cartridges": cartridges, "bead": Q(size, "mm"), "product": product}
    length = reach(us, **slots).figures["reach"]
    assert length == reach(metric, **slots).figures["reach"]

    def needed(length):
        asked = {"length": length, "bead": Q(size, "mm"), "product": product}
        return adhesive_for_bead.ROUTINE.answer(asked, us).figures["cartridges"]

    assert needed(length * 0.999999) == cartridges
    assert needed(length * 1.000001) == cartridges + 1
    assert not re.search(r"\d|[%/]", reach(us, **slots).spoken)


def flange(bench, **slots):
    return bead_for_flange.ROUTINE.answer(slots, bench)


def test_the_bead_for_a_flange(us, metric):
    found = flange(us, width=Q(1, "inch"), thousandths=30.0)
    # sqrt(4 x 1 x 0.030 / pi) = 0.19544 in, up to the sixteenth
    assert found.figures["bead_size"].m_as("inch") == pytest.approx(0.19544, abs=1e-5)
    assert found.figures["bead_size_stated"].m_as("inch") == pytest.approx(0.25)
    assert "lay a 1/4 in bead or larger" in found.sentence
    assert "bond line of thirty thousandths of an inch" in found.spoken
    # sqrt(4 x 25 x 0.5 / pi) = 3.989 mm, up to 4
    found = flange(metric, width=Q(25, "mm"), bond_line=Q(0.5, "mm"))
    assert "lay a 4 mm bead" in found.sentence
    # the card's spacer beads, 0.010 in = 0.254 mm
    found = flange(metric, width=Q(25, "mm"))
    assert found.figures["bond_line"].m_as("mm") == pytest.approx(0.254)
    assert "bond line not given: 0.25 mm, the card's spacer beads" in found.assumptions
    assert " in " not in found.sentence


def squeezed(bench, **slots):
    return squeeze_out.ROUTINE.answer(slots, bench)


def test_squeeze_out(us):
    found = squeezed(us, bead=Q(0.375, "inch"), width=Q(1, "inch"), thousandths=60.0)
    # by hand: 1 - 1 x 0.060 / (pi/4 x 0.375^2) = 1 - 0.06 / 0.110447 = 0.45675, up
    assert found.figures["squeezed_out"] == pytest.approx(0.45675, abs=1e-5)
    assert "pressed to 0.06 in: about 46 % of it squeezes out" in found.sentence
    # a bead too small: 0.110447 / (2 x 0.060) = 0.9204, down; 0.3909 in fills, up to 7/16
    found = squeezed(us, bead=Q(0.375, "inch"), width=Q(2, "inch"), thousandths=60.0)
    assert found.figures["squeezed_out"] == 0
    assert "wets only about 92 % of the flange; lay a 7/16 in bead" in found.sentence
    assert "ninety-two percent" in found.spoken


def test_a_card_without_spacer_beads_needs_the_bond_line_said(us):
    bare = us.product("fast", "adhesive").model_copy(update={"spacer_beads": None})

    class Bare(type(us)):
        def product(self, key, kind):
            return bare

    bench = Bare(us.units, us.shelf)
    with pytest.raises(Refusal, match="states no spacer beads: say how thick"):
        flange(bench, width=Q(1, "inch"))
    assert flange(bench, width=Q(1, "inch"), thousandths=30.0)


def test_the_bond_line(us, metric):
    ask = bond_line.ROUTINE.answer
    assert "the bond line is 0.010 in" in ask({}, us).sentence
    assert "the bond line is 0.25 mm" in ask({}, metric).sentence
    # what was said is repeated as it was said
    assert "the bond line is 1 mm" in ask({"bond_line": Q(1, "mm")}, us).sentence
    told = ask({"bead": Q(10, "mm"), "width": Q(25, "mm"), "bond_line": Q(1, "mm")}, metric)
    # 78.540 / 25 = 3.14 mm
    assert told.figures["spread_thickness"].m_as("mm") == pytest.approx(3.14159, abs=1e-5)
    assert "makes 3.1 mm before anything squeezes out: it fills" in told.sentence
    told = ask({"bead": Q(3, "mm"), "width": Q(25, "mm"), "bond_line": Q(1, "mm")}, metric)
    assert "stays dry" in told.sentence
    assert "stays dry" in told.spoken


@given(sizes, widths, lines)
def test_the_bead_said_fills_the_flange(us, metric, _size, width, line):
    for bench in (us, metric):
        slots = {"width": Q(width, "mm"), "bond_line": Q(line, "mm")}
        found = flange(bench, **slots)
        bead = found.figures["bead_size_stated"]
        assert squeezed(bench, bead=bead, **slots).figures["covered"] == 1
        assert not re.search(r"\d|[%/]", found.spoken)


@given(sizes, widths, lines)
def test_what_is_said_of_squeeze_out_errs_to_the_safe_side(us, size, width, line):
    found = squeezed(us, bead=Q(size, "mm"), width=Q(width, "mm"), bond_line=Q(line, "mm"))
    said = float(re.search(r"about (\d+) %", found.sentence)[1]) / 100
    if found.figures["covered"] < 1:
        assert said <= found.figures["covered"]
    else:
        assert said >= found.figures["squeezed_out"] - 1e-9
    assert not re.search(r"\d|[%/]", found.spoken)
    for word in ("gloves", "eye", "data sheet", "dry-fit"):
        assert word in " ".join(found.cautions)


@pytest.mark.parametrize(
    "routine",
    [adhesive_for_runs, bead_for_flange, squeeze_out],
    ids=lambda module: module.ROUTINE.name,
)
def test_what_is_required_is_asked_for(routine):
    assert all(slot.ask for slot in routine.ROUTINE.slots if slot.required)
    assert any(slot.required for slot in routine.ROUTINE.slots)
