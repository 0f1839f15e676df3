"""What a microphone and a line do to sound: bands, coarse steps, clipping."""

from __future__ import annotations

import numpy as np

from assistant.exchange import SAMPLE_RATE


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
