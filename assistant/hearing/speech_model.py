"""The bundled English speech model, run with onnxruntime.

The wheel ``moonshine-voice`` (MIT) carries it as three files; they are found without
importing that package. The encoder turns sound into a sequence of vectors; the decoder
gives, for each text so far, the log probability of every next piece.
"""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import lost_cycles
from assistant.hearing.decoder import PLACES
from assistant.hearing.decoder.network import Decoder, Memory
from assistant.hearing.encoder import DEFAULT_ENCODER, ENCODERS, HARDENED
from assistant.hearing.encoder.network import (
    EncoderFault,
    OwnEncoder,
    WholeEncoder,
    open_encoder,
)
from assistant.hearing.vocabulary import BEGIN, Vocabulary

MODEL_WHEEL = "moonshine_voice"
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
_SHORTEST = SAMPLE_RATE // 8
"""The encoder needs some frames; shorter sound is padded with silence."""


THREADS_VARIABLE = "CLAMPCALL_THREADS"
"""Names another number of threads than THREADS."""
THREADS = 1
"""Two wait for each other by turning: they take three times the processor time, and beside one
other busy program on two cores a hearing took twice as long as with one."""
MOST_THREADS = 64
"""More is surely a slip of the keys. Our own choice."""


class ModelMissing(RuntimeError):
    """The model cannot be loaded; the message says what to do."""


def default_threads() -> int:
    """How many threads a network may use, by the environment; raises ModelMissing."""
    named = os.environ.get(THREADS_VARIABLE, "").strip()
    if not named:
        return THREADS
    if named.isdecimal() and 1 <= int(named) <= MOST_THREADS:
        return int(named)
    raise ModelMissing(
        f"{THREADS_VARIABLE} must be a whole number from 1 to {MOST_THREADS}, not {named!r}"
    )


def bundled_folder() -> Path:
    """The folder of the model files inside the installed wheel."""
    spec = importlib.util.find_spec(MODEL_WHEEL)
    places = spec.submodule_search_locations if spec else None
    folder = Path(next(iter(places))) / "assets" / "tiny-en" if places else None
    if folder is None or not all((folder / name).is_file() for name in _FILES):
        raise ModelMissing(
            "the English speech model is not installed: reinstall clampcall, which brings "
            "moonshine-voice 0.0.73 (later releases do not carry it)"
        )
    return folder


@dataclass(frozen=True, eq=False)
class Encoded:
    """What the decoder needs of one utterance."""

    hidden: np.ndarray
    seconds: float


class SpeechModel:
    """Sound to log probabilities. One instance serves one thread.

    threads: for one call of a network; ``default_threads()`` if not given. encoder: one of
    ENCODERS, or the path of another ONNX file of the same inputs and outputs. Raises ModelMissing
    when a file is not there.
    """

    def __init__(
        self,
        folder: Path | None = None,
        threads: int | None = None,
        encoder: str = DEFAULT_ENCODER,
    ):
        self.folder = folder or bundled_folder()
        self._threads = default_threads() if threads is None else threads
        self._begun: tuple[Encoded, tuple[np.ndarray, Memory]] | None = None
        self._encoder_file = {
            "bundled": self.folder / _FILES[0],
            "hardened": HARDENED,
        }.get(encoder, Path(encoder))
        if not self._encoder_file.is_file():
            raise ModelMissing(
                f"there is no encoder {encoder!r}: choose of {', '.join(ENCODERS)}, "
                "or name a file of weights (.safetensors) or an ONNX file"
            )
        self.vocabulary = Vocabulary((self.folder / "tokenizer.bin").read_bytes())

    @cached_property
    def _encoder(self) -> OwnEncoder | WholeEncoder:
        try:
            return open_encoder(self._encoder_file, self._threads)
        except EncoderFault as fault:
            raise ModelMissing(
                f"{self._encoder_file} is no encoder for this model: {fault}"
            ) from None

    @cached_property
    def _decoder(self) -> Decoder:
        return Decoder(self.folder / _FILES[1], self._threads)

    def load(self) -> None:
        """Read both networks now rather than at the first utterance."""
        _ = self._encoder, self._decoder
        lost_cycles.give_back()  # weights are read, turned over and handed on: some 20 MB

    def encode(self, samples: np.ndarray) -> Encoded:
        """Run the encoder over mono float32 samples at SAMPLE_RATE."""
        if len(samples) < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - len(samples)))
        sound = np.ascontiguousarray(samples, dtype=np.float32)[None]
        hidden = self._encoder.hidden(sound)
        return Encoded(hidden, len(samples) / SAMPLE_RATE)

    def begin(self, encoded: Encoded) -> tuple[np.ndarray, Memory]:
        """Log probabilities of the first piece [1, vocabulary], and the memory after BEGIN.

        That of the last utterance is kept: each graph, the wider search and the numbers on trial
        begin with it.
        """
        if self._begun is None or self._begun[0] is not encoded:
            sound = self._decoder.listen(encoded.hidden)
            self._begun = (encoded, self._decoder.grow(sound, [BEGIN], [0]))
        return self._begun[1]

    def advance(self, memory: Memory, pieces: Sequence[int]) -> tuple[np.ndarray, Memory]:
        """Add one piece to each row; log probabilities [rows, vocabulary] and the new memory."""
        return self._decoder.grow(memory, pieces, range(len(pieces)))

    def grow(
        self, memory: Memory, pieces: Sequence[int], parents: Sequence[int]
    ) -> tuple[np.ndarray, Memory]:
        """Add pieces to the tree of a memory in one call; see Decoder.grow."""
        return self._decoder.grow(memory, pieces, parents)

    def texts(
        self, begun: tuple[np.ndarray, Memory], texts: Sequence[Sequence[int]]
    ) -> list[Along]:
        """Log probabilities at every place of whole texts, in one call, or in a few where they
        have more than ``PLACES`` pieces together.

        begun: what ``begin`` gave. Texts that begin alike share that beginning.
        """
        found: list[Along] = []
        grown: dict[tuple[int, int], int] = {}  # (parent, piece) -> place among the new pieces
        paths: list[np.ndarray] = []
        for pieces in texts:
            if len(grown) + len(pieces) > PLACES:
                found += self._along(begun, grown, paths)
                grown, paths = {}, []
            path = [0]
            for piece in pieces:
                path.append(grown.setdefault((path[-1], piece), len(grown) + 1))
            paths.append(np.array(path))
        return found + self._along(begun, grown, paths)

    def _along(
        self,
        begun: tuple[np.ndarray, Memory],
        grown: Mapping[tuple[int, int], int],
        paths: Sequence[np.ndarray],
    ) -> list[Along]:
        """The texts of one call, given as paths through the tree of their pieces."""
        first, memory = begun
        found = first[:0]
        if grown:
            found, _ = self._decoder.grow(
                memory, [piece for _, piece in grown], [parent for parent, _ in grown]
            )
        return [Along(first, found, path) for path in paths]


@dataclass(frozen=True, eq=False)
class Along:
    """Log probabilities along one of several texts that were judged together."""

    first: np.ndarray
    """[1, vocabulary]: before the first piece."""
    found: np.ndarray
    """[pieces of all texts, vocabulary]: after each. They are megabytes, so they are not copied."""
    path: np.ndarray
    """The text's places: 0 before the first piece, then one more than the row of ``found``."""

    def of(self, pieces: Sequence[int]) -> np.ndarray:
        """That of each of the text's own pieces."""
        if not len(pieces):
            return np.zeros(0, dtype=np.float32)
        rest = self.found[self.path[1:-1] - 1, pieces[1:]]
        return np.concatenate([self.first[0, pieces[:1]], rest])

    @property
    def everywhere(self) -> np.ndarray:
        """[places, vocabulary], of this text and those judged with it."""
        return np.concatenate([self.first, self.found])

    @property
    def end(self) -> np.ndarray:
        """[vocabulary]: of what follows the whole text."""
        return self.found[self.path[-1] - 1] if self.path[-1] else self.first[0]
