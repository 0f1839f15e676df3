"""The question that tells two readings apart, and the replies to it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import Reading
from assistant.hearing.sound_alike import sound_alikes
from assistant.understanding import asking_back


def reading(words, tag="length"):
    return Reading(f"how much for {words}", ((tag, words),), "much")


def which(one, other):
    return asking_back.which(reading(one), reading(other))


@pytest.mark.parametrize(
    ("one", "other", "spoken"),
    [
        ("fifty degrees", "fifteen degrees", "Did you say five zero or one five?"),
        ("forty", "fourteen", "Did you say four zero or one four?"),
        ("one hundred fifteen", "one hundred fifty", "Did you say one one five or one five zero?"),
        ("three eighths inch", "five eighths", None),
        ("three eighths inch", "five eighths inch", "Did you say three over eight or five over "
         "eight?"),
        ("point one five", "point five zero", "Did you say zero point one five or zero point "
         "five?"),
    ],
)  # fmt: skip
def test_numbers_are_asked_figure_by_figure(one, other, spoken):
    asked = which(one, other)
    assert one in asked.written and other in asked.written
    if spoken:
        assert asked.spoken == spoken


def test_other_units_are_told_apart_by_their_words():
    spoken = which("forty inches", "forty feet").spoken
    assert "forty inches" in spoken and "forty feet" in spoken


def test_whole_sentences_are_asked_where_more_than_a_value_differs():
    one = Reading("when can i sand", (), "sand_time")
    other = Reading("when can i stand", (), "stand")
    assert asking_back.which(one, other).spoken == (
        "Did you say when can i sand, or when can i stand?"
    )


def test_one_reading_is_asked_with_yes_or_no():
    asked = asking_back.sure(Reading("stop the clock in bay two", (), "stop"))
    assert asked.spoken == "Did you say stop the clock in bay two? Yes or no?"


def replies(one, other):
    return asking_back.replies(asking_back.options(reading(one), reading(other)))


def test_a_reply_may_be_the_words_the_number_the_figures_or_the_place():
    first, second = replies("fifty degrees", "fifteen degrees")
    assert {"fifty degrees", "fifty", "five zero", "five oh", "the first"} <= set(first)
    assert {"fifteen degrees", "fifteen", "one five", "the second one"} <= set(second)


def test_no_reply_chooses_both():
    first, second = replies("forty inches", "forty feet")
    assert "forty" not in first and "forty" not in second
    assert "forty inches" in first and "forty feet" in second


TEENS = "thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "thirty forty fifty sixty seventy eighty ninety".split()


@given(st.sampled_from(range(7)), st.sampled_from(["", " inches", " degrees", " millimeters"]))
def test_figures_never_sound_alike_where_the_numbers_do(place, unit):
    teen, ten = TEENS[place], TENS[place]
    assert sound_alikes(teen) == [ten]
    figures = [asking_back.in_figures(words + unit) for words in (teen, ten)]
    assert not set(figures[0].split()[:1]) & set(figures[1].split()[:1])
    first, second = replies(teen + unit, ten + unit)
    assert not set(first) & set(second)
