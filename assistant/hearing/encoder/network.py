"""Running an encoder: sound to a sequence of vectors."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import onnxruntime as ort

from assistant.hearing.encoder import FOLDER, IN_BLOCKS
from assistant.hearing.networks import PROVIDERS, GivenNetwork, session_options, value_of

WEIGHTS = ".npz"
"""What the name of a file of weights for our own network ends with."""


class EncoderFault(ValueError):
    """A file that is no encoder; the message says why, in a few words."""


def read_weights(path: Path) -> dict[str, np.ndarray]:
    """By the names of the network's initializers; those stored in 16 bits as float32."""
    with np.load(path) as stored:
        weights = {name: stored[name] for name in stored.files}
    return {
        name: value.astype(np.float32) if value.dtype == np.float16 else value
        for name, value in weights.items()
    }


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
