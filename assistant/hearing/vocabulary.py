"""The speech model's word pieces, and which of them a grammar allows at a place.

``tokenizer.bin`` is a list of length-prefixed byte strings; a length of 128 or more takes
a second byte. A piece that begins a word starts with U+2581, read here as a space.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise

import numpy as np

from assistant.hearing.graph import CLOSING_MARKS, Graph, Node

BEGIN, END = 1, 2
"""Ids of the pieces that begin and end every text."""

FIRST_ORDINARY = 3 + 256
"""Before the ordinary pieces come three marks and the 256 single bytes."""
_WORD_START = "\u2581"


class _Branch:
    """A node of the tree of pieces by their characters; children are made on demand."""

    __slots__ = ("_children", "_depth", "_entries", "piece")

    def __init__(self, entries: list[tuple[str, int]], depth: int):
        self._entries, self._depth = entries, depth
        self._children: dict[str, _Branch] | None = None
        self.piece = -1
        for text, piece in entries:
            if len(text) == depth:
                self.piece = piece

    @property
    def children(self) -> dict[str, _Branch]:
        if self._children is None:
            depth = self._depth
            groups: dict[str, list[tuple[str, int]]] = {}
            for entry in self._entries:
                if len(entry[0]) > depth:
                    groups.setdefault(entry[0][depth], []).append(entry)
            self._children = {char: _Branch(group, depth + 1) for char, group in groups.items()}
            self._entries = []
        return self._children


@dataclass(frozen=True, eq=False, slots=True)
class Allowed:
    """The pieces that may follow at a graph node, and where they lead."""

    ids: np.ndarray
    nodes: list[Node]


_WORD = re.compile(r" ?[^ ]+| ")
"""What pieces do not reach across."""


def _letters(text: str) -> str:
    return "".join(char for char in text.lower() if char.isalnum())


def _syllables(text: str) -> int:
    """About how many syllables a piece adds: groups of vowels, and each digit as one."""
    return len(re.findall(r"[aeiouy]+|\d", text.lower()))


class Vocabulary:
    """Pieces by id, and the tree to look them up by."""

    def __init__(self, data: bytes):
        self.texts = [
            raw.decode("utf-8", "replace").replace(_WORD_START, " ") for raw in _unpack(data)
        ]
        self.letters: Callable[[int], str] = cache(lambda piece: _letters(self.texts[piece]))
        """Letters and digits of a piece, in lower case."""
        self.syllables: Callable[[int], int] = cache(lambda piece: _syllables(self.texts[piece]))
        entries = [
            (text, piece)
            for piece, text in enumerate(self.texts)
            if piece >= FIRST_ORDINARY and text and "\ufffd" not in text
        ]
        self._ids = dict(reversed(entries))  # of two pieces with one text, the first
        self._cut_of: Callable[[str], list[int]] = cache(self._cut_word)
        self._tree = _Branch(entries, 0)
        marks = {self._ids[mark] for mark in CLOSING_MARKS if mark in self._ids}
        self.ending_ids = np.array([END, *sorted(marks)])
        """Pieces with which a sentence may end: the end itself and closing marks."""

    def cut(self, text: str) -> list[int]:
        """The pieces a text is made of, as the model itself cuts it: byte-pair encoding, whose
        merges stand in the vocabulary in the order in which they were learned (Sennrich, Haddow
        and Birch 2016, "Neural machine translation of rare words with subword units"). Characters
        that have no piece are left out.
        """
        return [piece for word in _WORD.findall(text) for piece in self._cut_of(word)]

    def _cut_word(self, word: str) -> list[int]:
        parts = [char for char in word if char in self._ids]
        none = len(self.texts)
        while len(parts) > 1:
            piece, place = min(
                (self._ids.get(one + other, none), place)
                for place, (one, other) in enumerate(pairwise(parts))
            )
            if piece == none:
                break
            parts[place : place + 2] = [self.texts[piece]]
        return [self._ids[part] for part in parts]

    def text(self, pieces: Iterable[int]) -> str:
        return "".join(self.texts[piece] for piece in pieces if piece >= FIRST_ORDINARY)

    def allowed(self, graph: Graph, node: Node) -> Allowed:
        """Every piece that is a path in the graph from ``node``; remembered on the node."""
        if node.pieces is None:
            ids: list[int] = []
            nodes: list[Node] = []
            stack = [(self._tree, node)]
            while stack:
                branch, at = stack.pop()
                children = branch.children
                for char, further in graph.steps(at).items():
                    child = children.get(char)
                    if child is not None:
                        if child.piece >= 0:
                            ids.append(child.piece)
                            nodes.append(further)
                        stack.append((child, further))
            node.pieces = Allowed(np.array(ids, dtype=np.int32), nodes)
        return node.pieces

    def after(self, graph: Graph, node: Node, piece: int) -> Node | None:
        """Where a piece leads from ``node``, None where it is no path; remembered on the node.

        piece: one that ``ordinary`` has.
        """
        try:
            return node.after[piece]
        except KeyError:
            further = node.after[piece] = graph.walk(self.texts[piece], node)
            return further

    @cached_property
    def ordinary(self) -> np.ndarray:
        """[pieces]: whether a piece may be part of a sentence at all."""
        possible = np.array([bool(text) and "\ufffd" not in text for text in self.texts])
        possible[:FIRST_ORDINARY] = False
        return possible

    @cached_property
    def speaks(self) -> np.ndarray:
        """[pieces]: 1.0 where the piece holds a letter or a digit, else 0.0."""
        holds = _ALNUM.search
        return np.array([holds(text) is not None for text in self.texts], dtype=np.float32)


_ALNUM = re.compile(r"[^\W_]")
"""A letter or a digit."""


def _unpack(data: bytes) -> list[bytes]:
    pieces = []
    at = 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= 128:
            length = length - 128 + data[at] * 128
            at += 1
        pieces.append(data[at : at + length])
        at += length
    return pieces
