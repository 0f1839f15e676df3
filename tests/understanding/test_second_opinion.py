"""What the free decoding says about a disputed number."""

from collections import Counter
from fractions import Fraction

import pytest

from assistant.exchange import Clarify, Heard, Reading, Request
from assistant.understanding.requests import Limits
from assistant.understanding.second_opinion import numbers, takes_the_rivals_side

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
