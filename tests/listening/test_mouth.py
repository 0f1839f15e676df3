"""What speaks: in order, sentence by sentence, cut off at once, and known sample by sample."""

import threading
import time

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.listening.mouth import TAIL_SECONDS, Recorded, Silent, Speaker, louder
from assistant.speaking import turn as turn_module
from assistant.speaking.playback import NoSoundDevice


class Tone:
    """A voice whose sound tells how many words it speaks."""

    def __init__(self):
        self.spoken = []

    def synthesise(self, text, pace=1.0):
        self.spoken.append((text, pace))
        count = round(len(text.split()) * 0.1 * SAMPLE_RATE / pace)
        return np.full(count, 0.5, np.float32), SAMPLE_RATE

    def take_notice(self):
        return ""


def speaker(play, clock=time.monotonic):
    return Speaker(Tone(), clock, play)


def wait(mouth):
    mouth._thread.join(5)


def test_sentences_are_played_in_order_and_made_ahead():
    played = []
    mouth = speaker(lambda sound, rate, stop: played.append(len(sound)))
    mouth.say("Two words. Now three words. Four words at last.", 0.0)
    wait(mouth)
    assert played == [3200, 4800, 6400]
    assert mouth.first_sound_seconds < 5


def test_stopping_drops_the_rest():
    playing, played = threading.Event(), []

    def play(sound, rate, stop):
        played.append(len(sound))
        playing.set()
        stop.wait(5)

    mouth = speaker(play)
    mouth.say("First one. Second one. Third one.", 0.0)
    assert playing.wait(5) and mouth.speaking(time.monotonic())
    mouth.stop()
    assert len(played) == 1
    assert not mouth.speaking(time.monotonic() + TAIL_SECONDS + 1)


def test_a_new_answer_cuts_off_the_old_one():
    played, release = [], threading.Event()

    def play(sound, rate, stop):
        played.append(len(sound))
        if len(played) == 1:
            stop.wait(5)

    mouth = speaker(play)
    mouth.say("First one. Never said.", 0.0)
    while not played:
        release.wait(0.01)
    mouth.say("Now three words.", 0.0)
    wait(mouth)
    assert played == [3200, 4800]


def test_no_sound_device_is_one_notice():
    def play(sound, rate, stop):
        raise NoSoundDevice("no sound device found")

    mouth = speaker(play)
    for _ in range(2):
        mouth.say("One. Two.", 0.0)
        wait(mouth)
    assert mouth.take_notices() == ["no sound device found"]
    assert mouth.take_notices() == []


def test_one_program_speaks_at_a_time_and_knows_of_the_other(monkeypatch, tmp_path):
    monkeypatch.setattr("assistant.speaking.turn.turn_file", lambda: tmp_path / "turn.lock")
    now, played = [0.0], []
    mouth = speaker(lambda sound, rate, stop: played.append(len(sound)), lambda: now[0])
    with turn_module.turn():
        assert mouth.another_speaks(0.0)
        mouth.say("Two words.", 0.0)
        mouth._thread.join(0.3)
        assert played == [], "it waits for its turn"
    wait(mouth)
    assert played == [3200]
    assert not mouth.another_speaks(5.0)


def test_what_is_played_is_known_by_the_clock():
    playing, release = threading.Event(), threading.Event()

    def play(sound, rate, stop):
        playing.set()
        release.wait(5)

    mouth = speaker(play, lambda: 10.0)
    mouth.say("Five words are said here.", 10.0)
    assert playing.wait(5)
    try:
        assert (mouth.played(10.25, 1600) == 0.5).all()
        half = mouth.played(10.05, 1600)
        assert (half[:800] == 0).all() and (half[800:] == 0.5).all()
        assert (mouth.played(30.0, 512) == 0).all()
    finally:
        release.set()
        wait(mouth)


def test_recorded_speech_takes_its_time_on_the_sources_clock():
    mouth = Recorded()
    mouth.say("one two three four", 5.0)
    begun, text, seconds = mouth.log[0]
    assert (begun, text) == (5.0, "one two three four") and 1 < seconds < 2
    assert mouth.speaking(5.0 + seconds) and not mouth.speaking(5.5 + seconds)
    mouth.say("one two three four", 10.0, pace=0.5)
    assert mouth.log[1][2] == 2 * seconds
    mouth.stop()
    assert not mouth.speaking(10.1)


def test_recorded_sound_is_known_sample_by_sample():
    mouth = Recorded(Tone())
    mouth.say("five words are said here", 5.0)
    assert (mouth.played(5.2, 1600) == 0.5).all()
    first = mouth.played(5.05, 1600)
    assert (first[:800] == 0).all() and (first[800:] == 0.5).all()
    assert mouth.played(9.0, 512) is None


def test_louder_never_clips_and_quieter_is_linear():
    tone = 0.9 * np.sin(np.arange(1000) / 5).astype(np.float32)
    raised = louder(tone, 12)
    assert np.abs(raised).max() <= 1.0 and np.square(raised).mean() > np.square(tone).mean()
    assert np.allclose(louder(tone, -6), tone * 10 ** (-6 / 20))


def test_silence_says_nothing():
    mouth = Silent()
    mouth.say("words", 0.0)
    assert not mouth.speaking(0.0) and mouth.played(0.0, 10) is None
