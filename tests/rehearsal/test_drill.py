"""The drill: fresh figures worked out by hand, answers judged with tolerance and unit."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.bench import Bench
from assistant.rehearsal.drill import (
    TEMPLATES,
    Mark,
    card_items,
    card_question,
    label,
    questions,
    read_value,
    routine_items,
    routine_question,
)
from assistant.units import Q


class Fixed(random.Random):
    """Draws the first of every choice."""

    def choice(self, options):
        return options[0]


def marked(question, answer):
    return question.judge(answer).mark


@pytest.mark.parametrize(
    ("item", "answers"),
    [
        # long open at 55 °F: 2 h x 2^(15/18) = 214 min; a fifth too long is safe
        ("clamp_time", {"three hours and forty minutes": "right", "215 minutes": "right",
                        "4 hours": "right", "five hours": "wrong", "3 hours": "unsafe",
                        "two hundred fifteen": "no_unit", "no idea": "not_understood"}),
        # 40 min x 2^(15/18) = 71.3 min; less is safe
        ("work_time", {"70 minutes": "right", "one hour": "right", "80 minutes": "unsafe",
                       "20 minutes": "wrong"}),
        # 12 in of 3/8 bead: pi/4 x 0.375^2 x 12 = 1.325 in3 = 21.7 mL = 0.734 fl oz
        ("adhesive", {"22 milliliters": "right", "25 ml": "right", "20 ml": "unsafe",
                      "0.75 fluid ounces": "right", "22": "no_unit"}),
        # 12 / 1.5 = 8 gaps, 9 spots
        ("spots", {"nine": "right", "9 spot welds": "right", "eight": "wrong"}),
        # 4 x root of 0.8 = 3.578 mm
        ("button", {"3.6 millimeters": "right", "3.4 millimeters": "unsafe"}),
        # 6 / 25.4 = 0.236 in, just under a quarter
        ("inches", {"point two four inches": "right", "a quarter inch": "wrong",
                    "6 millimeters": "right"}),
        # 50 g x 2 % = 1 g
        ("hardener", {"1 gram": "right", "2 grams": "wrong", "one": "no_unit"}),
        # an eighth is one lift
        ("lifts", {"one": "right", "two": "wrong"}),
    ],
)  # fmt: skip
def test_sums_with_fresh_figures(ask, item, answers):
    question = routine_question(f"routine:{item}", Fixed(), ask)
    for answer, wanted in answers.items():
        assert marked(question, answer) is Mark[wanted], (question.text, answer)


def test_every_sum_can_be_asked_and_its_own_answer_is_right(ask):
    rng = random.Random(5)
    for template in TEMPLATES:
        for _ in range(3):
            question = routine_question(f"routine:{template.item}", rng, ask)
            told = question.judge("no figure at all").sentence
            exact = told.removeprefix("I did not hear a figure in that. It is ").rstrip(".")
            assert marked(question, exact) is Mark.right, (question.text, exact)


def test_every_question_of_the_cards(library, ask):
    for card in library.cards:
        for item in card_items(card):
            question = card_question(card, item, ask)
            assert question.text.endswith("?") and question.reason
            assert marked(question, "banana") is Mark.not_understood
    assert len(routine_items()) == len(set(routine_items())) == len(TEMPLATES)
    with pytest.raises(KeyError):
        card_question(library.card("clamping"), "clamping:figure:tool:length", ask)
    with pytest.raises(KeyError):
        routine_question("routine:dance", random.Random(1), ask)


def test_what_comes_before(library, ask):
    card = library.card("cartridge-start-up")
    question = card_question(card, "cartridge-start-up:before:tip", ask)
    assert question.text == "What has to come before this step: put on a mixing tip?"
    assert marked(question, "you wipe the outlet") is Mark.right
    assert marked(question, "level the cartridge") is Mark.right  # further ahead, still before
    assert marked(question, "purge it") is Mark.wrong


def test_figures_of_the_cards(library, ask):
    clamping = library.card("clamping")
    question = card_question(clamping, "clamping:figure:clamps_off:duration", ask)
    assert marked(question, "two hours") is Mark.right
    assert marked(question, "one hour") is Mark.unsafe
    assert marked(question, "ten hours") is Mark.wrong
    assert marked(question, "two") is Mark.no_unit
    assert [question.judge(words).rating for words in ("two hours", "two", "one hour")] == [3, 2, 1]
    warm = card_question(clamping, "clamping:figure:temperature:temperature", ask)
    assert marked(warm, "fifty") is Mark.right
    assert marked(warm, "40 degrees") is Mark.unsafe
    assert marked(warm, "ten celsius") is Mark.right


@given(st.floats(1, 400), st.sampled_from(["minute", "hour"]))
def test_a_time_is_read_as_it_is_typed(value, unit):
    value = round(value, 2)
    found, bare = read_value(f"about {value} {unit}s, I think", "duration")
    assert not bare and found.m_as(unit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "kind", "value", "bare"),
    [
        ("two hours", "duration", Q(2, "hour"), False),
        ("one hour, no, two hours", "duration", Q(2, "hour"), False),
        ("twelve", "duration", None, True),
        ("twelve", "count", 12, False),
        ("two and a half", "count", None, False),
        ("", "count", None, False),
        ("seventy", "temperature", Q(70, "degF"), False),
        ("four grams", "mass", Q(4, "gram"), False),
    ],
)
def test_read_value(text, kind, value, bare):
    assert read_value(text, kind) == (value, bare)


@pytest.mark.parametrize("words", ["skip", "Pass.", "I don't know", "next"])
def test_who_skips_is_told_and_asked_again_soon(library, ask, words):
    card = library.card("clamping")
    for item in ("clamping:figure:clamps_off:duration", "clamping:before:tool"):
        judged = card_question(card, item, ask).judge(words)
        assert judged.mark is Mark.skipped and judged.rating == 1
        assert judged.sentence.startswith("Skipped. It is")


def test_a_figure_of_another_kind_is_told_so(library, ask):
    question = card_question(library.card("clamping"), "clamping:figure:clamps_off:duration", ask)
    judged = question.judge("two inches")
    assert judged.mark is Mark.other_unit and judged.sentence == "That is no time. It is 2 h."
    assert judged.rating == 1


def test_sums_of_a_metric_shop_are_asked_in_celsius():
    bench = Bench(units="metric")

    def ask(question):
        outcome = bench.exchange(bench.read(question))
        return outcome.answer.figures if outcome.answer else {}

    warm = routine_question("routine:clamp_time", Fixed(), ask, "degC")
    assert "at thirteen degrees" in warm.text  # 55 °F
    # 2 h x 2^(8/10) of the invented card, 13 °C being 8 °C below 21 °C: three hours and a half
    assert marked(warm, "three and a half hours") is Mark.right
    dew = routine_question("routine:dew_point", Fixed(), ask, "degC")
    # 16 °C and 30 %: the Magnus formula gives -1.6 °C
    assert marked(dew, "minus two degrees") is Mark.right
    assert marked(dew, "29 degrees fahrenheit") is Mark.right
    assert marked(dew, "twenty nine degrees") is Mark.wrong


def test_what_nothing_answers_is_not_asked(library):
    items = ["clamping:figure:clamps_off:duration", "routine:spots", "clamping:before:tool"]
    asked = questions(items, library.cards, random.Random(1), lambda question: {})
    assert [question.item for question in asked] == ["clamping:before:tool"]


def test_labels_say_what_is_asked(library):
    for card in library.cards:
        for item in card_items(card):
            assert label(item, library.cards).startswith(f"{card.key}: ")
            assert label(item, library.cards).endswith("?")
    assert label("routine:inches", ()) == "what is ... millimeters in inches"
    assert label("gone:before:x", library.cards) == "gone:before:x"


def test_questions_of_a_card_that_is_gone_are_left_out(library, ask):
    items = ["gone:before:x", "routine:spots", "clamping:before:tool"]
    asked = [q.item for q in questions(items, library.cards, random.Random(1), ask)]
    assert asked == items[1:]
