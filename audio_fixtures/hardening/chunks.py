"""What the programs that write and read the sound and its texts agree on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

PIECES_PER_SECOND, MOST_PIECES = 7.0, 72
"""Longest text the teacher may write for a sound, for each second and at all."""
WITHOUT_TEXT = ("people",)
"""Sources whose language the model does not write: only the encoder's output is matched."""
WITHOUT_WORDS = (*WITHOUT_TEXT, "actors")
"""Sources whose words are not known: what the bundled model writes is taken for right."""
JUDGE = "judge-"
"""What the names of files begin with that judge and are never trained on."""
FULL_SCALE = 32767


def source_of(path: Path) -> str:
    """Which voices a file holds: judge-joe-000.ogg and joe-1-000.ogg hold joe's."""
    return path.name.removeprefix(JUDGE).split("-")[0]


def read_samples(path: Path) -> np.ndarray:
    """The samples of an .ogg or .npy file, 16 bits; path may be that of the index beside it."""
    if path.with_suffix(".npy").exists():
        return np.load(path.with_suffix(".npy"))
    samples, _ = soundfile.read(path.with_suffix(".ogg"), dtype="float32")
    return (samples * FULL_SCALE).astype(np.int16)
