"""The announcer: once, never two at once, and nothing lost when it dies in between."""

import threading

import numpy as np
import pytest

from assistant.shop import events as kinds
from assistant.shop.announcer import Announcer, SilentSpeaker, VoiceSpeaker
from assistant.shop.chime import LEVEL, chime
from assistant.shop.journal import Journal, JournalTrouble
from assistant.shop.shop import Shop
from assistant.shop.wording import both

F70 = (70 - 32) / 1.8


class SlowSpeaker:
    """Speaks until it is told that it has finished, and notes who talks over whom."""

    silent = False

    def __init__(self):
        self.said, self.open, self.most = [], 0, 0
        self.done = threading.Event()
        self.begun = threading.Event()

    def say(self, text, urgent, stop):
        self.open += 1
        self.most = max(self.most, self.open)
        self.said.append((text, urgent))
        self.begun.set()
        while not self.done.wait(0.002):
            if stop.is_set():
                self.open -= 1
                return False
        self.open -= 1
        return True


class Told(list):
    def __call__(self, one, said, now):
        self.append((one.key if one else None, said.spoken))

    @property
    def keys(self):
        return [key for key, _ in self]


@pytest.fixture
def told():
    return Told()


@pytest.fixture
def announcer(shop, told):
    found = Announcer(shop, SilentSpeaker(), told)
    yield found
    found.close()


def until_still(announcer):
    while announcer.step():
        pass


def made(journal):
    return [e.payload for e in journal.events() if isinstance(e.payload, kinds.AnnouncementMade)]


def test_everything_that_is_due_is_said_once_and_written_down(
    shop, clock, announcer, told, long_open
):
    shop.start(2, long_open, F70)
    for _ in range(2401):
        clock.run(1)
        until_still(announcer)
    assert told.keys == [f"1/work/{name}" for name in ("half", "10", "5", "2", "gone")]
    assert [one.key for one in made(shop.journal)] == told.keys
    assert [one.late for one in made(shop.journal)] == [0.0] * 5
    assert not any(one.marked_late for one in made(shop.journal))


def test_what_was_begun_and_never_finished_is_said_again_and_marked_late(
    shop, clock, announcer, told, long_open
):
    shop.start(2, long_open, F70)
    clock.run(1200)
    shop.journal.append(kinds.AnnouncementBegun(key="1/work/half"))  # and there it died
    clock.run(2)
    until_still(announcer)
    assert told == [("1/work/half", told[0][1])]
    assert told[0][1].startswith("Late, once more. Bay two: half")
    assert [one.marked_late for one in made(shop.journal)] == [True]


def test_only_one_program_speaks_and_another_takes_over(shop, clock, announcer, told, long_open):
    shop.start(2, long_open, F70)
    other_told = Told()
    other = Announcer(Shop(Journal(shop.journal.folder, clock)), SilentSpeaker(), other_told)
    assert announcer.speaks and not other.speaks
    clock.run(1200)
    other.step()
    assert other_told == []
    until_still(announcer)
    announcer.close()
    clock.run(600)
    until_still(other)
    assert (told.keys, other_told.keys) == (["1/work/half"], ["1/work/10"])
    other.close()


def test_speech_never_overlaps_and_the_critical_cuts_in(shop, clock, told, long_open, filler):
    speaker = SlowSpeaker()
    announcer = Announcer(shop, speaker, told)
    shop.start(2, long_open, F70)
    clock.run(1200)
    announcer.step()
    assert speaker.begun.wait(5)
    clock.run(600)  # ten minutes left: due while it still speaks, and it waits
    announcer.step()
    assert len(speaker.said) == 1
    clock.run(600)  # the work time is over: that cuts in
    speaker.begun.clear()
    for _ in range(2000):
        announcer.step()
        if speaker.begun.wait(0.005):
            break
    assert told.keys == ["1/work/half", "1/work/gone"]
    assert speaker.said[1][1] is True
    speaker.done.set()
    for _ in range(2000):
        announcer.step()
        if made(shop.journal):
            break
        threading.Event().wait(0.005)
    assert speaker.most == 1
    (one,) = made(shop.journal)
    assert set(one.covers) == {f"1/work/{name}" for name in ("half", "10", "5", "2")}
    announcer.close()


def test_nobody_is_talked_over(shop, clock, told, long_open):
    speaking = [True]
    announcer = Announcer(shop, SilentSpeaker(), told, lambda: speaking[0])
    shop.start(2, long_open, F70)
    clock.run(1200)
    announcer.step()
    assert told == []
    speaking[0] = False
    clock.run(1)
    until_still(announcer)
    assert told.keys == ["1/work/half"]
    announcer.close()


def test_a_person_who_begins_to_speak_stops_it(shop, clock, told, long_open):
    speaking = [False]
    speaker = SlowSpeaker()
    announcer = Announcer(shop, speaker, told, lambda: speaking[0])
    shop.start(2, long_open, F70)
    clock.run(1200)
    announcer.step()
    assert speaker.begun.wait(5)
    speaking[0] = True
    for _ in range(2000):
        announcer.step()
        if not speaker.open:
            break
        threading.Event().wait(0.005)
    announcer.step()
    assert made(shop.journal) == []
    assert announcer._saying is None
    announcer.close()


def test_quiet_hours_hold_back_until_they_end(shop, clock, announcer, told, long_open):
    shop.start(2, long_open, F70)
    shop.mark(2, "closed")
    now = shop.read_clock()[1]
    minute = now.hour * 60 + now.minute
    shop.set_quiet_hours((minute, (minute + 4 * 60) % 1440))
    clock.run(3 * 3600)
    until_still(announcer)
    assert told == []
    clock.run(3601)
    until_still(announcer)
    assert told.keys[0] == "1/clamp"
    assert told[0][1].startswith("Late by two hours")


def test_a_clock_step_is_pinned_down_at_once(shop, clock, announcer, told, long_open):
    shop.start(2, long_open, F70)
    clock.step(3600)
    until_still(announcer)
    assert [e.kind for e in shop.journal.events()][1] == "clock_noted"
    assert len(told) == 1 and "set forward by one hour" in told[0][1]
    # a power cut after it: the hour is not counted as time that has passed
    clock.restart(off=60)
    assert shop.read_clock()[0] == pytest.approx(80)


def test_a_full_disk_does_not_silence_it_and_is_made_up_for(
    shop, clock, announcer, told, long_open, monkeypatch
):
    shop.start(2, long_open, F70)
    clock.run(1200)

    def full(*_, **__):
        raise JournalTrouble("NOT recorded: the disk is full.", "Not recorded!")

    with monkeypatch.context() as patch:
        patch.setattr(shop.journal, "write", full)
        for _ in range(5):
            announcer.step()
    assert told.keys == ["1/work/half", None]
    clock.run(1)
    until_still(announcer)
    assert told.keys == ["1/work/half", None]
    assert [one.key for one in made(shop.journal)] == ["1/work/half"]


def test_notices_come_last_and_once(shop, clock, announcer, told, long_open):
    shop.start(2, long_open, F70)
    clock.run(1200)
    announcer.notice(both("Look at the sensor."))
    until_still(announcer)
    assert told.keys == ["1/work/half", None]
    until_still(announcer)
    assert len(told) == 2


# --- the voice and the chime ------------------------------------------------------------------


class Voice:
    def __init__(self, samples):
        self.samples, self.notice = samples, "no engine"

    def synthesise(self, text):
        return self.samples, 16_000

    def take_notice(self):
        return self.notice


def test_the_voice_comes_after_a_chime(monkeypatch):
    played = []
    monkeypatch.setattr(
        "assistant.speaking.playback.play", lambda sound, rate, stop: played.append(sound) or True
    )
    notices = []
    speaker = VoiceSpeaker(Voice(np.ones(100, np.float32)), notices.append)
    for _ in range(2):
        assert speaker.say("Bay two.", False, threading.Event())
    assert len(played[0]) == len(chime(16_000)) + 100
    assert notices == ["no engine"]


def test_no_loudspeaker_is_told_once(monkeypatch):
    from assistant.speaking.playback import NoSoundDevice

    def none(*_):
        raise NoSoundDevice("no sound device found")

    monkeypatch.setattr("assistant.speaking.playback.play", none)
    notices = []
    voice = Voice(np.ones(100, np.float32))
    voice.notice = ""
    speaker = VoiceSpeaker(voice, notices.append)
    assert speaker.say("One.", False, threading.Event())
    assert speaker.say("Two.", True, threading.Event())
    assert notices == ["no sound device found"]


@pytest.mark.parametrize("rate", [16_000, 24_000, 48_000])
def test_the_chime_is_soft_and_has_its_two_notes(rate):
    sound = chime(rate)
    assert sound.dtype == np.float32 and np.abs(sound).max() <= LEVEL
    assert abs(sound[0]) < 1e-3 and abs(sound[-1]) < 1e-3
    assert np.abs(np.diff(sound)).max() < 0.5  # no click
    half = len(sound) // 2
    for part, wanted in ((sound[:half], 659.255), (sound[half:], 880.0)):
        # numpy's own transform is the reference for which note it is
        spectrum = np.abs(np.fft.rfft(part, rate))
        assert abs(int(np.argmax(spectrum)) - wanted) < 8
    assert len(chime(rate, urgent=True)) == 2 * len(sound)
