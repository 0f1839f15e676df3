"""What is done between the start and the first sound."""

import sys
import threading

import pytest

from assistant.commands.recogniser import Engine, Loading
from assistant.commands.shared import BadInput
from assistant.hearing import networks
from assistant.hearing.speech_model import (
    THREADS,
    THREADS_VARIABLE,
    ModelMissing,
    SpeechModel,
    default_threads,
)
from assistant.listening.conversation import Conversation


def loading_threads():
    return [thread for thread in threading.enumerate() if thread.name == "loading"]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"model": "folder"}, "--model goes with --engine vosk"),
        ({"engine": Engine.vosk}, "--engine vosk needs --model"),
        ({"engine": Engine.vosk, "model": "folder", "encoder": "bundled"}, "--encoder goes with"),
    ],
)
def test_options_that_do_not_go_together_load_nothing(options, message):
    with pytest.raises(BadInput, match=message):
        Loading(**options)
    assert not loading_threads()


def test_what_is_loaded_can_hear_at_once(monkeypatch):
    recogniser = Loading().done(())
    assert not loading_threads()
    monkeypatch.setattr(SpeechModel, "texts", lambda *_: pytest.fail("worked out too late"))
    monkeypatch.setattr(networks.ort, "InferenceSession", None)
    settings = recogniser.settings
    assert len(recogniser.habits.bonus(settings.bonus, settings.rarity)) == 32_768


def test_an_encoder_that_is_not_there_is_one_line():
    with pytest.raises(BadInput, match="there is no encoder 'ear'"):
        Loading(encoder="ear").done(())


def test_another_fault_is_told_as_it_is(monkeypatch):
    def fails(*_, **__):
        raise ZeroDivisionError("inside")

    monkeypatch.setattr(SpeechModel, "__init__", fails)
    with pytest.raises(ZeroDivisionError, match="inside"):
        Loading().done(())


@pytest.mark.parametrize(("named", "threads"), [("", THREADS), (" 3 ", 3), ("64", 64)])
def test_threads_by_the_environment(monkeypatch, named, threads):
    monkeypatch.setenv(THREADS_VARIABLE, named)
    assert default_threads() == threads


@pytest.mark.parametrize("named", ["0", "65", "two", "-1", "1.5", "²"])
def test_threads_that_cannot_be(monkeypatch, clampcall, spoken_files, named):
    from tests_support import audio_path

    monkeypatch.setenv(THREADS_VARIABLE, named)
    with pytest.raises(ModelMissing, match="from 1 to 64"):
        default_threads()
    code, out, err = clampcall("hear", audio_path(spoken_files[0]))
    assert (code, out) == (2, "") and err.count("\n") == 1 and THREADS_VARIABLE in err


def test_warming_up_is_no_walk_through_all_questions(bench):
    """Silence along all takes a second and 2,000 nodes; the first question finds its way."""
    talk = Conversation(bench)
    talk.warm_up()
    walked = len(talk.questions._nodes)
    assert walked < 1500
    node = talk.questions.walk(" How much")
    assert node is not None and len(talk.questions._nodes) == walked


def test_typed_talk_loads_no_model(clampcall, monkeypatch):
    import io

    monkeypatch.setattr(sys, "stdin", io.StringIO("how much adhesive for forty inches\n"))
    monkeypatch.setattr(SpeechModel, "__init__", lambda *_, **__: pytest.fail("loaded"))
    code, out, _ = clampcall("listen", "--typed")
    assert code == 0 and "40 in" in out
