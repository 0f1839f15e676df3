"""What the free decoding says about a disputed number."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest

from assistant.exchange import Clarify, Heard, Reading, Request
from assistant.understanding.requests import Limits
from assistant.understanding.second_opinion import (
    confirms,
    has_a_number_more,
    leaning,
    leaves_out,
    numbers,
    support,
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
        ("When can I unclamp at 13 or 40?", True),
        ("One can I unclamp at 30?", False),
        ("One can I on clamp at 30?", False),
        ("One can I unclamp at a 30?", False),
        ("When can I unclamp at about 40?", False),
        ("When can I unclamp at thirty and then what do we do", True),
        ("When can I unclamp at thirty and then what we", False),
        ("When one can I unclamp at 30?", True),
        ("", False),
    ],
)
def test_a_number_more_is_left_out_where_the_reading_has_fewer_words(free_text, left):
    assert leaves_out(Heard(THIRTY, free_text=free_text)) is left


@pytest.mark.parametrize(
    ("free_text", "more"),
    [
        ("When can I unclamp at 30 with the 40 long open?", True),
        ("One can I unclamp at 30?", True),
        ("When can I unclamp at 13 or 40?", False),
        ("When can I unclamp at 30?", False),
        ("", False),
    ],
)
def test_a_number_more_counts_anywhere_where_the_others_are_all_there(free_text, more):
    assert has_a_number_more(Heard(THIRTY, free_text=free_text)) is more


def test_before_a_clock_is_changed_any_number_more_is_asked_about(bench):
    free = "Bay three the bead one on now."
    tags = (("bay", "three"),)
    status, start = (
        Heard(Reading("bay three the bead went on now", tags, rule), free_text=free)
        for rule in ("bay_status", "bay_start")
    )
    limits, routines = Limits(), bench.routines
    assert not limits.leaves_out(status, routines["bay_status"])
    assert limits.leaves_out(start, routines["bay_start"])
    assert not limits.leaves_out(replace(start, confirmed=True), routines["bay_start"])
    assert not limits.leaves_out(replace(start, typed=True), routines["bay_start"])


def test_a_number_in_a_long_stretch_of_other_words_is_none_misheard():
    best = Reading("one p s i in p s i", (("amount", "one p s i"),), "convert")
    assert leaves_out(Heard(best, free_text="One canine plant at 55 degrees."))
    assert not leaves_out(Heard(best, free_text="One p s i in p two i."))
    assert leaves_out(Heard(best, free_text="One p s i, a lamp at 55."))
    assert not leaves_out(Heard(best, free_text="One p s i in 55 degrees."))


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


SEVENTEEN, SEVENTY = (
    Reading(f"when can i unclamp at {words}", (("temperature", words),), "clamp_time")
    for words in ("seventeen degrees", "seventy degrees")
)


@pytest.mark.parametrize(
    ("free_text", "leans"),
    [
        ("When can I implant at 17 degrees?", 1.0),
        ("When can I implant at 70 degrees?", -1.0),
        ("When can I implant at seventee degrees?", 1 / 3),
        ("", 0.0),
    ],
)
def test_it_leans_to_the_reading_whose_letters_it_has(free_text, leans):
    """seventeen and seventy are three edits apart; "seventee" is one from the first, two from the
    second (counted by hand)."""
    assert leaning(Heard(SEVENTEEN, free_text=free_text), SEVENTY) == pytest.approx(leans)


def test_leaning_stays_between_the_two_and_turns_over_with_them():
    texts = ("", "seven", "at 17 or 70 degrees", "nothing like it", SEVENTY.text, SEVENTEEN.text)
    for text in texts:
        one = leaning(Heard(SEVENTEEN, free_text=text), SEVENTY)
        other = leaning(Heard(SEVENTY, free_text=text), SEVENTEEN)
        assert -1.0 <= one <= 1.0 and one == -other
    assert leaning(Heard(SEVENTY, free_text="at 70"), SEVENTY) == 0.0, "one text twice"


def test_it_supports_no_reading_of_which_it_lacks_a_number():
    air = Reading("metal at seventy and the air at twenty", (), "dew_check")
    rival = Reading("metal at seventeen and the air at twenty", (), "dew_check")

    def supported(free_text):
        return support(Heard(air, free_text=free_text), rival)

    assert supported("Metal at 70 and the air at 20.") == 1.0
    assert supported("Metal at seventy and the air at plenty.") == 0.0
    assert supported("Metal at seventeen and the air at plenty.") == -1.0


def asked(bench, best, rival, margin, free_text, snr_db=None):
    heard = Heard(best, margin=margin, free_text=free_text, alternatives=(rival,), snr_db=snr_db)
    return isinstance(bench.interpreter.interpret(heard), Clarify)


SIXTY = Reading("when can i unclamp at sixty degrees", (("temperature", "sixty"),), "clamp_time")


def test_what_the_free_text_goes_with_needs_least_and_what_it_goes_against_most(bench):
    limits = Limits()
    with_it, against_it = "When can I unclamp at 17 degrees?", "When can I unclamp at 60 degrees?"
    assert asked(bench, SEVENTEEN, SIXTY, limits.doubt_confirmed - 0.1, with_it)
    assert not asked(bench, SEVENTEEN, SIXTY, limits.doubt_confirmed + 0.1, with_it)
    assert asked(bench, SEVENTEEN, SIXTY, limits.doubt_against, against_it)
    assert not asked(bench, SEVENTEEN, SIXTY, limits.doubt_against + 2.5, against_it)
    neither = "When can I unclamp at nice degrees?"
    halfway = (limits.doubt_confirmed + limits.doubt_against) / 2
    assert asked(bench, SEVENTEEN, SIXTY, halfway, neither)
    assert not asked(bench, SEVENTEEN, SIXTY, halfway + 2, neither)


def test_where_both_may_be_misled_alike_the_free_text_counts_for_less(bench):
    limits = Limits()
    between, said = (limits.doubt_confirmed + limits.doubt) / 2, "When can I unclamp at 17 degrees?"
    assert not asked(bench, SEVENTEEN, SIXTY, between, said)
    assert not asked(bench, SEVENTEEN, SIXTY, between, said, limits.noisy_db + 1)
    assert asked(bench, SEVENTEEN, SIXTY, between, said, limits.noisy_db - 1)
    assert asked(bench, SEVENTEEN, SEVENTY, between, said), "they sound alike"
    noisy, of_seventy = limits.noisy_db - 1, "When can I unclamp at 70 degrees?"
    assert not asked(bench, SEVENTY, SEVENTEEN, limits.doubt + 0.1, of_seventy, noisy)
    # of the two seventeen is the unusual one
    assert asked(bench, SEVENTEEN, SEVENTY, limits.doubt_of_unusual - 0.1, said, noisy)
    assert not asked(bench, SEVENTEEN, SEVENTY, limits.doubt_of_unusual + 0.1, said, noisy)


def test_typed_words_that_say_either_are_asked_about_whatever_the_margin(bench):
    typed = Heard(SEVENTEEN, free_text="17 degrees", alternatives=(SEVENTY,), typed=True)
    assert isinstance(bench.interpreter.interpret(typed), Clarify)


def test_words_that_both_readings_have_make_no_doubt_of_a_number_that_is_confirmed(bench):
    margin = Limits().doubt + 0.1
    strange = "Wow Ken eye implant hat seventeen degrees?"
    assert not asked(bench, SEVENTEEN, SEVENTY, margin, strange)
    unconfirmed = strange.replace("seventeen", "seven tee")
    assert asked(bench, SEVENTEEN, SEVENTY, margin + 1.0, unconfirmed)


def test_a_clock_is_not_changed_the_sooner_for_what_the_free_text_has(bench):
    """Strangeness counts in full, and the rival's number wins any margin under ``dispute``."""
    on, off = (
        Reading(f"bay two is now {words}", (("bay", "two"), ("temperature", words)), "bay_reading")
        for words in ("seventeen degrees", "seventy degrees")
    )
    limits = Limits()

    def doubtful(margin, free_text, free_margin=0.0):
        heard = Heard(on, margin, free_margin, free_text, (off,))
        return limits.is_doubtful(heard, bench.routines["bay_reading"], off)

    plain, strange = "Bay two is now 17 degrees.", 5.0
    more = limits.doubt_by_strangeness * strange
    assert doubtful(limits.doubt_of_change - 0.1, plain)
    assert not doubtful(limits.doubt_of_change + 0.1, plain)
    assert doubtful(limits.doubt_of_change + more - 0.1, plain, strange)
    assert not doubtful(limits.doubt_of_change + more + 0.1, plain, strange)
    unsure = "Bay two is now seven tee degrees."
    assert doubtful(limits.doubt_against, unsure) and not doubtful(limits.doubt_against + 3, unsure)
    disputed = "Bay two is now 70 degrees."
    assert doubtful(limits.dispute - 0.1, disputed)
    assert not doubtful(limits.dispute + 0.1, disputed)


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
