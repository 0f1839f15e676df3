"""Running the decoder: a tree of pieces that grows, each new one judged in one call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import onnxruntime as ort

from assistant.hearing.decoder import (
    FOLDER,
    HEAD_SIZE,
    HEADS,
    LAYERS,
    PAST_NAMES,
    PRESENT_NAMES,
    SOUND_NAMES,
)
from assistant.hearing.decoder.weights import read_weights
from assistant.hearing.networks import GivenNetwork, value_of

_UNSEEN = np.float32(-1e9)
"""Added before the softmax to what a piece does not follow."""
_SHED_FROM = 64
"""Pieces in a memory before those that no row follows any more are taken out."""


@dataclass(frozen=True, eq=False)
class Memory:
    """The decoder's keys and values, of the sound and of a tree of pieces, and its rows: places
    in that tree where texts may go on."""

    sound: list[ort.OrtValue]
    text: list[ort.OrtValue]
    follows: np.ndarray
    """[rows, pieces]: whether the piece is part of the row's text."""
    places: np.ndarray
    """[rows]: the place that the next piece would take."""

    def rows(self, chosen: np.ndarray | Sequence[int]) -> Memory:
        """The same memory with its rows picked (and repeated) in this order."""
        chosen = np.asarray(chosen, dtype=np.intp)
        picked = Memory(self.sound, self.text, self.follows[chosen], self.places[chosen])
        return picked._shed() if self.follows.shape[1] > _SHED_FROM else picked

    def _shed(self) -> Memory:
        """Without the pieces that no row follows, if those are half of all."""
        needed = np.flatnonzero(self.follows.any(axis=0))
        if 2 * len(needed) > self.follows.shape[1]:
            return self
        text = [value_of(np.take(kept.numpy(), needed, axis=2)) for kept in self.text]
        return Memory(self.sound, text, self.follows[:, needed], self.places)


class Decoder:
    """The wheel's decoder in the networks of this folder. One instance serves one thread.

    path: the wheel's ``decoder_model_merged.ort``. threads: for one call.
    """

    def __init__(self, path: Path, threads: int):
        weights = read_weights(path)
        self._embedding = weights.embedding
        self._sound = GivenNetwork(FOLDER, "sound", weights.sound, threads)
        self._text = GivenNetwork(FOLDER, "text", weights.text, threads)
        weights.let_go()

    def listen(self, hidden: np.ndarray) -> Memory:
        """A memory of the sound alone, with one row, for the encoder's output."""
        sound = self._sound.run(SOUND_NAMES, {"hidden": value_of(hidden)})
        nothing = value_of(np.zeros((1, HEADS, 0, HEAD_SIZE), dtype=np.float32))
        empty = np.zeros((1, 0), dtype=bool)
        return Memory(sound, [nothing] * (2 * LAYERS), empty, np.zeros(1, dtype=np.int64))

    def grow(
        self, memory: Memory, pieces: Sequence[int], parents: Sequence[int]
    ) -> tuple[np.ndarray, Memory]:
        """Add pieces to the tree: natural-log probabilities [pieces, vocabulary] of what follows
        each, and the memory whose rows they are.

        parents: for each piece the row of ``memory`` that it follows, or, counted on behind the
        rows, the place in ``pieces`` of an earlier new one.
        """
        rows, known = memory.follows.shape
        follows = np.zeros((rows + len(pieces), known + len(pieces)), dtype=bool)
        follows[:rows, :known] = memory.follows
        places = np.concatenate([memory.places, np.zeros(len(pieces), dtype=np.int64)])
        for number, parent in enumerate(parents):
            follows[rows + number] = follows[parent]
            follows[rows + number, known + number] = True
            places[rows + number] = places[parent] + 1
        follows, places = follows[rows:], places[rows:]
        feed = {
            "begun": value_of(self._embedding.rows(np.asarray(pieces))[None]),
            "places": value_of(places[None] - 1),
            "unseen": value_of(np.where(follows, np.float32(0), _UNSEEN)[None, None]),
        }
        feed.update(zip(SOUND_NAMES, memory.sound, strict=True))
        feed.update(zip(PAST_NAMES, memory.text, strict=True))
        found, *text = self._text.run(["log_probabilities", *PRESENT_NAMES], feed)
        return found.numpy()[0], Memory(memory.sound, text, follows, places)
