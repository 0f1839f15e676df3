"""The constrained search: the best sentences of a graph for one utterance.

A beam of hypotheses is advanced one piece at a time, all in one call of the decoder. At
each step a hypothesis may take any vocabulary piece that is a path in the graph, so every
tokenisation of an allowed sentence is in reach. The model's free (greedy) decoding rides
along as one more row of the same call.

Scores are natural-log probabilities plus ``bonus`` for each piece that holds a letter or
digit. Without it, a plain sum ends too early and drops tails ("of three eighths bead").
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from assistant.hearing.graph import Graph, Node
from assistant.hearing.speech_model import Encoded, SpeechModel
from assistant.hearing.vocabulary import END


@dataclass(frozen=True)
class SearchSettings:
    """Tuned by measurement on sentences and noise apart from the tests."""

    width: int = 16
    """Most hypotheses kept at a step."""
    reach: float = 10.0
    """Hypotheses further than this below the best one are dropped."""
    bonus: float = 1.5
    """Added for each piece that holds a letter or a digit."""
    finished_reach: float = 10.0
    """The search stops when all that goes on is this far below the best finished one."""


@dataclass(eq=False, slots=True)
class Hypothesis:
    """A text begun: its pieces as a chain, its score, its place in the graph."""

    parent: Hypothesis | None
    piece: int
    node: Node
    score: float
    raw: float
    key: str = field(default="")

    def pieces(self) -> list[int]:
        found = []
        at = self
        while at.parent is not None:
            found.append(at.piece)
            at = at.parent
        return found[::-1]


@dataclass(frozen=True)
class Ended:
    """A whole sentence that was reached: its written text and scores."""

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


_PIECES_PER_SECOND = 12
_PIECES_EXTRA = 16
_LONGEST = 180
"""The decoder was trained on at most 194 pieces."""


def _longest(seconds: float) -> int:
    return min(_LONGEST, int(_PIECES_PER_SECOND * seconds) + _PIECES_EXTRA)


class FreeRow:
    """The greedy decoding, advanced step by step."""

    def __init__(self) -> None:
        self.pieces: list[int] = []
        self.raw = 0.0
        self.going = True

    def take(self, logits: np.ndarray, log_total: float) -> None:
        piece = int(logits.argmax())
        self.raw += float(logits[piece]) - log_total
        if piece == END:
            self.going = False
        else:
            self.pieces.append(piece)


def log_totals(logits: np.ndarray) -> np.ndarray:
    """log Σ exp over each row."""
    top = logits.max(axis=1, keepdims=True)
    return (top + np.log(np.exp(logits - top).sum(axis=1, keepdims=True)))[:, 0]


def free_decode(model: SpeechModel, encoded: Encoded) -> tuple[str, float, int]:
    """What the model writes unbound: text, log probability, steps."""
    free = FreeRow()
    logits, memory = model.begin(encoded)
    longest = _longest(encoded.seconds)
    free.take(logits[0], log_totals(logits)[0])
    while free.going and len(free.pieces) < longest:
        logits, memory = model.advance(encoded, memory, np.array(free.pieces[-1:]))
        free.take(logits[0], log_totals(logits)[0])
    return model.vocabulary.text(free.pieces), free.raw, len(free.pieces)


def search(
    model: SpeechModel,
    encoded: Encoded,
    graph: Graph,
    settings: SearchSettings = SearchSettings(),
) -> SearchResult:
    """The best sentences of ``graph`` for the encoded sound."""
    vocabulary = model.vocabulary
    active = [Hypothesis(None, -1, graph.start, 0.0, 0.0)]
    free = FreeRow()
    ended: list[tuple[Hypothesis, float, float]] = []
    best_ended = -np.inf
    logits, memory = model.begin(encoded)
    free_row = 0
    longest = _longest(encoded.seconds)
    steps, rows = 1, 1
    while True:
        totals = log_totals(logits)
        if free.going:
            free.take(logits[free_row], float(totals[free_row]))

        # Gather what each hypothesis may become.
        scores, owners, allowed = [], [], []
        for row, hypothesis in enumerate(active):
            options = vocabulary.allowed(graph, hypothesis.node)
            allowed.append(options)
            line = logits[row] - totals[row]
            if hypothesis.node.final:
                end = float(np.logaddexp.reduce(line[vocabulary.ending_ids]))
                ended.append((hypothesis, hypothesis.score + end, hypothesis.raw + end))
                best_ended = max(best_ended, hypothesis.score + end)
            if len(options.ids):
                scores.append(hypothesis.score + line[options.ids] + settings.bonus * options.speaks)
                owners.append(row)
        survivors: list[tuple[Hypothesis, int]] = []
        if scores and steps < longest:
            survivors = _survivors(active, owners, scores, allowed, logits, totals, vocabulary,
                                   settings, best_ended)
        if not survivors and not free.going:
            break
        if not survivors and len(free.pieces) >= longest:
            break
        active = [hypothesis for hypothesis, _ in survivors]
        parents = [row for _, row in survivors]
        pieces = [hypothesis.piece for hypothesis in active]
        if free.going:
            if len(free.pieces) >= longest:
                free.going = False
            else:
                parents.append(free_row)
                pieces.append(free.pieces[-1])
        if not pieces:
            break
        chosen = np.array(parents)
        if len(chosen) != len(logits) or (chosen != np.arange(len(chosen))).any():
            memory = memory.rows(chosen)
        free_row = len(active)
        logits, memory = model.advance(encoded, memory, np.array(pieces))
        steps += 1
        rows += len(pieces)

    ended.sort(key=lambda item: -item[1])
    return SearchResult(
        ended=tuple(
            Ended(vocabulary.text(hypothesis.pieces()), score, raw)
            for hypothesis, score, raw in ended
        ),
        free_text=vocabulary.text(free.pieces).strip(),
        free_raw=free.raw,
        steps=steps,
        rows=rows,
    )


def _survivors(active, owners, scores, allowed, logits, totals, vocabulary, settings, best_ended):
    """The hypotheses of the next step, best first, each with the row it comes from."""
    flat = np.concatenate(scores)
    floor = max(flat.max() - settings.reach, best_ended - settings.finished_reach)
    candidates = np.flatnonzero(flat >= floor)
    # Twins (the same words written or cut differently) merge below, so look a bit deeper.
    most = settings.width * 2
    if len(candidates) > most:
        candidates = candidates[np.argpartition(-flat[candidates], most)[:most]]
    candidates = candidates[np.argsort(-flat[candidates], kind="stable")]
    starts = np.cumsum([0] + [len(part) for part in scores])
    merged: dict[tuple[Node, str], Hypothesis] = {}
    kept: list[tuple[Hypothesis, int]] = []
    for candidate in candidates:
        part = int(np.searchsorted(starts, candidate, side="right")) - 1
        row = owners[part]
        index = candidate - starts[part]
        options = allowed[row]
        piece = int(options.ids[index])
        parent = active[row]
        node = options.nodes[index]
        key = parent.key + "".join(c for c in vocabulary.texts[piece].lower() if c.isalnum())
        twin = merged.get((node, key))
        raw = parent.raw + float(logits[row, piece] - totals[row])
        score = float(flat[candidate])
        if twin is not None:
            twin.score = float(np.logaddexp(twin.score, score))
            twin.raw = float(np.logaddexp(twin.raw, raw))
            continue
        if len(kept) == settings.width:
            continue
        hypothesis = Hypothesis(parent, piece, node, score, raw, key)
        merged[node, key] = hypothesis
        kept.append((hypothesis, row))
    return kept
