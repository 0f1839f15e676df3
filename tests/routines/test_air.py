"""Dew point and go or no-go, from phrasing and slots to sentence."""

import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.sampling import sample
from assistant.routines.dew_check import ROUTINE as CHECK
from assistant.routines.dew_point import ROUTINE as POINT
from assistant.units import Q

airs = st.floats(0, 50)
humidities = st.floats(0.01, 1)


def point(bench, air, humidity):
    return POINT.answer({"air": air, "humidity": humidity}, bench)


def check(bench, metal, air, humidity):
    return CHECK.answer({"metal": metal, "air": air, "humidity": humidity}, bench)


def test_seventy_and_fifty_percent(us):
    found = point(us, Q(70, "degF"), 0.5)
    # psychrolib: 50.53 °F (reproduced); up to half a degree 51; + 5.4 = 55.93, up 56
    assert found.figures["dew_point"].m_as("degF") == pytest.approx(50.53, abs=0.005)
    assert found.figures["least_metal_temperature"].m_as("degF") == pytest.approx(55.93, abs=0.005)
    assert found.sentence == (
        "Air at 70 °F and 50 % humidity: dew point about 51 °F. Bare metal must be at 56 °F or "
        "more."
    )
    assert found.spoken == (
        "Air at seventy degrees Fahrenheit and fifty percent humidity: dew point about fifty-one "
        "degrees Fahrenheit. Bare metal must be at fifty-six degrees Fahrenheit or more."
    )


def test_a_metric_shop_hears_metric(metric):
    # psychrolib: 9.272 °C (reproduced); up 9.5; + 3 = 12.272, up 12.5
    found = point(metric, Q(20, "degC"), 0.5)
    assert "dew point about 9.5 °C. Bare metal must be at 12.5 °C or more" in found.sentence
    assert "nine and a half degrees Celsius" in found.spoken
    found = check(metric, Q(12, "degC"), Q(20, "degC"), 0.5)
    assert "only 2.7 °C above the dew point of about 9.5 °C, not 3 °C" in found.sentence
    assert "°F" not in found.sentence


def test_a_go(us):
    # 58 - 50.53 = 7.47 °F, down 7.4
    found = check(us, Q(58, "degF"), Q(70, "degF"), 0.5)
    assert found.figures["go"] == "yes"
    assert found.figures["margin"].m_as("delta_degF") == pytest.approx(7.47, abs=0.005)
    assert found.sentence == (
        "Go for metal at 58 °F, air at 70 °F and 50 %: the metal is 7.4 °F above the dew point "
        "of about 51 °F, and 5.4 °F is enough."
    )


def test_no_go_near_the_dew_point(us):
    # 55 - 50.53 = 4.47 °F, down 4.4
    found = check(us, Q(55, "degF"), Q(70, "degF"), 0.5)
    assert found.figures["go"] == "no"
    assert found.sentence == (
        "No go for metal at 55 °F, air at 70 °F and 50 %: the metal is only 4.4 °F above the dew "
        "point of about 51 °F, not 5.4 °F. Warm it to 56 °F or more, or dry the air."
    )


def test_no_go_at_the_dew_point_or_below(us):
    found = check(us, Q(45, "degF"), Q(70, "degF"), 0.5)
    assert "not above the dew point of about 51 °F, so it is wet or will be" in found.sentence
    assert found.spoken.startswith("No go for metal at forty-five degrees Fahrenheit")


def test_the_usual_cautions(us):
    for found in (
        point(us, Q(70, "degF"), 0.5),
        check(us, Q(58, "degF"), Q(70, "degF"), 0.5),
    ):
        told = " ".join(found.cautions)
        for word in ("vehicle maker", "data sheet", "coldest spot", "hygrometer"):
            assert word in told
        assert "ASHRAE" in found.basis


@given(st.floats(-20, 80), airs, humidities)
def test_what_is_said_errs_to_the_safe_side(us, metric, metal, air, humidity):
    for bench, unit in ((us, "degF"), (metric, "degC")):
        dew = point(bench, Q(air, "degC"), humidity)
        told = re.search(r"about (-?[\d.]+) °.\. .* at (-?[\d.]+) °. or more", dew.sentence)
        stated, least = float(told[1]), float(told[2])
        assert stated >= dew.figures["dew_point"].m_as(unit) - 1e-8
        assert least >= dew.figures["least_metal_temperature"].m_as(unit) - 1e-8
        found = check(bench, Q(metal, "degC"), Q(air, "degC"), humidity)
        told = re.search(r"is (?:only )?(-?[\d.]+) °. above", found.sentence)
        if told:
            assert float(told[1]) <= found.figures["margin"].m_as(f"delta_{unit}") + 1e-8
        assert found.sentence.startswith("Go" if found.figures["go"] == "yes" else "No go")
        for answer in (dew, found):
            assert not re.search(r"\d|[%°/]", answer.spoken)


@given(st.floats(-20, 80), airs, humidities)
def test_the_unit_system_never_changes_the_verdict(us, metric, metal, air, humidity):
    given_values = Q(metal, "degC"), Q(air, "degC"), humidity
    assert check(us, *given_values).figures == check(metric, *given_values).figures


PHRASINGS = {
    "what is the dew point at seventy degrees and fifty percent humidity": (
        "dew_point", ("air", "seventy degrees"), ("humidity", "fifty percent")),
    "dew point for twenty one celsius and sixty percent": (
        "dew_point", ("air", "twenty one celsius"), ("humidity", "sixty percent")),
    "what's the dew point with the air at sixty eight and forty percent relative humidity": (
        "dew_point", ("air", "sixty eight"), ("humidity", "forty percent")),
    "work out the dew point at eighty degrees fahrenheit seventy five percent": (
        "dew_point", ("air", "eighty degrees fahrenheit"), ("humidity", "seventy five percent")),
    "tell me the dew point at seventy": ("dew_point", ("air", "seventy")),
    "the dew point with fifty percent humidity": ("dew_point", ("humidity", "fifty percent")),
    "dew point": ("dew_point",),
    "dewpoint at seventy and forty percent": (
        "dew_point", ("air", "seventy"), ("humidity", "forty percent")),
    "dew point at twenty two point five celsius and one hundred percent": (
        "dew_point", ("air", "twenty two point five celsius"),
        ("humidity", "one hundred percent")),
    "dew point at seventy and fifty two point five percent": (
        "dew_point", ("air", "seventy"), ("humidity", "fifty two point five percent")),
    "is bare metal dry at fifty eight degrees with the air at seventy and fifty percent": (
        "dew_check", ("metal", "fifty eight degrees"), ("air", "seventy"),
        ("humidity", "fifty percent")),
    "is the bare metal dry enough": ("dew_check",),
    "is the bare metal clear of dew at sixty": ("dew_check", ("metal", "sixty")),
    "is the metal above the dew point at fifteen celsius": (
        "dew_check", ("metal", "fifteen celsius")),
    "will the metal sweat at sixty degrees with the air at eighty and seventy percent humidity": (
        "dew_check", ("metal", "sixty degrees"), ("air", "eighty"),
        ("humidity", "seventy percent")),
    "will the panel sweat with eighty percent humidity": (
        "dew_check", ("humidity", "eighty percent")),
    "will dew form on bare metal at ten celsius with the air at eighteen": (
        "dew_check", ("metal", "ten celsius"), ("air", "eighteen")),
    "can we work on bare metal at fifty with the air at seventy degrees sixty percent": (
        "dew_check", ("metal", "fifty"), ("air", "seventy degrees"),
        ("humidity", "sixty percent")),
    "is it a go for bare metal at sixty": ("dew_check", ("metal", "sixty")),
    "dew check metal twelve celsius air twenty celsius humidity fifty percent": (
        "dew_check", ("metal", "twelve celsius"), ("air", "twenty celsius"),
        ("humidity", "fifty percent")),
    "dew check metal at sixty degrees air at seventy degrees humidity fifty percent": (
        "dew_check", ("metal", "sixty degrees"), ("air", "seventy degrees"),
        ("humidity", "fifty percent")),
    "dew check": ("dew_check",),
}  # fmt: skip


@pytest.mark.parametrize("words", PHRASINGS)
def test_phrasings(senses_in, words):
    rule, *tags = PHRASINGS[words]
    assert senses_in("air", words) == {(rule, tuple(tags))}


@pytest.mark.parametrize(
    "words",
    [
        "dew point at",
        "dew point at seventy and zero percent",
        "dew point at seventy and one hundred and five percent",
        "is bare metal dry at fifty percent",
        "dew point at one hundred twenty five percent",
    ],
)
def test_what_is_not_in_the_grammar(senses_in, words):
    assert senses_in("air", words) == set()


def test_every_sentence_has_one_sense(linked, senses_in):
    rng = random.Random(6)
    for _ in range(300):
        reading = sample(linked("air"), rng)
        assert senses_in("air", reading.text) == {(reading.rule, reading.tags)}


def test_what_is_missing_is_asked_for():
    for routine in (POINT, CHECK):
        assert all(slot.required and slot.ask.endswith("?") for slot in routine.slots)
    assert [slot.name for slot in CHECK.slots] == ["metal", "air", "humidity"]
