"""Reading along: the table of commands, safety holds, clocks. The words are those of
grammars/rehearsal.jsgf."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.bench import grammar_folder
from assistant.hearing import jsgf
from assistant.hearing.sampling import sample
from assistant.rehearsal.reading import WORDS, Place, ReadingAlong, command_of, turn

COMMANDS = tuple(WORDS)


@pytest.fixture
def card(library):
    return library.card("weld-bonding-coupon")


class Recorder:
    """Clocks that note what was started."""

    def __init__(self):
        self.started = []

    def start(self, kind, seconds, label):
        self.started.append((kind, seconds, label))
        return f"{kind} started."


def held_places(card):
    return [at for at, step in enumerate(card.steps) if step.hold]


def test_only_a_confirmation_passes_a_hold(card):
    at = held_places(card)[0]
    for command in set(COMMANDS) - {"confirm"}:
        assert turn(card, Place(at), command).place.at <= at
    assert turn(card, Place(at), "next").said == f"Not yet. {card.steps[at].hold} Say confirmed."
    assert turn(card, Place(at), "confirm").place == Place(at + 1)


@given(commands=st.lists(st.sampled_from(COMMANDS), max_size=60))
def test_no_row_of_commands_skips_a_hold(library, commands):
    for card in library.cards:
        place, passed = Place(), set()
        for command in commands:
            after = turn(card, place, command).place
            assert abs(after.at - place.at) <= 1
            ends = after.ended and not place.ended and command in ("next", "confirm")
            if after.at > place.at or ends:
                if card.steps[place.at].hold:
                    assert command == "confirm"
                passed.add(place.at)
            place = after


def test_confirmed_where_nothing_is_held(card):
    assert card.steps[0].hold is None
    found = turn(card, Place(0), "confirm")
    assert found.place == Place(0) and "nothing to confirm" in found.said


def test_back_again_where_why(card):
    assert turn(card, Place(0), "back").said == "This is the first step."
    assert turn(card, Place(4), "back").place == Place(3)
    assert turn(card, Place(1), "again").said.startswith(f"Step 2. {card.steps[1].say}")
    assert turn(card, Place(1), "where").said.startswith("Step 2 of 14, 12 left.")
    assert turn(card, Place(1), "why").said == card.steps[1].why
    assert turn(card, Place(1), "stop").place.ended
    assert turn(card, Place(1, ended=True), "next").said == "The procedure is over."


def test_a_whole_reading_starts_each_clock_once(card):
    clocks = Recorder()
    reading = ReadingAlong(card, clocks)
    opening = reading.begin()
    assert card.cautions[0] in opening and card.steps[0].say in opening
    said = []
    while not reading.place.ended:
        step = card.steps[reading.place.at]
        said.append(reading.take("confirm" if step.hold else "next"))
        if step.clock and not reading.place.ended:
            reading.take("back")
            said.append(reading.take("confirm" if step.hold else "next"))
    named = [(step.clock, step.seconds, step.short) for step in card.steps if step.clock]
    assert clocks.started == named
    assert ("timer", 1800, "keep a fire watch") in named
    assert said[-1] == "That was the last step."


def test_without_a_shop_the_person_is_told_to_start_it(card):
    reading = ReadingAlong(card)
    reading.place = Place(card.steps.index(card.step("watch")))
    assert reading.take("confirm").startswith("Start a timer of 30 min now.")


def test_the_words_are_those_of_the_grammar():
    rules = jsgf.link([jsgf.read_file(grammar_folder() / "rehearsal.jsgf")], jsgf.folder_fetcher())
    rng = random.Random(1)
    for command, ways in WORDS.items():
        said = {sample(rules, rng, f"rehearsal.{command}").text for _ in range(300)}
        assert said == set(ways)
        for words in ways:
            assert command_of(words.upper() + ".") == command
    assert command_of("dance") is None
