"""Figures in speech: values by pint's units, limits by the card and by the bench's routines."""

import pytest

from assistant.rehearsal.figures import figures_in, limits, outside, said_of, wrong_figures
from assistant.rehearsal.words import pieces
from assistant.units import Q


@pytest.mark.parametrize(
    ("words", "kind", "value"),
    [
        ("three inches", "length", Q(3, "inch")),
        ("an inch and a half", "length", Q(1.5, "inch")),
        ("one hour", "duration", Q(1, "hour")),
        ("inch and a half", "length", Q(1.5, "inch")),
        ("half an hour", "duration", Q(30, "minute")),
        ("two and a half hours", "duration", Q(150, "minute")),
        ("seventy degrees", "temperature", Q(70, "degF")),
        ("ten celsius", "temperature", Q(10, "degC")),
        ("two hundred milliliters", "volume", Q(200, "mL")),
    ],
)
def test_a_figure(words, kind, value):
    (said,) = figures_in(f"about {words} or so".split())
    assert said.kind == kind
    assert said.value.m_as(value.units) == pytest.approx(value.magnitude)


@pytest.mark.parametrize(
    "words", ["the first inches", "a few minutes", "wait a minute", "hold a second", "gloves on"]
)
def test_what_is_no_figure(words):
    assert list(figures_in(words.split())) == []


def test_a_figure_that_breaks_off():
    (said,) = figures_in("put an inch and".split())
    assert said.words == "an inch"


def test_hundreds_for_short():
    (said,) = figures_in("no more than one eighty".split())
    assert (said.kind, said.value) == ("bare", 180.0)


def test_a_bare_fraction_is_inches_in_a_us_shop(library):
    figure = library.card("panel-replacement").step("bead").figures[0]
    (said,) = said_of(figure, pieces("a three eighths bead"))
    assert said[0].m_as("inch") == pytest.approx(0.375)
    assert said_of(figure, pieces("a three eighths bead"), "degC") == []
    assert said_of(figure, pieces("two beads")) == []


def test_two_figures_in_one_piece():
    found = list(figures_in("two hours at seventy".split()))
    assert [said.kind for said in found] == ["duration", "bare"]


@pytest.mark.parametrize(
    ("value", "low", "high", "side"),
    [(5, 2, 8, ""), (2, 2, 8, ""), (8, 2, 8, ""), (1, 2, 8, "under"), (9, 2, 8, "over"),
     (9, 2, None, ""), (1, None, 8, ""), (9, None, 8, "over")],
)  # fmt: skip
def test_outside(value, low, high, side):
    assert outside(value, low, high) == side
    ends = [None if end is None else Q(end, "inch") for end in (low, high)]
    assert outside(Q(value * 25.4, "mm"), *ends) == side


def faults(library, ask, card, step, text, scale="degF"):
    found = wrong_figures(library.card(card).step(step), pieces(text), ask, scale)
    return [(wrong.side, wrong.words) for wrong in found]


def test_by_the_routine_at_the_temperature_that_was_said(library, ask):
    # the long-open card: 2 h at 70 °F; by the doubling rule (common practice, no source) twice
    # that at 52 °F, half at 88 °F
    for words, wanted in (
        ("clamps off after two hours at seventy", []),
        ("clamps off after one hour at seventy", [("under", "one hour")]),
        ("clamps off after two hours at fifty two", [("under", "two hours")]),
        ("clamps off after four hours at fifty two", []),
        ("clamps off after sixty minutes at eighty eight degrees", []),
        ("clamps off after two hours", []),
        ("clamps off after one hour, no, two hours", []),
        ("clamps off after three hours, sorry, one hour", [("under", "one hour")]),
        ("clamps off", []),
    ):
        assert faults(library, ask, "clamping", "clamps_off", words) == wanted, words


def test_one_right_figure_of_several_is_enough(library, ask):
    told = "peel it and measure the button, {} on one millimeter sheet"
    card = "weld-bonding-coupon"
    assert faults(library, ask, card, "peel", told.format("five millimeters")) == []
    assert faults(library, ask, card, "peel", told.format("three millimeters")) != []


def test_bare_degrees_are_the_shops(library, ask):
    assert faults(library, ask, "clamping", "temperature", "metal at thirty") == [
        ("under", "thirty")
    ]
    assert faults(library, ask, "clamping", "temperature", "metal at thirty", "degC") == []
    assert faults(library, ask, "clamping", "temperature", "metal at five celsius") == [
        ("under", "five celsius")
    ]


def test_a_bench_without_the_answer_calls_nothing_wrong(library):
    figure = library.card("clamping").step("clamps_off").figures[0]
    assert limits(figure, (), lambda question: {}) == (None, None)
