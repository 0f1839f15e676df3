"""The constrained search: the best sentences of a graph for one utterance.

A beam of hypotheses is advanced one piece at a time, all in one call of the decoder. At
each step a hypothesis may take any vocabulary piece that is a path in the graph, so every
tokenisation of an allowed sentence is in reach. The model's free (greedy) decoding rides
along as one more row of the same call.

Scores are natural-log probabilities plus a bonus for each piece that holds a letter or
digit, the more the rarer the piece is in plain English. Without it, a plain sum ends too
early, drops tails ("of three eighths bead"), and gives up on the words of a trade
("adhesive") before they are said. That steers the beam.

Whole sentences are then ranked anew: part of the log probability that the same text has on
sound without speech is taken off. That is the decoder's habit of writing some texts rather
than others; the grammar has its own idea of what may be said, and what is common on paper
should not drown what was heard. (The idea is known as internal language model subtraction.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from assistant.hearing.graph import Graph, Node
from assistant.hearing.speech_model import Encoded, Memory, SpeechModel
from assistant.hearing.vocabulary import END, FIRST_ORDINARY, Vocabulary


@dataclass(frozen=True)
class SearchSettings:
    """Tuned by measurement on sentences, voices and noise apart from the tests."""

    width: int = 10
    """Most hypotheses kept at a step."""
    reach: float = 6.0
    """Hypotheses further than this below the best one are dropped, and the search stops
    when all that goes on is this far below the best finished sentence."""
    bonus: float = 0.75
    """Added for each piece that holds a letter or a digit."""
    rarity: float = 0.12
    """Share of a piece's log probability in plain English that is taken off besides."""
    pieces_per_second: float = 7.0
    pieces_more: int = 8
    """A bound on the pieces of a sentence for the length of its sound."""
    syllables_per_second: float = 6.5
    syllables_more: int = 4
    """Hardly anybody speaks faster (the quickest of 1,200 rendered sentences: 7.1 a second of
    speech alone). It keeps the bonus from drawing out rows of digits in noise."""
    again_gap: float = 9.0
    """Where the best sentence is this far below the free text, or there is none, the right one
    may have been dropped early for a word the model rarely writes. Likely rules are then searched
    each by itself, and where neither that nor the beam below finds anything nearer than this, a
    wider one follows."""
    habit: float = 0.0
    """In the beam: share of the log probability that each piece has without speech that is taken
    off, and ``rank_piece`` added instead of ``bonus`` and ``rarity``. With ``rank_habit`` the beam
    weighs as the ranking does, for a second call of the decoder at each step."""
    weighing_gap: float = 6.0
    """Where the best sentence is this far below the free text, or there is none, such a beam
    follows: the first may have dropped the right one for what the decoder rarely writes."""
    weighing_reach: float = 8.0
    """The reach of a beam that weighs as the ranking does."""
    again_most: float = 60.0
    """Further below, a wider beam would not find it either, and the wider search, which takes
    two to three times as long, is saved."""
    again_width: int = 24
    again_reach: float = 14.0
    opening_share: float = 1.0
    """Share of the hypotheses kept at a step that may begin alike, while others wait."""
    again_opening_share: float = 0.25
    """In the wider search: rows of numbers, of which there are many, crowd nothing else out."""
    alone_most: int = 6
    """Where nothing near has been found, so many rules are searched, each by itself and all in the
    same calls: those that share most runs of letters with the free text."""
    alone_width: int = 6
    """Most hypotheses kept at a step for each of them."""
    hopeless_gap: float = 20.0
    """Where the free text is itself a sentence of one of several graphs, the others are searched no
    further than this below it. ("Say that again" is no question, and to find that out took the
    beam three times as long as to hear it.)"""
    short_share: float = 0.6
    """Where the best sentence has fewer letters and figures than this share of the free text's,
    likely rules are searched for a longer one."""
    longer_reach: float = 12.0
    """The reach of that search: a few words, soon at an end, put what goes on out of the other."""
    rank_reach: float = 10.0
    rank_most: int = 12
    """Finished sentences this close to the best one, and so many, are ranked anew."""
    rank_habit: float = 0.4
    """In the ranking: share of the text's log probability without speech that is taken off."""
    rank_piece: float = 0.5
    """In the ranking: added for each piece that holds a letter or a digit."""


DEFAULTS = SearchSettings()


@dataclass(eq=False, slots=True)
class Hypothesis:
    """A text begun: its pieces as a chain, its score, its place in the graph."""

    parent: Hypothesis | None
    piece: int
    node: Node
    score: float
    raw: float
    key: str
    """Letters and digits so far; hypotheses that share it and the node are twins."""
    syllables: int

    def pieces(self) -> list[int]:
        found = []
        at = self
        while at.parent is not None:
            found.append(at.piece)
            at = at.parent
        return found[::-1]


@dataclass(frozen=True)
class Ended:
    """A whole sentence that was reached: its written text, score, log probability, and the
    pieces that it was reached by."""

    text: str
    score: float
    raw: float
    pieces: tuple[int, ...] = ()


@dataclass(frozen=True)
class SearchResult:
    ended: tuple[Ended, ...]
    """Whole sentences, best first; several may mean the same."""
    free_text: str
    free_raw: float
    steps: int
    rows: int
    """Rows given to the decoder over all steps, the free one included."""

    @property
    def gap(self) -> float:
        """How far the best sentence's log probability is below the free text's."""
        best = max((ended.raw for ended in self.ended), default=-np.inf)
        return self.free_raw - best

    def is_short(self, share: float) -> bool:
        """Whether the best sentence has fewer letters and digits than this share of the free
        text's."""
        if not self.ended:
            return False
        return len(_letters(self.ended[0].text)) < share * len(_letters(self.free_text))

    @property
    def has_free_text(self) -> bool:
        """Whether the free text is one of the sentences, marks and capitals aside."""
        free = _letters(self.free_text)
        return any(_letters(ended.text) == free for ended in self.ended)


def _letters(text: str) -> str:
    return "".join(char for char in text.lower() if char.isalnum())


_OPENING = 4
"""Letters and digits by which hypotheses begin alike."""
_LOOK = 8
"""Candidates looked at for each hypothesis kept."""
_MOST_LOOKED_UP = 250
"""Pieces looked up one by one at a step; where more are within reach, ``Vocabulary.best`` costs
less."""
_LONGEST = 180
"""The decoder was trained on at most 194 pieces."""


def _longest(seconds: float, settings: SearchSettings) -> int:
    return min(_LONGEST, int(settings.pieces_per_second * seconds) + settings.pieces_more)


class FreeRow:
    """The greedy decoding, advanced step by step."""

    def __init__(self) -> None:
        self.pieces: list[int] = []
        self.raw = 0.0
        self.going = True

    def take(self, following: np.ndarray) -> None:
        """Go on with the best piece; following: log probabilities of the next one."""
        piece = int(following.argmax())
        self.raw += float(following[piece])
        if piece == END:
            self.going = False
        else:
            self.pieces.append(piece)


def free_row(model: SpeechModel, encoded: Encoded, most: int) -> FreeRow:
    """What the model writes unbound, up to ``most`` pieces."""
    free = FreeRow()
    following, memory = model.begin(encoded)
    free.take(following[0])
    while free.going and len(free.pieces) < most:
        following, memory = model.advance(memory, free.pieces[-1:])
        free.take(following[0])
    return free


def free_decode(
    model: SpeechModel, encoded: Encoded, settings: SearchSettings = DEFAULTS
) -> tuple[str, float, int]:
    """What the model writes unbound: text, log probability, pieces."""
    free = free_row(model, encoded, _longest(encoded.seconds, settings))
    return model.vocabulary.text(free.pieces).strip(), free.raw, len(free.pieces)


def log_probabilities(
    model: SpeechModel, begun: tuple[np.ndarray, Memory], texts: Sequence[Sequence[int]]
) -> list[float]:
    """Log probability of each text, its end included, in one call.

    begun: what ``model.begin`` gave for the sound.
    """
    endings = model.vocabulary.ending_ids
    return [
        float(along.of(pieces).sum() + np.logaddexp.reduce(along.end[endings]))
        for pieces, along in zip(texts, model.texts(begun, texts), strict=True)
    ]


def search(
    model: SpeechModel,
    encoded: Encoded,
    graph: Graph,
    settings: SearchSettings = DEFAULTS,
    habits: Habits | None = None,
    least: float = -np.inf,
) -> SearchResult:
    """The best sentences of ``graph`` for the encoded sound, ranked anew.

    habits: made once for a model; made anew here if not given. least: texts whose log
    probability is below this are not looked at.
    """
    habits = habits or Habits(model)
    found = beams(model, encoded, graph, [graph.start], settings, habits, least=least)
    without = habits.of([one.pieces for one in found.ended])
    return replace(found, ended=ranked(found.ended, without, model.vocabulary, settings))


def beams(
    model: SpeechModel,
    encoded: Encoded,
    graph: Graph,
    starts: Sequence[Node],
    settings: SearchSettings,
    habits: Habits,
    known: SearchResult | None = None,
    least: float = -np.inf,
) -> SearchResult:
    """The best sentences from each of several places where sentences begin, by the beam's own
    scores. Each has a beam to itself; all are advanced in the same calls.

    known: an earlier search of the same sound, whose free text is taken over.
    """
    step = _Step(model, encoded, graph, settings, habits, least)
    every = [_Beam(start) for start in starts]
    free = FreeRow()
    free.going = known is None
    free_row = 0  # the first call serves each beam's one hypothesis and the free row alike
    following, memory = model.begin(encoded)
    memory = memory.rows([0] * len(starts))
    following = np.repeat(following, len(starts), axis=0)
    quiet = _Quiet(model, habits, len(starts)) if settings.habit else None
    steps, rows = 1, 1
    going = every
    while True:
        last = steps >= step.longest
        if free.going:
            free.take(following[free_row])
        weighed = following - settings.habit * quiet.following if quiet else following
        parents, pieces = _advanced(going, following, weighed, step, last)
        going = [beam for beam in going if beam.active]
        if free.going and not last:
            free_row = _row_of_free(parents, pieces, free_row, free.pieces[-1])
        if not pieces:
            break
        following, memory = model.advance(memory.rows(parents), pieces)
        if quiet:
            quiet.advance(parents, pieces)
        steps += 1
        rows += len(pieces)
    return SearchResult(
        ended=tuple(one for beam in every for one in _near(beam, model.vocabulary, settings)),
        free_text=known.free_text if known else model.vocabulary.text(free.pieces).strip(),
        free_raw=known.free_raw if known else free.raw,
        steps=steps,
        rows=rows,
    )


def _advanced(
    going: Sequence[_Beam], following: np.ndarray, weighed: np.ndarray, step: _Step, last: bool
) -> tuple[list[int], list[int]]:
    """Every beam taken one piece further, its finished sentences put aside: the rows that the new
    hypotheses come from, and their pieces.

    following: log probabilities, a row for each active hypothesis, beam after beam. weighed: the
    same less what the habits take off, where the beam does.
    """
    parents: list[int] = []
    pieces: list[int] = []
    first = 0
    for beam in going:
        its_own = slice(first, first + len(beam.active))
        beam.ended += _endings(beam.active, following[its_own], weighed[its_own], step.vocabulary)
        survivors = [] if last else _survivors(beam, following[its_own], weighed[its_own], step)
        parents += [first + row for _, row in survivors]
        first += len(beam.active)
        beam.active = [hypothesis for hypothesis, _ in survivors]
        pieces += [hypothesis.piece for hypothesis in beam.active]
    return parents, pieces


def _row_of_free(parents: list[int], pieces: list[int], free_row: int, free_piece: int) -> int:
    """The row of the free text in the next call. Where it goes the way of a hypothesis, one row
    serves both; else it is put behind the others."""
    taken = list(zip(parents, pieces, strict=True))
    if (free_row, free_piece) in taken:
        return taken.index((free_row, free_piece))
    parents.append(free_row)
    pieces.append(free_piece)
    return len(taken)


class _Beam:
    """Hypotheses that compete, and the sentences they have come to, with their scores."""

    def __init__(self, start: Node):
        self.active = [Hypothesis(None, -1, start, 0.0, 0.0, "", 0)]
        self.ended: list[tuple[Hypothesis, float, float]] = []
        self.reached: dict[tuple[Node, str], float] = {}
        """Scores of the texts begun so far: what comes to one of them at a later step, in more
        pieces, and scores no more has its twin ahead of it."""

    @property
    def best_ended(self) -> float:
        return max((score for _, score, _ in self.ended), default=-np.inf)


class _Quiet:
    """What the decoder writes of its own accord behind the texts of all rows: the same texts, on
    sound without speech."""

    def __init__(self, model: SpeechModel, habits: Habits, rows: int):
        self._model = model
        first, memory = habits.begun
        self._memory = memory.rows([0] * rows)
        self.following = np.repeat(first, rows, axis=0)
        """Log probabilities, a row for each text."""

    def advance(self, parents: Sequence[int], pieces: Sequence[int]) -> None:
        """One piece further, as the texts themselves are."""
        self.following, self._memory = self._model.advance(self._memory.rows(parents), pieces)


class _Step:
    """What is the same at every step of a search."""

    def __init__(
        self,
        model: SpeechModel,
        encoded: Encoded,
        graph: Graph,
        settings: SearchSettings,
        habits: Habits,
        least: float,
    ):
        self.settings, self.least = settings, least
        self.vocabulary = model.vocabulary
        self.candidates = _Candidates(model, graph, settings, habits)
        self.longest = _longest(encoded.seconds, settings)
        """Most pieces of a sentence."""
        self.fastest = settings.syllables_per_second * encoded.seconds + settings.syllables_more
        """Most syllables of a sentence."""


def _near(beam: _Beam, vocabulary: Vocabulary, settings: SearchSettings) -> list[Ended]:
    """The best of a beam's sentences, best first."""
    ended = sorted(beam.ended, key=lambda item: -item[1])[: settings.rank_most]
    found = []
    for hypothesis, score, raw in ended:
        if score >= ended[0][1] - settings.rank_reach:
            pieces = hypothesis.pieces()
            found.append(Ended(vocabulary.text(pieces), score, raw, tuple(pieces)))
    return found


PLAIN_ENGLISH = (
    "The first thing to know about the weather is that it changes.",
    "When we came home last night there was nobody in the house.",
    "I would like to have a cup of tea and some bread with butter.",
    "He said that the train would be late, but it was on time.",
    "In the morning they walked down to the river and looked at the boats.",
    "What do you think about the new school?",
    "She has been working here for more than ten years.",
    "There are many ways to make a good soup.",
    "You can find it on the other side of the street.",
    "They asked how long it would take and what it would cost.",
    "Please turn on the light in the kitchen and close the window.",
    "This is the best book that I have read in a long time.",
)
"""Sentences about nothing in particular, to see which pieces the decoder writes often."""
_NEVER = 1e-9
"""Added to probabilities before their logarithm."""


class Habits:
    """What the decoder writes of its own accord: log probabilities of texts without speech."""

    SECONDS = 2.0
    LEVEL = 0.02
    """Faint pink noise rather than digital silence, which no microphone gives."""

    def __init__(self, model: SpeechModel):
        self._model = model
        self._bonuses: dict[tuple[float, float], np.ndarray] = {}

    @cached_property
    def begun(self) -> tuple[np.ndarray, Memory]:
        """Log probabilities of the first piece, and the memory behind it; see SpeechModel.begin."""
        count = int(self.SECONDS * SAMPLE_RATE)
        sound = self.LEVEL * noise.pink(count, np.random.default_rng(1))
        return self._model.begin(self._model.encode(sound.astype(np.float32)))

    @cached_property
    def usual(self) -> np.ndarray:
        """Log of each piece's mean probability along PLAIN_ENGLISH, when nothing is said."""
        texts = [self._model.vocabulary.cut(" " + sentence) for sentence in PLAIN_ENGLISH]
        total, places = np.zeros(1), 0
        for text in texts:  # one by one: all at once take 30 MB
            (along,) = self._model.texts(self.begun, [text])
            total = np.exp(along.everywhere).sum(axis=0) + total
            places += len(along.everywhere)
        return np.log(total / places + _NEVER)

    def bonus(self, bonus: float, rarity: float) -> np.ndarray:
        """[pieces]: what the search adds for each; see SearchSettings. Minus infinity where a
        piece may be part of no sentence."""
        key = bonus, rarity
        if key not in self._bonuses:
            vocabulary = self._model.vocabulary
            added = vocabulary.speaks * (bonus - rarity * self.usual)
            self._bonuses[key] = np.where(vocabulary.ordinary, added, -np.inf).astype(np.float32)
        return self._bonuses[key]

    def get_ready(self, settings: SearchSettings = DEFAULTS) -> None:
        """Load the model and work out now what every search with these settings needs."""
        self._model.load()
        self.bonus(settings.bonus, settings.rarity)

    def of(self, texts: Sequence[Sequence[int]]) -> list[float]:
        """Log probability of each text, its end included, when nothing is said."""
        if not texts:
            return []
        return log_probabilities(self._model, self.begun, texts)


def ranked(
    ended: Sequence[Ended],
    habits: Sequence[float],
    vocabulary: Vocabulary,
    settings: SearchSettings,
) -> tuple[Ended, ...]:
    """Finished sentences, ranked anew by what they gain over their habits."""
    again = []
    for one, habit in zip(ended, habits, strict=True):
        speaking = float(vocabulary.speaks[list(one.pieces)].sum())
        score = one.raw - settings.rank_habit * habit + settings.rank_piece * speaking
        again.append(replace(one, score=score))
    return tuple(sorted(again, key=lambda one: -one.score))


def _endings(
    active: list[Hypothesis], following: np.ndarray, weighed: np.ndarray, vocabulary: Vocabulary
) -> list[tuple[Hypothesis, float, float]]:
    """Hypotheses that are whole sentences, with their scores and log probabilities if they end
    here."""
    ids = vocabulary.ending_ids
    found = []
    for row, hypothesis in enumerate(active):
        if hypothesis.node.final:
            score = hypothesis.score + float(np.logaddexp.reduce(weighed[row, ids]))
            raw = hypothesis.raw + float(np.logaddexp.reduce(following[row, ids]))
            found.append((hypothesis, score, raw))
    return found


class _Candidates:
    """The pieces that hypotheses may go on with, best first: (score, row, piece, node).

    Only pieces whose score is within reach are looked up in the graph, from the best one on, so
    it is expanded where the sound leads. Where that would be many, because the sound is far from
    the grammar, the graph and the tree of pieces are walked together instead.
    """

    def __init__(self, model: SpeechModel, graph: Graph, settings: SearchSettings, habits: Habits):
        self._vocabulary = model.vocabulary
        self._graph, self._reach = graph, settings.reach
        added = (settings.rank_piece, 0.0) if settings.habit else (settings.bonus, settings.rarity)
        self._bonus = habits.bonus(*added)
        self._most_bonus = self._bonus.max()

    def best(
        self, active: list[Hypothesis], following: np.ndarray, best_ended: float, most: int
    ) -> list[tuple[float, int, int, Node]]:
        """At most ``most`` within reach of the best one and of the best finished sentence."""
        if not active:
            return []
        following = following[: len(active)]
        begun = np.array([hypothesis.score for hypothesis in active], dtype=np.float32)
        lowest = best_ended - self._reach
        # A bonus is never negative, so an ordinary piece scores no less than this without it; where
        # the best piece is none, this is too high, and the floor is lowered below.
        ceiling = float((following[:, FIRST_ORDINARY:].max(axis=1) + begun).max())
        places, scores = self._from(following, begun, max(ceiling - self._reach, lowest))
        floor = max(float(scores.max(initial=ceiling)) - self._reach, lowest)
        while True:
            within = scores >= floor
            if np.count_nonzero(within) > _MOST_LOOKED_UP:
                return self._along_the_tree(active, following, begun, lowest, most)
            found = self._of_these(
                active, places[within], scores[within], following.shape[1], lowest
            )
            enough = found and floor <= max(found[0][0] - self._reach, lowest)
            if enough or floor <= lowest:
                return found[:most]
            floor = max(found[0][0], best_ended) - self._reach if found else floor - self._reach
            floor = max(floor, lowest)
            places, scores = self._from(following, begun, floor)

    def _from(
        self, following: np.ndarray, begun: np.ndarray, floor: float
    ) -> tuple[np.ndarray, np.ndarray]:
        """Places in ``following`` of all pieces whose score is at or above a floor (and of some
        below it), and the scores."""
        least = (floor - self._most_bonus) - begun
        places = np.flatnonzero(following >= least[:, None])
        rows, pieces = np.divmod(places, following.shape[1])
        return places, following.ravel()[places] + self._bonus[pieces] + begun[rows]

    def _of_these(
        self,
        active: list[Hypothesis],
        places: np.ndarray,
        scores: np.ndarray,
        pieces: int,
        lowest: float,
    ) -> list[tuple[float, int, int, Node]]:
        """Those of the places that are paths in the graph, best first."""
        order = np.argsort(-scores, kind="stable")
        found: list[tuple[float, int, int, Node]] = []
        for score, place in zip(scores[order].tolist(), places[order].tolist(), strict=True):
            if found and score < max(found[0][0] - self._reach, lowest):
                break
            row, piece = divmod(place, pieces)
            node = self._vocabulary.after(self._graph, active[row].node, piece)
            if node is not None:
                found.append((score, row, piece, node))
        return found

    def _along_the_tree(
        self,
        active: list[Hypothesis],
        following: np.ndarray,
        begun: np.ndarray,
        lowest: float,
        most: int,
    ) -> list[tuple[float, int, int, Node]]:
        """The same, walking the graph and the tree of pieces together."""
        by_text = self._vocabulary.by_text
        scores = np.take(following, by_text, axis=1)
        scores += self._bonus[by_text]
        scores += begun[:, None]
        nodes = [one.node for one in active]
        return self._vocabulary.best(self._graph, nodes, scores, lowest, self._reach, most)


def _survivors(
    beam: _Beam, following: np.ndarray, weighed: np.ndarray, step: _Step
) -> list[tuple[Hypothesis, int]]:
    """The hypotheses of the next step, best first, each with the row it comes from."""
    vocabulary, settings = step.vocabulary, step.settings
    merged: dict[tuple[Node, str], Hypothesis] = {}
    kept: list[tuple[Hypothesis, int]] = []
    waiting: list[tuple[Hypothesis, int]] = []
    begin_alike: dict[str, int] = {}
    most_alike = settings.opening_share * settings.width
    # Twins (the same words written or cut differently) merge, so look a bit deeper.
    look = 2 if settings.opening_share >= 1 else _LOOK
    most = look * settings.width
    found = step.candidates.best(beam.active, weighed, beam.best_ended, most)
    for score, row, piece, node in found:
        parent = beam.active[row]
        syllables = parent.syllables + vocabulary.syllables(piece)
        if syllables > step.fastest:
            continue
        key = parent.key + vocabulary.letters(piece)
        if beam.reached.get((node, key), -np.inf) >= score:
            continue
        raw = parent.raw + float(following[row, piece])
        twin = merged.get((node, key))
        if twin is not None:
            twin.score = float(np.logaddexp(twin.score, score))
            twin.raw = float(np.logaddexp(twin.raw, raw))
        elif len(kept) < settings.width:
            hypothesis = Hypothesis(parent, piece, node, score, raw, key, syllables)
            merged[node, key] = hypothesis
            opening = key[:_OPENING]
            begin_alike[opening] = begin_alike.get(opening, 0) + 1
            place = kept if begin_alike[opening] <= most_alike else waiting
            place.append((hypothesis, row))
    if waiting:
        kept += waiting[: settings.width - len(kept)]
        kept.sort(key=lambda pair: -pair[0].score)
    for hypothesis, _ in kept:
        beam.reached[hypothesis.node, hypothesis.key] = hypothesis.score
    return [item for item in kept if item[0].raw >= step.least]
