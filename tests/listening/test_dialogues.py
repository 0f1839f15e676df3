"""Whole conversations as sound: every turn of the transcript exactly as scripted."""

import itertools

import numpy as np
import pytest

from assistant.listening.loop import Stages
from audio_fixtures.dialogues import (
    COMMITTED,
    STREAMS,
    FirstSentence,
    mistakes,
    scripts,
    stages_table,
    talk_through,
)

COMMITTED_SCRIPTS = [script for script in scripts() if script.name in COMMITTED]


@pytest.mark.parametrize("script", COMMITTED_SCRIPTS, ids=lambda script: script.name)
def test_a_committed_stream(bench, script):
    spoken = talk_through(bench, STREAMS / script.file, script.way)
    assert mistakes(bench, script, [happening.turn for happening in spoken]) == []


def test_the_committed_streams_are_those_named():
    assert sorted(path.name for path in STREAMS.iterdir()) == sorted(
        script.file for script in COMMITTED_SCRIPTS
    )


def test_the_check_finds_a_wrong_turn(bench):
    """The check above can fail: a missing turn, a wrong answer, an answer to silence."""
    script = COMMITTED_SCRIPTS[0]
    spoken = talk_through(bench, STREAMS / script.file, script.way)
    turns = [happening.turn for happening in spoken]
    assert "turns of" in mistakes(bench, script, turns[:-1])[0]
    assert mistakes(bench, script, [turns[1], turns[0], *turns[2:]])
    assert mistakes(bench, script, [turns[0]] * len(turns))


class Listed:
    """A voice that notes what it is asked to make."""

    name = "listed"

    def __init__(self):
        self.made = []

    def synthesise(self, text, pace=1.0):
        self.made.append(text)
        return np.zeros(160, np.float32), 16_000


def test_what_is_timed_is_the_first_sentence_and_each_stage_once(bench):
    """With a clock that counts how often it is looked at: one look between two stages."""
    script = COMMITTED_SCRIPTS[0]  # its answers have several sentences
    voice, looks = Listed(), itertools.count()
    mouth = FirstSentence(voice)
    spoken = talk_through(
        bench, STREAMS / script.file, script.way, mouth, clock=lambda: float(next(looks))
    )
    said = [text for _, text, _ in mouth.log]
    assert len(said) == len(voice.made) == len(spoken)
    assert any(len(made) < len(text) for made, text in zip(voice.made, said, strict=True))
    assert all(text.startswith(made) for made, text in zip(voice.made, said, strict=True))
    assert {happening.stages.after_pause for happening in spoken} == {3.0}
    assert all(0.5 < happening.stages.pause < 0.7 for happening in spoken)  # Settings.pause 0.6


def test_the_table_tells_medians():
    stages = [Stages(0.6, hearing, 0.01, 0.1) for hearing in (0.1, 0.2, 0.9)]
    lines = stages_table(stages).splitlines()
    assert [line.split()[0] for line in lines] == [
        "pause", "hearing", "answering", "voice", "after_pause",
    ]  # fmt: skip
    assert lines[1].split()[2] == "0.200" and lines[4].split()[2] == "0.310"


@pytest.mark.long
def test_all_of_them_rendered_here(bench, tmp_path):
    """Needs the extra ``fixtures``, flite and espeak-ng."""
    pytest.importorskip("pyworld")
    from audio_fixtures.dialogues import render, save

    wrong = {}
    for script in scripts():
        path = tmp_path / script.file.replace(".ogg", ".wav")
        save(render(script), path)
        spoken = talk_through(bench, path, script.way)
        found = mistakes(bench, script, [happening.turn for happening in spoken])
        if found:
            wrong[script.name] = found
    assert wrong == {}
