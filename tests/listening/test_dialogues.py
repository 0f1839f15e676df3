"""Whole conversations as sound: every turn of the transcript exactly as scripted."""

import pytest

from audio_fixtures.dialogues import COMMITTED, STREAMS, mistakes, scripts, talk_through

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
