"""Warming and cooling, from phrasing and slots to sentence."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.hearing.sampling import sample
from assistant.routines.warming_time import ROUTINE
from assistant.units import Q


def slots(first, second, gap, surroundings, wanted, unit="degF", **more):
    return {
        "first": Q(first, unit),
        "second": Q(second, unit),
        "gap": Q(gap, "minute"),
        "surroundings": Q(surroundings, unit),
        "wanted": Q(wanted, unit),
        **more,
    }


def test_a_panel_that_warms(us):
    # by hand: 17.138 min, up 18; half a degree off 13.941 to 21.344: 13 and 22
    found = ROUTINE.answer(slots(50, 58, 10, 70, 65, thing="panel"), us)
    assert found.figures["time"].m_as("minute") == pytest.approx(17.138, abs=5e-4)
    assert found.sentence == (
        "The panel went from 50 °F to 58 °F in 10 min, with 70 °F around it: it reaches 65 °F "
        "about 18 min after the second reading. With readings 0.5 °F off, between 13 min and "
        "22 min."
    )
    assert found.spoken == (
        "The panel went from fifty degrees Fahrenheit to fifty-eight degrees in ten minutes, with "
        "seventy degrees around it: it reaches sixty-five degrees about eighteen minutes after "
        "the second reading. With readings half a degree Fahrenheit off, between thirteen minutes "
        "and twenty-two minutes."
    )


def test_a_cartridge_that_cools_in_a_metric_shop(metric):
    # by hand: k = ln(20/15)/20; to 10 above, ln(15/10)/k = 28.188 min: 28 down, 29 up
    found = ROUTINE.answer(slots(40, 35, 20, 20, 30, "degC", thing="cartridge"), metric)
    assert found.figures["time"].m_as("minute") == pytest.approx(28.188, abs=5e-4)
    assert "it stays above 30 °C for about 28 min" in found.sentence
    assert "is down to it after about 29 min" in found.sentence
    assert "°F" not in found.sentence
    assert "Fahrenheit" not in found.spoken
    assert "lags behind its skin" in " ".join(found.cautions)


def test_readings_in_two_scales_are_said_in_both(us):
    given_slots = slots(50, 58, 10, 70, 65) | {"wanted": Q(18, "degC")}
    assert "reaches eighteen degrees Celsius" in ROUTINE.answer(given_slots, us).spoken
    assert ROUTINE.answer(given_slots, us).sentence.startswith("The part went")


def test_near_the_surroundings_there_is_no_latest(us):
    found = ROUTINE.answer(slots(50, 58, 10, 70, 69.7, thing="panel"), us)
    assert found.figures["latest"] == "open"
    assert "or never: keep measuring" in found.sentence


@pytest.mark.parametrize(
    ("given_slots", "told"),
    [
        (slots(50, 58, 10, 70, 75), "never reaches 75 °F with 70 °F around it. Warm the"),
        (slots(50, 40, 10, 30, 20), "never reaches 20 °F with 30 °F around it. Cool the"),
        (slots(50, 58, 10, 70, 55), "is at 55 °F or past it already"),
        (slots(50, 50, 10, 70, 65), "does not move toward the 70 °F around it. Wait longer"),
        (slots(50, 58, 10, 40, 65), "does not move toward the 40 °F around it"),
    ],
)
def test_refusals(us, given_slots, told):
    with pytest.raises(Refusal) as no:
        ROUTINE.answer({**given_slots, "thing": "panel"}, us)
    assert told in str(no.value)
    assert not re.search(r"\d|°", no.value.spoken)
    assert no.value.cautions


def test_the_usual_cautions(us):
    told = " ".join(ROUTINE.answer(slots(50, 58, 10, 70, 65), us).cautions)
    for word in ("data sheet", "Measure again", "flame", "solvent"):
        assert word in told
    assert "lags" not in told


@given(
    st.floats(5, 40), st.floats(0.1, 0.8), st.floats(2, 120), st.floats(0.1, 0.9),
    st.sampled_from((1, -1)),
)  # fmt: skip
def test_what_is_said_errs_to_the_safe_side(us, metric, difference, share, gap, goal, side):
    air = 20.0
    second = air + side * difference * (1 - share)
    wanted = air + side * difference * (1 - share) * goal
    given_slots = slots(air + side * difference, second, gap, air, wanted, "degC")
    found = [ROUTINE.answer(given_slots, bench) for bench in (us, metric)]
    assert found[0].figures == found[1].figures
    exact = found[0].figures["time"].m_as("minute")
    stated = [minutes(text) for text in re.findall(r"about ([\d hmins]+) after", found[1].sentence)]
    if side < 0:
        assert stated[-1] >= exact - 1e-6
    else:
        assert stated[0] <= exact + 1e-6
        last = re.search(r"after about ([\d hmins]+)\. With", found[1].sentence)
        assert minutes(last[1]) >= exact - 1e-6
    for answer in found:
        assert not re.search(r"\d|[%°/]", answer.spoken)


def minutes(text):
    parts = dict((unit, int(n)) for n, unit in re.findall(r"(\d+) (h|min|s)\b", text))
    return parts.get("h", 0) * 60 + parts.get("min", 0) + parts.get("s", 0) / 60


PHRASINGS = {
    "panel went from fifty to fifty eight in ten minutes in seventy degree air when is it sixty "
    "five": (
        ("thing", "panel"), ("first", "fifty"), ("second", "fifty eight"),
        ("gap", "ten minutes"), ("surroundings", "seventy degree"), ("wanted", "sixty five")),
    "the cartridge cooled from ninety degrees to eighty degrees in half an hour with the air at "
    "sixty when will it be seventy": (
        ("thing", "cartridge"), ("first", "ninety degrees"), ("second", "eighty degrees"),
        ("gap", "half an hour"), ("surroundings", "sixty"), ("wanted", "seventy")),
    "metal warmed from ten celsius to fourteen celsius in twenty minutes with the air at twenty "
    "celsius when does it reach eighteen celsius": (
        ("thing", "metal"), ("first", "ten celsius"), ("second", "fourteen celsius"),
        ("gap", "twenty minutes"), ("surroundings", "twenty celsius"),
        ("wanted", "eighteen celsius")),
    "the panel went from fifty to fifty eight in an hour and a half": (
        ("thing", "panel"), ("first", "fifty"), ("second", "fifty eight"),
        ("gap", "an hour and a half")),
    "panel went from fifty to fifty eight in ten minutes when is it sixty five": (
        ("thing", "panel"), ("first", "fifty"), ("second", "fifty eight"),
        ("gap", "ten minutes"), ("wanted", "sixty five")),
    "when does the panel reach sixty five if it went from fifty to fifty eight in ten minutes in "
    "seventy degree air": (
        ("thing", "panel"), ("wanted", "sixty five"), ("first", "fifty"),
        ("second", "fifty eight"), ("gap", "ten minutes"), ("surroundings", "seventy degree")),
    "when does the cartridge reach sixty degrees": (
        ("thing", "cartridge"), ("wanted", "sixty degrees")),
    "when will the panel warm up to sixty five": (("thing", "panel"), ("wanted", "sixty five")),
    "when does the metal cool down": (("thing", "metal"),),
    "how long will the cartridge take to warm up to twenty celsius": (
        ("thing", "cartridge"), ("wanted", "twenty celsius")),
}  # fmt: skip


@pytest.mark.parametrize("words", PHRASINGS)
def test_phrasings(senses_in, words):
    assert senses_in("warming", words) == {("warming_time", PHRASINGS[words])}


@pytest.mark.parametrize(
    "words",
    ["panel went from fifty in ten minutes", "when does the shop reach sixty",
     "panel went from fifty to sixty in ten inches"],
)  # fmt: skip
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("warming", words) == set()


def test_every_sentence_has_one_sense(linked, senses_in):
    rng = random.Random(5)
    for _ in range(200):
        reading = sample(linked("warming"), rng)
        assert senses_in("warming", reading.text) == {(reading.rule, reading.tags)}


def test_what_is_missing_is_asked_for():
    asked = [slot.name for slot in ROUTINE.slots if slot.required]
    assert asked == ["first", "second", "gap", "surroundings", "wanted"]
