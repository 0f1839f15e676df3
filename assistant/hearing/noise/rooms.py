"""Rooms."""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE

DECAY_60_DB = 3.0 * np.log(10.0)
"""An amplitude e**(-DECAY_60_DB * t / RT60) has fallen by 60 dB at t = RT60:
20*log10(e**-x) = -60 gives x = 3 ln 10. RT60 as in ISO 3382 (from memory)."""


def echo(
    samples: np.ndarray,
    rt60: float,
    rng: np.random.Generator,
    direct_to_echo_db: float = 6.0,
    sample_rate: int = SAMPLE_RATE,
) -> np.ndarray:
    """``samples`` in a synthetic room: the direct sound plus a decaying noise tail.

    rt60: seconds until the tail has fallen by 60 dB; a garage is of the order of 0.5 to 2.
    direct_to_echo_db: energy of the direct sound over that of the whole tail.
    The result is longer by rt60, so that the tail is not cut off.
    """
    if not rt60 > 0:
        raise ValueError(f"RT60 must be more than 0 s, not {rt60}")
    tail_length = max(1, round(rt60 * sample_rate))
    time = np.arange(1, tail_length + 1) / sample_rate
    tail = rng.standard_normal(tail_length) * np.exp(-DECAY_60_DB * time / rt60)
    tail *= 10.0 ** (-direct_to_echo_db / 20.0) / np.sqrt(np.sum(tail**2))
    response = np.concatenate(([1.0], tail))
    total = len(samples) + tail_length
    return np.fft.irfft(np.fft.rfft(samples, total) * np.fft.rfft(response, total), total)
