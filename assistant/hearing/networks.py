"""Networks of our own: ONNX files without weights, which are handed over when they are loaded.

The weights of matrix products are bytes. Each network is there twice: ``uint8`` takes them as they
are stored, ``int8`` the same less 128, for which newer processors have faster instructions.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

import numpy as np
import onnxruntime as ort

PROVIDERS = ["CPUExecutionProvider"]
PROBE = Path(__file__).with_name("probe.onnx")
PROBED = 288
"""Products added up in the probe, as many as in most of the networks' sums."""
PROBED_ROWS = 8


def session_options(threads: int) -> ort.SessionOptions:
    """Settings for a network that runs on sound and texts of any length."""
    options = ort.SessionOptions()
    # Either would keep memory for every length that has been seen, and neither makes it faster.
    options.enable_mem_pattern = False
    options.enable_cpu_mem_arena = False
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    return options


@cache
def exact_with_signs() -> bool:
    """Whether this processor multiplies bytes with signed bytes exactly.

    Older ones (AVX2 without VNNI) add two products in 16 bits and cut off what does not fit.
    """
    probe = ort.InferenceSession(str(PROBE), session_options(1), providers=PROVIDERS)
    most = np.full((PROBED_ROWS, PROBED), 255, dtype=np.uint8)
    (product,) = probe.run(None, {"bytes": most})
    return bool((product == 255 * 127 * PROBED).all())


def network_file(folder: Path, name: str, weights: str) -> Path:
    """weights: "uint8" or "int8"."""
    return folder / f"{name}.{weights}.onnx"


def with_signs(weights: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The same weights as signed bytes: stored numbers and zero points less 128."""
    return {
        name: (value ^ np.uint8(128)).view(np.int8) if value.dtype == np.uint8 else value
        for name, value in weights.items()
    }


def value_of(array: np.ndarray) -> ort.OrtValue:
    return ort.OrtValue.ortvalue_from_numpy(np.asarray(array, order="C"))


class GivenNetwork:
    """A network of ``folder`` with its weights, by the names of its initializers.

    always: weights that both kinds take as they are.
    """

    def __init__(
        self,
        folder: Path,
        name: str,
        weights: Mapping[str, np.ndarray],
        threads: int,
        always: Mapping[str, np.ndarray] | None = None,
    ):
        signed = exact_with_signs()
        given = dict(with_signs(weights) if signed else weights) | dict(always or {})
        # onnxruntime uses them where they are
        self._kept = {key: value_of(value) for key, value in given.items()}
        options = session_options(threads)
        options.add_external_initializers(list(self._kept), list(self._kept.values()))
        file = network_file(folder, name, "int8" if signed else "uint8")
        self._session = ort.InferenceSession(str(file), options, providers=PROVIDERS)

    def run(self, outputs: list[str], inputs: Mapping[str, ort.OrtValue]) -> list[ort.OrtValue]:
        return self._session.run_with_ort_values(outputs, dict(inputs))
