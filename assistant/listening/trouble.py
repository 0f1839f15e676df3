"""Trouble with the sound coming in: told once, with what to do, and taken back when mended.

Blocks and utterances in, notices out; no clock, no sound device.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from assistant.exchange import Utterance
from assistant.hearing.loudness import clipped_share, estimated_snr
from assistant.listening.sources import BLOCK_SECONDS, Block, Lost

MISSING, MUTED, CLIPPING, NOISY = "missing", "muted", "clipping", "noisy"

MUTED_POWER = 1e-9
"""Mean power of -90 dB of full scale: a switched-off microphone or a muted channel gives
less, a working one in the quietest room gives more (16-bit steps alone make -98 dB)."""
MUTED_SECONDS = 4.0
LOUD_FLOOR = 10 ** (-24 / 10)
"""Noise at -24 dB of full scale leaves no room for speech above it before clipping."""
LOUD_SECONDS = 6.0
CLIPPED_SHARE = 0.005
"""More of an utterance at full scale than this costs words. Our own choice."""
CLIPPED_IN_A_ROW = 2
NOISY_DB = 4.0
"""Estimated ratio under which a third of the questions would have to be asked again."""
CLEAR_DB = 8.0
"""Above this the noise counts as gone; apart from NOISY_DB so that it does not flutter."""
NOISY_IN_A_ROW = 2

WORDS = {
    MUTED: "The microphone is silent: unmute it, or check its switch and its plug.",
    CLIPPING: "You are too loud for the microphone: step back from it, or turn its gain down.",
    NOISY: "It is too noisy to hear numbers safely: come closer to the microphone, or wait "
    "for the noise to stop.",
}
MENDED = {
    MISSING: "The microphone is back.",
    MUTED: "The microphone works again.",
    CLIPPING: "The level is good again.",
    NOISY: "I can hear you again.",
}


@dataclass(frozen=True)
class Notice:
    """Something to tell once. ``mended``: the trouble is over."""

    kind: str
    sentence: str
    mended: bool = False


class SoundWatch:
    """Watches one source. Each trouble is told once, until it is over."""

    def __init__(self) -> None:
        self._present: set[str] = set()
        self._quiet = self._loud = 0.0
        self._clipped = self._noisy = 0
        self._floor: deque[float] = deque(maxlen=round(LOUD_SECONDS / BLOCK_SECONDS))

    @property
    def present(self) -> frozenset[str]:
        """The troubles there are now."""
        return frozenset(self._present)

    @property
    def noise_power(self) -> float:
        """Mean power of the noise: the quietest tenth of the last seconds."""
        return float(np.quantile(self._floor, 0.1)) if self._floor else 0.0

    def lost(self, lost: Lost) -> list[Notice]:
        """The source gives nothing."""
        return self._tell(MISSING, _sentence(lost.reason))

    def block(self, block: Block, alone: bool = True) -> list[Notice]:
        """A block has come in. ``alone``: the program itself is silent, so that its voice does
        not count as noise."""
        found = self._mended(MISSING)
        power = float(np.square(block.samples, dtype=np.float64).mean())
        if not alone:
            return found
        self._floor.append(power)
        self._quiet = self._quiet + BLOCK_SECONDS if power < MUTED_POWER else 0.0
        if self._quiet >= MUTED_SECONDS:
            found += self._tell(MUTED)
        elif self._quiet == 0.0:
            found += self._mended(MUTED)
        full = len(self._floor) == self._floor.maxlen
        if full and self.noise_power > LOUD_FLOOR:
            found += self._tell(NOISY)
        elif full and self._noisy == 0:
            found += self._mended(NOISY) if self.noise_power < LOUD_FLOOR / 4 else []
        return found

    def utterance(self, utterance: Utterance) -> list[Notice]:
        """Speech has been taken down."""
        found = []
        clipped = clipped_share(utterance.samples) > CLIPPED_SHARE
        self._clipped = self._clipped + 1 if clipped else 0
        if self._clipped >= CLIPPED_IN_A_ROW:
            found += self._tell(CLIPPING)
        elif not clipped:
            found += self._mended(CLIPPING)
        ratio = estimated_snr(utterance.samples)
        if ratio < NOISY_DB:
            self._noisy += 1
            if self._noisy >= NOISY_IN_A_ROW:
                found += self._tell(NOISY)
        elif ratio > CLEAR_DB:
            self._noisy = 0
            found += self._mended(NOISY)
        return found

    def _tell(self, kind: str, sentence: str | None = None) -> list[Notice]:
        if kind in self._present:
            return []
        self._present.add(kind)
        return [Notice(kind, sentence or WORDS[kind])]

    def _mended(self, kind: str) -> list[Notice]:
        if kind not in self._present:
            return []
        self._present.remove(kind)
        return [Notice(kind, MENDED[kind], mended=True)]


def _sentence(line: str) -> str:
    return f"{line[:1].upper()}{line[1:]}."
