"""The numbers that sound like those heard, put on trial beside them.

A beam drops a hypothesis early, and with it the one rival that matters: where "ninety" was
dropped, "nineteen" has no rival left and its margin says nothing. So the best sentence is
written once more with each of its numbers' sound-alikes, and those are scored on the same
sound in one call.
"""

from __future__ import annotations

import re
from dataclasses import replace

from assistant.hearing.graph import Graph
from assistant.hearing.search import (
    Ended,
    Habits,
    SearchResult,
    SearchSettings,
    log_probabilities,
)
from assistant.hearing.speech_model import Encoded, SpeechModel

_TEENS = "thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
_TENS = "thirty forty fifty sixty seventy eighty ninety".split()
_WORDS = dict(zip(_TEENS, _TENS, strict=True))
_WORDS |= {ten: teen for teen, ten in _WORDS.items()}
_FIGURES = {str(10 + n): f"{n}0" for n in range(3, 10)}
_FIGURES |= {ten: teen for teen, ten in _FIGURES.items()}

MOST_RIVALS = 6
"""Sentences put on trial; one number differs in each."""

_PLACES = re.compile(r"(?<![0-9./:])[0-9]{2,4}(?![0-9/:])|[A-Za-z]+")


def sound_alikes(text: str) -> list[str]:
    """The text with one number at a time replaced by the one that sounds like it.

    >>> sound_alikes("How much for 19 inches?")
    ['How much for 90 inches?']
    """
    found = []
    for place in _PLACES.finditer(text):
        word = place.group()
        if word[0].isdigit():
            # "170" is heard as "117": the last two figures are the word that sounds alike
            other = _FIGURES.get(word[-2:])
            other = word[:-2] + other if other else None
        else:
            other = _WORDS.get(word.lower())
        if other:
            found.append(text[: place.start()] + other + text[place.end() :])
    return found[:MOST_RIVALS]


def with_sound_alikes(
    result: SearchResult,
    graph: Graph,
    model: SpeechModel,
    encoded: Encoded,
    habits: Habits,
    settings: SearchSettings,
) -> SearchResult:
    """``result`` with the sound-alikes of its best sentence among its sentences, each with
    the score it has beside that sentence when both are cut into pieces the same way.

    A rival on trial can bring doubt but not win: the beam, which weighs every way of cutting a
    text, had dropped it. (Where it could, "thirteen" was heard as "thirty" in clean sound.)
    """
    if not result.ended:
        return result
    best = max(result.ended, key=lambda ended: ended.score)
    known = {ended.text for ended in result.ended}
    rivals = [text for text in sound_alikes(best.text) if text not in known and graph.has(text)]
    if not rivals:
        return result
    texts = [model.vocabulary.cut(" " + text.strip()) for text in (best.text, *rivals)]
    raws = log_probabilities(model, model.begin(encoded), texts)
    gains = [
        raw - settings.rank_habit * habit for raw, habit in zip(raws, habits.of(texts), strict=True)
    ]
    added = tuple(
        Ended(text, best.score + min(0.0, gain - gains[0]), best.raw + raw - raws[0])
        for text, gain, raw in zip(rivals, gains[1:], raws[1:], strict=True)
    )
    ended = tuple(sorted((*result.ended, *added), key=lambda item: -item.score))
    return replace(result, ended=ended)
