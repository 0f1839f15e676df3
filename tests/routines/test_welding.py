"""Weld bonding, from phrasing and slots to sentence."""

import random
import re
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines import (
    button_size,
    clamps_after_welding,
    peel_test,
    spot_spacing,
    spot_welds,
    weld_through,
)
from assistant.units import Q

ROUTINES = [
    module.ROUTINE
    for module in (
        button_size, clamps_after_welding, peel_test, spot_spacing, spot_welds, weld_through)
]  # fmt: skip


def ask(routine, bench, **slots):
    return routine.ROUTINE.answer(slots, bench)


@dataclass(frozen=True)
class Weldable:
    """A workplace whose one adhesive may be welded through."""

    bench: object

    @property
    def units(self):
        return self.bench.units

    def product(self, key, kind):
        return self.bench.product(key, kind).model_copy(update={"weld_through": True})


def test_spots_at_a_pitch(us):
    found = ask(spot_welds, us, length=Q(30, "inch"), pitch=Q(1.5, "inch"))
    # by hand: 30 / 1.5 = 20 gaps, 21 spots
    assert found.figures["spot_welds"] == 21
    assert found.sentence == (
        "30 in of flange at 1 1/2 in or less: 21 spot welds, about 1 1/2 in apart."
    )
    assert found.spoken == (
        "Thirty inches of flange at one and a half inches or less: twenty-one spot welds, about "
        "one and a half inches apart."
    )
    assert found.assumptions == ("one at each end of the length",)


def test_spots_are_never_wider_apart_than_they_were(us):
    # by hand: 31 / 1.5 = 20.67, so 21 gaps of 1.476 in, 1 7/16 in on a tape
    found = ask(spot_welds, us, length=Q(31, "inch"), pitch=Q(1.5, "inch"))
    assert found.figures["spot_welds"] == 22
    assert found.figures["spacing"].m_as("inch") == pytest.approx(31 / 21)
    assert "22 spot welds, about 1 7/16 in apart" in found.sentence


def test_spots_between_the_ends_in_a_metric_shop(metric):
    # by hand: (600 - 40) / 40 = 14 gaps
    found = ask(spot_welds, metric, length=Q(600, "mm"), pitch=Q(40, "mm"), edge=Q(20, "mm"))
    assert found.sentence == (
        "600 mm of flange at 40 mm or less: 15 spot welds, about 40 mm apart, the first 20 mm "
        "from each end."
    )
    assert found.assumptions == ()


def test_spacing_from_the_count(us, metric):
    found = ask(spot_spacing, us, welds=21, length=Q(30, "inch"))
    assert found.sentence == "21 spot welds in 30 in: about 1 1/2 in apart, center to center."
    # by hand: 600 / 17 = 35.29
    found = ask(spot_spacing, metric, welds=18, length=Q(600, "mm"))
    assert found.figures["spacing"].m_as("mm") == pytest.approx(35.294, abs=5e-4)
    assert "about 35 mm apart" in found.sentence
    found = ask(spot_spacing, metric, welds=15, length=Q(600, "mm"), edge=Q(20, "mm"))
    assert "about 40 mm apart, center to center, the first 20 mm from each end" in found.sentence


def test_nothing_left_between_the_ends_is_refused(us):
    for routine, more in ((spot_welds, {"pitch": Q(1, "inch")}), (spot_spacing, {"welds": 5})):
        with pytest.raises(Refusal, match="Nothing is left of 4 in with 2 in off each end") as no:
            ask(routine, us, length=Q(4, "inch"), edge=Q(2, "inch"), **more)
        assert "four inches with two inches off each end" in no.value.spoken


def test_welds_too_close_to_be_meant_are_refused(us):
    with pytest.raises(Refusal, match=r"999 spot welds in 1 in would stand less than 0\.197 in"):
        ask(spot_spacing, us, welds=999, length=Q(1, "inch"))


def test_button_size(us, metric):
    # the printed table: 0.8 mm 3.578 and 4.472 (computed); up to a hundredth
    sheets = (Q(1.2, "mm"), Q(0.8, "mm"))
    found = ask(button_size, metric, sheets=sheets)
    assert found.sentence == (
        "Weld button for sheets of 1.2 mm and 0.8 mm: aim for 4.48 mm, and accept none under "
        "3.58 mm."
    )
    assert found.spoken == (
        "Weld button for sheets of one point two millimeters and zero point eight millimeters: "
        "aim for four point four eight millimeters, and accept none under three point five "
        "eight millimeters."
    )
    # 3.578 / 25.4 = 0.1409, up 0.141; 4.472 / 25.4 = 0.1761, up 0.177
    found = ask(button_size, us, sheets=sheets)
    assert "aim for 0.177 in or 4.48 mm, and accept none under 0.141 in or 3.58 mm" in (
        found.sentence)  # fmt: skip
    found = ask(button_size, us, sheets=(Q(0.04, "inch"),))
    # 0.04 in = 1.016 mm: 4.0319 mm = 0.1587 in, up 0.159; nominal 0.1984, up 0.199
    assert "sheets of 0.04 in: aim for 0.199 in, and accept none under 0.159 in" in found.sentence
    assert "one thickness given: every sheet of the stack is that thick" in found.assumptions


def test_three_sheets(metric):
    found = ask(button_size, metric, sheets=(Q(0.7, "mm"), Q(1, "mm"), Q(1.5, "mm")))
    assert found.figures["governing_thickness"].m_as("mm") == 1
    assert "aim for 5 mm, and accept none under 4 mm" in found.sentence


def test_four_sheets_are_refused(metric):
    four = (Q(1, "mm"),) * 4
    for routine, more in ((button_size, {}), (peel_test, {"buttons": (Q(5, "mm"),)})):
        with pytest.raises(Refusal, match="4 sheets is more than the 3 this rule knows") as no:
            ask(routine, metric, sheets=four, **more)
        assert "vehicle maker" in no.value.spoken


def test_a_peel_test_that_passes(us, metric):
    slots = {"sheets": (Q(1, "mm"),), "buttons": (Q(5, "mm"), Q(4.2, "mm"))}
    found = ask(peel_test, metric, **slots)
    assert found.figures["passed"] == "yes"
    assert found.sentence == (
        "Peel test passed for sheets of 1 mm: the least button is 4.2 mm, the smallest accepted "
        "4 mm; 1 of 2 under the nominal 5 mm."
    )
    assert "one of two under the nominal five millimeters" in found.spoken
    assert "0.158 in or 4 mm" in ask(peel_test, us, **slots).sentence
    found = ask(peel_test, metric, sheets=(Q(1, "mm"),), buttons=(Q(5, "mm"),))
    assert "all at the nominal 5 mm or more" in found.sentence


def test_a_peel_test_that_fails(metric):
    slots = {"sheets": (Q(1, "mm"),), "buttons": (Q(5, "mm"), Q(3.9, "mm"), Q(6, "mm"))}
    found = ask(peel_test, metric, **slots)
    assert (found.figures["passed"], found.figures["too_small"]) == ("no", 1)
    assert found.sentence == (
        "Peel test failed for sheets of 1 mm: 1 of 3 too small, the least 3.9 mm, under the "
        "smallest accepted, 4 mm. Do not weld the vehicle: mend the setup and peel a new coupon."
    )


def test_weld_through_is_what_the_card_says(us):
    yes = ask(weld_through, us, product="fast")
    assert (yes.figures["weld_through"], yes.figures["coupon_first"]) == ("yes", "yes")
    assert yes.sentence.startswith(
        "Through Fast panel adhesive: yes, while it is wet and inside its work time, by its card."
    )
    assert "That product is invented." in yes.spoken
    no = ask(weld_through, us)
    assert no.figures["weld_through"] == "no"
    assert no.sentence.startswith(
        "No: the card of Long-open panel adhesive does not allow welding through it"
    )
    for state in ("wet", "cured"):
        assert ask(weld_through, us, state=state).sentence.startswith("No: the card of Long-open")


def test_weld_through_cured_needs_a_coupon(us):
    bench = Weldable(us)
    wet = ask(weld_through, bench, state="wet")
    assert wet.sentence == (
        "Through wet Long-open panel adhesive: yes, while it is wet and inside its work time, by "
        "its card."
    )
    cured = ask(weld_through, bench, state="cured")
    assert "cured Long-open panel adhesive: only after a coupon" in cured.sentence
    assert "yes" not in cured.sentence
    either = ask(weld_through, bench)
    assert "yes, while it is wet" in either.sentence
    assert "Once cured, only after a coupon" in either.sentence
    assert [a.figures["coupon_first"] for a in (wet, cured, either)] == ["no", "yes", "yes"]


def test_clamps_after_welding(us):
    # long open at 70 °F: 2 h, the longest of its card
    held = ask(clamps_after_welding, us, temperature=Q(70, "degF"))
    assert held.sentence == (
        "The card of Long-open panel adhesive does not allow welding through it: leave the "
        "clamps on for about 2 h at 70 °F, counted from the bead."
    )
    off = ask(clamps_after_welding, Weldable(us), temperature=Q(70, "degF"))
    assert off.sentence == (
        "The clamps may come off when every spot weld is in and has cooled; the welds then hold "
        "the joint. Put no load on it for about 2 h at 70 °F, counted from the bead."
    )
    assert off.figures["clamp_time_stated"].m_as("minute") == pytest.approx(120)
    # fast at 65 °F: ln t straight over 1/T between 60 and 40 min at 60 and 70 °F, 48.9 min
    fast = ask(clamps_after_welding, us, temperature=Q(65, "degF"), product="fast").figures
    exact, stated = (fast[name].m_as("minute") for name in ("clamp_time", "clamp_time_stated"))
    assert exact == pytest.approx(48.9, abs=0.05)
    assert stated == 50
    assert "for the clamp time, counted" in ask(clamps_after_welding, us).sentence


@pytest.mark.parametrize(("fahrenheit", "to_do"), [(40, "Warm the joint"), (100, "cool")])
def test_no_clamp_time_outside_the_cards_limits(us, metric, fahrenheit, to_do):
    with pytest.raises(Refusal, match=to_do) as no:
        ask(clamps_after_welding, us, temperature=Q(fahrenheit, "degF"))
    assert f"No clamp time at {fahrenheit} °F" in str(no.value)
    assert not re.search(r"\d", no.value.spoken)
    with pytest.raises(Refusal, match=r"the limit is (10|35) °C"):
        ask(clamps_after_welding, metric, temperature=Q(fahrenheit, "degF"))


def test_the_usual_cautions(us):
    answers = [
        ask(spot_welds, us, length=Q(30, "inch"), pitch=Q(1.5, "inch")),
        ask(spot_spacing, us, welds=5, length=Q(30, "inch")),
        ask(button_size, us, sheets=(Q(1, "mm"),)),
        ask(peel_test, us, sheets=(Q(1, "mm"),), buttons=(Q(5, "mm"),)),
        ask(weld_through, us),
        ask(clamps_after_welding, us),
    ]
    for found in answers:
        told = " ".join(found.cautions)
        for word in ("vehicle maker", "local code", "Fumes", "Fire", "extinguisher", "eye"):
            assert word in told
        assert found.basis


def test_thou_are_told_in_inches(us):
    # 5·√1.016 = 5.04 mm, 4·√1.016 = 4.032 mm, both up
    found = ask(button_size, us, sheets=(Q(40, "thou"),))
    assert found.sentence == (
        "Weld button for sheets of 0.04 in: aim for 0.199 in, and accept none under 0.159 in."
    )


thicknesses = st.lists(st.floats(0.4, 3.0), min_size=1, max_size=3)


@given(thicknesses, st.lists(st.floats(1, 18), min_size=1, max_size=4))
def test_buttons_err_to_the_safe_side(us, metric, sheets, buttons):
    slots = {
        "sheets": tuple(Q(sheet, "mm") for sheet in sheets),
        "buttons": tuple(Q(across, "mm") for across in buttons),
    }
    for bench, unit, symbol in ((us, "inch", "in"), (metric, "mm", "mm")):
        found = ask(button_size, bench, sheets=slots["sheets"])
        told = re.search(rf"for ([\d.]+) {symbol}.*under ([\d.]+) {symbol}", found.sentence)
        assert float(told[1]) >= found.figures["nominal_button"].m_as(unit) - 1e-9
        assert float(told[2]) >= found.figures["smallest_button"].m_as(unit) - 1e-9
        judged = ask(peel_test, bench, **slots)
        assert not re.search(r"\d|[%°/]", judged.spoken + found.spoken)
    assert judged.figures == ask(peel_test, us, **slots).figures


@given(st.floats(50, 1e4), st.floats(5, 900))
def test_spots_are_said_on_the_safe_side(us, metric, length, pitch):
    slots = {"length": Q(length, "mm"), "pitch": Q(pitch, "mm")}
    for bench in (us, metric):
        found = ask(spot_welds, bench, **slots)
        assert found.figures["spacing"].m_as("mm") <= pitch * (1 + 1e-8)
        assert not re.search(r"\d|[%°/]", found.spoken)
    assert float(re.search(r"about (\d+) mm apart", found.sentence)[1]) <= pitch * (1 + 1e-8)
    assert found.figures["spot_welds"] == ask(spot_welds, us, **slots).figures["spot_welds"]


PHRASINGS = {
    "how many spot welds for thirty inches every inch and a half": (
        "spot_welds", ("length", "thirty inches"), ("pitch", "inch and a half")),
    "how many spots in six hundred millimeters at forty millimeter pitch": (
        "spot_welds", ("length", "six hundred millimeters"), ("pitch", "forty millimeter")),
    "how many spot welds on four feet of flange spaced two inches apart starting half an inch "
    "from each end": (
        "spot_welds", ("length", "four feet"), ("pitch", "two inches"), ("edge", "half an inch")),
    "how many spot welds on four feet of flange spaced two inches apart starting three quarters "
    "of an inch from each end": (
        "spot_welds", ("length", "four feet"), ("pitch", "two inches"),
        ("edge", "three quarters of an inch")),
    "spot weld count for thirty inches every two inches": (
        "spot_welds", ("length", "thirty inches"), ("pitch", "two inches")),
    "how many spot welds every two inches": ("spot_welds", ("pitch", "two inches")),
    "how many spot welds": ("spot_welds",),
    "how far apart are twenty one spot welds in thirty inches": (
        "spot_spacing", ("welds", "twenty one"), ("length", "thirty inches")),
    "space twelve spot welds over four hundred millimeters starting one inch from each end": (
        "spot_spacing", ("welds", "twelve"), ("length", "four hundred millimeters"),
        ("edge", "one inch")),
    "what is the spot weld spacing for sixteen welds in two feet": (
        "spot_spacing", ("welds", "sixteen"), ("length", "two feet")),
    "spot weld pitch": ("spot_spacing",),
    "how big is the weld button for one millimeter": (
        "button_size", ("sheets", "one millimeter")),
    "weld button for point eight and one point two millimeter sheets": (
        "button_size", ("sheets", "point eight"), ("sheets", "one point two millimeter")),
    "what is the weld nugget for point seven and one and one point five millimeter sheets": (
        "button_size", ("sheets", "point seven"), ("sheets", "one"),
        ("sheets", "one point five millimeter")),
    "smallest weld button for point oh four inch and point oh six inch": (
        "button_size", ("sheets", "point oh four inch"), ("sheets", "point oh six inch")),
    "what is the button size": ("button_size",),
    "peel test on one millimeter sheets with buttons of five and four point two": (
        "peel_test", ("sheets", "one millimeter"), ("buttons", "five"),
        ("buttons", "four point two")),
    "check a peel test of point eight and one millimeter with a button of three point six five "
    "millimeters": (
        "peel_test", ("sheets", "point eight"), ("sheets", "one millimeter"),
        ("buttons", "three point six five millimeters")),
    "judge a peel test on point oh four inch sheets with buttons of point two inch and three "
    "sixteenths of an inch": (
        "peel_test", ("sheets", "point oh four inch"), ("buttons", "point two inch"),
        ("buttons", "three sixteenths of an inch")),
    "peel test with buttons of five and five and five": (
        "peel_test", ("buttons", "five"), ("buttons", "five"), ("buttons", "five")),
    "peel test": ("peel_test",),
    "can i weld through the fast set": ("weld_through", ("product", "fast set")),
    "how big is the weld button for forty thou": ("button_size", ("sheets", "forty thou")),
    "peel test on forty thou sheets with buttons of two hundred thou": (
        "peel_test", ("sheets", "forty thou"), ("buttons", "two hundred thou")),
    "can we spot weld through the cured long open": (
        "weld_through", ("state", "cured"), ("product", "long open")),
    "can i weld through cured adhesive": ("weld_through", ("state", "cured")),
    "may i weld through wet adhesive": ("weld_through", ("state", "wet")),
    "can i weld through it": ("weld_through",),
    "is the long open weld through": ("weld_through", ("product", "long open")),
    "after welding when can the clamps come off": ("clamps_after_welding",),
    "after spot welding how long do the clamps stay on at seventy degrees with the fast": (
        "clamps_after_welding", ("temperature", "seventy degrees"), ("product", "fast")),
    "do the clamps stay on after welding with the long open at twenty celsius": (
        "clamps_after_welding", ("product", "long open"), ("temperature", "twenty celsius")),
    "weld bonding clamp time at sixty": ("clamps_after_welding", ("temperature", "sixty")),
    "after welding when can we unclamp": ("clamps_after_welding",),
}  # fmt: skip


@pytest.mark.parametrize("words", PHRASINGS)
def test_phrasings(senses_in, words):
    rule, *tags = PHRASINGS[words]
    assert senses_in("welding", words) == {(rule, tuple(tags))}


@pytest.mark.parametrize(
    "words",
    [
        "how many spot welds for",
        "peel test on four millimeter sheets",
        "weld button for point oh four and point oh six inch",
        "can i weld through the panel",
        "when can the clamps come off",
    ],
)
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("welding", words) == set()


@pytest.mark.parametrize("routine", ROUTINES, ids=lambda routine: routine.name)
def test_every_sentence_has_one_sense(linked, senses_in, routine):
    rng = random.Random(7)
    for _ in range(120):
        reading = sample(linked("welding"), rng, f"welding.{routine.name}")
        assert senses_in("welding", reading.text) == {(reading.rule, reading.tags)}
