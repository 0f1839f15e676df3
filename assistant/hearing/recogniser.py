"""Recognisers: an utterance in, the best readings of a grammar out."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Protocol

import numpy as np

from assistant.exchange import Heard, Reading, Utterance
from assistant.hearing import lost_cycles
from assistant.hearing.graph import Graph, Node
from assistant.hearing.loudness import estimated_snr
from assistant.hearing.search import (
    DEFAULTS,
    Habits,
    SearchResult,
    SearchSettings,
    beams,
    log_probabilities,
    ranked,
)
from assistant.hearing.sound_alike import on_trial, rivals
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
        """The best sentences for sound that is encoded already; it is searched again where the
        first search found nothing near."""
        return self.search_all(encoded, (graph,))[0]

    def search_all(
        self, encoded: Encoded, graphs: Sequence[Graph], meaning: Meaning | None = None
    ) -> list[SearchResult]:
        """The same for several graphs, each searched by itself: a small one is not crowded
        out of the beam. The last ones come first, and where the free text is a sentence of one,
        the rest are not searched to the end. All are searched again where none has found
        anything near.

        meaning: where it is given and all that was found means the same, and no number in it has
        one that sounds alike, there is nothing to rank, and the beam's own scores are left: in all
        results or in none, since those of several graphs are compared.
        """
        for graph in graphs:
            graph.trim()
        found = list(zip(self._found(encoded, graphs), graphs, strict=True))
        alike = meaning is not None and len(set(_meanings(found, meaning))) <= 1
        others = [rivals(result.ended, graph) for result, graph in found]
        if alike and not any(others):
            return [result for result, _ in found]
        return [
            self._weighed(result, graph, encoded, its_own)
            for (result, graph), its_own in zip(found, others, strict=True)
        ]

    def _found(self, encoded: Encoded, graphs: Sequence[Graph]) -> list[SearchResult]:
        """The sentences of each graph, with the scores of the beams that found them: the first
        one's come first, and those of a beam that weighs otherwise do not compare with them."""
        settings = self.settings
        results: list[SearchResult] = []
        least, known = -np.inf, None
        for graph in reversed(graphs):
            result = self._beams(encoded, graph, [graph.start], settings, known, least)
            results.insert(0, result)
            known = result
            if result.has_free_text:
                least = result.free_raw - settings.hopeless_gap
        if _nearest(results).gap > settings.weighing_gap:
            results = [
                self._again(result, graph, encoded)
                for result, graph in zip(results, graphs, strict=True)
            ]
        if _nearest(results).is_short(settings.short_share):
            results = [
                self._longer(result, graph, encoded)
                for result, graph in zip(results, graphs, strict=True)
            ]
        return results

    def _beams(self, encoded, graph, starts, settings, known, least=-np.inf) -> SearchResult:
        return beams(self.model, encoded, graph, starts, settings, self.habits, known, least)

    def _again(self, result: SearchResult, graph: Graph, encoded: Encoded) -> SearchResult:
        """The result, or one with sentences of likely rules that were searched each by itself; if
        those are no nearer, of a beam that weighs as the ranking does; at last, of a wider one."""
        settings = self.settings
        if result.gap > settings.again_gap:
            result = self._with_likely(result, graph, encoded, settings)
        if result.gap > settings.weighing_gap:
            weighing = replace(settings, habit=settings.rank_habit, reach=settings.weighing_reach)
            result = self._with_more(result, encoded, graph, [graph.start], weighing)
        hopeless = settings.again_most < result.gap < float("inf")
        if hopeless or result.gap <= settings.again_gap:
            return result
        wider = replace(
            settings,
            width=settings.again_width,
            reach=settings.again_reach,
            opening_share=settings.again_opening_share,
        )
        return self._with_more(result, encoded, graph, [graph.start], wider)

    def _longer(self, result: SearchResult, graph: Graph, encoded: Encoded) -> SearchResult:
        """The result and what else likely rules have, where the best sentence is much shorter than
        the free text: in noise a few words, soon at an end, put what goes on out of reach, while
        the ranking would find the long one likelier. They are kept however far below they are."""
        settings = self.settings
        patient = replace(settings, reach=settings.longer_reach, rank_reach=np.inf)
        return self._with_likely(result, graph, encoded, patient)

    def _with_likely(
        self,
        result: SearchResult,
        graph: Graph,
        encoded: Encoded,
        settings: SearchSettings,
    ) -> SearchResult:
        """The result with sentences of likely rules that were searched each by itself."""
        likely = graph.likely.best(result.free_text, settings.alone_most)
        if not likely:
            return result
        starts = [graph.start_of(root) for root in likely]
        narrow = replace(settings, width=settings.alone_width)
        return self._with_more(result, encoded, graph, starts, narrow)

    def _with_more(
        self,
        result: SearchResult,
        encoded: Encoded,
        graph: Graph,
        starts: Sequence[Node],
        settings: SearchSettings,
    ) -> SearchResult:
        """The result joined with that of another search, in which what is far below the best
        sentence known is not looked at."""
        least = result.free_raw - result.gap - settings.hopeless_gap
        again = self._beams(encoded, graph, starts, settings, result, least)
        return _joined(result, again, settings)

    def _weighed(
        self, result: SearchResult, graph: Graph, encoded: Encoded, others: list[str]
    ) -> SearchResult:
        """The result ranked anew, with the numbers that sound like those heard on trial.

        others: the rivals of its best sentence.
        """
        # One call for the habits of all, as the best before the ranking is the best after it.
        cuts = self._cuts(result.ended[0].text, others) if others else []
        habits = self.habits.of([*(one.pieces for one in result.ended), *cuts])
        found = len(result.ended)
        vocabulary, settings = self.model.vocabulary, self.settings
        ended = ranked(result.ended, habits[:found], vocabulary, settings)
        habits = habits[found:]
        if ended and ended[0].text != result.ended[0].text:
            others = rivals(ended, graph)
            cuts = self._cuts(ended[0].text, others) if others else []
            habits = self.habits.of(cuts) if others else []
        if others:
            raws = log_probabilities(self.model, self.model.begin(encoded), cuts)
            tried = on_trial(ended[0], others, raws, habits, settings.rank_habit)
            ended = tuple(sorted((*ended, *tried), key=lambda one: -one.score))
        return replace(result, ended=ended)

    def _cuts(self, best: str, others: Sequence[str]) -> list[list[int]]:
        """A sentence and its rivals, cut into pieces the same way."""
        return [self.model.vocabulary.cut(" " + text.strip()) for text in (best, *others)]

    def hear(
        self,
        utterance: Utterance,
        graph: Graph | Sequence[Graph],
        meaning: Meaning = by_tags,
        prior: Prior = no_prior,
    ) -> Heard:
        graphs = (graph,) if isinstance(graph, Graph) else tuple(graph)
        meaning = cache(meaning)  # asked for before the ranking and behind it
        with lost_cycles.put_off():
            encoded = self.model.encode(utterance.samples)
            found = zip(self.search_all(encoded, graphs, meaning), graphs, strict=True)
            heard = judge_all(list(found), meaning, prior)
        return replace(heard, snr_db=estimated_snr(utterance.samples))


def _joined(one: SearchResult, other: SearchResult, settings: SearchSettings) -> SearchResult:
    """A result, and behind it the best sentences of a second search for the same sound, each cut of
    a text once. The two may weigh differently, so only the ranking compares them."""
    known = {ended.pieces for ended in one.ended}
    more = sorted(other.ended, key=lambda ended: -ended.score)[: settings.rank_most]
    near = (ended for ended in more if ended.score >= more[0].score - settings.rank_reach)
    return replace(one, ended=(*one.ended, *(new for new in near if new.pieces not in known)))


def _meanings(found: Sequence[tuple[SearchResult, Graph]], meaning: Meaning) -> Iterator[Hashable]:
    for result, graph in found:
        for ended in result.ended:
            yield meaning(graph.readings(ended.text, most=1)[0])


def _nearest(results: Sequence[SearchResult]) -> SearchResult:
    """The result that comes nearest to the free text."""
    return min(results, key=lambda result: result.gap)


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
