"""Recognisers: an utterance in, the best readings of a grammar out."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from assistant.exchange import Heard, Reading, Utterance
from assistant.hearing.graph import Graph
from assistant.hearing.search import SearchResult, SearchSettings, search
from assistant.hearing.speech_model import SpeechModel

_FAR_BEHIND = 8.0
"""Sentences that score this much less than the best are not read back."""
_MOST_READ = 24

Meaning = Callable[[Reading], Hashable]
"""Readings with equal meanings are one reading: their probabilities are added."""


def by_tags(reading: Reading) -> Hashable:
    """The plainest meaning: same rule, same tags, same words in them."""
    return reading.rule, reading.tags


class Recogniser(Protocol):
    """What the exchange needs of a recogniser; the bundled one is BundledRecogniser."""

    def hear(self, utterance: Utterance, graph: Graph, meaning: Meaning = by_tags) -> Heard:
        """The best reading, its margins and its rivals."""


@dataclass(eq=False)
class BundledRecogniser:
    """The bundled English model, searched along a grammar."""

    model: SpeechModel
    settings: SearchSettings = SearchSettings()

    def hear(self, utterance: Utterance, graph: Graph, meaning: Meaning = by_tags) -> Heard:
        encoded = self.model.encode(utterance.samples)
        return judge(search(self.model, encoded, graph, self.settings), graph, meaning)


def judge(result: SearchResult, graph: Graph, meaning: Meaning) -> Heard:
    """Join sentences that mean the same, rank what is left, and take the margins.

    One written text stands for one reading, the plainest: where the grammar lets "2.5" be
    "two point five" or "two and a half", the sound cannot tell, and no doubt is made of it.
    """
    # What is far behind cannot be the answer nor make it doubtful.
    near = [
        ended for ended in result.ended if ended.score >= result.ended[0].score - _FAR_BEHIND
    ]
    groups: dict[Hashable, list[tuple[Reading, float, float]]] = {}
    for ended in near[:_MOST_READ]:
        reading = graph.readings(ended.text, most=1)[0]
        groups.setdefault(meaning(reading), []).append((reading, ended.score, ended.raw))
    ranked: list[tuple[Reading, float]] = []
    for members in groups.values():
        leader = members[0][0]
        score = float(np.logaddexp.reduce([score for _, score, _ in members]))
        raw = float(np.logaddexp.reduce([raw for _, _, raw in members]))
        ranked.append((Reading(leader.text, leader.tags, leader.rule, score), raw))
    ranked.sort(key=lambda item: -item[0].score)
    if not ranked:
        return Heard(None, free_text=result.free_text, free_margin=float("inf"))
    best, raw = ranked[0]
    margin = best.score - ranked[1][0].score if len(ranked) > 1 else float("inf")
    return Heard(
        best=best,
        margin=margin,
        free_margin=result.free_raw - raw,
        free_text=result.free_text,
        alternatives=tuple(reading for reading, _ in ranked[1:]),
    )
