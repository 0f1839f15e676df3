"""Which steps of a card a trainee's words tell, in which order.

Each piece of speech, or a few in a row, is compared with the wordings of every step: stems
weighted by how few steps share them, words misheard or misspelt brought back to the card's
own by rapidfuzz. A small beam search then lays steps over the pieces so that the whole is
explained best; a step said before is a little less likely to be said again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from rapidfuzz import fuzz, process

from assistant.rehearsal.card import ProcedureCard, Step
from assistant.rehearsal.figures import kinds_in
from assistant.rehearsal.words import Piece, groups_of, is_negated, pieces, stem_of, stems

LEAST = 0.40
"""Pieces less like a step than this (0..1) do not tell it. Set on tests' recitations.toml."""
LENIENT, BENEFIT = 0.22, 0.01
"""A piece that tells nothing else and is at least this much like a step that was not told is
taken for it: better one step let pass than one that was said called missed. Not a safety
step: that one must be told clearly."""
ALIKE = 82.0
"""Words at least this alike (0..100 by rapidfuzz) are one word misheard or misspelt."""
SHORTEST_MISHEARD = 4
"""Letters; shorter words are too much like each other."""
WIDEST = 5
"""Pieces that one step may be told in."""
BEAM = 48
AGAIN = 0.5
"""Cost of telling a step that was told before, in the unit of a fully matched word."""
ORDERLY = 0.1
"""Share by which a new step that comes where it may is likelier: it decides only between
readings that are as good, so that an order that is wrong is still heard as it was told."""
LEAST_TO_CUT = 3
"""Words that tell something, in a piece that may hold two steps."""
LEANING = frozenset("before the a an to of at for my your our their all every each".split())
"""A step does not begin right after one of these: "before the clamps come off"."""
OPTIONAL = 0.1
"""Taken off the likeness of a step that may be left out: most do not tell it."""
CLEARER = 0.2
"""How much more alike a later telling must be to count instead of the first."""
JOINED = 0.08
"""Cost of telling one step in several pieces, for each but the first."""
LOOSE = 0.3
"""Cost of a step begun inside a phrase, at "with" or "until"."""
FIGURE = 0.15
"""What a figure of a kind that the step has adds to the likeness."""
CORRECTED_WITHIN = 4
"""Pieces after a step within which "no, wait" may take it back."""
UNKNOWN = 0.6
"""Weight of a word that no step of the card has, against one that a single step has."""
WRONG_POLARITY = 0.35
"""What is left of the likeness when the words say "not" and the step does not."""


@dataclass(frozen=True)
class Saying:
    """A step as it was told. at: number of its first piece. position: where it counts in the
    order, after corrections. words: all that was said of it."""

    step: str
    at: int
    pieces: tuple[Piece, ...]
    likeness: float
    position: float = 0.0


@dataclass(frozen=True)
class _Hypothesis:
    gain: float = 0.0
    sayings: tuple[Saying, ...] = ()

    @property
    def last(self) -> str | None:
        return self.sayings[-1].step if self.sayings else None


class Matcher:
    """Lays the steps of one card over what a trainee says."""

    def __init__(self, card: ProcedureCard):
        self.card = card
        self._groups = groups_of(card.same)
        self._wordings: dict[str, list[tuple[str, ...]]] = {
            step.key: [self._stems(words) for words in self._ways(step)] for step in card.steps
        }
        self._kinds = {
            step.key: frozenset(figure.kind for figure in step.figures) for step in card.steps
        }
        self._may_be_negated = {
            step.key: any(is_negated(words) for words in self._ways(step)) for step in card.steps
        }

    @staticmethod
    def _ways(step: Step) -> list[str]:
        return [" ".join(piece.text for piece in pieces(step.say)), *step.wordings]

    def vocabulary(self) -> tuple[str, ...]:
        """Every word that may tell a step of this card: its own and those of the same meaning."""
        own = {word for step in self.card.steps for way in self._ways(step) for word in way.split()}
        for group in self._groups:
            if any(set(phrase.split()) <= own for phrase in group):
                own.update(word for phrase in group for word in phrase.split())
        return tuple(sorted(word for word in own if word.replace("'", "").isalpha()))

    def _stems(self, text: str) -> tuple[str, ...]:
        return stems(text.split(), self._groups)

    @cached_property
    def _weights(self) -> dict[str, float]:
        """Stem -> how much it tells: 1 for a word of one step, less for one of several."""
        holders: dict[str, set[str]] = {}
        for key, ways in self._wordings.items():
            for stem in {stem for way in ways for stem in way}:
                holders.setdefault(stem, set()).add(key)
        most = math.log(1 + len(self.card.steps))
        return {
            stem: math.log(1 + len(self.card.steps) / len(keys)) / most
            for stem, keys in holders.items()
        }

    @cached_property
    def _shares(self) -> dict[str, dict[str, float]]:
        """Stem -> step -> in how many of the step's wordings it is, against the step that has
        it most."""
        shares: dict[str, dict[str, float]] = {}
        for key, ways in self._wordings.items():
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

    def follow(self, text: str) -> tuple[Saying, ...]:
        """The steps told by the text, in the order in which they count."""
        return self.follow_pieces(pieces(text))

    def follow_pieces(self, uncut: tuple[Piece, ...]) -> tuple[Saying, ...]:
        """As ``follow``, for speech that is cut already."""
        said = tuple(part for piece in uncut for part in self._cut(piece))
        last, self._taken_back = -1, []
        for at, piece in enumerate(said):  # the last correction up to each piece
            last = at if piece.taken_back else last
            self._taken_back.append(last)
        beams: list[dict[tuple, _Hypothesis]] = [{} for _ in range(len(said) + 1)]
        beams[0] = {(): _Hypothesis()}
        for at in range(len(said)):
            best = sorted(beams[at].values(), key=lambda h: -h.gain)[:BEAM]
            for width in range(1, min(WIDEST, len(said) - at) + 1):
                span = said[at : at + width]
                if width > 1 and (span[-1].taken_back or span[0].sentence != span[-1].sentence):
                    break
                options = self._options(span)
                options = [
                    (key, likeness, gain - JOINED * sum(not piece.loose for piece in span[1:]))
                    for key, likeness, gain in options
                ]
                for hypothesis in best:
                    self._extend(beams[at + width], hypothesis, at, span, options)
        ended = max(beams[-1].values(), key=lambda h: h.gain, default=_Hypothesis())
        return self._in_order(said, ended.sayings)

    def _cut(self, piece: Piece) -> list[Piece]:
        """The piece cut, loosely, before each word that begins a wording of the card; where
        none does ("procedure battery protective gear"), between words of two steps. Free
        decoding does not always write a mark there."""
        if len(self._known((piece,))) < LEAST_TO_CUT:
            return [piece]
        heads = {
            at for at, word in enumerate(piece.words) if self._snapped(stem_of(word)) in self._heads
        } or self._changes(piece.words)
        cuts: list[int] = []
        for at in sorted(heads - {0}):
            if piece.words[at - 1] in LEANING:
                continue
            since = Piece(piece.words[cuts[-1] if cuts else 0 : at])
            if self._options((since,)):
                cuts.append(at)
        parts = [piece.words[a:b] for a, b in pairwise([0, *cuts, len(piece.words)])]
        first = replace(piece, words=parts[0])
        rest = [Piece(words, piece.sentence, loose=True) for words in parts[1:]]
        return [first, *rest]

    def _changes(self, words: tuple[str, ...]) -> set[int]:
        """Where a word of one step alone follows a word of another."""
        found, owner = set(), None
        for at, word in enumerate(words):
            owned = self._owners(word)
            if owned and owner is not None and owner not in owned:
                found.add(at)
            if owned:
                owner = next(iter(owned)) if len(owned) == 1 else None
        return found

    def _owners(self, word: str) -> frozenset[str]:
        """The steps that the word is of, where it is of two at most."""
        found = stems((word,), self._groups)
        steps = self._shares.get(self._snapped(found[0]), {}) if found else {}
        return frozenset(steps) if len(steps) <= 2 else frozenset()

    @cached_property
    def _heads(self) -> frozenset[str]:
        """Stems of the words that begin a wording."""
        return frozenset(
            stem_of(words.split()[0]) for step in self.card.steps for words in step.wordings
        )

    def _extend(self, beam, hypothesis: _Hypothesis, at: int, span, options) -> None:
        def keep(new: _Hypothesis) -> None:
            told = tuple(sorted({saying.step for saying in new.sayings}))
            key = (new.last, told)
            if key not in beam or beam[key].gain < new.gain:
                beam[key] = new

        if len(span) == 1:
            if hypothesis.sayings and (
                not self._known(span) or self._figure_of_last(span, hypothesis)
            ):
                # a figure alone, or small talk: it goes with the step before
                last = hypothesis.sayings[-1]
                joined = replace(last, pieces=(*last.pieces, *span))
                keep(replace(hypothesis, sayings=(*hypothesis.sayings[:-1], joined)))
            else:
                keep(hypothesis)
        told = {saying.step: saying.at for saying in hypothesis.sayings}
        for key, likeness, gain in options:
            if likeness < LEAST and (key in told or len(span) > 1):
                continue
            gain *= 1 + ORDERLY * self._orderly(key, told)
            if key == hypothesis.last:
                last = hypothesis.sayings[-1]
                joined = replace(
                    last,
                    pieces=(*last.pieces, *span),
                    likeness=max(last.likeness, likeness),
                )
                keep(_Hypothesis(hypothesis.gain + gain, (*hypothesis.sayings[:-1], joined)))
            else:
                cost = LOOSE if span[0].loose else 0.0
                cost += AGAIN if key in told and told[key] >= self._taken_back[at] else 0.0
                new = Saying(key, at, span, likeness)
                keep(_Hypothesis(hypothesis.gain + gain - cost, (*hypothesis.sayings, new)))

    def _figure_of_last(self, span: tuple[Piece, ...], hypothesis: _Hypothesis) -> bool:
        """Whether the words hold a figure that the step before asks for, and tell no step."""
        kinds = kinds_in(span[0].words)
        return bool(kinds & self._kinds[hypothesis.last or ""]) and not self._options(span)

    def _orderly(self, key: str, told: Iterable[str]) -> bool:
        """Whether all that must come before the step was told."""
        return key not in told and set(self.card.step(key).after) <= set(told)

    def _known(self, span: Iterable[Piece]) -> tuple[str, ...]:
        """The stems of the span, misheard ones as the card has them."""
        found: list[str] = []
        for piece in span:
            found += [self._snapped(stem) for stem in stems(piece.words, self._groups)]
        return tuple(dict.fromkeys(found))

    def _snapped(self, stem: str) -> str:
        if stem in self._weights or len(stem) < SHORTEST_MISHEARD:
            return stem
        best = process.extractOne(
            stem, list(self._spellings), scorer=fuzz.ratio, score_cutoff=ALIKE
        )
        return self._spellings[best[0]] if best else stem

    @cached_property
    def _spellings(self) -> dict[str, str]:
        """Words that a misheard one may be -> the stem they stand for."""
        same = {
            stem_of(word): group[0]
            for group in self._groups
            for word in group
            if group[0] in self._weights and " " not in word
        }
        known = same | {stem: stem for stem in self._weights}
        return {word: stem for word, stem in known.items() if len(word) >= SHORTEST_MISHEARD}

    def _options(self, span: tuple[Piece, ...]) -> list[tuple[str, float, float]]:
        """Steps that the span may tell: (key, likeness, gain)."""
        known = self._known(span)
        if not known:
            return []
        kinds = frozenset().union(*(kinds_in(piece.words) for piece in span))
        negated = any(piece.negated for piece in span)
        found = []
        for key in self._wordings:
            likeness = self._likeness(key, known)
            turned = negated and not self._may_be_negated[key]
            if turned:
                likeness *= WRONG_POLARITY
            if self.card.step(key).optional:
                likeness -= OPTIONAL
            if likeness and kinds & self._kinds[key]:
                likeness = min(1.0, likeness + FIGURE)
            if likeness >= LEAST:
                weight = sum(self._weight(stem) for stem in known)
                found.append((key, likeness, (likeness - LEAST + 0.05) * min(weight, 3.0)))
            elif likeness >= LENIENT and not turned and not self.card.step(key).safety:
                found.append((key, likeness, BENEFIT))
        return found

    def _weight(self, stem: str) -> float:
        return self._weights.get(stem, UNKNOWN)

    def _likeness(self, key: str, known: tuple[str, ...]) -> float:
        """0..1: how well the stems fit the step's wordings, one and all of them."""
        total = sum(self._weight(stem) for stem in known)
        shared = sum(self._weight(stem) * self._own(key, stem) for stem in known) / total
        best = 0.0
        for way in self._wordings[key]:
            own = sum(self._weight(stem) for stem in set(way))
            both = sum(self._weight(stem) for stem in known if stem in way)
            if both:
                best = max(best, 2 * both / (own + total))
        return 0.5 * best + 0.5 * shared

    @staticmethod
    def _in_order(said: tuple[Piece, ...], sayings: tuple[Saying, ...]) -> tuple[Saying, ...]:
        """One saying for each step, where it counts: the first, but a later one where a
        correction stands between or that tells the step much more clearly; "before that"
        moves a step before the one it follows."""
        kept: dict[str, Saying] = {}
        previous: Saying | None = None
        for saying in sayings:
            position = float(saying.at)
            first = saying.pieces[0]
            if previous is not None and first.before:
                position = kept[previous.step].position - 0.5
            earlier = kept.get(saying.step)
            if earlier is None:
                kept[saying.step] = replace(saying, position=position)
            else:
                clearer = saying.likeness > earlier.likeness + CLEARER
                after = earlier.at + 1
                near = said[after : after + CORRECTED_WITHIN]
                corrected = any(piece.taken_back for piece in near)
                kept[saying.step] = replace(
                    earlier,
                    pieces=(*earlier.pieces, *saying.pieces),
                    likeness=max(earlier.likeness, saying.likeness),
                    position=position if corrected or clearer else earlier.position,
                )
            previous = saying
        return tuple(sorted(kept.values(), key=lambda saying: saying.position))
