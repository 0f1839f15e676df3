"""How loud, how noisy, how clipped a stretch of sound is: for trouble and for doubt."""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE

FRAME_SECONDS = 0.032
NOISE_SHARE = 0.12
"""The quietest eighth of the frames is taken for noise alone: an utterance comes with a
breath of silence before it and the pause that ended it."""
NOISE_BIAS_DB = 0.9
"""The mean of the quietest frames of steady noise lies this much below its mean power.
Measured on pink noise of 2 to 6 s in frames of 32 ms."""
SPEECH_OVER_NOISE_DB = 3.0
"""Frames this far above the noise count as speech."""
CLEANEST_DB, NOISIEST_DB = 40.0, -10.0
"""Estimates are held within this range: outside it the figure means nothing."""

FULL_SCALE = 0.985
"""From here on a sample counts as clipped; converters stop a little short of 1."""
SILENT_FLOOR = 1e-7
"""Mean power of -70 dB of full scale: no microphone that works is that quiet."""


def frame_powers(samples: np.ndarray) -> np.ndarray:
    """Mean power of each frame of FRAME_SECONDS; a rest too short for a frame is left out."""
    frame = round(FRAME_SECONDS * SAMPLE_RATE)
    count = len(samples) // frame
    if count == 0:
        return np.zeros(0)
    cut = np.asarray(samples[: count * frame], dtype=np.float64).reshape(count, frame)
    return np.square(cut - cut.mean(axis=1, keepdims=True)).mean(axis=1)


def estimated_snr(samples: np.ndarray) -> float:
    """Signal-to-noise ratio of an utterance in decibels, from its own pauses.

    The noise is what the quietest frames hold, the speech the mean power of the frames that
    rise above it, less the noise. NOISIEST_DB to CLEANEST_DB; reads low for an utterance
    without any pause, and knows nothing of noise that comes with the words.
    """
    power = np.sort(frame_powers(samples))
    if len(power) < 4:
        return CLEANEST_DB
    quiet = power[: max(2, int(NOISE_SHARE * len(power)))]
    floor = max(float(quiet.mean()) * 10 ** (NOISE_BIAS_DB / 10), SILENT_FLOOR)
    loud = power[power > floor * 10 ** (SPEECH_OVER_NOISE_DB / 10)]
    if len(loud) == 0:
        return NOISIEST_DB
    speech = float(loud.mean()) - floor
    return float(np.clip(10 * np.log10(speech / floor), NOISIEST_DB, CLEANEST_DB))


def clipped_share(samples: np.ndarray) -> float:
    """Share of the samples that touch full scale, 0 to 1."""
    return float(np.mean(np.abs(samples) >= FULL_SCALE)) if len(samples) else 0.0
