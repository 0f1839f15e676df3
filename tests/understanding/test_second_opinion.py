"""What the free decoding says about a disputed number."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest

from assistant.exchange import Clarify, Heard, Reading, Request
from assistant.understanding.requests import Limits
from assistant.understanding.second_opinion import (
    confirms,
    leaves_out,
    numbers,
    takes_the_rivals_side,
)

THIRTY = Reading("when can i unclamp at thirty", (("temperature", "thirty"),), "clamp_time")
OTHER = Reading("when can i unclamp at thirty two", (("temperature", "thirty two"),), "clamp_time")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("at 32 inches", [32]),
        ("three feet 4 inches", [3, 4]),
        ("a quarter inch bead", [Fraction(1, 4)]),
        ("2 1/2 inches", [Fraction(5, 2)]),
        ("one hundred and fifteen", [115]),
        ("a cartridge and an inch", []),
        ("point three seven", [Fraction(37, 100)]),
        ("the air at 70 and 50%", [70, 50]),
        ("two and a half", [Fraction(5, 2)]),
        ("five six", []),
        ("a twenty five millimeter flange", [25]),
        ("of a three eighths bead on a one inch flange", [Fraction(3, 8), 1]),
        ("no number at all", []),
    ],
)
def test_numbers_in_words_and_figures(text, found):
    assert numbers(text) == Counter(map(Fraction, found))


@pytest.mark.parametrize(
    ("free_text", "sides"),
    [
        ("When can I unclamp at 32?", True),
        ("When can I unclamp at 30?", False),
        ("When can I unclamp at dirty tools?", False),
        ("30 or 32", False),
        ("", False),
    ],
)
def test_it_sides_with_the_rival_only_where_it_holds_its_number(free_text, sides):
    assert takes_the_rivals_side(Heard(THIRTY, free_text=free_text), OTHER) is sides


@pytest.mark.parametrize(
    ("free_text", "left"),
    [
        ("When can I unclamp at 30 with the 40 long open?", True),
        ("When can I unclamp at 30?", False),
        ("When can I unclamp at 40?", False),
        ("When can I unclamp at 13 or 40?", False),
        ("", False),
    ],
)
def test_a_number_more_is_left_out_only_where_the_others_are_all_there(free_text, left):
    assert leaves_out(Heard(THIRTY, free_text=free_text)) is left


def test_a_row_of_figures_that_is_no_one_number_leaves_it_open():
    clock = Reading("if the bead goes on at one thirty", (("start", "one thirty"),), "job_plan")
    assert not leaves_out(Heard(clock, free_text="If the bead goes on at 130."))


def test_a_tail_that_was_dropped_is_asked_about_though_nothing_rivals_the_reading(bench):
    mind = bench.interpreter
    tags = (("length", "two feet"),)
    short = Reading("how much adhesive for two feet", tags, "adhesive_for_bead")
    heard = Heard(short, free_text="How much adhesive for two feet on quarter inch weed?")
    asked = mind.interpret(heard)
    assert isinstance(asked, Clarify)
    assert asked.spoken == "Did you say how much adhesive for two feet? Yes or no?"
    assert isinstance(mind.interpret(replace(heard, confirmed=True)), Request)
    assert isinstance(mind.interpret(replace(heard, typed=True)), Request)
    whole = replace(heard, free_text="How much adhesive for 2 feet?")
    assert isinstance(mind.interpret(whole), Request)


def test_a_dispute_is_asked_back_though_the_margin_is_clear(bench):
    mind = bench.interpreter
    limits = Limits()
    margin = (limits.doubt + limits.dispute) / 2
    text = "When can I unclamp at 32?"
    heard = Heard(THIRTY, margin=margin, free_text=text, alternatives=(OTHER,))
    assert isinstance(mind.interpret(heard), Clarify)
    sure = Heard(
        THIRTY, margin=margin, free_text="When can I unclamp at 30?", alternatives=(OTHER,)
    )
    assert isinstance(mind.interpret(sure), Request)
    far = Heard(THIRTY, margin=limits.dispute + 1, free_text=text, alternatives=(OTHER,))
    assert isinstance(mind.interpret(far), Request)
    assert isinstance(mind.interpret(Heard(THIRTY, free_text=text, typed=True)), Request)


@pytest.mark.parametrize(
    ("free_text", "kind"),
    [("How much for 19 inches?", Request), ("How much for nice inches?", Clarify)],
)
def test_a_number_that_sounds_alike_must_be_confirmed_or_clear(bench, free_text, kind):
    def reading(number):
        text = f"how much adhesive for {number} inches"
        return Reading(text, (("length", f"{number} inches"),), "adhesive_for_bead")

    limits = Limits()
    between = (limits.doubt + limits.doubt_unconfirmed) / 2 + limits.doubt_by_strangeness * 5
    nineteen, ninety, eighty = map(reading, ("nineteen", "ninety", "eighty"))
    heard = Heard(nineteen, margin=between, free_text=free_text, alternatives=(ninety,))
    assert isinstance(bench.interpreter.interpret(heard), kind)
    other = Heard(nineteen, margin=between + 5, free_text=free_text, alternatives=(eighty,))
    assert isinstance(bench.interpreter.interpret(other), Request)


TWENTY = Reading("when can i unclamp at twenty degrees", (), "clamp_time")
CELSIUS = Reading("when can i unclamp at twenty degrees celsius", (), "clamp_time")


@pytest.mark.parametrize(
    ("best", "rival", "free_text", "confirmed"),
    [
        (TWENTY, CELSIUS, "When can I implant at 20 degrees?", True),
        (TWENTY, CELSIUS, "When can I implant at 20 degrees Celsius?", False),
        (TWENTY, CELSIUS, "When can I implant at 20 degrees, see?", False),
        (TWENTY, CELSIUS, "When can I unclamp at 30 degrees?", False),
        (CELSIUS, TWENTY, "When can I implant at 20 degrees Celsius?", True),
        (CELSIUS, TWENTY, "When can I implant at 20 degrees?", False),
        (TWENTY, TWENTY, "When can I unclamp at 20 degrees?", False),
        (TWENTY, OTHER, "When can I unclamp at 20 degrees?", True),
        (TWENTY, OTHER, "When can I unclamp at 32 degrees?", False),
    ],
)
def test_it_confirms_the_words_in_which_two_readings_differ(best, rival, free_text, confirmed):
    assert confirms(Heard(best, free_text=free_text), rival) is confirmed


def test_a_unit_that_the_free_text_has_needs_less_margin(bench):
    """ "twenty degrees" or "twenty degrees celsius?" need not be asked of who said the first."""
    fifty, celsius = (
        Reading(f"when can i unclamp at {words}", (("temperature", words),), "clamp_time")
        for words in ("fifty degrees", "fifty degrees celsius")
    )
    limits = Limits()
    between = (limits.doubt_confirmed + limits.doubt) / 2

    def asked(free_text, snr_db=None):
        heard = Heard(
            fifty, margin=between, free_text=free_text, alternatives=(celsius,), snr_db=snr_db
        )
        return isinstance(bench.interpreter.interpret(heard), Clarify)

    plain = "When can I unclamp at 50 degrees?"
    assert not asked(plain) and not asked(plain, limits.noisy_db + 1)
    assert asked("When can I unclamp at 50 degrees Celsius?")
    # in noise free text and sentence may be misled alike
    assert asked(plain, limits.noisy_db - 1)
