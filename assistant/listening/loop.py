"""The live loop, in one function.

    for happening in listen(source, ears, conversation, mouth): show(happening)

Everything that happens is yielded for the screen and the log; what is to be said goes to
the mouth. All times are the source's, so a recording runs the same at any speed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from assistant.exchange import Utterance
from assistant.hearing import lost_cycles
from assistant.listening.activity import Activity
from assistant.listening.conversation import KEY, Conversation, Turn
from assistant.listening.echo import EchoCanceller
from assistant.listening.ends import Begun, Ended, Endpointer
from assistant.listening.mouth import Mouth
from assistant.listening.sources import BLOCK, Block, Lost, Source
from assistant.listening.trouble import Notice, SoundWatch

CUT_IN_BLOCKS = 5
"""Blocks in a row that must hold a person's speech before an answer is cut short: 0.16 s."""
CUT_IN_PROBABILITY = 0.6


class Key(Protocol):
    """A key or pedal."""

    def held(self) -> bool:
        """Whether the utterance is being marked (held down, or toggled on)."""

    def pressed(self) -> bool:
        """Whether it was pressed since the last call."""


class NoKey:
    """No key is used."""

    def held(self) -> bool:
        return False

    def pressed(self) -> bool:
        return False


@dataclass(frozen=True)
class Stages:
    """Seconds that each stage took after the end of speech: ``pause`` on the source's clock
    (it waits whether more is said), the others as they were worked off here."""

    pause: float
    hearing: float
    answering: float
    voice: float

    @property
    def after_pause(self) -> float:
        return self.hearing + self.answering + self.voice


@dataclass(frozen=True, eq=False)
class Spoken:
    """Somebody spoke, and this came of it."""

    turn: Turn
    utterance: Utterance
    speech_ended: float
    stages: Stages


@dataclass(frozen=True)
class CutShort:
    """The program was interrupted while it spoke."""

    at: float


@dataclass(frozen=True)
class Told:
    """Trouble with the sound, or its end."""

    notice: Notice
    at: float


Happening = Spoken | CutShort | Told


@dataclass
class Ears:
    """What listens: one for each source."""

    activity: Activity
    ends: Endpointer = field(default_factory=Endpointer)
    watch: SoundWatch = field(default_factory=SoundWatch)
    echo: EchoCanceller = field(default_factory=EchoCanceller)
    cut_in: bool = True
    """Whether speech may cut an answer short; otherwise it is not heard until the end."""


def listen(
    source: Source,
    ears: Ears,
    conversation: Conversation,
    mouth: Mouth,
    key: Key | None = None,
    clock: Callable[[], float] = time.perf_counter,
    warming: Iterator[object] | None = None,
) -> Iterator[Happening]:
    """Listen until the source ends. A trouble with it is told, never raised.

    clock: seconds, for ``Stages``; nothing else looks at it.
    warming: what makes the first question quick and need not be waited for: a step is taken at each
        block of sound while nobody speaks.
    """
    key = key or NoKey()
    state = _State(ears, conversation, mouth, clock)
    for block in source.blocks():
        if isinstance(block, Lost):
            ears.ends.reset()
            yield from state.tell(ears.watch.lost(block), block.at)
            continue
        alone = not (mouth.speaking(block.at) or mouth.another_speaks(block.at))
        yield from state.tell(ears.watch.block(block, alone), block.at)
        if key.pressed() and mouth.speaking(block.at):
            mouth.stop()
            yield CutShort(block.at)
        yield from state.take(block, key.held())
        if not mouth.speaking(block.at):  # the answer is out, and what plays it must not wait
            lost_cycles.search_if_due()
            if warming is not None and not ears.ends.speaking:
                next(warming, None)
    last = ears.ends.finish(state.now)
    if isinstance(last, Ended):
        yield from state.answer(last)


class _State:
    def __init__(
        self, ears: Ears, conversation: Conversation, mouth: Mouth, clock: Callable[[], float]
    ):
        self.ears, self.conversation, self.mouth = ears, conversation, mouth
        self._clock = clock
        self.now = 0.0
        self._cutting = 0
        self._was_held = False

    def tell(self, notices: list[Notice], at: float) -> Iterator[Told]:
        for notice in notices:
            yield Told(notice, at)
            self._say(notice.sentence, at)

    def take(self, block: Block, held: bool) -> Iterator[Happening]:
        self.now = block.at
        if self.mouth.another_speaks(block.at) and not held:
            self.ears.ends.reset()
            return
        speaking = self.mouth.speaking(block.at)
        samples = self._without_echo(block, speaking)
        probability = self.ears.activity(samples)
        if speaking and not held:
            if not self._cuts_in(probability):
                self.ears.ends.wait_on(samples)
                return
            self.mouth.stop()
            yield CutShort(block.at)
        by_key = held or self._was_held
        self._was_held = held
        if self.conversation.way == KEY and not by_key:
            self.ears.ends.wait_on(samples)
            return
        event = self.ears.ends.push(Block(samples, block.at), probability, held)
        if isinstance(event, Begun) and self.mouth.speaking(block.at):
            self.mouth.stop()
            yield CutShort(block.at)
        if isinstance(event, Ended):
            yield from self.answer(event)

    def _without_echo(self, block: Block, speaking: bool) -> np.ndarray:
        played = self.mouth.played(block.at, BLOCK) if speaking else None
        if played is None and not self.ears.echo.is_playing:
            return block.samples
        nothing = np.zeros(BLOCK, np.float32)
        return self.ears.echo.take(block.samples, nothing if played is None else played)

    def _cuts_in(self, probability: float) -> bool:
        """Whether a person has been speaking into the answer for long enough."""
        person = (
            self.ears.cut_in
            and self.conversation.way != KEY  # there the key cuts in
            and probability >= CUT_IN_PROBABILITY
            and self.ears.echo.hears_person(self.ears.watch.noise_power)
        )
        self._cutting = self._cutting + 1 if person else 0
        if self._cutting < CUT_IN_BLOCKS:
            return False
        self._cutting = 0
        return True

    def answer(self, ended: Ended) -> Iterator[Happening]:
        """One turn, from an utterance to what is said."""
        notices = self.ears.watch.utterance(ended.utterance)
        yield from (Told(notice, ended.at) for notice in notices)
        begun = self._clock()
        heard = self.conversation.hear(ended.utterance, ended.at)
        after_hearing = self._clock()
        turn = self.conversation.take(heard, ended.at)
        answered = self._clock()
        if turn.act == "stop":
            self.mouth.stop()
        self._say(" ".join([*(notice.sentence for notice in notices), turn.spoken]), ended.at)
        voiced = self._clock()
        stages = Stages(
            ended.at - ended.speech_ended,
            after_hearing - begun,
            answered - after_hearing,
            voiced - answered,
        )
        yield Spoken(turn, ended.utterance, ended.speech_ended, stages)

    def _say(self, text: str, at: float) -> None:
        if text.strip():
            talk = self.conversation.talk
            self.mouth.say(text, at, talk.pace, talk.loudness_db)
