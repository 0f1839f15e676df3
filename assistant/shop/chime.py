"""The sound before an announcement, made by code: a person looks up before the words begin."""

from __future__ import annotations

import numpy as np

LOW, HIGH = 659.255, 880.0
"""Hertz. E5 and A5 of the equal-tempered scale with A4 at 440 Hz: a rising fourth, well above
the rumble of a shop and below where worn ears fail. Our own choice."""

NOTE_SECONDS, GAP_SECONDS = 0.18, 0.04
DECAY_SECONDS = 0.09
ATTACK_SECONDS = 0.008
"""Soft edges, so that it does not click."""

LEVEL = 0.5
"""Of full scale."""


def chime(rate: int, urgent: bool = False) -> np.ndarray:
    """Two rising notes; four for what is urgent. Mono float32 at ``rate`` samples a second."""
    notes = (LOW, HIGH) * (2 if urgent else 1)
    gap = np.zeros(round(GAP_SECONDS * rate), np.float32)
    parts: list[np.ndarray] = []
    for frequency in notes:
        parts += [_note(frequency, rate), gap]
    return np.concatenate(parts)


def _note(frequency: float, rate: int) -> np.ndarray:
    time = np.arange(round(NOTE_SECONDS * rate)) / rate
    envelope = np.minimum(time / ATTACK_SECONDS, 1.0) * np.exp(-time / DECAY_SECONDS)
    release = np.minimum((NOTE_SECONDS - time) / ATTACK_SECONDS, 1.0)
    # a second harmonic is heard on a loudspeaker too small for the first
    wave = np.sin(2 * np.pi * frequency * time) + 0.3 * np.sin(4 * np.pi * frequency * time)
    return (LEVEL / 1.3 * wave * envelope * release).astype(np.float32)
