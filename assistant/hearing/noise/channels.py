"""What a microphone and a line do to sound: bands, coarse steps, clipping."""

from __future__ import annotations

import numpy as np
import soxr

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.noise.levels import rms

TELEPHONE_HZ = (300.0, 3400.0)
"""The band of a telephone line (ITU-T G.712, from memory)."""
TELEPHONE_RATE = 8_000
MU = 255.0
"""Constant of the mu law (ITU-T G.711, from memory)."""
MU_STEPS = 256
LINE_PEAK = 0.5
"""A call is levelled so that its peak is here before it is cut into steps: 6 dB of room."""

CHEAP_LOW_HZ, CHEAP_HIGH_HZ = (100.0, 300.0), (4_500.0, 7_000.0)
"""Where an electret capsule behind a small hole begins and ends to hear."""
CHEAP_RESONANCE_HZ, CHEAP_RESONANCE_DB = (2_500.0, 4_500.0), (3.0, 9.0)
"""The hole and the room behind it whistle, as a bottle does."""
CHEAP_RESONANCE_Q = 3.0
CHEAP_SELF_NOISE_DB = (30.0, 42.0)
"""Decibels of the capsule's and amplifier's own hiss below the sound's mean."""


def band_limit(
    samples: np.ndarray,
    low_hz: float,
    high_hz: float,
    sample_rate: int = SAMPLE_RATE,
    order: int = 4,
) -> np.ndarray:
    """Only what lies between ``low_hz`` and ``high_hz``, as a narrow microphone hears it.

    Butterworth magnitude of the given order at each edge (3 dB down at the edge, 6 dB an
    octave for each order beyond), without phase shift. ``low_hz`` 0 leaves the low end be.
    """
    if not 0 <= low_hz < high_hz:
        raise ValueError(
            f"the band must run from a lower to a higher frequency, not {low_hz} to {high_hz} Hz"
        )
    frequency = np.fft.rfftfreq(len(samples), 1.0 / sample_rate)
    gain = 1.0 / np.sqrt(1.0 + (frequency / high_hz) ** (2 * order))
    if low_hz > 0:
        ratio = np.divide(
            low_hz, frequency, out=np.full_like(frequency, np.inf), where=frequency > 0
        )
        gain /= np.sqrt(1.0 + ratio ** (2 * order))
    return np.fft.irfft(np.fft.rfft(samples) * gain, len(samples))


def clip(samples: np.ndarray, over_db: float) -> np.ndarray:
    """Hard clipping of a recording driven ``over_db`` decibels too hot.

    The loudest peak stands ``over_db`` over the limit it is cut at; the level before
    clipping is kept. 0 or less clips nothing.
    """
    if len(samples) == 0 or over_db <= 0:
        return np.array(samples, dtype=np.float64)
    limit = float(np.max(np.abs(samples))) * 10.0 ** (-over_db / 20.0)
    return np.clip(np.asarray(samples, dtype=np.float64), -limit, limit)


def telephone(samples: np.ndarray, sample_rate: int = SAMPLE_RATE) -> np.ndarray:
    """As over a telephone: 300 to 3,400 Hz, 8,000 samples a second in 256 steps of the mu law.

    Same length and level as given.
    """
    if len(samples) == 0:
        return np.zeros(0)
    narrow = band_limit(samples, *TELEPHONE_HZ, sample_rate)
    line = soxr.resample(narrow, sample_rate, TELEPHONE_RATE, quality="HQ")
    peak = float(np.max(np.abs(line))) if len(line) else 0.0
    if peak > 0:
        line = mu_law(line * (LINE_PEAK / peak)) * (peak / LINE_PEAK)
    wide = soxr.resample(line, TELEPHONE_RATE, sample_rate, quality="HQ")
    return np.resize(np.pad(wide, (0, max(0, len(samples) - len(wide)))), len(samples))


def mu_law(samples: np.ndarray) -> np.ndarray:
    """Samples in -1..1 rounded to the 256 steps of the mu law, which are finer when quiet."""
    pressed = np.sign(samples) * np.log1p(MU * np.minimum(np.abs(samples), 1.0)) / np.log1p(MU)
    half = MU_STEPS / 2
    stepped = (np.clip(np.floor(pressed * half), -half, half - 1) + 0.5) / half
    return np.sign(stepped) * np.expm1(np.abs(stepped) * np.log1p(MU)) / MU


def cheap_microphone(
    samples: np.ndarray, rng: np.random.Generator, sample_rate: int = SAMPLE_RATE
) -> np.ndarray:
    """As a cheap capsule hears it: a narrow band with a resonance, and a hiss of its own."""
    low, high = rng.uniform(*CHEAP_LOW_HZ), rng.uniform(*CHEAP_HIGH_HZ)
    centre, gain_db = rng.uniform(*CHEAP_RESONANCE_HZ), rng.uniform(*CHEAP_RESONANCE_DB)
    hiss_db = rng.uniform(*CHEAP_SELF_NOISE_DB)
    if len(samples) == 0:
        return np.zeros(0)
    limited = band_limit(samples, low, high, sample_rate, order=2)
    frequency = np.fft.rfftfreq(len(limited), 1.0 / sample_rate)
    off = CHEAP_RESONANCE_Q * (frequency / centre - centre / np.maximum(frequency, 1.0))
    peak = 1.0 + (10.0 ** (gain_db / 20.0) - 1.0) / (1.0 + off**2)
    heard = np.fft.irfft(np.fft.rfft(limited) * peak, len(limited))
    hiss = rng.standard_normal(len(heard)) * rms(heard) * 10.0 ** (-hiss_db / 20.0)
    return heard + hiss
