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

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from assistant.hearing.graph import Graph, Node
from assistant.hearing.speech_model import Encoded, Memory, SpeechModel
from assistant.hearing.vocabulary import END, Vocabulary


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
    again_gap: float = 12.0
    """Where the best sentence is this far below the free text, or there is none, the right one
    may have been dropped early for a word the model rarely writes: it is searched once more."""
    again_most: float = 60.0
    """Further below, a wider beam would not find it either, and the wider search, which takes
    two to three times as long, is saved. ("When can I implant" for "when can I unclamp" leads
    the first search 33 to 63 astray.)"""
    again_width: int = 24
    again_reach: float = 14.0
    opening_share: float = 1.0
    """Share of the hypotheses kept at a step that may begin alike, while others wait."""
    again_opening_share: float = 0.25
    """In the wider search: rows of numbers, of which there are many, crowd nothing else out."""
    alone_most: int = 4
    """Where nothing near has been found, so many rules are searched each by itself: those that
    share most pairs of neighbouring words with the free text."""
    hopeless_gap: float = 20.0
    """Where the free text is itself a sentence of one of several graphs, the others are searched no
    further than this below it. ("Say that again" is no question, and to find that out took the
    beam three times as long as to hear it.)"""
    rank_reach: float = 6.0
    rank_most: int = 6
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
    speaking: int
    """Pieces so far that hold a letter or a digit."""
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
    """A whole sentence that was reached: its written text, rank score, log probability."""

    text: str
    score: float
    raw: float


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
_MOST_LOOKED_UP = 800
"""Pieces looked up one by one at a step; listing all that are allowed then costs less."""
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
    model: SpeechModel, begun: tuple[np.ndarray, Memory], texts: list[list[int]]
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
    start: Node | None = None,
) -> SearchResult:
    """The best sentences of ``graph`` for the encoded sound.

    habits: made once for a model; made anew here if not given. least: texts whose log
    probability is below this are not looked at. start: where sentences begin, if not with all
    the graph's rules.
    """
    habits = habits or Habits(model)
    vocabulary = model.vocabulary
    longest = _longest(encoded.seconds, settings)
    fastest = settings.syllables_per_second * encoded.seconds + settings.syllables_more
    candidates = _Candidates(model, graph, settings, habits)
    active = [Hypothesis(None, -1, start or graph.start, 0.0, 0.0, "", 0, 0)]
    ended: list[tuple[Hypothesis, float, float]] = []
    free = FreeRow()
    free_row = 0  # the first call serves the one hypothesis and the free row alike
    following, memory = model.begin(encoded)
    steps, rows = 1, 1
    while True:
        if free.going:
            free.take(following[free_row])
        ended += _endings(active, following, vocabulary)
        survivors = []
        if steps < longest:
            best_ended = max((score for _, score, _ in ended), default=-np.inf)
            survivors = _survivors(
                active, following, candidates, vocabulary, settings, best_ended, fastest
            )
        survivors = [item for item in survivors if item[0].raw >= least]
        active = [hypothesis for hypothesis, _ in survivors]
        parents = [row for _, row in survivors]
        pieces = [hypothesis.piece for hypothesis in active]
        if free.going and steps < longest:
            # Where the free text goes the way of a hypothesis, one row serves both.
            step = (free_row, free.pieces[-1])
            taken = list(zip(parents, pieces, strict=True))
            free_row = taken.index(step) if step in taken else len(taken)
            if free_row == len(pieces):
                parents.append(step[0])
                pieces.append(step[1])
        if not pieces:
            break
        following, memory = model.advance(memory.rows(parents), pieces)
        steps += 1
        rows += len(pieces)

    ended.sort(key=lambda item: -item[1])
    return SearchResult(
        ended=_ranked(ended, habits, vocabulary, settings),
        free_text=vocabulary.text(free.pieces).strip(),
        free_raw=free.raw,
        steps=steps,
        rows=rows,
    )


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

    @cached_property
    def _begun(self) -> tuple[np.ndarray, Memory]:
        count = int(self.SECONDS * SAMPLE_RATE)
        sound = self.LEVEL * noise.pink(count, np.random.default_rng(1))
        return self._model.begin(self._model.encode(sound.astype(np.float32)))

    @cached_property
    def usual(self) -> np.ndarray:
        """Log of each piece's mean probability along PLAIN_ENGLISH, when nothing is said."""
        texts = [self._model.vocabulary.cut(" " + sentence) for sentence in PLAIN_ENGLISH]
        total, places = np.zeros(1), 0
        for text in texts:  # one by one: all at once take 30 MB
            (along,) = self._model.texts(self._begun, [text])
            total = np.exp(along.everywhere).sum(axis=0) + total
            places += len(along.everywhere)
        return np.log(total / places + _NEVER)

    def of(self, texts: list[list[int]]) -> list[float]:
        """Log probability of each text, its end included, when nothing is said."""
        return log_probabilities(self._model, self._begun, texts)


def _ranked(
    ended: list[tuple[Hypothesis, float, float]],
    habits: Habits,
    vocabulary: Vocabulary,
    settings: SearchSettings,
) -> tuple[Ended, ...]:
    """The best finished sentences, ranked anew; ``ended`` comes best first."""
    if not ended:
        return ()
    floor = ended[0][1] - settings.rank_reach
    near = [item for item in ended[: settings.rank_most] if item[1] >= floor]
    texts = [hypothesis.pieces() for hypothesis, _, _ in near]
    ranked = [
        Ended(
            vocabulary.text(pieces),
            raw - settings.rank_habit * habit + settings.rank_piece * hypothesis.speaking,
            raw,
        )
        for (hypothesis, _, raw), pieces, habit in zip(near, texts, habits.of(texts), strict=True)
    ]
    return tuple(sorted(ranked, key=lambda item: -item.score))


def _endings(
    active: list[Hypothesis], following: np.ndarray, vocabulary: Vocabulary
) -> list[tuple[Hypothesis, float, float]]:
    """Hypotheses that are whole sentences, with their scores if they end here."""
    found = []
    for row, hypothesis in enumerate(active):
        if hypothesis.node.final:
            end = float(np.logaddexp.reduce(following[row, vocabulary.ending_ids]))
            found.append((hypothesis, hypothesis.score + end, hypothesis.raw + end))
    return found


class _Candidates:
    """The pieces that hypotheses may go on with, best first: (score, row, piece, node).

    Only pieces whose score is within reach are looked up in the graph, from the best one on, so
    it is expanded where the sound leads. Where that would be many, because the sound is far from
    the grammar, all pieces that the grammar allows are listed instead.
    """

    def __init__(self, model: SpeechModel, graph: Graph, settings: SearchSettings, habits: Habits):
        vocabulary = self._vocabulary = model.vocabulary
        self._graph, self._reach = graph, settings.reach
        bonus = vocabulary.speaks * (settings.bonus - settings.rarity * habits.usual)
        self._bonus = np.where(vocabulary.ordinary, bonus, -np.inf).astype(np.float32)

    def best(
        self, active: list[Hypothesis], following: np.ndarray, best_ended: float, most: int
    ) -> list[tuple[float, int, int, Node]]:
        """At most ``most`` within reach of the best one and of the best finished sentence."""
        if not active:
            return []
        scores = following[: len(active)] + self._bonus
        scores += np.array([hypothesis.score for hypothesis in active], dtype=np.float32)[:, None]
        lowest = best_ended - self._reach
        floor = max(float(scores.max()) - self._reach, lowest)
        while True:
            places = np.flatnonzero(scores >= floor)
            if len(places) > _MOST_LOOKED_UP:
                return self._of_all(active, scores, lowest, most)
            found = self._of_these(active, scores, places, lowest)
            enough = found and floor <= max(found[0][0] - self._reach, lowest)
            if enough or floor <= lowest:
                return found[:most]
            floor = max(found[0][0], best_ended) - self._reach if found else floor - self._reach
            floor = max(floor, lowest)

    def _of_these(
        self, active: list[Hypothesis], scores: np.ndarray, places: np.ndarray, lowest: float
    ) -> list[tuple[float, int, int, Node]]:
        """Those of the places in ``scores`` that are paths in the graph, best first."""
        values = scores.ravel()[places]
        order = np.argsort(-values, kind="stable")
        found: list[tuple[float, int, int, Node]] = []
        for score, place in zip(values[order].tolist(), places[order].tolist(), strict=True):
            if found and score < max(found[0][0] - self._reach, lowest):
                break
            row, piece = divmod(place, scores.shape[1])
            node = self._vocabulary.after(self._graph, active[row].node, piece)
            if node is not None:
                found.append((score, row, piece, node))
        return found

    def _of_all(
        self, active: list[Hypothesis], scores: np.ndarray, lowest: float, most: int
    ) -> list[tuple[float, int, int, Node]]:
        """The same from the list of all pieces that the graph allows."""
        allowed = [self._vocabulary.allowed(self._graph, one.node) for one in active]
        values = np.concatenate([scores[row, one.ids] for row, one in enumerate(allowed)])
        if not len(values):
            return []
        floor = max(float(values.max()) - self._reach, lowest)
        starts = np.cumsum([0] + [len(one.ids) for one in allowed])
        found = []
        for place in np.argsort(-values, kind="stable")[:most]:
            if values[place] < floor:
                break
            row = int(np.searchsorted(starts, place, side="right")) - 1
            index = place - starts[row]
            piece, node = int(allowed[row].ids[index]), allowed[row].nodes[index]
            found.append((float(values[place]), row, piece, node))
        return found


def _survivors(
    active: list[Hypothesis],
    following: np.ndarray,
    candidates: _Candidates,
    vocabulary: Vocabulary,
    settings: SearchSettings,
    best_ended: float,
    fastest: float,
) -> list[tuple[Hypothesis, int]]:
    """The hypotheses of the next step, best first, each with the row it comes from."""
    merged: dict[tuple[Node, str], Hypothesis] = {}
    kept: list[tuple[Hypothesis, int]] = []
    waiting: list[tuple[Hypothesis, int]] = []
    begin_alike: dict[str, int] = {}
    most_alike = settings.opening_share * settings.width
    # Twins (the same words written or cut differently) merge, so look a bit deeper.
    look = 2 if settings.opening_share >= 1 else _LOOK
    most = look * settings.width
    for score, row, piece, node in candidates.best(active, following, best_ended, most):
        parent = active[row]
        syllables = parent.syllables + vocabulary.syllables[piece]
        if syllables > fastest:
            continue
        key = parent.key + vocabulary.letters[piece]
        raw = parent.raw + float(following[row, piece])
        twin = merged.get((node, key))
        if twin is not None:
            twin.score = float(np.logaddexp(twin.score, score))
            twin.raw = float(np.logaddexp(twin.raw, raw))
        elif len(kept) < settings.width:
            speaking = parent.speaking + int(vocabulary.speaks[piece])
            hypothesis = Hypothesis(parent, piece, node, score, raw, key, speaking, syllables)
            merged[node, key] = hypothesis
            opening = key[:_OPENING]
            begin_alike[opening] = begin_alike.get(opening, 0) + 1
            place = kept if begin_alike[opening] <= most_alike else waiting
            place.append((hypothesis, row))
    if waiting:
        kept += waiting[: settings.width - len(kept)]
        kept.sort(key=lambda pair: -pair[0].score)
    return kept
