"""Which steps of a card a trainee's words tell, in which order, and how surely.

A small beam search lays steps over the pieces of the speech so that the whole is explained
best by ``likeness``; a step said before is a little less likely to be said again. What the
best reading leaves out is not yet missed: where some words are a little like it, or stand
unexplained just where it would come, it is doubtful, and the trainee is asked.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from assistant.rehearsal.card import ProcedureCard
from assistant.rehearsal.figures import kinds_in
from assistant.rehearsal.likeness import WEIGHTS, Likeness
from assistant.rehearsal.words import PHRASE_WORDS, Piece, pieces, stem_of

LEAST = 0.0
"""Log odds. A span is taken for a step above this: telling it is likelier than telling none."""
SURE = 1.5
"""A step told with less is told faintly: enough where nothing hangs on it, but a safety step
is asked for, and no order is judged by it."""
ASK = -0.5
"""A step that is not told is asked for where a span is above this for it."""
GAP = 2.5
"""What it adds that the span stands where the step would come, and tells nothing else."""
CLAIMED = 4.0
"""Where a span tells a step already, another is open only if it would come just there, and the
span is for it above this and what that step would lose."""
WIDEST = 5
"""Pieces that one step may be told in."""
BEAM = 48
AGAIN = 3.0
"""Cost of telling a step that was told before."""
ASIDE = 2.0
"""Cost of a step out of its place that is told in the middle of a sentence: mostly a part of
what was being told."""
ANEW = 1.5
"""Cost of going on with a step in a new sentence: that mostly tells a new one."""
ORDERLY = 1.5
"""What it adds that a new step comes where it may: one told too soon is rarer. It decides only
between readings that are nearly as good, so that an order that is wrong is still heard as it
was told."""
JOINED = 0.4
"""Cost of telling one step in several pieces, for each but the first."""
LOOSE = 3.0
"""Cost of a step begun where no mark stands."""
PHRASE = 5.0
"""Cost of a step begun inside a phrase, at "with" or "until"."""
FIGURE = 2.5
"""What it adds that a figure goes on with the step before, which asks for such a one."""
MOST = 8.0
"""Above this a score is no surer: a long sentence must not outweigh two short ones."""
CLEAR = 1.0
"""No order is judged by a step that another one rivals more closely than this."""
LEAST_TO_CUT = 3
"""Words that tell something, in a piece that may hold two steps."""
LEANING = frozenset("before the a an to of at for my your our their all every each".split())
"""A step does not begin right after one of these: "before the clamps come off"."""
CLEARER = 2.5
"""How much surer a later telling must be to count instead of the first."""
CORRECTED_WITHIN = 4
"""Pieces after a step within which "no, wait" may take it back."""


@dataclass(frozen=True)
class Saying:
    """A step as it was told. at: number of its first piece. score: log odds; margin: by how
    much it is above any other step's. position: where it counts in the order, after
    corrections; until: where it was told last. pieces: all that was said of it."""

    step: str
    at: int
    pieces: tuple[Piece, ...]
    score: float
    margin: float = 0.0
    position: float = 0.0
    until: float = 0.0

    @property
    def sure(self) -> bool:
        """Whether an order may be judged by it."""
        return self.score >= SURE and self.margin >= CLEAR


@dataclass(frozen=True)
class Told:
    """What the words tell. sayings: in the order in which they count. doubtful: steps that
    may have been told or not."""

    sayings: tuple[Saying, ...] = ()
    doubtful: frozenset[str] = frozenset()


@dataclass(frozen=True)
class _Hypothesis:
    gain: float = 0.0
    sayings: tuple[Saying, ...] = ()

    @property
    def last(self) -> str | None:
        return self.sayings[-1].step if self.sayings else None


BARE_KINDS = frozenset({"count", "temperature"})
"""Kinds of figures that are said without a unit."""

Span = tuple[Piece, ...]
Options = list[tuple[str, float]]


class Matcher:
    """Lays the steps of one card over what a trainee says."""

    def __init__(self, card: ProcedureCard):
        self.card = card
        self._likeness = Likeness(card)
        self._wordings = self._likeness.wordings
        self._number = {key: number for number, key in enumerate(self._likeness.keys)}
        self._kinds = {
            step.key: frozenset(figure.kind for figure in step.figures) for step in card.steps
        }

        self._asked = {
            key: kinds | ({"bare"} if kinds & BARE_KINDS else frozenset())
            for key, kinds in self._kinds.items()
        }

    def vocabulary(self) -> tuple[str, ...]:
        """Every word that may tell a step of this card: its own and those of the same meaning."""
        return self._wordings.vocabulary()

    def follow(self, text: str) -> tuple[Saying, ...]:
        """The steps told by the text, in the order in which they count."""
        return self.hear(text).sayings

    def hear(self, text: str) -> Told:
        """What the text tells."""
        return self.read(pieces(text))

    def read(self, uncut: tuple[Piece, ...]) -> Told:
        """What speech that is cut into pieces tells."""
        said = tuple(part for piece in uncut for part in self._cut(piece))
        spans = _spans(said)
        scores = dict(zip(spans, self._likeness.scores(list(spans.values())), strict=True))
        sayings = self._search(said, spans, scores)
        kept = self._in_order(said, self._with_margins(sayings, scores))
        return Told(kept, self._doubtful(said, spans, scores, sayings))

    # --- the search -----------------------------------------------------------------------

    def _search(self, said: Span, spans, scores) -> tuple[Saying, ...]:
        """The best reading: sayings in the order of the words."""
        taken_back = _last_corrections(said)
        self._telling = {piece.sentence for piece in said if self._wordings.known((piece,))}
        beams: list[dict[tuple, _Hypothesis]] = [{} for _ in range(len(said) + 1)]
        beams[0] = {(): _Hypothesis()}
        for at in range(len(said)):
            best = sorted(beams[at].values(), key=lambda h: -h.gain)[:BEAM]
            for end in range(at + 1, len(said) + 1):
                if (at, end) not in spans:
                    break
                span = spans[at, end]
                options = self._options(scores[at, end])
                for hypothesis in best:
                    self._extend(beams[end], hypothesis, at, span, options, taken_back[at])
        ended = max(beams[-1].values(), key=lambda h: h.gain, default=_Hypothesis())
        return ended.sayings

    def _options(self, scores: np.ndarray) -> Options:
        """The steps that a span may tell."""
        return [
            (key, min(float(score), MOST))
            for key, score in zip(self._likeness.keys, scores, strict=True)
            if score > LEAST
        ]

    def _extend(
        self, beam, hypothesis: _Hypothesis, at: int, span: Span, options: Options, corrected: int
    ) -> None:
        def keep(new: _Hypothesis) -> None:
            told = tuple(sorted({saying.step for saying in new.sayings}))
            key = (new.last, told)
            if key not in beam or beam[key].gain < new.gain:
                beam[key] = new

        if len(span) == 1:
            keep(hypothesis)  # the piece tells nothing
            if hypothesis.sayings and self._goes_on(hypothesis, span[0]):
                if kinds_in(span[0].words) & self._asked[hypothesis.last or ""]:
                    keep(_joined(hypothesis, span, FIGURE))
                elif not options and not _is_order(span):
                    keep(_joined(hypothesis, span, 0.0))
        told = {saying.step: saying.at for saying in hypothesis.sayings}
        for key, score in options:
            gain = score - JOINED * sum(not piece.loose for piece in span[1:])
            orderly = self._orderly(key, told)
            gain += ORDERLY * (orderly and not span[0].loose)
            gain -= ASIDE * (not orderly and _goes_on_from(hypothesis, span[0]))
            if key == hypothesis.last:
                gain -= ANEW * (hypothesis.sayings[-1].pieces[-1].sentence != span[0].sentence)
                keep(_joined(hypothesis, span, gain, score))
                continue
            gain -= _cost_to_begin(span[0])
            gain -= AGAIN if key in told and told[key] >= corrected else 0.0
            new = Saying(key, at, span, score)
            keep(_Hypothesis(hypothesis.gain + gain, (*hypothesis.sayings, new)))

    def _goes_on(self, hypothesis: _Hypothesis, piece: Piece) -> bool:
        """Whether a piece may be part of the step before: a figure, or small talk. A figure that
        heads a new sentence belongs to what follows there."""
        last = hypothesis.sayings[-1].pieces[-1]
        if piece.sentence == last.sentence or piece.taken_back:
            return True
        return not self._wordings.known((piece,)) and piece.sentence not in self._telling

    def _orderly(self, key: str, told: Collection[str]) -> bool:
        """Whether a new step comes where it may: what must come before it was told, and
        nothing that must come after it."""
        if key in told or not set(self.card.step(key).after) <= set(told):
            return False
        return not any(key in self.card.before[other] for other in told)

    # --- cutting --------------------------------------------------------------------------

    def _cut(self, piece: Piece) -> list[Piece]:
        """The piece cut, loosely, before each word that begins a wording of the card; where
        none does ("procedure battery protective gear"), between words of two steps. Free
        decoding does not always write a mark there."""
        if len(self._wordings.known((piece,))) < LEAST_TO_CUT:
            return [piece]
        heads = {
            at
            for at, word in enumerate(piece.words)
            if self._wordings.snapped(stem_of(word)) in self._wordings.heads
        } or self._changes(piece.words)
        cuts: list[int] = []
        for at in sorted(heads - {0}):
            if piece.words[at - 1] in LEANING:
                continue
            since = Piece(piece.words[cuts[-1] if cuts else 0 : at])
            if self._tells(since):
                cuts.append(at)
        parts = [piece.words[a:b] for a, b in pairwise([0, *cuts, len(piece.words)])]
        first = replace(piece, words=parts[0])
        rest = [Piece(words, piece.sentence, loose=True) for words in parts[1:]]
        return [first, *rest]

    def _tells(self, piece: Piece) -> bool:
        return bool(self._likeness.scores([(piece,)]).max() > LEAST)

    def _changes(self, words: tuple[str, ...]) -> set[int]:
        """Where a word of one step alone follows a word of another."""
        found, owner = set(), None
        for at, word in enumerate(words):
            owned = self._wordings.owners(word)
            if owned and owner is not None and owner not in owned:
                found.add(at)
            if owned:
                owner = next(iter(owned)) if len(owned) == 1 else None
        return found

    # --- what is doubtful -----------------------------------------------------------------

    def _doubtful(self, said: Span, spans, scores, sayings: tuple[Saying, ...]) -> frozenset[str]:
        """Steps of which the words leave it open whether they were told."""
        told: dict[str, float] = {}
        owners: list[Saying | None] = [None] * len(said)
        for saying in sayings:
            told[saying.step] = max(told.get(saying.step, 0.0), saying.score)
            owners[saying.at : saying.at + len(saying.pieces)] = [saying] * len(saying.pieces)
        doubtful = {
            key for key, score in told.items() if score < SURE and self.card.step(key).safety
        }
        left = [key for key in self._likeness.keys if key not in told]
        doubtful |= self._unexplained(said, spans, scores, owners, left)
        for (at, end), span in spans.items():
            if not self._wordings.known(span):
                continue
            needed = self._needed(at, end, owners, scores)
            cost = _cost_to_begin(span[0])
            for key in left:
                if self._likeness.denies(span, key):
                    continue
                score = float(scores[at, end][self._number[key]]) - cost
                here = self._in_gap(key, at, end, owners)
                if needed is None:
                    open_ = score + GAP * here > ASK
                else:
                    open_ = here and score > CLAIMED + needed
                if open_:
                    doubtful.add(key)
        return frozenset(doubtful)

    def _unexplained(self, said: Span, spans, scores, owners, left: list[str]) -> set[str]:
        """For each sentence (or "... it") that tells no step, the likeliest of the steps that
        are left and would come just there: in words that nobody thought of, it may have been
        told. Not where the words say that it is not done."""
        found: set[str] = set()
        if not any(owners):
            return found  # talk of something else altogether
        for at, end in _units(said):
            if any(owners[at:end]):
                continue
            kinds = frozenset().union(*(kinds_in(piece.words) for piece in said[at:end]))
            tells = bool(self._wordings.known(said[at:end])) or _is_order(said[at:end])
            likely = {
                key: max(
                    float(scores[part][self._number[key]])
                    for part in spans
                    if at <= part[0] and part[1] <= end
                )
                for key in left
                if key not in found
                and self._in_gap(key, at, end, owners)
                and (tells or kinds & self._kinds[key])
            }
            best = max(likely, key=likely.__getitem__, default=None)
            denied = any(
                likely[key] - WEIGHTS["turned"] > SURE
                for key in likely
                if self._likeness.denies(said[at:end], key)
            )
            if best is not None and not denied:
                found.add(best)
        return found

    def _needed(self, at: int, end: int, owners: list[Saying | None], scores) -> float | None:
        """How much the steps that the span is taken for would lose without it; None where it
        is taken for none."""
        takers = {id(owner): owner for owner in owners[at:end] if owner is not None}
        if not takers:
            return None
        lost = 0.0
        for owner in takers.values():
            number = self._number[owner.step]
            first, last = owner.at, owner.at + len(owner.pieces)
            rest = max(
                (
                    float(scores[part][number])
                    for part in ((first, at), (end, last))
                    if part in scores
                ),
                default=0.0,
            )
            lost += max(0.0, owner.score - max(0.0, rest))
        return lost

    def _in_gap(self, key: str, at: int, end: int, owners: list[Saying | None]) -> bool:
        """Whether the place between the told steps next to it is one where the step comes in
        the card's order."""
        before = next((owner for owner in reversed(owners[:at]) if owner), None)
        after = next((owner for owner in owners[end:] if owner), None)
        low = -1 if before is None else self._number[before.step]
        high = len(self._number) if after is None else self._number[after.step]
        return low < self._number[key] < high

    def _with_margins(self, sayings: tuple[Saying, ...], scores) -> tuple[Saying, ...]:
        """The sayings with their margins: by how much each is above any step that is not told
        surely elsewhere."""
        found = []
        for saying in sayings:
            span = (saying.at, saying.at + len(saying.pieces))
            row = scores.get(span, scores[saying.at, saying.at + 1])
            elsewhere = {
                other.step for other in sayings if other is not saying and other.score >= SURE
            }
            rivals = [
                float(row[self._number[key]])
                for key in self._likeness.keys
                if key != saying.step and key not in elsewhere
            ]
            margin = float(row[self._number[saying.step]]) - max(rivals, default=-np.inf)
            found.append(replace(saying, margin=margin))
        return tuple(found)

    # --- order ----------------------------------------------------------------------------

    @staticmethod
    def _in_order(said: Span, sayings: tuple[Saying, ...]) -> tuple[Saying, ...]:
        """One saying for each step, where it counts: the first, but a later one where a
        correction stands between or that tells the step much more surely; "before that"
        moves a step before the one it follows."""
        kept: dict[str, Saying] = {}
        previous: Saying | None = None
        for saying in sayings:
            position = float(saying.at)
            first = saying.pieces[0]
            if previous is not None and first.before:
                position = kept[previous.step].position - 0.5
            elif first.ahead:
                position = _end_of_sentence(said, saying.at) - 0.5
            earlier = kept.get(saying.step)
            if earlier is None:
                kept[saying.step] = replace(saying, position=position, until=position)
            else:
                clearer = saying.score > earlier.score + CLEARER
                after = earlier.at + 1
                near = said[after : after + CORRECTED_WITHIN]
                corrected = any(piece.taken_back for piece in near) or earlier.pieces[0].ahead
                kept[saying.step] = replace(
                    earlier,
                    pieces=(*earlier.pieces, *saying.pieces),
                    score=max(earlier.score, saying.score),
                    margin=max(earlier.margin, saying.margin),
                    position=position if corrected or clearer else earlier.position,
                    until=max(earlier.until, position) if saying.sure else earlier.until,
                )
            previous = saying
        return tuple(sorted(kept.values(), key=lambda saying: saying.position))


def _cost_to_begin(piece: Piece) -> float:
    """What it costs that a step begins with this piece."""
    if not piece.loose:
        return 0.0
    return PHRASE if piece.words[0] in PHRASE_WORDS else LOOSE


def _goes_on_from(hypothesis: _Hypothesis, piece: Piece) -> bool:
    """Whether the piece is of the same sentence as the last one told."""
    return bool(hypothesis.sayings and hypothesis.sayings[-1].pieces[-1].sentence == piece.sentence)


def _joined(
    hypothesis: _Hypothesis, span: Span, gain: float, score: float = -np.inf
) -> _Hypothesis:
    """The hypothesis with the span as part of its last step."""
    last = hypothesis.sayings[-1]
    more = replace(
        last,
        pieces=(*last.pieces, *span),
        score=max(last.score, score),
    )
    return _Hypothesis(hypothesis.gain + gain, (*hypothesis.sayings[:-1], more))


def _units(said: Span) -> list[tuple[int, int]]:
    """Where each sentence lies, and each piece that is an order by itself."""
    found = []
    for number in dict.fromkeys(piece.sentence for piece in said):
        places = [at for at, piece in enumerate(said) if piece.sentence == number]
        found.append((places[0], places[-1] + 1))
    orders = [(at, at + 1) for at, piece in enumerate(said) if _is_order((piece,))]
    return [*found, *(unit for unit in orders if unit not in found)]


def _is_order(span: Span) -> bool:
    """Whether it is one word and "it": something to be done, though the word be misheard."""
    return len(span) == 1 and len(span[0].words) == 2 and span[0].words[1] == "it"


def _spans(said: Span) -> dict[tuple[int, int], Span]:
    """Every row of pieces that may tell one step: within a sentence and a correction."""
    found = {}
    for at in range(len(said)):
        for end in range(at + 1, min(at + WIDEST, len(said)) + 1):
            last = said[end - 1]
            if end > at + 1 and (last.taken_back or last.sentence != said[at].sentence):
                break
            found[at, end] = said[at:end]
    return found


def _end_of_sentence(said: Span, at: int) -> int:
    return next(
        (place for place in range(at, len(said)) if said[place].sentence != said[at].sentence),
        len(said),
    )


def _last_corrections(said: Span) -> list[int]:
    """For each piece the number of the last one up to it that takes something back, or -1."""
    last, found = -1, []
    for at, piece in enumerate(said):
        last = at if piece.taken_back else last
        found.append(last)
    return found
