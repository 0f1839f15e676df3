"""From what was heard to a request, a question back, or no."""

from dataclasses import replace

import pytest

from assistant.declaration import Routine, Slot
from assistant.exchange import Answer, Clarify, Heard, NotForMe, Reading, Refusal, Request
from assistant.understanding.requests import UNUSUAL, Interpreter, Limits, said_in_figures
from assistant.units import Q

WARM = Routine(
    name="warm",
    grammar="none",
    about="a stand-in",
    slots=(
        Slot(
            "temperature",
            "temperature",
            ask="How warm?",
            low=Q(-40, "degC"),
            high=Q(120, "degC"),
            usual=(Q(2, "degC"), Q(50, "degC")),
        ),
        Slot("length", "length", required=False, default_unit={"us": "inch", "metric": "mm"}),
        Slot("runs", "length", required=False, many=True),
        Slot("product", "product", required=False),
        Slot("shape", "choice", required=False, choices={"half round": "half-round"}),
    ),
    examples=("how warm",),
    answer=lambda slots, workplace: Answer("", ""),
)


def reading(*tags, text="words"):
    return Reading(text, tags, "warm")


def interpreter(units="us"):
    return Interpreter({"warm": WARM}, units, {"long open": "demo-long"}, Limits(doubt=1.0))


def test_tags_become_typed_slots():
    request = interpreter().interpret(
        Heard(
            reading(
                ("temperature", "fifty five"),
                ("length", "forty"),
                ("runs", "two feet"),
                ("runs", "three inches"),
                ("product", "long open"),
                ("shape", "half round"),
            )
        )
    )
    assert isinstance(request, Request) and request.routine == "warm"
    assert request.slots["temperature"] == Q(55, "degF")
    assert request.slots["length"] == Q(40, "inch")
    assert request.slots["runs"] == (Q(2, "foot"), Q(3, "inch"))
    assert request.slots["product"] == "demo-long"
    assert request.slots["shape"] == "half-round"


def test_bare_numbers_follow_the_unit_system():
    slots = interpreter("metric").slots(reading(("temperature", "twenty"), ("length", "forty")))
    assert slots["temperature"] == Q(20, "degC") and slots["length"] == Q(40, "mm")


def test_what_is_missing_is_asked_for():
    asked = interpreter().interpret(Heard(reading(("length", "forty"))))
    assert isinstance(asked, Clarify)
    assert (asked.question, asked.missing) == ("How warm?", "temperature")


@pytest.mark.parametrize(("words", "side"), [("minus ninety", "under"), ("nine hundred", "over")])
def test_out_of_range_is_refused_by_name(words, side):
    with pytest.raises(Refusal, match=f"temperature of .* is {side} the limit"):
        interpreter().interpret(Heard(reading(("temperature", words))))


def test_nothing_heard_is_not_for_me():
    assert isinstance(interpreter().interpret(Heard(None)), NotForMe)


def test_strange_speech_is_not_for_me_but_typing_is_never_strange():
    far = Heard(reading(("temperature", "sixty")), free_margin=1e3)
    assert isinstance(interpreter().interpret(far), NotForMe)
    typed = Heard(reading(("temperature", "sixty")), free_margin=1e3, typed=True)
    assert isinstance(interpreter().interpret(typed), Request)


def test_a_close_rival_is_asked_back_in_figures_that_cannot_be_confused():
    heard = Heard(
        reading(("temperature", "fifty degrees")),
        margin=0.4,
        alternatives=(reading(("temperature", "fifteen degrees")),),
    )
    asked = interpreter().interpret(heard)
    assert isinstance(asked, Clarify)
    assert "five zero" in asked.spoken and "one five" in asked.spoken
    assert "fifty degrees" in asked.question and "fifteen degrees" in asked.question


def test_a_clear_margin_is_not_asked_back():
    heard = Heard(
        reading(("temperature", "fifty")),
        margin=4.0,
        alternatives=(reading(("temperature", "fifteen")),),
    )
    assert isinstance(interpreter().interpret(heard), Request)


@pytest.mark.parametrize(
    ("best", "rival", "margin", "asks"),
    [
        ("seventy four inches", "seven feet four inches", 6.8, True),
        ("nineteen inches", "nine feet ten inches", 6.8, True),
        ("seventy four inches", "seven feet four inches", 7.2, False),
        ("seven feet four inches", "seventy four inches", 6.8, False),
        ("seventy four inches", "seven feet five inches", 6.8, False),
        ("nineteen inches", "ninety inches", 6.8, False),
    ],
)
def test_inches_that_may_be_feet_and_inches_need_more(best, rival, margin, asks):
    """Free text and reading had both of them, with margins up to 6.8 (own measurement)."""
    one, other = (
        reading(("length", length), ("temperature", "sixty"), text=f"clamp {length} at sixty")
        for length in (best, rival)
    )
    heard = Heard(one, margin=margin, free_text=one.text, alternatives=(other,), snr_db=8.0)
    outcome = interpreter().interpret(heard)
    assert isinstance(outcome, Clarify if asks else Request)


@pytest.mark.parametrize(
    ("free", "snr", "gap", "asks"),
    [
        ("how much have you for nine clean rows of glue", 7.3, 12.0, True),
        ("how much have you for nine clean rows of glue", 12.5, 12.0, False),
        ("how much have you for nine clean rows of glue", 7.3, 2.0, False),
        ("how much adhesive for nine hundred meters", 7.3, 12.0, False),
        ("", 7.3, 12.0, False),
    ],
)
def test_a_number_that_nothing_speaks_for_is_asked_about(free, snr, gap, asks):
    heard = Heard(
        reading(("temperature", "sixty"), text="how much adhesive for nine hundred millimeters"),
        margin=float("inf"),
        free_margin=gap,
        free_text=free,
        snr_db=snr,
    )
    outcome = interpreter().interpret(heard)
    assert isinstance(outcome, Clarify if asks else Request)
    if asks:
        assert outcome.options == (heard.best,)
        assert isinstance(interpreter().interpret(replace(heard, confirmed=True)), Request)


@pytest.mark.parametrize(
    ("best", "rival", "margin", "snr", "asks"),
    [
        ("sixteen", "sixty", 6.5, 8.0, True),
        ("sixteen", "sixty", 7.5, 8.0, False),
        ("sixteen", "sixty", 6.5, 13.0, False),
        ("sixty", "sixteen", 6.5, 8.0, False),
        ("sixteen", "fifty", 6.5, 8.0, False),
    ],
)
def test_an_unusual_value_needs_more_beside_a_usual_one_that_sounds_alike(
    best, rival, margin, snr, asks
):
    """ "ninety degrees" was heard as nineteen with a margin of 6.2 (own measurement)."""
    one, other = (
        reading(("temperature", value), text=f"clamp at {value}") for value in (best, rival)
    )
    heard = Heard(one, margin=margin, free_text=one.text, alternatives=(other,), snr_db=snr)
    assert isinstance(interpreter().interpret(heard), Clarify if asks else Request)


def test_a_close_rival_of_the_same_meaning_is_no_doubt():
    heard = Heard(
        reading(("temperature", "fifty degrees")),
        margin=0.1,
        alternatives=(reading(("temperature", "fifty")),),
    )
    assert isinstance(interpreter().interpret(heard), Request)


def test_meaning_joins_what_is_the_same_and_parts_what_is_not():
    mind = interpreter()
    assert mind.meaning(reading(("length", "three feet four inches"))) == mind.meaning(
        reading(("length", "forty inches"))
    )
    assert mind.meaning(reading(("length", "forty inches"))) != mind.meaning(
        reading(("length", "fourteen inches"))
    )


def test_prior_counts_against_unusual_values_only():
    mind = interpreter()
    assert mind.prior(reading(("temperature", "sixty"))) == 0
    assert mind.prior(reading(("temperature", "sixteen"))) == -UNUSUAL
    assert mind.prior(reading(("temperature", "sixteen celsius"))) == 0
    assert interpreter("metric").prior(reading(("temperature", "sixteen"))) == 0


def test_figures_of_any_grammar():
    assert said_in_figures(reading(("n", "a hundred and five"))) == said_in_figures(
        reading(("n", "one hundred five"))
    )


def test_strange_is_what_lies_beyond_its_threshold():
    limits, valued = Limits(), reading(("length", "forty inches"))
    for said, command, limit in (
        (valued, False, limits.strange),
        (reading(), False, limits.strange_bare),
        (reading(), True, limits.strange_command),
    ):
        assert limits.is_strange(Heard(said, free_margin=limit + 0.1), command)
        assert not limits.is_strange(Heard(said, free_margin=limit - 0.1), command)
    assert limits.strange_command < limits.strange_bare < limits.strange
    assert Limits(strange=5.0).is_strange(Heard(reading(), free_margin=5.1)), "never laxer"


def test_the_stranger_the_words_the_clearer_the_margin_must_be():
    limits = Limits(doubt=1.0, doubt_by_strangeness=0.5)

    def doubtful(free_margin, margin):
        heard = Heard(reading(), margin=margin, free_margin=free_margin)
        return limits.is_doubtful(heard, WARM, reading(text="other words"))

    assert not doubtful(0.0, 1.1) and doubtful(0.0, 0.9)
    assert doubtful(8.0, 4.9) and not doubtful(8.0, 5.1)
    assert not doubtful(-5.0, 1.1), "better than the free text is no merit"
