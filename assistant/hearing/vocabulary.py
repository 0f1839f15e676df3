"""The speech model's word pieces, and which of them a grammar allows at a place.

``tokenizer.bin`` is a list of length-prefixed byte strings; a length of 128 or more takes
a second byte. A piece that begins a word starts with U+2581, read here as a space.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache, cached_property
from heapq import heappop, heappush
from itertools import count, pairwise

import numpy as np

from assistant.hearing.graph import CLOSING_MARKS, Graph, Node

BEGIN, END = 1, 2
"""Ids of the pieces that begin and end every text."""

FIRST_ORDINARY = 3 + 256
"""Before the ordinary pieces come three marks and the 256 single bytes."""
_WORD_START = "\u2581"


class _Branch:
    """A node of the tree of pieces by their characters: the pieces from ``low`` up to ``high``, in
    the order of their texts, have the first ``depth`` characters in common."""

    __slots__ = ("_parts", "depth", "high", "low", "piece")

    def __init__(self, low: int, high: int, depth: int, piece: int):
        self.low, self.high, self.depth = low, high, depth
        self.piece = piece
        """The one that ends here, or -1."""
        self._parts: tuple[dict[str, int], list[_Branch], np.ndarray] | None = None

    def parts(
        self, entries: Sequence[tuple[str, int]]
    ) -> tuple[dict[str, int], list[_Branch], np.ndarray]:
        """The characters that go on with their places, their branches, and where those begin; made
        on demand.

        entries: text and id of all pieces, in the order of their texts.
        """
        if self._parts is None:
            depth, high = self.depth, self.high
            begins: dict[str, int] = {}
            for at in range(self.low + (self.piece >= 0), high):
                begins.setdefault(entries[at][0][depth], at)
            branches = []
            for low, end in pairwise((*begins.values(), high)):
                text, piece = entries[low]
                ends = len(text) == depth + 1
                branches.append(_Branch(low, end, depth + 1, piece if ends else -1))
            places = {char: place for place, char in enumerate(begins)}
            self._parts = places, branches, np.array([*begins.values()], dtype=np.intp)
        return self._parts


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
        self._sorted = sorted(self._ids.items())
        self._tree = _Branch(0, len(self._sorted), 0, -1)
        self.by_text = np.array([piece for _, piece in self._sorted], dtype=np.intp)
        """The ordinary pieces in the order of their texts."""
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

    def best(
        self,
        graph: Graph,
        nodes: Sequence[Node],
        scores: np.ndarray,
        floor: float,
        reach: float,
        most: int,
    ) -> list[tuple[float, int, int, Node]]:
        """The best pieces that are paths in the graph, best first: (score, row, piece, the node
        after it); at most ``most``, none under the floor or further than ``reach`` below the best.

        nodes: where each row stands. scores: [rows, pieces in ``by_text``].

        The tree of pieces and the graph are walked together, the branch with the best piece first
        (best-first search), so that only branches are looked at that may hold one of the best.
        """
        found: list[tuple[float, int, int, Node]] = []
        # What is to be looked at, best first: a piece that is a path, with the node after it, or a
        # branch, with the node before its last character. Of equal scores the branch comes first,
        # and pieces come in the order of rows and ids; a count tells the rest apart.
        agenda: list[tuple[float, int, int, int, Node, _Branch | None, str]] = []
        met = count()

        def look(row: int, branch: _Branch, node: Node) -> None:
            """Put on the agenda what is in a branch that leads to a node."""
            low, high = branch.low, branch.high
            if branch.piece >= 0:
                entry = -float(scores[row, low]), row, branch.piece, next(met), node, None, ""
                heappush(agenda, entry)
            places, branches, begins = branch.parts(self._sorted)
            allowed = places.keys() & graph.chars(node)
            if not allowed:
                return
            bests = np.maximum.reduceat(scores[row, :high], begins)
            for char in allowed:
                place = places[char]
                best = float(bests[place])
                if best >= floor:
                    entry = -best, row, -1, next(met), node, branches[place], char
                    heappush(agenda, entry)

        for row, node in enumerate(nodes):
            look(row, self._tree, node)
        while agenda and len(found) < most:
            score, row, piece, _, node, branch, char = heappop(agenda)
            if -score < floor:
                break
            if branch is None:
                if not found:
                    floor = max(floor, -score - reach)
                found.append((-score, row, piece, node))
            elif branch.high - branch.low > 1:
                further = graph.step(node, char)
                if further is not None:
                    look(row, branch, further)
            else:
                text, piece = self._sorted[branch.low]
                further = graph.walk(text[branch.depth - 1 :], node)
                if further is not None:
                    heappush(agenda, (score, row, piece, next(met), further, None, ""))
        return found

    def after(self, graph: Graph, node: Node, piece: int) -> Node | None:
        """Where a piece leads from ``node``, None where it is no path; remembered on the node
        where it is one, since most are not and that shows at their first characters.

        piece: one that ``ordinary`` has.
        """
        further = node.after.get(piece)
        if further is None:
            further = graph.walk(self.texts[piece], node)
            if further is not None:
                node.after[piece] = further
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
