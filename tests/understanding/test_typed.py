"""Typed questions through the whole grammar: exact, misspelt, reordered, foreign."""

import gc
import random
import string
import weakref
from collections import Counter
from dataclasses import replace

import pytest

from assistant.commands.shared import (
    ANSWERED,
    ASKS_BACK,
    BAD_INPUT,
    NOT_UNDERSTOOD,
    exit_code,
)
from assistant.exchange import Clarify, Request
from assistant.hearing.graph import Graph
from assistant.understanding import typed


def meaning(bench, text):
    heard = bench.read(text)
    return heard.best and bench.interpreter.meaning(heard.best)


SAME = [
    [
        "how much adhesive for forty inches of three eighths bead",
        "How much adhesive for 40 inches of 3/8 bead?",
        "how much adhesive for 40in of 3/8 in bead",
        'how much adhesive for 40" of 3/8" bead',
        "how much adhesive for 40 inches of 0.375 inch bead",
        "how much adhesive for 40 inches of .375in bead",
        "HOW MUCH ADHESIVE FOR 40 INCHES OF ⅜ BEAD",
        "how much adhesive for 3 ft 4 in of 3/8 bead",
        "how much adhesive for 3'4\" of 3/8 bead",
        "how much adhesive for three feet four inches of three-eighths bead",
        "how much adhesive for 1016 mm of 3/8 bead",
        "how much adhesive for 101.6 cm of 9.525 mm bead",
    ],
    [
        "when can i unclamp at fifty five degrees",
        "when can I unclamp at 55F",
        "when can i unclamp at 55 °F?",
        "When can I unclamp at 55°f",
        "when can i unclamp at fifty-five degrees fahrenheit",
        "when can i unclamp at 55 deg",
        "when can i unclamp at 55",
    ],
    [
        "when can i unclamp at minus five celsius",
        "when can i unclamp at -5 C",
        "when can i unclamp at −5°C",
        "when can i unclamp at minus 5 centigrade",
    ],
]


@pytest.mark.parametrize("texts", SAME, ids=lambda texts: texts[0])
def test_all_ways_to_write_it_read_the_same(bench, texts):
    expected = meaning(bench, texts[0])
    assert expected is not None
    for text in texts[1:]:
        assert meaning(bench, text) == expected, text


@pytest.mark.parametrize(
    ("text", "exact"),
    [
        ("how mcuh adhesiv for 40 inches", "how much adhesive for forty inches"),
        ("how much adhesive 40 inches", "how much adhesive for forty inches"),
        ("adhesive for 40 inchs please thanks", "how much adhesive for forty inches"),
        ("when can I unclmap at 55 degres", "when can i unclamp at fifty five degrees"),
        ("at 55 degrees when can i unclamp", "when can i unclamp at fifty five degrees"),
        ("for 40 inches how much adhesive", "how much adhesive for forty inches"),
        ("when can i unclamp the door at 55 degrees", "when can i unclamp at fifty five degrees"),
    ],
)
def test_near_misses_are_taken_and_say_so(bench, text, exact):
    heard = bench.read(text)
    assert heard.best is not None, text
    assert bench.interpreter.meaning(heard.best) == meaning(bench, exact)
    assert typed.CONFIDENT <= heard.confidence <= 1.0


@pytest.mark.parametrize(
    "text",
    [
        "what is the weather",
        "open the window",
        "how much does a door cost",
        "tell me a joke about clamps",
        "how much adhesive for not 40 inches",
        "how much adhesive for 40 bananas",
        "when can i unclamp at blue degrees",
        "40",
        "?",
        "",
        "the of and",
    ],
)
def test_other_questions_are_not_taken(bench, text):
    heard = bench.read(text)
    assert heard.best is None, heard


def test_numbers_are_never_guessed(bench):
    """Whatever is done to a text, a number that is taken stands in it."""
    rng = random.Random(2)
    for _ in range(60):
        value = rng.randrange(11, 99)
        text = f"how much adhesive for {value} inches"
        letters = list(text)
        at = rng.randrange(len(letters))
        if letters[at].isdigit():
            continue
        letters[at] = rng.choice(string.ascii_lowercase + " ")
        heard = bench.read("".join(letters))
        if heard.best is not None:
            length = bench.interpreter.slots(heard.best).get("length")
            assert length is None or round(length.m_as("inch"), 6) in (value, value * 12.0), (
                "".join(letters),
                heard.best,
            )


@pytest.mark.parametrize(
    ("text", "was"),
    [
        ("how much adhesive for 12,5 inches", "twelve beads of five inches"),
        ("how much adhesive for 40 inches of 0,125 inch bead", "125 inches"),
        ("how much adhesive for 1e3 inches", "one bead of three inches"),
        ("how much adhesive for 10-12 inches", ""),
        ("how much adhesive for 5/16/8 inch", ""),
        ("when can i unclamp at 55.5.5", "the metal at 55.5 and the air at .5"),
        ("when can i unclamp at 300 K", "300 degrees"),
        ("when can i unclamp at 55 kelvin", "55 degrees"),
        ("when can i unclamp at 55 reaumur", "55 degrees"),
        ("plan the job if the bead goes on at 25:00 at 70 degrees", "twenty to five"),
        ("plan the job if the bead goes on at 1:75 at 70 degrees", ""),
        ("cut line for the panel edge at 32 40 inches", ""),
    ],
)
def test_figures_are_never_torn_apart_nor_their_units_left_out(bench, text, was):
    """Each was answered, with other numbers than were typed."""
    heard = bench.read(text)
    assert heard.best is None, (was, heard.best)


@pytest.mark.parametrize(
    ("text", "was"),
    [
        ("how much adhesive for fourty five inches", "five inches"),
        ("how much adhesive for hundrd and five inches", "five inches"),
        ("how much adhesive for tow feet four inches", "four inches"),
        ("how much adhesive for some feet four inches", "four inches"),
        ("how much adhesive for forty inches in fuor beads", "forty inches of bead"),
        ("how much paint for twenty square feet in tow coats at one mil", "one coat"),
        ("how much adhesive for thirty inches and fourty inches", "a bead of an inch"),
        ("how much adhesive for and inch", "an inch"),
        ("when can i unclamp at twnety five degrees", "five degrees"),
        ("what temperature do i need to sand by hlaf past four", "four"),
        ("set a timer of twnty five minutes", "five minutes"),
    ],
)
def test_a_misspelt_number_is_never_left_out(bench, text, was):
    """The first ones were answered with what was left."""
    heard = bench.read(text)
    assert heard.best is None, (was, heard.best)


@pytest.mark.parametrize(
    ("text", "taken", "why"),
    [
        ("how long do i have tuesday outdoors to work at eighty degrees",
         "how long do i have to work at eighty degrees", "two words"),
        ("how long do i have to work the sealer at eighty degrees",
         "how long do i have to work at eighty degrees", "a word that the grammar knows"),
        ("october thirtieth still good is a cartridge on",
         "is a cartridge made on october thirtieth still good", "a word put in"),
        ("how much adhesive for tbe forty inches", "how much adhesive for forty inches",
         "a word before a number"),
        ("peel test of ninety thou and ninety two thou with buttons of si and five",
         "peel test of ninety thou and ninety two thou with buttons of five",
         "a word before a number"),
        ("how much rigid foam for twelve inches by twenty inches by fie and a quarter inches",
         "how much rigid foam for twelve inches by twenty inches by a quarter inches",
         "a word before a number"),
        ("to sand by noon when must the bead go on at ninety one with hlf an hour of sanding",
         "to sand by noon when must the bead go on at ninety one with an hour of sanding",
         "a word before the rest of a number"),
        ("when can i trim the foam at sixty on degrees",
         "when can i trim the foam at sixty degrees", "a letter away from one"),
        ("how many mils is to point three microns", "how many mils is point three microns",
         "a letter away from two"),
    ],
)  # fmt: skip
def test_what_may_be_another_question_is_asked_back(bench, text, taken, why):
    """Such texts were answered, some with another meaning than they were made from."""
    heard = bench.read(text)
    assert heard.loose, why
    assert meaning(bench, text) == meaning(bench, taken) is not None
    outcome = bench.interpreter.interpret(heard)
    assert isinstance(outcome, Clarify) and outcome.options == (heard.best,)
    assert isinstance(bench.interpreter.interpret(replace(heard, confirmed=True)), Request)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("for bay four set a timer of ten minutes", "set a timer of ten minutes for bay four"),
        ("sand it at twenty degrees celsius how soon can i",
         "how soon can i sand it at twenty degrees celsius"),
        ("out is there now with a ten millimeter bead on a twenty millimeter flange with a one "
         "millimeter bond line how much squeeze",
         "how much squeeze out is there with a ten millimeter bead on a twenty millimeter flange "
         "with a one millimeter bond line"),
    ],
)  # fmt: skip
def test_the_search_does_not_run_out_before_it_has_turned_a_long_text(bench, text, plain):
    """Where it walked along rules that lack words of the text, none of these was understood."""
    heard = bench.read(text)
    assert heard.best is not None and not heard.loose
    assert meaning(bench, text) == meaning(bench, plain)


def test_nothing_is_kept_of_a_graph_that_is_gone(bench):
    graph = Graph(bench.rules, typed=True)
    kept = weakref.ref(graph)
    assert typed.understand("when can i unclmap at sixty", graph).best is not None
    del graph
    gc.collect()
    assert kept() is None


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("mix 4:1:1 for 24 oz", "mix four to one to one for twenty four ounces"),
        ("mix 10:1 for 24 oz", "mix ten to one for twenty four ounces"),
        ("how much adhesiv for 1-1/2 ft", "how much adhesive for one and a half feet"),
        ("how much adhesiv for 1,016 mm", "how much adhesive for 1016 millimeters"),
        ("how much adhesiv for 3ft4in", "how much adhesive for three feet four inches"),
        ("how much adhesiv for 3' 4\" (3/8 bead)", "how much adhesive for 3 ft 4 in of 3/8 bead"),
        ("plan the job if bead goes on at 1:30pm at 70f", "plan the job if the bead goes on at "
         "one thirty p m at seventy fahrenheit"),
        ("plan the job if the bead goes on at 13:30 at 70 f", "plan the job if the bead goes on "
         "at one thirty p m at seventy fahrenheit"),
        ("plan teh job if the bead goes on at 15:05 at 70 f", "plan the job if the bead goes on "
         "at three oh five p m at seventy fahrenheit"),
    ],
)  # fmt: skip
def test_figures_as_they_are_written(bench, text, plain):
    assert meaning(bench, text) == meaning(bench, plain) is not None


@pytest.mark.parametrize(
    ("text", "exact", "asked"),
    [
        ("bay two the clamps are nearly off", "bay two the clamps are off", True),
        ("bay two at sixty is clamped", "bay two is now at sixty", True),
        ("bay two the clmaps are off please", "bay two the clamps are off", False),
        ("clamps are off bay two", "bay two clamps are off", False),
    ],
)
def test_an_order_with_a_word_passed_over_is_asked_back(bench, text, exact, asked):
    """ "Nearly off" was written down as "off"."""
    heard = bench.read(text)
    assert heard.best is not None and meaning(bench, text) == meaning(bench, exact)
    assert heard.guessed == asked
    outcome = bench.interpreter.interpret(heard)
    assert isinstance(outcome, Clarify if asked else Request)


def test_a_question_with_a_word_passed_over_is_answered(bench):
    heard = bench.read("when can i unclamp the door at 55 degrees")
    assert heard.guessed and isinstance(bench.interpreter.interpret(heard), Request)


def test_suggestions_are_the_nearest_examples(bench):
    near = typed.nearest("clamps at seventy", bench.examples)
    assert any("clamp" in example for example in near)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("3/8 in", "three eighths inches"),
        ("40 in of it", "forty inches of it"),
        ("in 40 min", "in forty minutes"),
        ("0.375", "zero point three seven five"),
        ("2 1/2 hrs", "two and a half hours"),
        ("3:30 pm", "three thirty p m"),
        ("15:30", "three thirty p m"),
        ("15:30:00", "15:30:00"),
        ("12,5 mm", "12,5 millimeters"),
        ("55°f", "fifty five degrees fahrenheit"),
        ("10%", "ten percent"),
    ],
)
def test_figures_become_the_words_a_person_would_say(text, words):
    assert " ".join(typed.in_words(typed.tidy(text))) == words


@pytest.mark.parametrize("count", [150, pytest.param(10_000, marks=pytest.mark.long)])
def test_random_and_mutated_texts_never_escape(bench, count):
    """No text may raise: at the command line that would be a traceback. Each ends with one of
    the exit codes of the README; how many with which is printed (-s)."""
    rng = random.Random(6)
    ended = Counter()

    def put(text):
        ended[exit_code(bench.exchange(bench.read(text)))] += 1

    bases = [*bench.examples, "how much adhesive for 3'4\" of ⅜ bead", "55°F", "10% 3:30 2.5.1/0"]
    for trial in range(count):
        if trial % 5 == 0:
            noise = (
                chr(rng.choice([rng.randrange(128), rng.randrange(0xD800)])) for _ in range(40)
            )
            put("".join(noise))
            continue
        text = list(rng.choice(bases))
        for _ in range(rng.randrange(1, 12)):
            at = rng.randrange(len(text) + 1)
            kind = rng.randrange(4)
            if kind == 0 and text:
                del text[min(at, len(text) - 1)]
            elif kind == 1:
                text.insert(at, chr(rng.choice([rng.randrange(32, 127), rng.randrange(0x3000)])))
            elif kind == 2:
                text.insert(at, rng.choice([" ", "0", "9", "/", ".", ":", "-", "'", '"', "½"]))
            else:
                text = text[at:] + text[:at]
        put("".join(text))
    print(f"{count} texts by exit code: {dict(sorted(ended.items()))}")
    assert set(ended) <= {ANSWERED, BAD_INPUT, ASKS_BACK, NOT_UNDERSTOOD}
    assert ended[ANSWERED] and ended[NOT_UNDERSTOOD], "both kinds of text were among them"


@pytest.mark.parametrize(
    ("text", "words"),
    [("101 mL", "one hundred one milliliters"), ("10 millimeters", "ten millimeters"),
     ("2 litres", "two liters"), ("5 kg", "five kilograms")],
)  # fmt: skip
def test_units_as_the_grammar_has_them(text, words):
    assert " ".join(typed.in_words(typed.tidy(text))) == words
