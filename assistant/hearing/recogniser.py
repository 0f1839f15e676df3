"""Recognisers: an utterance in, the best readings of a grammar out."""

from __future__ import annotations

import gc
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from assistant.exchange import Heard, Reading, Utterance
from assistant.hearing.graph import Graph
from assistant.hearing.loudness import estimated_snr
from assistant.hearing.search import DEFAULTS, Habits, SearchResult, SearchSettings, search
from assistant.hearing.sound_alike import with_sound_alikes
from assistant.hearing.speech_model import Encoded, SpeechModel

Meaning = Callable[[Reading], Hashable]
"""Readings with equal meanings are one reading: their probabilities are added."""

Prior = Callable[[Reading], float]
"""Log of how much likelier a reading is than another before it is heard; 0 or less."""


def by_tags(reading: Reading) -> Hashable:
    """The plainest meaning: same rule, same tags, same words in them."""
    return reading.rule, reading.tags


def no_prior(reading: Reading) -> float:
    """Every sentence is as likely as any other before it is heard."""
    return 0.0


class Recogniser(Protocol):
    """What the exchange needs of a recogniser; the bundled one is BundledRecogniser."""

    def hear(
        self,
        utterance: Utterance,
        graph: Graph | Sequence[Graph],
        meaning: Meaning = by_tags,
        prior: Prior = no_prior,
    ) -> Heard:
        """The best reading, its margins and its rivals; of several graphs, the best of any."""


@dataclass(eq=False)
class BundledRecogniser:
    """The bundled English model, searched along a grammar."""

    model: SpeechModel
    settings: SearchSettings = DEFAULTS

    def __post_init__(self) -> None:
        self.habits = Habits(self.model)

    def search(self, encoded: Encoded, graph: Graph) -> SearchResult:
        """The best sentences for sound that is encoded already; a second, wider search where
        the first one found nothing near."""
        return self.search_all(encoded, (graph,))[0]

    def search_all(self, encoded: Encoded, graphs: Sequence[Graph]) -> list[SearchResult]:
        """The same for several graphs, each searched by itself: a small one is not crowded
        out of the beam. The last ones come first, and where the free text is a sentence of one,
        the rest are not searched to the end. All are searched again, wider, where none has
        found anything near."""
        for graph in graphs:
            graph.trim()
        settings = self.settings
        results: list[SearchResult] = []
        least = -np.inf
        for graph in reversed(graphs):
            result = search(self.model, encoded, graph, settings, self.habits, least)
            results.insert(0, result)
            if result.has_free_text:
                least = result.free_raw - settings.hopeless_gap
        if _nearest(results) <= settings.again_gap:
            return self._tried(results, graphs, encoded)
        if not settings.again_most < _nearest(results) < float("inf"):
            wider = replace(
                settings,
                width=settings.again_width,
                reach=settings.again_reach,
                opening_share=settings.again_opening_share,
            )
            again = [search(self.model, encoded, graph, wider, self.habits) for graph in graphs]
            results = [
                second if second.gap < first.gap else first
                for first, second in zip(results, again, strict=True)
            ]
        if _nearest(results) > settings.again_gap:
            results = [
                self._rule_by_rule(result, graph, encoded)
                for result, graph in zip(results, graphs, strict=True)
            ]
        return self._tried(results, graphs, encoded)

    def _rule_by_rule(self, result: SearchResult, graph: Graph, encoded: Encoded) -> SearchResult:
        """The result, or one with sentences of rules that were searched each by itself."""
        settings, found = self.settings, dict.fromkeys(result.ended)
        for root in graph.likely.best(result.free_text, settings.alone_most):
            start = graph.start_of(root)
            alone = search(self.model, encoded, graph, settings, self.habits, start=start)
            found |= dict.fromkeys(alone.ended)
        ended = sorted(found, key=lambda one: -one.score)
        return replace(result, ended=tuple(ended[: settings.rank_most]))

    def _tried(
        self, results: Sequence[SearchResult], graphs: Sequence[Graph], encoded: Encoded
    ) -> list[SearchResult]:
        """The results with the numbers that sound like those heard on trial beside them."""
        return [
            with_sound_alikes(result, graph, self.model, encoded, self.habits, self.settings)
            for result, graph in zip(results, graphs, strict=True)
        ]

    def hear(
        self,
        utterance: Utterance,
        graph: Graph | Sequence[Graph],
        meaning: Meaning = by_tags,
        prior: Prior = no_prior,
    ) -> Heard:
        graphs = (graph,) if isinstance(graph, Graph) else tuple(graph)
        with _no_collection():
            encoded = self.model.encode(utterance.samples)
            found = zip(self.search_all(encoded, graphs), graphs, strict=True)
            heard = judge_all(list(found), meaning, prior)
        return replace(heard, snr_db=estimated_snr(utterance.samples))


def _nearest(results: Sequence[SearchResult]) -> float:
    """The gap of the result that comes nearest to the free text."""
    return min(result.gap for result in results)


@contextmanager
def _no_collection() -> Iterator[None]:
    """Puts off Python's search for lost cycles: walking a graph makes many objects that stay, which
    sets it off, and it would look through all of them while somebody waits for an answer."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def judge(
    result: SearchResult,
    graph: Graph,
    meaning: Meaning = by_tags,
    prior: Prior = no_prior,
) -> Heard:
    """Join sentences that mean the same, rank what is left, and take the margins.

    One written text stands for one reading, the plainest: where the grammar lets "2.5" be
    "two point five" or "two and a half", the sound cannot tell, and no doubt is made of it.
    """
    return judge_all([(result, graph)], meaning, prior)


def judge_all(
    found: Sequence[tuple[SearchResult, Graph]],
    meaning: Meaning = by_tags,
    prior: Prior = no_prior,
) -> Heard:
    """``judge`` over several graphs searched for the same sound: their scores compare."""
    groups: dict[Hashable, _Group] = {}
    for result, graph in found:
        for ended in result.ended:
            reading = graph.readings(ended.text, most=1)[0]
            group = groups.setdefault(meaning(reading), _Group())
            group.add(reading, ended.score + prior(reading), ended.raw)
    ranked = sorted(groups.values(), key=lambda group: -group.score)
    free = found[0][0]
    if not ranked:
        return Heard(None, free_text=free.free_text, free_margin=float("inf"))
    best = ranked[0]
    return Heard(
        best=best.reading(),
        margin=best.score - ranked[1].score if len(ranked) > 1 else float("inf"),
        free_margin=free.free_raw - best.raw,
        free_text=free.free_text,
        alternatives=tuple(group.reading() for group in ranked[1:]),
    )


class _Group:
    """Written texts of one meaning; their probabilities add up."""

    def __init__(self) -> None:
        self.score = self.raw = -np.inf
        self._leader: tuple[float, Reading] | None = None

    def add(self, reading: Reading, score: float, raw: float) -> None:
        if self._leader is None or score > self._leader[0]:
            self._leader = score, reading
        self.score = float(np.logaddexp(self.score, score))
        self.raw = float(np.logaddexp(self.raw, raw))

    def reading(self) -> Reading:
        assert self._leader is not None
        return replace(self._leader[1], score=self.score)
