"""Running an encoder: sound to a sequence of vectors."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import onnxruntime as ort

from assistant.hearing.encoder import FOLDER, IN_BLOCKS
from assistant.hearing.networks import PROVIDERS, GivenNetwork, session_options, value_of

WEIGHTS = ".safetensors"
"""What the name of a file of weights for our own network ends with."""


class EncoderFault(ValueError):
    """A file that is no encoder; the message says why, in a few words."""


_NUMBERS = {"F32": np.dtype("<f4"), "F16": np.dtype("<f2"), "U8": np.dtype("u1")}
"""Kinds of numbers by their names in a safetensors file."""


def write_weights(path: Path, weights: Mapping[str, np.ndarray]) -> None:
    """A safetensors file: the length of a table as eight bytes, the table as JSON, the numbers."""
    names = {kind: name for name, kind in _NUMBERS.items()}
    table, parts, at = {}, [], 0
    for name, value in weights.items():
        parts.append(np.ascontiguousarray(value).tobytes())
        ends = [at, at + len(parts[-1])]
        table[name] = {"dtype": names[value.dtype], "shape": value.shape, "data_offsets": ends}
        at = ends[1]
    head = json.dumps(table).encode()
    head += b" " * (-len(head) % 8)
    path.write_bytes(b"".join([len(head).to_bytes(8, "little"), head, *parts]))


def read_weights(path: Path) -> dict[str, np.ndarray]:
    """By the names of the network's initializers; those stored in 16 bits as float32.

    The file is read in one go: beside a thread that is busy, each step of a zip archive waited its
    turn, and a start took a quarter of a second more.
    """
    content = path.read_bytes()
    start = 8 + int.from_bytes(content[:8], "little")
    weights = {}
    for name, entry in json.loads(content[8:start]).items():
        first, last = entry["data_offsets"]
        kind = _NUMBERS[entry["dtype"]]
        count = (last - first) // kind.itemsize
        value = np.frombuffer(content, kind, count, start + first).reshape(entry["shape"])
        weights[name] = value.astype(np.float32) if kind.itemsize == 2 else value
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
