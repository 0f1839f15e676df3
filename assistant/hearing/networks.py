"""Networks of our own: ONNX files without weights, which are put in when they are loaded.

The weights of matrix products are bytes. Where the processor multiplies signed bytes exactly, it is
given the same less 128, for which it has faster instructions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
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


def network_file(folder: Path, name: str) -> Path:
    return folder / f"{name}.onnx"


def with_signs(weights: np.ndarray) -> np.ndarray:
    """The same as signed bytes: stored numbers and zero points less 128; others as they are."""
    return (weights ^ np.uint8(128)).view(np.int8) if weights.dtype == np.uint8 else weights


def value_of(array: np.ndarray) -> ort.OrtValue:
    return ort.OrtValue.ortvalue_from_numpy(np.asarray(array, order="C"))


def _number(value: int) -> bytes:
    """A whole number as protocol buffers write it: seven bits a byte, the lowest first."""
    found = bytearray()
    while value > 0x7F:
        found.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes((*found, value))


def _field(place: int, size: int) -> bytes:
    """What stands before the ``size`` bytes of a field."""
    return _number(place << 3 | 2) + _number(size)


_TYPES = {"float32": 1, "uint8": 2, "int8": 3}
"""ONNX TensorProto data types."""


def with_weights(model: bytes, weights: Mapping[str, np.ndarray]) -> bytes:
    """An ONNX model with these initializers added.

    What is put behind it is a ModelProto of initializers alone: protocol buffers join messages
    that follow each other. (onnxruntime's ``add_external_initializers`` kept the weights twice.)
    """
    parts: list[bytes | memoryview] = []
    total = 0
    for name, given in weights.items():
        value = np.ascontiguousarray(given)
        dims = b"".join(b"\x08" + _number(size) for size in value.shape)  # field 1
        kind = b"\x10" + _number(_TYPES[value.dtype.name])  # field 2
        named = _field(8, len(name.encode())) + name.encode()
        head = dims + kind + named + _field(9, value.nbytes)  # raw_data
        tensor = _field(5, len(head) + value.nbytes)  # GraphProto.initializer
        parts += [tensor, head, value.data.cast("B") if value.nbytes else b""]
        total += len(tensor) + len(head) + value.nbytes
    return b"".join([model, _field(7, total), *parts])  # ModelProto.graph


class GivenNetwork:
    """A network of ``folder`` with its weights, by the names of its initializers.

    weights: emptied, so that they are not there twice while it is loaded.
    unsigned: names of those that stay as they are on every processor.
    """

    def __init__(
        self,
        folder: Path,
        name: str,
        weights: dict[str, np.ndarray],
        threads: int,
        unsigned: Iterable[str] = (),
    ):
        if exact_with_signs():
            for key in weights.keys() - set(unsigned):
                weights[key] = with_signs(weights[key])
        model = with_weights(network_file(folder, name).read_bytes(), weights)
        weights.clear()
        self._session = ort.InferenceSession(model, session_options(threads), providers=PROVIDERS)
        # it keeps them for another choice of providers, of which there is none
        self._session._model_bytes = None

    def run(self, outputs: list[str], inputs: Mapping[str, ort.OrtValue]) -> list[ort.OrtValue]:
        return self._session.run_with_ort_values(outputs, dict(inputs))
