"""Where speech begins and ends: block probabilities in, utterances out.

No sound and no clock of its own. Speech has begun when enough of the last blocks hold
speech, and has ended after a pause; what is handed on has some of the sound before it and
the pause behind it, from which the noise is estimated. While a key is held, the key says
where the utterance begins and ends instead.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.listening.sources import BLOCK_SECONDS, Block


@dataclass(frozen=True)
class EndSettings:
    """Probabilities are the voice activity model's. Our own choices, tried on the spoken
    dialogues of ``audio_fixtures``; the pause is the shop's to set.

    start, stay: a block this probable begins speech, or goes on with it.
    start_blocks: blocks that must be probable of the last START_WINDOW.
    pause: seconds without speech that end an utterance.
    before: seconds of sound handed on from before the beginning.
    shortest: seconds of speech below which it was a click or a cough.
    longest: seconds after which an utterance is cut.
    """

    start: float = 0.5
    stay: float = 0.35
    start_blocks: int = 3
    pause: float = 0.6
    before: float = 0.4
    shortest: float = 0.2
    longest: float = 20.0


START_WINDOW = 5


@dataclass(frozen=True, eq=False)
class Begun:
    """Somebody has begun to speak; ``at`` in seconds of the stream."""

    at: float


@dataclass(frozen=True, eq=False)
class Ended:
    """Somebody has spoken. ``speech_ended``: time of the last block that held speech;
    ``at``: when that was known, a pause later."""

    utterance: Utterance
    speech_ended: float
    at: float


@dataclass(frozen=True)
class TooShort:
    """It was no speech after all."""

    at: float


Event = Begun | Ended | TooShort


class Endpointer:
    """Blocks in, events out. ``push`` gives at most one event for each block."""

    def __init__(self, settings: EndSettings | None = None):
        self.settings = settings or EndSettings()
        keep = round(self.settings.before / BLOCK_SECONDS) + START_WINDOW
        self._before: deque[np.ndarray] = deque(maxlen=keep)
        self._recent: deque[bool] = deque(maxlen=START_WINDOW)
        self._blocks: list[np.ndarray] = []
        self._speech_blocks = 0
        self._begun_at = self._speech_at = 0.0
        self._held = self._spent = False

    @property
    def speaking(self) -> bool:
        """Whether an utterance is being taken down."""
        return bool(self._blocks)

    @property
    def spent(self) -> bool:
        """Whether the key is still down after the longest utterance: until it is let go,
        nothing is taken down."""
        return self._spent

    def reset(self) -> None:
        """Drop what was begun."""
        self._blocks = []
        self._before.clear()
        self._recent.clear()

    def wait_on(self, samples: np.ndarray) -> None:
        """Take sound that may be the beginning of speech but is not judged (yet): what comes
        before an utterance while the program itself speaks."""
        self._before.append(samples)

    def push(self, block: Block, probability: float, held: bool = False) -> Event | None:
        """Take one block. ``held``: a key is down that marks the utterance."""
        if self._spent:  # the key is still down after the longest utterance: wait for release
            self._spent = held
            return None
        if held or self._held:
            return self._push_held(block, probability, held)
        if not self._blocks:
            return self._wait(block, probability)
        self._blocks.append(block.samples)
        if probability >= self.settings.stay:
            self._speech_blocks += 1
            self._speech_at = block.at
        quiet = block.at - self._speech_at
        long = block.at - self._begun_at
        if quiet >= self.settings.pause or long >= self.settings.longest:
            return self._end(block.at)
        return None

    def _wait(self, block: Block, probability: float) -> Event | None:
        self._before.append(block.samples)
        self._recent.append(probability >= self.settings.start)
        if sum(self._recent) < self.settings.start_blocks:
            return None
        self._begin(block)
        self._speech_blocks = sum(self._recent)
        return Begun(block.at)

    def _begin(self, block: Block) -> None:
        self._blocks = list(self._before)
        self._before.clear()
        self._recent.clear()
        self._begun_at = self._speech_at = block.at

    def _push_held(self, block: Block, probability: float, held: bool) -> Event | None:
        """While the key is down all sound counts; its release ends the utterance."""
        if held and not self._held:
            self._held = True
            if not self._blocks:  # else it has begun already: the key only says where it ends
                self._before.append(block.samples)
                self._begin(block)
                self._speech_blocks = 0
                return Begun(block.at)
        self._blocks.append(block.samples)
        if probability >= self.settings.stay:
            self._speech_blocks += 1
            self._speech_at = block.at
        if held and block.at - self._begun_at < self.settings.longest:
            return None
        self._held, self._spent = False, held
        return self._end(block.at)

    def _end(self, at: float) -> Event:
        samples, self._blocks = np.concatenate(self._blocks), []
        if self._speech_blocks * BLOCK_SECONDS < self.settings.shortest:
            return TooShort(at)
        began = at - len(samples) / SAMPLE_RATE
        return Ended(Utterance(samples, started_at=began), self._speech_at, at)

    def finish(self, at: float) -> Event | None:
        """The source has ended: what was begun is whole."""
        return self._end(at) if self._blocks else None
