"""Coloured noise: white, pink, brown."""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.noise.levels import mix, rms

LOWEST_SHAPED_HZ = 20.0
"""Below this the 1/f spectra are held flat: a lower limit of hearing (common practice, no
source), which also keeps the power of a long piece from sitting in inaudible rumble."""


def coloured_noise(
    count: int,
    exponent: float,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
) -> np.ndarray:
    """``count`` samples of Gaussian noise with power density ~ 1/f**exponent, RMS 1.

    exponent: 0 white, 1 pink (-3.01 dB an octave), 2 brown (-6.02 dB an octave).
    Made by shaping the spectrum of white noise; flat below LOWEST_SHAPED_HZ, no DC.
    """
    if count < 0:
        raise ValueError(f"a noise of {count} samples cannot be made: give 0 or more")
    if count < 2:
        return np.zeros(count)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1.0 / sample_rate)
    spectrum *= np.maximum(frequency, LOWEST_SHAPED_HZ) ** (-exponent / 2.0)
    spectrum[0] = 0.0
    noise = np.fft.irfft(spectrum, count)
    return noise / rms(noise)


def white(count: int, rng: np.random.Generator, sample_rate: int = SAMPLE_RATE) -> np.ndarray:
    """White noise: equal power per hertz, RMS 1."""
    return coloured_noise(count, 0.0, rng, sample_rate)


def pink(count: int, rng: np.random.Generator, sample_rate: int = SAMPLE_RATE) -> np.ndarray:
    """Pink noise: equal power per octave (density 1/f), RMS 1."""
    return coloured_noise(count, 1.0, rng, sample_rate)


def brown(count: int, rng: np.random.Generator, sample_rate: int = SAMPLE_RATE) -> np.ndarray:
    """Brown noise: density 1/f**2, close to a compressor's or fan's rumble; RMS 1."""
    return coloured_noise(count, 2.0, rng, sample_rate)


def with_pink(samples: np.ndarray, snr_db: float, rng: np.random.Generator) -> np.ndarray:
    """``samples`` (at SAMPLE_RATE) in pink noise at ``snr_db``; see mix for the level."""
    return mix(samples, pink(len(samples), rng), snr_db)
