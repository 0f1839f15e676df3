"""Running an encoder: sound to a sequence of vectors."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import onnxruntime as ort

from assistant.hearing.encoder import FOLDER, IN_BLOCKS
from assistant.hearing.networks import PROVIDERS, GivenNetwork, session_options, value_of

WEIGHTS = ".npz"
"""What the name of a file of weights for our own network ends with."""


class EncoderFault(ValueError):
    """A file that is no encoder; the message says why, in a few words."""


_TABLE = "table"
"""The member of a file that says which numbers are which weight's. The others hold all numbers of a
kind one after another: to read a hundred small members took 40 ms of every start."""


def write_weights(path: Path, weights: Mapping[str, np.ndarray]) -> None:
    """A file for ``read_weights``."""
    kinds: dict[str, list[np.ndarray]] = {}
    table: list[tuple[str, str, tuple[int, ...]]] = []
    for name, value in weights.items():
        table.append((name, value.dtype.name, value.shape))
        kinds.setdefault(value.dtype.name, []).append(value.ravel())
    numbers = {kind: np.concatenate(values) for kind, values in kinds.items()}
    np.savez(path, **{_TABLE: np.frombuffer(json.dumps(table).encode(), np.uint8)}, **numbers)


def read_weights(path: Path) -> dict[str, np.ndarray]:
    """By the names of the network's initializers; those stored in 16 bits as float32."""
    with np.load(path) as stored:
        table = json.loads(stored[_TABLE].tobytes())
        numbers = {kind: stored[kind] for kind in stored.files if kind != _TABLE}
    if "float16" in numbers:
        numbers["float16"] = numbers["float16"].astype(np.float32)
    weights, used = {}, dict.fromkeys(numbers, 0)
    for name, kind, shape in table:
        start = used[kind]
        used[kind] += math.prod(shape)
        weights[name] = numbers[kind][start : used[kind]].reshape(shape)
    return weights


class OwnEncoder:
    """The network of this folder with weights from a file."""

    def __init__(self, path: Path, threads: int):
        windows = [f"{name}.weight" for name in IN_BLOCKS]
        self._network = GivenNetwork(FOLDER, "encoder", read_weights(path), threads, windows)

    def hidden(self, sound: np.ndarray) -> np.ndarray:
        """[1, frames, width] for [1, samples] at SAMPLE_RATE."""
        (hidden,) = self._network.run(["hidden"], {"sound": value_of(sound)})
        return hidden.numpy()


class WholeEncoder:
    """An ONNX file with its own weights: the bundled one, or one that a user names."""

    def __init__(self, path: Path, threads: int):
        self._session = ort.InferenceSession(
            str(path), session_options(threads), providers=PROVIDERS
        )
        self._inputs = {node.name for node in self._session.get_inputs()}

    def hidden(self, sound: np.ndarray) -> np.ndarray:
        """[1, frames, width] for [1, samples] at SAMPLE_RATE."""
        # some take no mask: they never see padding
        mask = np.ones(sound.shape, dtype=np.int64)
        given = {"input_values": sound, "attention_mask": mask}
        (hidden,) = self._session.run(None, {name: given[name] for name in self._inputs})
        return hidden


def open_encoder(path: Path, threads: int) -> OwnEncoder | WholeEncoder:
    """Raises EncoderFault where the file holds no such network."""
    try:
        return (OwnEncoder if path.suffix == WEIGHTS else WholeEncoder)(path, threads)
    except Exception as fault:  # those of onnxruntime have no other class in common
        first, *_ = str(fault).splitlines() or ["it is empty"]
        raise EncoderFault(first) from None
