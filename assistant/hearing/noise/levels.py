"""Levels of speech and noise, and mixing the two at a ratio."""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE

LEVEL_WINDOW = 0.128
"""Seconds over which the speech level is taken: about a stressed syllable, so pauses and
the silence around a sentence do not lower the figure. Our choice, no source."""

LEVEL_HOP = 0.008
"""Seconds between the starts of two such windows."""

SILENCE_RMS = 1e-6
"""Full scale is 1: a signal whose loudest window is under this (-120 dB) is silent."""


def rms(samples: np.ndarray) -> float:
    """Root of the mean square; 0 for an empty array."""
    if len(samples) == 0:
        return 0.0
    return float(np.sqrt(np.mean(np.square(samples, dtype=np.float64))))


def speech_level(samples: np.ndarray, sample_rate: int = SAMPLE_RATE) -> float:
    """RMS of the loudest LEVEL_WINDOW (128 ms) of ``samples``, full scale = 1.

    A signal shorter than one window is taken as a whole.
    """
    window = round(LEVEL_WINDOW * sample_rate)
    if len(samples) <= window:
        return rms(samples)
    hop = max(1, round(LEVEL_HOP * sample_rate))
    power = np.concatenate(([0.0], np.cumsum(np.square(samples, dtype=np.float64))))
    starts = np.arange(0, len(samples) - window + 1, hop)
    # the running sum can end a hair below where it began
    loudest = max(0.0, float(np.max(power[starts + window] - power[starts])))
    return float(np.sqrt(loudest / window))


def mix(
    samples: np.ndarray,
    noise: np.ndarray,
    snr_db: float,
    sample_rate: int = SAMPLE_RATE,
) -> np.ndarray:
    """``samples`` with ``noise`` added at a signal-to-noise ratio of ``snr_db`` decibels.

    The signal's level is the RMS of its loudest 128 ms window (speech_level), the
    noise's level its RMS over the stretch used. Measured over the whole file instead,
    the same mixture would read a few dB worse, the more so the longer its pauses.

    The speech itself is not rescaled, and the sum may pass full scale: scale or clip
    afterwards. A longer noise is cut, a shorter one repeated.
    Raises ValueError for silent speech or silent noise, which have no ratio.
    """
    if len(noise) == 0:
        raise ValueError("the noise is empty")
    stretch = np.resize(np.asarray(noise, dtype=np.float64), len(samples))
    level, noise_level = speech_level(samples, sample_rate), rms(stretch)
    if level < SILENCE_RMS:
        raise ValueError("the speech is silent: there is no level to set the noise against")
    if noise_level < SILENCE_RMS:
        raise ValueError("the noise is silent: it cannot be brought to a level")
    gain = level / noise_level * 10.0 ** (-snr_db / 20.0)
    return np.asarray(samples, dtype=np.float64) + gain * stretch


ACTIVE_FRAME = 0.020
"""Seconds of the frames over which activity is judged."""
ACTIVE_RANGE_DB = 35.0
"""Frames within this of the loudest count as speech; pauses and silence do not."""


def active_level(samples: np.ndarray, sample_rate: int = SAMPLE_RATE) -> float:
    """RMS of the frames that hold speech, after the idea of ITU-T P.56 (from memory).

    A few dB below ``speech_level``, which takes the loudest stretch alone: at the same
    figure of decibels, noise set against this level is that much weaker.
    """
    frame = round(ACTIVE_FRAME * sample_rate)
    count = len(samples) // frame
    if count == 0:
        return rms(samples)
    power = np.square(samples[: count * frame], dtype=np.float64).reshape(count, frame).mean(axis=1)
    speech = power >= power.max() * 10 ** (-ACTIVE_RANGE_DB / 10)
    return float(np.sqrt(power[speech].mean()))


def add_at_active_level(samples: np.ndarray, noise: np.ndarray, snr_db: float) -> np.ndarray:
    """``samples`` with ``noise`` at ``snr_db`` under their active level, as float32."""
    level, noise_level = active_level(samples), rms(noise)
    if level < SILENCE_RMS or noise_level < SILENCE_RMS:
        raise ValueError("silent speech or silent noise has no ratio")
    gain = level / noise_level * 10.0 ** (-snr_db / 20.0)
    return (samples + gain * np.resize(noise, len(samples))).astype(np.float32)
