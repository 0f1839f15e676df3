"""Voices, judged by measuring what they render, and what happens where they fail.

The bounds on pace are wide ones for English speech: 100 to 250 words a minute (from memory).
"""

import ctypes.util
import socket
import subprocess
import sys
import textwrap

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.speaking import engine_process, voices
from assistant.speaking.playback import save_wav
from assistant.speaking.voices import (
    BundledVoice,
    FirstThatWorks,
    NoVoice,
    SystemVoice,
    VoiceError,
    choose_voice,
    sentences,
    voice_report,
)

ANSWER = (
    "Forty inches of three-eighths bead: about seventy-two milliliters, two point four fluid "
    "ounces. Two cartridges and one mixing tip. You can unclamp in three hours thirty-five "
    "minutes, at three ten p.m."
)

has_engine = pytest.mark.skipif(
    sys.platform.startswith("linux") and ctypes.util.find_library("espeak-ng") is None,
    reason="no speech engine on this system; the bundled voice speaks there",
)


@pytest.fixture(scope="module")
def bundled():
    return BundledVoice()


def measure(samples, rate, words):
    """The checks that any rendered speech must pass; returns its seconds."""
    assert samples.dtype == np.float32 and samples.ndim == 1
    assert np.isfinite(samples).all()
    peak, rms = np.abs(samples).max(), np.sqrt(np.mean(np.square(samples)))
    assert 0.5 < peak < 0.99, peak  # loud, and below clipping
    assert 0.02 < rms < 0.4, rms  # speech, neither near-silence nor a steady tone
    assert abs(samples.mean()) < 0.01  # no constant offset
    seconds = len(samples) / rate
    assert 100 < words / seconds * 60 < 250, seconds
    # speech has pauses: some of its 20 ms frames are far quieter than the loud ones
    frames = samples[: len(samples) // (rate // 50) * (rate // 50)].reshape(-1, rate // 50)
    level = np.sqrt(np.mean(np.square(frames), axis=1))
    assert np.percentile(level, 5) < 0.1 * np.percentile(level, 90)
    return seconds


def test_bundled_voice_speaks(bundled, tmp_path):
    samples, rate = bundled.synthesise(ANSWER)
    assert rate == 24_000
    measure(samples, rate, len(ANSWER.replace("-", " ").split()))
    import soundfile

    path = save_wav(tmp_path / "answer.wav", samples, rate)
    again, _ = soundfile.read(path, dtype="float32")
    measure(again, rate, len(ANSWER.replace("-", " ").split()))


def test_bundled_voice_says_the_same_thing_the_same_way(bundled):
    first, _ = bundled.synthesise("Two cartridges.")
    assert np.array_equal(first, bundled.synthesise("Two cartridges.")[0])
    other, _ = bundled.synthesise("Three hours thirty-five minutes from now.")
    assert len(other) > len(first)


def test_bundled_voice_needs_no_network(monkeypatch):
    def refuse(*_, **__):
        raise AssertionError("a voice reached for the network")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr("hibari.voices.download", refuse)
    samples, _ = BundledVoice().synthesise("Ready.")
    assert len(samples)


def test_bundled_voice_is_loaded_only_when_it_speaks():
    program = (
        "import sys; from assistant.speaking.voices import choose_voice; "
        "choose_voice('bundled'); print({'hibari', 'onnxruntime', 'pyttsx3'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "set()", done.stderr


def test_bundled_model_missing_is_one_line(monkeypatch):
    monkeypatch.setattr("hibari.voices.ASSETS", "/nowhere")
    with pytest.raises(VoiceError, match="model is missing; install clampcall again"):
        BundledVoice().synthesise("Ready.")


def test_a_voice_that_is_not_in_the_wheel_is_never_fetched(monkeypatch):
    monkeypatch.setattr(voices, "BUNDLED_VOICE", "emma")
    with pytest.raises(VoiceError, match="model is missing"):
        BundledVoice().synthesise("Ready.")


@has_engine
def test_system_voice_speaks(capfd):
    samples, rate = SystemVoice().synthesise(ANSWER)
    measure(samples, rate, len(ANSWER.replace("-", " ").split()))
    assert capfd.readouterr() == ("", "")  # the engine's own messages stay out of the terminal


@has_engine
def test_system_voice_says_every_sentence():
    one = len(SystemVoice().synthesise("Two cartridges.")[0])
    three = len(SystemVoice().synthesise("Two cartridges. Two cartridges. Two cartridges.")[0])
    assert three > 2.9 * one


@has_engine
def test_system_voice_leaves_no_files(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    SystemVoice().synthesise("Ready.")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("text", ["", "  \n ", "...", "?!"])
def test_nothing_to_say(bundled, text):
    for voice in (bundled, SystemVoice(), NoVoice(), choose_voice("auto")):
        samples, rate = voice.synthesise(text)
        assert len(samples) == 0 and rate > 0


# ------------------------------------------------------------ where the engine fails


def break_engine(monkeypatch, tmp_path, name, code):
    """Puts a module before the real one for the engine's process only."""
    (tmp_path / f"{name}.py").write_text(textwrap.dedent(code))
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))


def no_library(monkeypatch, tmp_path):
    """The real pyttsx3 on a system where the engine's library is not installed."""
    break_engine(
        monkeypatch,
        tmp_path,
        "sitecustomize",
        """
        import ctypes
        def missing(name, *_):
            raise OSError(f"{name}: cannot open shared object file")
        ctypes.cdll.LoadLibrary = missing
        """,
    )


BROKEN = {
    "raises": "def init(driverName=None): raise RuntimeError('no luck\\nat all')",
    "exits": "import os; os._exit(3)",
    "crashes": "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)",
    "missing": "raise ImportError('not here')",
    "silent": """
        class Engine:
            def getProperty(self, name): return []
            def setProperty(self, *_): pass
            def save_to_file(self, *_): pass
            def runAndWait(self): pass
        def init(driverName=None): return Engine()
        """,
    "empty": """
        import wave
        class Engine:
            def getProperty(self, name): return []
            def setProperty(self, *_): pass
            def save_to_file(self, text, path):
                with wave.open(path, 'wb') as f:
                    f.setnchannels(1); f.setsampwidth(2); f.setframerate(22050)
            def runAndWait(self): pass
        def init(driverName=None): return Engine()
        """,
    "foreign": """
        class Voice: id, name, languages = 'x', 'Nobody', ['de-de']
        class Engine:
            def getProperty(self, name): return [Voice()]
        def init(driverName=None): return Engine()
        """,
}


@pytest.mark.parametrize("fault", BROKEN)
def test_a_broken_engine_is_one_line(monkeypatch, tmp_path, fault):
    break_engine(monkeypatch, tmp_path, "pyttsx3", BROKEN[fault])
    with pytest.raises(VoiceError, match=r"speech engine|voice gave no sound") as excinfo:
        SystemVoice().synthesise("Ready.")
    assert "\n" not in str(excinfo.value)


def test_a_hanging_engine_is_given_up(monkeypatch, tmp_path):
    break_engine(monkeypatch, tmp_path, "pyttsx3", "import time; time.sleep(60)")
    with pytest.raises(VoiceError, match="did not answer within 1 s"):
        SystemVoice(time_limit=1).synthesise("Ready.")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="how Linux lacks an engine")
def test_without_an_engine_the_bundled_voice_takes_over(monkeypatch, tmp_path):
    no_library(monkeypatch, tmp_path)
    with pytest.raises(VoiceError, match="no speech engine is installed on this system"):
        SystemVoice().synthesise("Ready.")

    voice = choose_voice("system")
    assert voice.name == "system"
    samples, rate = voice.synthesise("Two cartridges.")
    assert len(samples) and rate == 24_000 and voice.name == "bundled"
    assert voice.take_notice() == (
        "no speech engine is installed on this system: speaking with the bundled voice"
    )
    voice.synthesise("Two cartridges.")
    assert voice.take_notice() == ""  # said once

    quiet = choose_voice("auto")
    assert len(quiet.synthesise("Two cartridges.")[0]) and quiet.name == "bundled"
    assert quiet.take_notice() == ""  # nobody asked for the system's voice

    rows = {row.name: row for row in voice_report()}
    assert not rows["system voice"].ok and "espeak-ng" in rows["system voice"].advice
    assert rows["bundled voice"].ok


def test_with_no_voice_at_all_answers_stay_on_the_screen(monkeypatch, tmp_path):
    break_engine(monkeypatch, tmp_path, "pyttsx3", BROKEN["missing"])
    monkeypatch.setattr("hibari.voices.ASSETS", "/nowhere")
    for name in ("auto", "system", "bundled"):
        voice = choose_voice(name)
        samples, rate = voice.synthesise("Ready.")
        assert len(samples) == 0 and rate > 0 and voice.name == "none"
        notice = voice.take_notice()
        assert notice.endswith(": answers stay on the screen") and "\n" not in notice
    assert [row.ok for row in voice_report()] == [False, False]


@has_engine
def test_report_where_all_works():
    rows = voice_report()
    assert [row.name for row in rows] == ["system voice", "bundled voice"]
    assert all(row.ok and row.advice for row in rows)
    assert "English" in rows[0].advice


def test_auto_prefers_the_system():
    class Works:
        name = "system"

        def synthesise(self, text, pace=1.0):
            return np.ones(10, np.float32), 22_050

    voice = FirstThatWorks([Works(), BundledVoice()])
    assert voice.synthesise("Ready.")[1] == 22_050 and voice.take_notice() == ""


def test_none_and_unknown():
    voice = choose_voice("none")
    assert voice.name == "none" and len(voice.synthesise("Ready.")[0]) == 0
    with pytest.raises(VoiceError, match="choose one of auto, system, bundled, none"):
        choose_voice("loud")


class Installed:
    def __init__(self, name, *languages):
        self.id = self.name = name
        self.languages = list(languages)


@pytest.mark.parametrize(
    ("installed", "chosen"),
    [
        ([Installed("a", "de-de"), Installed("b", "en-gb"), Installed("c", "en-us")], "c"),
        ([Installed("a", "de-de"), Installed("b", "en-gb")], "b"),
        ([Installed("a", "de_DE"), Installed("b", "en_US")], "b"),
        ([Installed("a", b"\x05de"), Installed("b", b"\x05en-us")], "b"),
        ([Installed("One - English (United States)"), Installed("Two - German")], "One - English"),
        ([Installed("a"), Installed("b")], None),
        ([], None),
    ],
)
def test_an_english_voice_is_chosen(installed, chosen):
    voice = engine_process.english_voice(installed)
    assert (voice and voice.name.startswith(chosen)) if chosen else voice is None


def test_no_english_voice():
    with pytest.raises(LookupError, match="no English voice"):
        engine_process.english_voice([Installed("a", "de-de")])


# ------------------------------------------------------------ the text


def test_sentences():
    assert sentences("Two tips. Three ten p.m. tomorrow. Done?\nYes") == [
        "Two tips.",
        "Three ten p.m. tomorrow.",
        "Done?",
        "Yes",
    ]
    assert sentences("") == sentences(" \n\n ") == []


@given(st.text(st.sampled_from("ab ,.;:?!\n'AB1"), max_size=1500))
def test_no_word_is_lost(text):
    pieces = sentences(text)
    assert all(0 < len(piece) <= voices.LONGEST_SENTENCE for piece in pieces)
    letters = [c for c in text if c.isalnum()]
    assert [c for piece in pieces for c in piece if c.isalnum()] == letters


def test_a_long_text_is_spoken_to_its_end(bundled):
    long = "forty inches of three-eighths bead, " * 20 + "done."
    samples, _ = bundled.synthesise(long)
    short, _ = bundled.synthesise("forty inches of three-eighths bead, done.")
    assert len(samples) > 12 * len(short)


def test_loudness_is_levelled_but_noise_is_not_raised():
    quiet = np.full(100, 0.2, np.float32)
    assert np.abs(voices._joined([quiet], 8000)).max() == pytest.approx(voices.PEAK)
    faint = np.full(100, 0.001, np.float32)
    assert np.abs(voices._joined([faint], 8000)).max() == pytest.approx(0.008)
    for bad in (np.array([0.1, np.nan]), np.zeros(10)):
        with pytest.raises(VoiceError):
            voices._joined([bad.astype("f4")], 8000)


@pytest.mark.parametrize("make", [BundledVoice, SystemVoice])
def test_a_slower_pace_takes_longer(make):
    voice = make()
    try:
        usual = len(voice.synthesise("Seventy-two milliliters.")[0])
    except VoiceError:
        pytest.skip("this voice does not speak here")
    slow = len(voice.synthesise("Seventy-two milliliters.", pace=0.6)[0])
    assert slow > 1.3 * usual
