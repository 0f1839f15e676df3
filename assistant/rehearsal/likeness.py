"""How much a stretch of speech is like each step of a card.

Two measures look at the same words. ``Wordings`` compares stems, each weighted by how few
steps have it, with words misheard or misspelt brought back to the card's own: it is exact
where the card's words are used. ``assistant.rehearsal.meaning`` compares meanings: it knows
wordings that no card has. ``Likeness`` puts both together as a score, in the unit of log odds
against "this tells no step at all".
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np
from rapidfuzz import fuzz, process

from assistant.rehearsal import meaning
from assistant.rehearsal.card import ProcedureCard, Step
from assistant.rehearsal.figures import kinds_in
from assistant.rehearsal.words import (
    Piece,
    groups_of,
    in_plain_words,
    is_negated,
    pieces,
    stem_of,
    stems,
)

ALIKE = 82.0
"""Words at least this alike (0..100 by rapidfuzz) are one word misheard or misspelt."""
SHORTEST_MISHEARD = 4
"""Letters; shorter words are too much like each other."""
UNKNOWN = 0.6
"""Weight of a word that no step of the card has, against one that a single step has."""

WEIGHTS = {
    "meaning": 10.5,
    "words": 5.0,
    "figure": 2.9,
    "turned": -8.0,
    "optional": -1.0,
    "nothing": -4.8,
}
"""Of the features of ``Likeness.features``."""


class Wordings:
    """The steps of a card as stems."""

    def __init__(self, card: ProcedureCard):
        self.card = card
        self.groups = groups_of(card.same)
        self._kept: dict[tuple[str, ...], list[str]] = {}
        self._ways: dict[str, list[tuple[str, ...]]] = {
            step.key: [stems(words.split(), self.groups) for words in ways_of(step)]
            for step in card.steps
        }

    def vocabulary(self) -> tuple[str, ...]:
        """Every word that may tell a step of this card: its own and those of the same meaning."""
        own = {word for step in self.card.steps for way in ways_of(step) for word in way.split()}
        for group in self.groups:
            if any(set(phrase.split()) <= own for phrase in group):
                own.update(word for phrase in group for word in phrase.split())
        return tuple(sorted(word for word in own if word.replace("'", "").isalpha()))

    def known(self, span: Iterable[Piece]) -> tuple[str, ...]:
        """The stems of the span, misheard ones as the card has them."""
        found: list[str] = []
        for piece in span:
            if piece.words not in self._kept:
                own = [self.snapped(stem) for stem in stems(piece.words, self.groups)]
                self._kept[piece.words] = own
            found += self._kept[piece.words]
        return tuple(dict.fromkeys(found))

    def snapped(self, stem: str) -> str:
        """The card's own stem that this one is, misheard."""
        if stem in self._weights or len(stem) < SHORTEST_MISHEARD:
            return stem
        best = process.extractOne(
            stem, list(self._spellings), scorer=fuzz.ratio, score_cutoff=ALIKE
        )
        return self._spellings[best[0]] if best else stem

    def likeness(self, key: str, known: tuple[str, ...]) -> float:
        """0..1: how well the stems fit the step's wordings, one and all of them."""
        total = sum(self._weight(stem) for stem in known)
        if not total:
            return 0.0
        shared = sum(self._weight(stem) * self._own(key, stem) for stem in known) / total
        best = 0.0
        for way in self._ways[key]:
            own = sum(self._weight(stem) for stem in set(way))
            both = sum(self._weight(stem) for stem in known if stem in way)
            if both:
                best = max(best, 2 * both / (own + total))
        return 0.5 * best + 0.5 * shared

    def owners(self, word: str) -> frozenset[str]:
        """The steps that the word is of, where it is of two at most."""
        found = stems((word,), self.groups)
        steps = self._shares.get(self.snapped(found[0]), {}) if found else {}
        return frozenset(steps) if len(steps) <= 2 else frozenset()

    @cached_property
    def heads(self) -> frozenset[str]:
        """Stems of the words that begin a wording."""
        return frozenset(
            stem_of(words.split()[0]) for step in self.card.steps for words in step.wordings
        )

    @cached_property
    def _weights(self) -> dict[str, float]:
        """Stem -> how much it tells: 1 for a word of one step, less for one of several."""
        holders: dict[str, set[str]] = {}
        for key, ways in self._ways.items():
            for stem in {stem for way in ways for stem in way}:
                holders.setdefault(stem, set()).add(key)
        most = math.log(1 + len(self.card.steps))
        return {
            stem: math.log(1 + len(self.card.steps) / len(keys)) / most
            for stem, keys in holders.items()
        }

    def _weight(self, stem: str) -> float:
        return self._weights.get(stem, UNKNOWN)

    @cached_property
    def _shares(self) -> dict[str, dict[str, float]]:
        """Stem -> step -> in how many of the step's wordings it is, against the step that has
        it most."""
        shares: dict[str, dict[str, float]] = {}
        for key, ways in self._ways.items():
            for stem in {stem for way in ways for stem in way}:
                share = sum(stem in way for way in ways) / len(ways)
                shares.setdefault(stem, {})[key] = share
        return {
            stem: {key: share / max(steps.values()) for key, share in steps.items()}
            for stem, steps in shares.items()
        }

    def _own(self, key: str, stem: str) -> float:
        """0..1: how much the stem is the step's own."""
        return self._shares.get(stem, {}).get(key, 0.0) ** 0.5

    @cached_property
    def _spellings(self) -> dict[str, str]:
        """Words that a misheard one may be -> the stem they stand for."""
        same = {
            stem_of(word): group[0]
            for group in self.groups
            for word in group
            if group[0] in self._weights and " " not in word
        }
        known = same | {stem: stem for stem in self._weights}
        return {word: stem for word, stem in known.items() if len(word) >= SHORTEST_MISHEARD}


def ways_of(step: Step) -> list[str]:
    """What may be said of a step, the words it is read out with first."""
    return [" ".join(piece.text for piece in pieces(step.say)), *step.wordings]


FEATURES = ("meaning", "words", "figure", "turned", "optional", "nothing")
"""Columns of ``Likeness.features``. meaning: likeness to the nearest wording by meaning;
words: the same by stems; figure: whether a figure of a kind that the step has was said;
turned: whether the words say "not" and the step does not; optional: whether the step may be
left out; nothing: always 1, its weight is what the others must outweigh."""


class Likeness:
    """Spans of speech against the steps of one card."""

    def __init__(self, card: ProcedureCard):
        self.card = card
        self.wordings = Wordings(card)
        self.keys = tuple(step.key for step in card.steps)
        self._kinds = [frozenset(figure.kind for figure in step.figures) for step in card.steps]
        self._negated = [any(is_negated(words) for words in ways_of(step)) for step in card.steps]
        self.never_denied = {key for key, may in zip(self.keys, self._negated, strict=True) if may}
        self._kept: dict[tuple[Piece, ...], np.ndarray] = {}

    def denies(self, span: Sequence[Piece], key: str) -> bool:
        """Whether the span, if it is about the step, says that it is not done."""
        return key not in self.never_denied and any(piece.negated for piece in span)

    @cached_property
    def _ways(self) -> tuple[np.ndarray, list[int]]:
        """The meaning of each wording, and where each step's begin."""
        ways = [[self._plain(way.split()) for way in ways_of(step)] for step in self.card.steps]
        begins = np.cumsum([0, *map(len, ways)])[:-1]
        return meaning.shared().vectors([way for row in ways for way in row]), list(begins)

    def features(self, spans: Sequence[tuple[Piece, ...]]) -> np.ndarray:
        """[spans, steps, FEATURES]."""
        vectors, begins = self._ways
        texts = [self._plain([word for piece in span for word in piece.words]) for span in spans]
        near = np.maximum.reduceat(meaning.shared().vectors(texts) @ vectors.T, begins, axis=1)
        found = np.ones((len(spans), len(self.keys), len(FEATURES)))
        found[:, :, 0] = near
        for at, span in enumerate(spans):
            known = self.wordings.known(span)
            kinds = frozenset().union(*(kinds_in(piece.words) for piece in span))
            negated = any(piece.negated for piece in span)
            not_yet = any(piece.not_yet for piece in span)
            for number, key in enumerate(self.keys):
                found[at, number, 1:5] = (
                    self.wordings.likeness(key, known),
                    bool(kinds & self._kinds[number]),
                    not_yet or (negated and not self._negated[number]),
                    self.card.step(key).optional,
                )
        return found

    def _plain(self, words: Sequence[str]) -> str:
        return in_plain_words(words, self.wordings.groups)

    def scores(self, spans: Sequence[tuple[Piece, ...]]) -> np.ndarray:
        """[spans, steps]: log odds that the span tells the step, against that it tells none."""
        spans = [tuple(span) for span in spans]
        new = [span for span in dict.fromkeys(spans) if span not in self._kept]
        if new:
            weights = np.array([WEIGHTS[name] for name in FEATURES])
            self._kept.update(zip(new, self.features(new) @ weights, strict=True))
        return np.array([self._kept[span] for span in spans]).reshape(-1, len(self.keys))
