"""Closing inside the work time, from words to yes or no."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Refusal
from assistant.routines.close_in_time import ROUTINE
from assistant.units import Q

JOB = {"length": Q(80, "inch"), "clamps": 10, "temperature": Q(70, "degF")}

PHRASINGS = [
    (
        "can i close it in time with eighty inches of bead and ten clamps at seventy degrees",
        {"length": "eighty inches", "clamps": "ten", "temperature": "seventy degrees"},
    ),
    ("can we close the panel in time", {}),
    (
        "will i close it in time at sixty degrees with the fast",
        {"temperature": "sixty degrees", "product": "fast"},
    ),
    (
        "do we have time to close the panel with two meters of bead",
        {"length": "two meters"},
    ),
    (
        "is there time to close it with twelve clamps of twenty seconds each and sixty inches of "
        "bead",
        {"clamps": "twelve", "each": "twenty seconds", "length": "sixty inches"},
    ),
    (
        "can i close it in time with sixty inches of bead and six clamps two people working at "
        "ninety",
        {"length": "sixty inches", "clamps": "six", "people": "two", "temperature": "ninety"},
    ),
    (
        "can i close it in time at twenty celsius with one meter of bead and eight clamps and "
        "three minutes to place it laying ten millimeters a second",
        {
            "temperature": "twenty celsius",
            "length": "one meter",
            "clamps": "eight",
            "positioning": "three minutes",
            "speed": "ten millimeters",
        },
    ),
    (
        "does the work time last to close the panel with the air at eighty and the metal at "
        "seventy using the long open",
        {"air": "eighty", "temperature": "seventy", "product": "long open"},
    ),
    (
        "is there time to close it with forty clamps",
        {"clamps": "forty"},
    ),
]


@pytest.mark.parametrize(("words", "tags"), PHRASINGS)
def test_phrasings(senses_in, words, tags):
    ((rule, heard),) = senses_in("closing", words)
    assert (rule, dict(heard)) == ("close_in_time", tags)


@pytest.mark.parametrize("words", ["close it", "can i close it", "is there time"])
def test_what_is_not_asked_here(senses_in, words):
    assert senses_in("closing", words) == set()


def ask(bench, **slots):
    return ROUTINE.answer(JOB | slots, bench)


def test_yes(us):
    found = ask(us, product="long-open")
    # by hand: 80 in / 0.6 in/s = 133.3 s; 120 s; 10 x 20 = 200 s: 453.3 s = 7.556 min
    assert found.figures["assembly_time"].m_as("second") == pytest.approx(453.333, abs=1e-3)
    assert found.figures["margin"].m_as("minute") == pytest.approx(40 - 7.5556, abs=1e-3)
    assert found.figures["fits"] == "yes"
    # at the warmest, 40 x 2^(-25/18) = 15.3 min: more than enough
    assert found.sentence == (
        "Yes: bead, panel and 10 clamps take about 8 min; the work time of Long-open panel "
        "adhesive at 70 °F is about 40 min: 30 min to spare. It fits up to a metal temperature "
        "of 95 °F. In time here: Long-open panel adhesive."
    )
    assert found.spoken.startswith("Yes. Bead, panel and clamps take about eight minutes, and")
    assert "I assumed the laying speed, the time to place the panel and the time" in found.spoken


def test_no(us):
    found = ask(us, product="fast", length=Q(20, "inch"), clamps=15)
    # the fast card has no laying speed: 508 mm / 10 mm/s = 50.8 s; 120 s; 15 x 20 = 300 s
    assert found.figures["assembly_time"].m_as("second") == pytest.approx(470.8)
    # 470.8 - 360 = 110.8 s, up
    assert "No: bead" in found.sentence
    assert "2 min short" in found.sentence
    # ln t over 1/T between 60 °F (10 min) and 70 °F (6 min): 7.8467 min lie
    # ln(10/7.8467)/ln(10/6) = 0.47471 of the way in 1/T, at 291.317 K
    assert found.figures["hottest"].m_as("degF") == pytest.approx(64.70, abs=0.005)
    assert "up to a metal temperature of 64 °F" in found.sentence
    assert found.figures["products_that_fit"] == "long-open"


def test_what_was_said_is_used(us):
    found = ask(
        us, product="fast", length=Q(20, "inch"), each=Q(10, "second"),
        positioning=Q(1, "minute"), people=3, speed=Q(1, "inch"),
    )  # fmt: skip
    # 20 s + 60 s + ceil(10/3) = 4 clamps of 10 s
    assert found.figures["assembly_time"].m_as("second") == pytest.approx(120)
    assert found.figures["fits"] == "yes"
    assert "not given" not in " ".join(found.assumptions)


def test_what_is_assumed_is_named(us, metric):
    told = " | ".join(ask(us, product="fast").assumptions)
    for words in ("0.394 in a second, usual", "panel not given: 2 min", "clamp not given: 20 s",
                  "one person"):  # fmt: skip
        assert words in told
    assert "0.6 in a second, from the card" in " | ".join(ask(us).assumptions)
    assert "10 mm a second" in " | ".join(ask(metric, product="fast").assumptions)


def test_changing_cartridges_takes_time(us):
    # one long-open cartridge lays 101 in of 3/8 in bead (202 mL / (71.256 mL/m x 1.1)); a fast
    # one 21.6 in (43 mL), so 80 in take four: three changes of 30 s
    assert ask(us, product="long-open").figures["changing"].magnitude == 0
    found = ask(us, product="fast")
    assert found.figures["cartridges"] == 4
    # 203.2 + 90 + 120 + 200 s
    assert found.figures["assembly_time"].m_as("second") == pytest.approx(613.2)
    assert "takes 4 cartridges; 30 s for each change" in " ".join(found.assumptions)


def test_too_much_for_every_temperature(us):
    found = ask(us, product="fast", clamps=100)
    assert "fits at no temperature the card allows" in found.sentence
    assert "hottest" not in found.figures


def test_nothing_here_is_in_time(us):
    found = ask(us, clamps=200)
    assert "No product here is in time." in found.spoken
    assert found.figures["products_that_fit"] == "none"


def test_outside_the_limits_there_is_no_answer(us):
    with pytest.raises(Refusal, match=r"No work time at 49 °F.*Warm the joint"):
        ask(us, temperature=Q(49, "degF"))


def test_a_metric_shop(metric):
    found = ask(metric, temperature=Q(21, "degC"))
    assert "at 21 °C" in found.sentence
    assert "temperature of 35 °C" in found.sentence
    assert "°F" not in found.sentence


@given(
    st.floats(60, 95), st.floats(1, 1e4), st.integers(1, 60), st.integers(1, 5),
    st.sampled_from(["fast", "long-open"]),
)  # fmt: skip
def test_the_answer_is_safe(us, metric, fahrenheit, length, clamps, people, product):
    slots = {
        "temperature": Q(fahrenheit, "degF"),
        "length": Q(length, "mm"),
        "clamps": clamps,
        "people": people,
        "product": product,
    }
    found = ask(us, **slots)
    assert found.figures == ask(metric, **slots).figures
    assert not re.search(r"\d|[%°/]", found.spoken)
    figures = found.figures
    assert (figures["fits"] == "yes") == (figures["margin"].m_as("minute") >= 0)
    if figures["fits"] == "yes":
        # what fits here fits at the hottest, and here is no hotter
        assert product in figures["products_that_fit"]
        assert figures["hottest"].m_as("degF") >= fahrenheit - 0.51
        more = ask(us, **slots | {"people": people + 1}).figures
        assert more["assembly_time"] <= figures["assembly_time"]
    if "hottest" in figures:
        there = ask(us, **slots | {"temperature": figures["hottest"]}).figures
        assert there["margin"].m_as("minute") >= -1e-6


def test_cautions_and_questions(us):
    told = " ".join(ask(us).cautions)
    for word in ("vehicle maker", "data sheet", "gloves", "eye", "metal", "work time is over"):
        assert word in told
    asks = {slot.name: slot.ask for slot in ROUTINE.slots if slot.required}
    assert set(asks) == {"length", "clamps", "temperature"}
