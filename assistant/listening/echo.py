"""What the program plays, taken out of what it hears, so that it does not hear itself.

The program knows what it plays. An adaptive filter learns how that arrives at the microphone
and subtracts it: the partitioned block frequency domain filter (Soo and Pang 1990, from
memory), normalised step. What is left over while somebody speaks into the answer is loud
against what was subtracted; that is what lets a person cut in.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from assistant.listening.sources import BLOCK, BLOCK_SECONDS

PARTITIONS = 16
"""Blocks of memory: 0.51 s for the device's delay and the room's first echoes."""
STEP = 0.8
"""Share of the error that one block's update removes; below 1 for stability."""
SMOOTHING = 0.8
"""Of powers from block to block: about five blocks."""
MEMORY_OF_LEVEL = 0.999
"""From block to block, of the usual level of what is played: about half a minute."""
FLOOR_SHARE = 0.03
"""Added to a frequency's energy, as a share of the usual one: without it the filter would
learn noise, loudly, where the voice has no energy. Set by trial on a simulated room."""
PAUSE_SHARE = 0.03
TINY = 1e-9
"""Mean power of -90 dB of full scale: nothing is played."""

LEARNED_DB = 8.0
"""The filter counts as learned once it takes this much away."""
RUNAWAY_DB = -1.0
"""A filter that makes things louder has lost its way and begins anew."""
FREEZE_DB = 3.0
"""A learned filter that takes away less is hearing a person: it must not learn from that."""
PERSON_DB = -6.0
"""What is left over, against what was subtracted: above this a person is speaking."""
FAINT_ECHO = 4.0
"""An echo that stays under this many times the noise needs no subtracting (6 dB)."""
FAINT_BLOCKS = 60


class EchoCanceller:
    """One microphone and one mouth. ``take`` once for each block, in order."""

    def __init__(self) -> None:
        bins = BLOCK + 1
        self._weights = np.zeros((PARTITIONS, bins), complex)
        self._history = np.zeros((PARTITIONS, bins), complex)
        self._reference = np.zeros(BLOCK)
        self._usual = 0.0
        self._in = self._out = self._guess = 0.0
        self._levels: deque[float] = deque(maxlen=FAINT_BLOCKS)
        self.learned = False

    def take(self, samples: np.ndarray, played: np.ndarray) -> np.ndarray:
        """``samples`` of the microphone without the echo of ``played``; a block each."""
        spectrum = np.fft.rfft(np.concatenate((self._reference, played)))
        self._reference = played
        self._history = np.roll(self._history, 1, axis=0)
        self._history[0] = spectrum
        guess = np.fft.irfft((self._weights * self._history).sum(axis=0))[BLOCK:]
        left = samples - guess
        self._measure(samples, left, guess)
        if self.is_playing and self.gain_db < RUNAWAY_DB:
            self._weights[:] = 0.0
            left, self._out, self._guess = samples, self._in, 0.0
        if self.is_playing:
            self._learn(left)
        return left.astype(np.float32)

    @property
    def is_playing(self) -> bool:
        """Whether anything was played within the filter's memory."""
        return float(np.square(np.abs(self._history)).mean()) > TINY * BLOCK

    def hears_person(self, noise_power: float) -> bool:
        """Whether what is left over is more than an echo: somebody speaks into the answer.

        noise_power: mean power of the microphone when nobody speaks. False while the filter
        is still learning an echo that is plainly there: better deaf for a second than
        answering oneself.
        """
        if not self.is_playing:
            return True
        if self.learned:
            return self._out > self._guess * 10 ** (PERSON_DB / 10)
        quiet_share = np.quantile(self._levels, 0.3) if self._levels else np.inf
        faint = len(self._levels) >= FAINT_BLOCKS // 2 and quiet_share < FAINT_ECHO * noise_power
        return bool(faint) and self._out > FAINT_ECHO * noise_power

    @property
    def gain_db(self) -> float:
        """How much the filter takes away at present."""
        return 10 * float(np.log10((self._in + TINY) / (self._out + TINY)))

    def _measure(self, samples: np.ndarray, left: np.ndarray, guess: np.ndarray) -> None:
        def smooth(before: float, block: np.ndarray) -> float:
            return SMOOTHING * before + (1 - SMOOTHING) * float(np.square(block).mean())

        self._in = smooth(self._in, samples)
        self._out = smooth(self._out, left)
        self._guess = smooth(self._guess, guess)
        if self.is_playing:
            self._levels.append(float(np.square(samples).mean()))
            self.learned = self.learned or (self.gain_db > LEARNED_DB and self._guess > TINY)

    def _learn(self, left: np.ndarray) -> None:
        if self.learned and self.gain_db < FREEZE_DB:
            return
        energy = np.square(np.abs(self._history)).sum(axis=0)
        self._usual = max(MEMORY_OF_LEVEL * self._usual, float(energy.mean()))
        if energy.mean() < PAUSE_SHARE * self._usual:
            return  # between words there is nothing to learn from but noise
        error = np.fft.rfft(np.concatenate((np.zeros(BLOCK), left)))
        update = np.conj(self._history) * error / (energy + FLOOR_SHARE * self._usual)
        taps = np.fft.irfft(update, axis=1)
        taps[:, BLOCK:] = 0.0  # a filter, not a circle
        self._weights += STEP * np.fft.rfft(taps, axis=1)


MEMORY_SECONDS = PARTITIONS * BLOCK_SECONDS
