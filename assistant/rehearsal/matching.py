"""Which steps of a card a trainee's words tell, in which order, and how surely.

A small beam search lays steps over the pieces of the speech so that the whole is explained
best: by ``likeness``, by the order that the card asks for, and by how seldom a sentence tells
nothing. All readings together, each by its weight, say how likely each step was told: words
that nobody thought of still tell a step where it would come and nothing else is left that they
may mean. A step that was told with less than ``MISSED`` is missed; one that may have been told
or not is doubtful, and the trainee is asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from assistant.rehearsal.card import ProcedureCard
from assistant.rehearsal.figures import kinds_in
from assistant.rehearsal.likeness import Likeness
from assistant.rehearsal.words import PHRASE_WORDS, Piece, pieces, stem_of

# The numbers from FLOOR to FIGURE and the weights of ``likeness`` are log odds. They were set
# together so that the likelihoods of the test speakers' steps come out best, with half of the
# cards' wordings and of the glossary taken away at random: so it is with words nobody thought of.
FLOOR = -6.0
"""What is less like a step than this is never taken for it."""
LEAST = 0.0
"""A step told once more, or against the order, needs more than this."""
NEW = 2.5
"""What it adds that a step is told for the first time: most of a card's steps are told."""
LATE = 2.5
"""Cost of telling a step after one that stands below it on the card."""
JUMP, FAR = 1.0, 6
"""Cost of each step that is skipped; of so many at most."""
WRONG = 3.0
"""Cost of telling it after one that must come after it."""
AGAIN = 4.0
"""Cost of telling a step that was told before."""
ASIDE = 2.0
"""Cost of a step out of its place in the middle of a sentence: mostly a part of what was being
told."""
ANEW = 2.2
"""Cost of going on with a step in a new sentence: that mostly tells a new one."""
SILENT, SILENT_LESS, SILENT_LEAST = 6.0, 1.0, 0.5
"""Cost of a sentence that tells nothing: of one word, less with each doubling of the words, at
least. Who says two words means something by them; who talks digresses."""
LOOSE = 4.0
"""Cost of a step begun where no mark stands."""
PHRASE = 2.5
"""Cost of a step begun inside a phrase, at "with" or "until"."""
FIGURE = 2.5
"""What it adds that a figure goes on with the step before, which asks for such a one."""
MOST = 8.0
"""Above this a score is no surer: a long sentence must not outweigh two short ones."""
WIDEST = 5
"""Pieces that one step may be told in."""
BEAM = 48

MISSED, TOLD, IN_ORDER, TOLD_SAFELY = 0.6, 0.75, 0.8, 0.9
"""Likelihoods. Under the first a step was not told, from the second on it was, a safety step
from the last on; between them it is asked for. An order is judged from the third on."""
SURE = 1.5
"""Log odds. What tells a step with less tells it faintly: enough where nothing hangs on it, but
a safety step is asked for, and no order is judged by it."""
PLAIN = 6.0
"""Log odds. Words that say a safety step as plainly as this need no more than other steps do, where
its place alone makes it unlikely ("clamps off" right after the gloves)."""
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
    corrections; until: where it was told last. pieces: all that was said of it, up to piece
    number ``end``. likely: how likely the step was told at all, 0..1."""

    step: str
    at: int
    pieces: tuple[Piece, ...]
    score: float
    margin: float = 0.0
    position: float = 0.0
    until: float = 0.0
    end: int = 0
    likely: float = 1.0

    @property
    def sure(self) -> bool:
        """Whether an order may be judged by it."""
        clear = self.score >= SURE and self.margin >= CLEAR
        return clear and self.likely >= IN_ORDER


@dataclass(frozen=True)
class Told:
    """What the words tell. sayings: in the order in which they count. doubtful: steps that
    may have been told or not. likely: how likely each step was told, 0..1."""

    sayings: tuple[Saying, ...] = ()
    doubtful: frozenset[str] = frozenset()
    likely: dict[str, float] = field(default_factory=dict)


NONE = -1
"""Number of the last step where none was told."""


@dataclass(frozen=True, slots=True)
class _Link:
    """A saying of a reading, linked to the one before it. places: numbers of its pieces.
    sentence: of its last piece."""

    before: _Link | None
    step: int
    places: tuple[int, ...]
    score: float
    sentence: int

    def joined(self, at: int, end: int, sentence: int, score: float = -np.inf) -> _Link:
        """The saying with more pieces."""
        places = (*self.places, *range(at, end))
        return _Link(self.before, self.step, places, max(self.score, score), sentence)

    def told_at(self, step: int) -> int:
        """Where the step was told last."""
        link: _Link | None = self
        while link is not None and link.step != step:
            link = link.before
        return -1 if link is None else link.places[0]


@dataclass(slots=True)
class _Path:
    """All readings up to a piece that told the same steps (a bit each) and the same one last.
    gain: of the best of them, which ``link`` holds; weight: of all, the logarithm of a sum."""

    last: int = NONE
    told: int = 0
    gain: float = 0.0
    weight: float = 0.0
    link: _Link | None = None


class _Beam:
    """The paths up to one piece."""

    def __init__(self) -> None:
        self.paths: dict[tuple[int, int], _Path] = {}

    def best(self) -> list[_Path]:
        return sorted(self.paths.values(), key=lambda path: -path.weight)[:BEAM]

    def keep(self, path: _Path, gain: float, last: int, told: int, link: _Link | None) -> None:
        """Take in a path that goes on."""
        best, weight = path.gain + gain, path.weight + gain
        known = self.paths.get((last, told))
        if known is None:
            self.paths[last, told] = _Path(last, told, best, weight, link)
            return
        high, low = max(known.weight, weight), min(known.weight, weight)
        known.weight = high + math.log1p(math.exp(low - high))
        if best > known.gain:
            known.gain, known.link = best, link


BARE_KINDS = frozenset({"count", "temperature"})
"""Kinds of figures that are said without a unit."""

Span = tuple[Piece, ...]
Place = tuple[int, int]
"""First piece, and the one after the last."""
Scores = dict[Place, np.ndarray]
Options = list[tuple[int, float]]


class Matcher:
    """Lays the steps of one card over what a trainee says."""

    def __init__(self, card: ProcedureCard):
        self.card = card
        self._likeness = Likeness(card)
        self._wordings = self._likeness.wordings
        self._number = {key: number for number, key in enumerate(self._likeness.keys)}
        self._asked = [
            kinds | ({"bare"} if kinds & BARE_KINDS else frozenset())
            for kinds in (frozenset(figure.kind for figure in step.figures) for step in card.steps)
        ]
        bits = {key: 1 << number for key, number in self._number.items()}
        self._after = [sum(bits[other] for other in step.after) for step in card.steps]
        """For each step the ones that must come right before it, a bit each."""
        self._later = [
            sum(bits[other] for other in bits if step.key in card.before[other])
            for step in card.steps
        ]
        """For each step the ones that must come after it."""
        self._safety = sum(bits[step.key] for step in card.steps if step.safety)
        self._needed = sum(bits[step.key] for step in card.steps if not step.optional)

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
        if not said:
            return Told()
        spans = _spans(said)
        scores = dict(zip(spans, self._likeness.scores(list(spans.values())), strict=True))
        return self._told(said, spans, scores)

    def _told(self, said: Span, spans: dict[Place, Span], scores: Scores) -> Told:
        sayings, likely = self._search(said, spans, scores)
        kept = tuple(
            replace(saying, likely=likely[saying.step])
            for saying in self._in_order(said, self._with_margins(sayings, scores))
            if likely[saying.step] >= MISSED
        )
        best = {saying.step: saying.score for saying in kept}
        doubtful = frozenset(
            key
            for key, likelihood in likely.items()
            if likelihood >= MISSED and not self._surely(key, likelihood, best.get(key))
        )
        return Told(kept, doubtful, likely)

    def _surely(self, key: str, likelihood: float, score: float | None) -> bool:
        """Whether a step was told so that it need not be asked for. score: None where the best
        reading leaves it out."""
        if score is None:
            return False
        if self.card.step(key).safety and score < PLAIN:
            return likelihood >= TOLD_SAFELY and score >= SURE
        return likelihood >= TOLD

    # --- the search -----------------------------------------------------------------------

    def _search(
        self, said: Span, spans: dict[Place, Span], scores: Scores
    ) -> tuple[tuple[Saying, ...], dict[str, float]]:
        """The best reading, in the order of the words; and how likely each step was told."""
        taken_back = _last_corrections(said)
        figures = [kinds_in(piece.words) for piece in said]
        telling = [bool(self._wordings.known((piece,))) or _is_order(piece) for piece in said]
        silent = _costs_of_silence(said, telling)
        content = {piece.sentence for piece, tells in zip(said, telling, strict=True) if tells}
        beams = [_Beam() for _ in range(len(said) + 1)]
        beams[0].keep(_Path(), 0.0, NONE, 0, None)
        for at, piece in enumerate(said):
            best = beams[at].best()
            for path in best:
                link = path.link
                goes_on = link is not None and (link.sentence == piece.sentence)
                beams[at + 1].keep(
                    path, 0.0 if goes_on else -silent[at], path.last, path.told, link
                )
                # a figure that heads a new sentence belongs to what follows there
                goes_on = goes_on or piece.taken_back or piece.sentence not in content
                if link is not None and goes_on and figures[at] & self._asked[path.last]:
                    more = link.joined(at, at + 1, piece.sentence)
                    beams[at + 1].keep(path, FIGURE, path.last, path.told, more)
            for end in range(at + 1, len(said) + 1):
                if (at, end) not in spans:
                    break
                if not any(telling[at:end]) and not any(figures[at:end]):
                    continue
                options = self._options(spans[at, end], scores[at, end])
                for path in best:
                    self._extend(beams[end], path, at, spans[at, end], options, taken_back[at])
        paths = list(beams[-1].paths.values())
        return self._sayings(said, max(paths, key=lambda path: path.gain)), self._likely(paths)

    def _options(self, span: Span, scores: np.ndarray) -> Options:
        """The steps that a span may tell. A safety step that it denies is none of them."""
        too_sure = max(0.0, float(scores.max()) - MOST)  # the rivals stay as far behind
        return [
            (number, float(score) - too_sure)
            for number, score in enumerate(scores)
            if score > FLOOR and not (self._safety >> number & 1 and self._denies(span, number))
        ]

    def _denies(self, span: Span, number: int) -> bool:
        return self._likeness.denies(span, self._likeness.keys[number])

    def _extend(
        self, beam: _Beam, path: _Path, at: int, span: Span, options: Options, corrected: int
    ) -> None:
        """The paths on which a span tells one of its options."""
        link, first, end = path.link, span[0], at + len(span)
        inside = link is not None and link.sentence == first.sentence
        for number, score in options:
            if link is not None and number == path.last:
                if score > LEAST:
                    more = link.joined(at, end, first.sentence, score)
                    gain = score - ANEW * (not inside)
                    beam.keep(path, gain, path.last, path.told, more)
                continue
            bit = 1 << number
            back = number < path.last
            against = back and bool(path.told & self._later[number])
            if (path.told & bit or against) and score <= LEAST:
                continue
            gain = score - _cost_to_begin(first)
            if path.told & bit:
                gain -= AGAIN * (link is not None and link.told_at(number) >= corrected)
            elif not first.loose:
                skipped = (self._needed & ~path.told & (bit - 1)) >> path.told.bit_length()
                gain += NEW - (WRONG if against else LATE * back)
                gain -= JUMP * min(skipped.bit_count(), FAR)
            if inside and (path.told & bit or against or self._after[number] & ~path.told):
                gain -= ASIDE
            new = _Link(link, number, tuple(range(at, end)), score, first.sentence)
            beam.keep(path, gain, number, path.told | bit, new)

    def _likely(self, paths: list[_Path]) -> dict[str, float]:
        """How likely each step was told, by all readings."""
        weights = np.array([path.weight for path in paths])
        weights = np.exp(weights - np.logaddexp.reduce(weights))
        told = [[path.told >> number & 1 for path in paths] for number in self._number.values()]
        return dict(zip(self._number, (np.array(told) @ weights).tolist(), strict=True))

    def _sayings(self, said: Span, path: _Path) -> tuple[Saying, ...]:
        """The sayings of the best reading of a path."""
        found: list[Saying] = []
        link = path.link
        while link is not None:
            words = tuple(said[place] for place in link.places)
            first, last = link.places[0], link.places[-1]
            key = self._likeness.keys[link.step]
            found.append(Saying(key, first, words, link.score, end=last + 1))
            link = link.before
        return tuple(reversed(found))

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
        position = 0.0
        for saying in sayings:
            first = saying.pieces[0]
            if previous is not None and first.before and previous.end == saying.at:
                position -= 0.5  # of the one before, where that was told this time
            elif first.ahead:
                position = _end_of_sentence(said, saying.at) - 0.5
            else:
                position = float(saying.at)
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


def _costs_of_silence(said: Span, telling: list[bool]) -> list[float]:
    """For each piece that ends a sentence what it costs that the sentence tells nothing: not
    much where it says what is not done."""
    found = [0.0] * len(said)
    for number in dict.fromkeys(piece.sentence for piece in said):
        places = [at for at, piece in enumerate(said) if piece.sentence == number]
        words = sum(len(said[at].words) for at in places)
        if any(telling[at] for at in places) and not any(said[at].negated for at in places):
            found[places[-1]] = max(SILENT - SILENT_LESS * math.log2(words), SILENT_LEAST)
    return found


def _is_order(piece: Piece) -> bool:
    """Whether it is one word and "it": something to be done, though the word be misheard."""
    return len(piece.words) == 2 and piece.words[1] == "it"


def _spans(said: Span) -> dict[Place, Span]:
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
