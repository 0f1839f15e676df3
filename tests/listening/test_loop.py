"""The live loop over sound made here: what is heard, said, cut short and told."""

import numpy as np
import pytest

from assistant.exchange import SAMPLE_RATE, Heard, Reading
from assistant.listening.conversation import KEY, Conversation, Turn
from assistant.listening.ends import Endpointer
from assistant.listening.loop import CutShort, Ears, Spoken, Told, listen
from assistant.listening.mouth import Recorded
from assistant.listening.sources import BLOCK, BLOCK_SECONDS, Block, Lost
from assistant.listening.trouble import CLIPPING, MISSING, MUTED
from assistant.understanding.dialogue import Talk

QUIET, SPEECH = 1e-3, 0.1


class Script:
    """A source of stretches: (level, seconds); None is a lost microphone."""

    def __init__(self, *stretches):
        self.stretches = stretches

    def blocks(self):
        rng, number = np.random.default_rng(0), 0
        for level, seconds in self.stretches:
            for _ in range(round(seconds / BLOCK_SECONDS)):
                number += 1
                if level is None:
                    yield Lost("the microphone went away", number * BLOCK_SECONDS)
                else:
                    samples = np.clip(level * rng.standard_normal(BLOCK), -1, 1)
                    yield Block(samples.astype(np.float32), number * BLOCK_SECONDS)


def loud(samples):
    """Speech is what is loud."""
    return 0.95 if np.sqrt(np.square(samples).mean()) > 0.03 else 0.02


class Talks:
    """A conversation that answers everything with the same words."""

    way = "open"

    def __init__(self, *answers):
        self.answers, self.heard = list(answers), []
        self.talk = Talk()

    def hear(self, utterance, now):
        self.heard.append((utterance, now))
        return Heard(Reading("words", (), "rule"))

    def take(self, heard, now):
        answer = self.answers.pop(0) if self.answers else "Five words are said here."
        if answer == "stop":
            return Turn(heard, act="stop")
        return Turn(heard, answer, answer)


def run(talks, *stretches, mouth=None, key=None, **ears):
    mouth = mouth or Recorded()
    happened = list(listen(Script(*stretches), Ears(loud, **ears), talks, mouth, key))
    return happened, mouth


def test_two_turns_and_their_times():
    happened, mouth = run(
        Talks("One.", "Two."), (QUIET, 1), (SPEECH, 1), (QUIET, 3), (SPEECH, 1), (QUIET, 2)
    )
    first, second = happened
    assert [text for _, text, _ in mouth.log] == ["One.", "Two."]
    assert first.speech_ended == pytest.approx(2.0, abs=0.04)
    assert first.stages.pause == pytest.approx(0.6, abs=0.04)
    assert mouth.log[0][0] == pytest.approx(2.6, abs=0.05)
    assert second.speech_ended == pytest.approx(6.0, abs=0.04)


def test_the_last_words_of_a_recording_are_heard():
    happened, _ = run(Talks(), (QUIET, 1), (SPEECH, 1))
    assert len(happened) == 1


LONG = "word " * 40  # 14 s of speech


def test_speaking_cuts_an_answer_short_and_is_heard_from_its_beginning():
    talks = Talks(LONG, "Yes.")
    happened, _ = run(talks, (QUIET, 1), (SPEECH, 1), (QUIET, 3), (SPEECH, 1), (QUIET, 2))
    assert [type(h) for h in happened] == [Spoken, CutShort, Spoken]
    assert happened[1].at == pytest.approx(5.15, abs=0.1)
    utterance, _ = talks.heard[1]
    level = np.sqrt(np.square(utterance.samples.reshape(-1, BLOCK)).mean(axis=1))
    assert (level > 0.03).sum() * BLOCK_SECONDS == pytest.approx(1.0, abs=0.1)


def test_where_cutting_in_is_off_the_answer_is_said_to_its_end():
    talks = Talks(LONG)
    stretches = [(QUIET, 1), (SPEECH, 1), (QUIET, 3), (SPEECH, 1), (QUIET, 15), (SPEECH, 1)]
    happened, _ = run(talks, *stretches, (QUIET, 1), cut_in=False)
    assert [type(h) for h in happened] == [Spoken, Spoken]
    assert happened[1].speech_ended > 20


def test_a_cough_does_not_cut_an_answer_short():
    happened, mouth = run(
        Talks(LONG), (QUIET, 1), (SPEECH, 1), (QUIET, 3), (SPEECH, 0.1), (QUIET, 3)
    )
    assert [type(h) for h in happened] == [Spoken]
    assert mouth.speaking(8.0)


class Voice:
    """Sounds like speech to ``loud``."""

    def synthesise(self, text, pace=1.0):
        count = len(text.split()) * SAMPLE_RATE // 3
        # dull and uneven as a voice is: an echo of it is not learned at once
        noise = np.random.default_rng(1).standard_normal(count)
        dull = np.convolve(noise, np.ones(24) / 5, "same") * (
            0.2 + np.sin(np.arange(count) / 3000) ** 2
        )
        return (0.2 * dull).astype(np.float32), SAMPLE_RATE


class Room:
    """The script's sound, and through the air, a little later, what the mouth plays."""

    def __init__(self, mouth, *stretches, gain=0.5):
        self.mouth, self.script, self.gain = mouth, Script(*stretches), gain

    def blocks(self):
        for block in self.script.blocks():
            played = self.mouth.played(block.at - 0.15, BLOCK)
            if played is not None:
                block = Block(block.samples + self.gain * played, block.at)
            yield block


def test_it_does_not_answer_itself():
    mouth = Recorded(Voice())
    source = Room(mouth, (QUIET, 1), (SPEECH, 1), (QUIET, 20))
    happened = list(listen(source, Ears(loud), Talks(LONG), mouth))
    assert [type(h) for h in happened] == [Spoken]


def test_a_person_is_heard_over_its_own_voice():
    mouth = Recorded(Voice())
    talks = Talks(LONG, "Yes.")
    source = Room(mouth, (QUIET, 1), (SPEECH, 1), (QUIET, 6), (0.2, 1), (QUIET, 3))
    happened = list(listen(source, Ears(loud), talks, mouth))
    assert [type(h) for h in happened] == [Spoken, CutShort, Spoken]
    assert happened[1].at == pytest.approx(8.2, abs=0.2)


def test_troubles_are_told_by_voice_and_screen_and_it_goes_on():
    happened, mouth = run(
        Talks("One."),
        (None, 1),
        (QUIET, 5),
        (0.0, 10),
        (QUIET, 5),
        (SPEECH, 1),
        (QUIET, 2),
    )
    told = [(h.notice.kind, h.notice.mended) for h in happened if isinstance(h, Told)]
    assert told == [(MISSING, False), (MISSING, True), (MUTED, False), (MUTED, True)]
    assert isinstance(happened[-1], Spoken)
    assert [text for _, text, _ in mouth.log] == [
        h.notice.sentence for h in happened if isinstance(h, Told)
    ] + ["One."]


def test_clipping_is_told_before_the_answer():
    happened, _ = run(Talks("One.", "Two."), (QUIET, 1), (2.0, 1), (QUIET, 3), (2.0, 1), (QUIET, 2))
    kinds = [h.notice.kind if isinstance(h, Told) else type(h) for h in happened]
    assert kinds == [Spoken, CLIPPING, Spoken] or kinds == [Spoken, CutShort, CLIPPING, Spoken]


def test_stop_silences_the_mouth():
    _, mouth = run(
        Talks(LONG, "stop"), (QUIET, 1), (SPEECH, 1), (QUIET, 3), (SPEECH, 1), (QUIET, 2)
    )
    assert not mouth.speaking(7.0)


class Pedal:
    """Down between two times of the source, as the blocks go by."""

    def __init__(self, *times):
        self.times, self.count, self.was = times, 0, False
        self.presses = 0

    def held(self):
        self.count += 1
        at = self.count * BLOCK_SECONDS
        down = any(first <= at <= last for first, last in self.times)
        self.presses += down and not self.was
        self.was = down
        return down

    def pressed(self):
        presses, self.presses = self.presses, 0
        return presses > 0


def test_by_key_only_what_is_said_while_it_is_held_is_heard():
    talks = Talks()
    talks.way = KEY
    stretches = [(QUIET, 1), (SPEECH, 1), (QUIET, 2), (SPEECH, 1), (QUIET, 2)]
    happened, _ = run(talks, *stretches, key=Pedal((3.8, 5.2)))
    (turn,) = happened
    assert turn.utterance.seconds == pytest.approx(1.9, abs=0.3)


def test_by_key_other_peoples_talk_does_not_cut_an_answer_short():
    talks = Talks(LONG)
    talks.way = KEY
    stretches = [(QUIET, 1), (SPEECH, 1), (QUIET, 2), (SPEECH, 3), (QUIET, 1)]
    happened, mouth = run(talks, *stretches, key=Pedal((0.9, 2.2)))
    assert [type(h) for h in happened] == [Spoken] and mouth.speaking(8.0)


def test_the_key_cuts_an_answer_short():
    talks = Talks(LONG)
    talks.way = KEY
    happened, mouth = run(
        talks, (QUIET, 1), (SPEECH, 1), (QUIET, 8), key=Pedal((0.9, 2.2), (5.0, 5.2))
    )
    assert any(isinstance(h, CutShort) and h.at == pytest.approx(5.0, abs=0.1) for h in happened)
    assert not mouth.speaking(6.0)


def test_another_programs_voice_is_not_listened_to():
    class Announcer(Recorded):
        def another_speaks(self, now):
            return 1.0 <= now <= 3.0

    talks = Talks()
    run(talks, (QUIET, 1), (SPEECH, 2), (QUIET, 2), (SPEECH, 1), (QUIET, 1), mouth=Announcer())
    ((_, now),) = talks.heard
    assert now > 5.5


def test_a_lost_microphone_drops_what_was_begun():
    talks = Talks()
    run(talks, (QUIET, 1), (SPEECH, 0.5), (None, 1), (QUIET, 3))
    assert talks.heard == []


def test_pace_and_loudness_reach_the_mouth(bench):
    said = []

    class Mouth(Recorded):
        def say(self, text, now, pace=1.0, loudness_db=0.0):
            said.append((pace, loudness_db))

    conversation = Conversation(bench)
    conversation.set_voice(0.8, 4.0)
    conversation.hear = lambda utterance, now: conversation.read("how thick is the bond line", now)
    run(conversation, (QUIET, 1), (SPEECH, 1), (QUIET, 2), mouth=Mouth())
    assert said == [(0.8, 4.0)]


def test_the_pause_is_the_endpointers():
    from assistant.listening.ends import EndSettings

    happened, _ = run(
        Talks(), (QUIET, 1), (SPEECH, 1), (QUIET, 3), ends=Endpointer(EndSettings(pause=1.2))
    )
    assert happened[0].stages.pause == pytest.approx(1.2, abs=0.04)


def test_lost_cycles_are_looked_for_when_the_answer_has_been_said(monkeypatch):
    """Never between an utterance and its answer, nor while the answer is playing."""
    searched, now = [], [0.0]
    mouth, talks = Recorded(), Talks(LONG, "Yes.")
    stretches = [(QUIET, 1), (SPEECH, 1), (QUIET, 20), (SPEECH, 1), (QUIET, 3)]

    def due():
        searched.append((now[0], mouth.speaking(now[0]), len(talks.heard)))
        return True

    monkeypatch.setattr("assistant.hearing.lost_cycles.search_if_due", due)

    class Clocked(Script):
        def blocks(self):
            for block in super().blocks():
                now[0] = block.at
                yield block

    happened = list(listen(Clocked(*stretches), Ears(loud), talks, mouth))
    assert [type(h) for h in happened] == [Spoken, Spoken]
    assert searched and not any(speaking for _, speaking, _ in searched)
    first, second = (said_at for said_at, _, _ in mouth.log)
    assert any(first < at < second and heard == 1 for at, _, heard in searched)
    assert any(at > second for at, _, _ in searched)


def test_warming_up_goes_on_while_nobody_speaks():
    """A step at a block, none while somebody speaks or an answer is said: the sound that comes
    meanwhile would wait."""
    mouth, at = Recorded(), []

    class Blocks(Script):
        def blocks(self):
            for block in super().blocks():
                self.now = block.at
                yield block

    source = Blocks((QUIET, 1), (SPEECH, 1), (QUIET, 8))

    def steps():
        while True:
            at.append(source.now)
            yield

    list(listen(source, Ears(loud), Talks("word " * 8), mouth, warming=steps()))
    said = mouth.log[0][0]
    assert at[0] == pytest.approx(BLOCK_SECONDS) and at[-1] == pytest.approx(10, abs=0.05)
    assert not [time for time in at if 1.2 < time < 2.5 or said < time < said + 2]
    assert len(at) > 1 / BLOCK_SECONDS


def test_warming_up_ends_once():
    steps = iter([1, 2, 3])
    list(listen(Script((QUIET, 1)), Ears(loud), Talks(), Recorded(), warming=steps))
    assert next(steps, None) is None
