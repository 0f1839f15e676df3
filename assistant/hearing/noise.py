"""Noise and room effects to put on clean speech, for measuring and for tests.

Pure functions on mono float arrays. Whatever is random takes a
``numpy.random.Generator``, so that the same seed gives the same sound. Filters work on
the whole signal at once by FFT: this is for files, not for streams.
"""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE

LEVEL_WINDOW = 0.128
"""Seconds over which the speech level is taken: about a stressed syllable, so pauses and
the silence around a sentence do not lower the figure. Our choice, no source."""

LEVEL_HOP = 0.008
"""Seconds between the starts of two such windows."""

LOWEST_SHAPED_HZ = 20.0
"""Below this the 1/f spectra are held flat: a lower limit of hearing (common practice, no
source), which also keeps the power of a long piece from sitting in inaudible rumble."""

SILENCE_RMS = 1e-6
"""Full scale is 1: a signal whose loudest window is under this (-120 dB) is silent."""

DECAY_60_DB = 3.0 * np.log(10.0)
"""An amplitude e**(-DECAY_60_DB * t / RT60) has fallen by 60 dB at t = RT60:
20*log10(e**-x) = -60 gives x = 3 ln 10. RT60 as in ISO 3382 (from memory)."""


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


def with_pink(samples: np.ndarray, snr_db: float, rng: np.random.Generator) -> np.ndarray:
    """``samples`` (at SAMPLE_RATE) in pink noise at ``snr_db``; see mix for the level."""
    return mix(samples, pink(len(samples), rng), snr_db)


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
