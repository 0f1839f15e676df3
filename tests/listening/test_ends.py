"""Where speech begins and ends, from probabilities alone."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.exchange import SAMPLE_RATE
from assistant.listening.ends import Begun, Ended, Endpointer, EndSettings, TooShort
from assistant.listening.sources import BLOCK, BLOCK_SECONDS, Block

QUIET, LOUD = 0.05, 0.95


def blocks(*stretches, start=0):
    """(probability, seconds) -> blocks whose samples hold their own number."""
    number = start
    for probability, seconds in stretches:
        for _ in range(round(seconds / BLOCK_SECONDS)):
            number += 1
            yield Block(np.full(BLOCK, number, np.float32), number * BLOCK_SECONDS), probability


def run(stretches, ends=None, held=()):
    ends = ends or Endpointer()
    found = []
    for block, probability in blocks(*stretches):
        down = any(first <= block.at <= last for first, last in held)
        event = ends.push(block, probability, down)
        if event:
            found.append(event)
    return found


def test_one_utterance_with_sound_before_and_the_pause_behind():
    begun, ended = run([(QUIET, 2), (LOUD, 1), (QUIET, 2)])
    assert isinstance(begun, Begun) and isinstance(ended, Ended)
    assert ended.speech_ended == pytest.approx(3.0, abs=0.04)
    assert ended.at - ended.speech_ended == pytest.approx(0.6, abs=0.04)
    assert ended.utterance.started_at == pytest.approx(1.5, abs=0.15)
    numbers = ended.utterance.samples[::BLOCK]
    assert (np.diff(numbers) == 1).all(), "no block is lost or doubled"
    assert ended.utterance.seconds == pytest.approx(ended.at - ended.utterance.started_at)


def test_a_breath_inside_a_sentence_does_not_end_it():
    events = run([(QUIET, 1), (LOUD, 1), (QUIET, 0.4), (LOUD, 1), (QUIET, 1)])
    assert [type(event) for event in events] == [Begun, Ended]
    assert events[1].utterance.seconds > 2.8


def test_a_longer_pause_can_be_set():
    ends = Endpointer(EndSettings(pause=1.2))
    events = run([(QUIET, 1), (LOUD, 1), (QUIET, 1), (LOUD, 1), (QUIET, 2)], ends)
    assert len(events) == 2


def test_the_next_utterance_holds_nothing_of_the_one_before():
    ends = Endpointer(EndSettings(pause=0.3))
    _, first, _, second = run([(QUIET, 1), (LOUD, 1), (QUIET, 0.4), (LOUD, 1), (QUIET, 1)], ends)
    assert second.utterance.samples[0] > first.utterance.samples[-1]


def test_clicks_are_not_speech():
    assert run([(QUIET, 1), (LOUD, 0.06), (QUIET, 1), (LOUD, 0.06), (QUIET, 1)]) == []
    begun, short = run([(QUIET, 1), (LOUD, 0.13), (QUIET, 1)])
    assert isinstance(begun, Begun) and isinstance(short, TooShort)


def test_speech_without_end_is_cut():
    events = run([(LOUD, 45)])
    assert [type(event) for event in events[:2]] == [Begun, Ended]
    assert events[1].utterance.seconds == pytest.approx(20, abs=0.5)


def test_the_end_of_the_source_ends_what_was_begun():
    ends = Endpointer()
    run([(QUIET, 1), (LOUD, 1)], ends)
    assert ends.speaking and isinstance(ends.finish(2.0), Ended)
    assert ends.finish(2.0) is None


def test_a_key_marks_the_utterance_whatever_the_model_thinks():
    begun, ended = run([(QUIET, 1), (0.4, 0.5), (QUIET, 1.5)], held=[(0.8, 2.5)])
    assert begun.at == pytest.approx(0.8, abs=0.04)
    assert ended.at == pytest.approx(2.5, abs=0.07)
    assert isinstance(run([(QUIET, 3)], held=[(1, 2)])[1], TooShort)


def test_a_key_held_too_long_is_cut_once():
    events = run([(QUIET, 1), (LOUD, 59)], held=[(1, 59)])
    assert [type(event) for event in events[:2]] == [Begun, Ended]
    assert not any(isinstance(event, Ended) and event.at < 59 for event in events[2:])


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0.05, 3)), max_size=12))
def test_no_sound_is_handed_on_twice(stretches):
    utterances = [e.utterance for e in run(stretches) if isinstance(e, Ended)]
    last = 0.0
    for utterance in utterances:
        numbers = utterance.samples[::BLOCK]
        assert numbers[0] > last and (np.diff(numbers) == 1).all()
        last = numbers[-1]
        assert utterance.seconds * SAMPLE_RATE % BLOCK == 0
