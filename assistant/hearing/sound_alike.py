"""The numbers that sound like those heard, put on trial beside them.

A beam drops a hypothesis early, and with it the one rival that matters: where "ninety" was
dropped, "nineteen" has no rival left and its margin says nothing. So the best sentence is
written once more with each of its numbers' sound-alikes, and those are scored on the same
sound in one call.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from assistant.hearing.graph import Graph
from assistant.hearing.search import Ended

TEENS = "thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "thirty forty fifty sixty seventy eighty ninety".split()
ALIKE_WORDS = dict(zip(TEENS, TENS, strict=True))
ALIKE_WORDS |= {ten: teen for teen, ten in ALIKE_WORDS.items()}
ALIKE_FIGURES = {str(10 + n): f"{n}0" for n in range(3, 10)}
ALIKE_FIGURES |= {ten: teen for teen, ten in ALIKE_FIGURES.items()}

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
            other = ALIKE_FIGURES.get(word[-2:])
            other = word[:-2] + other if other else None
        else:
            other = ALIKE_WORDS.get(word.lower())
        if other:
            found.append(text[: place.start()] + other + text[place.end() :])
    return found[:MOST_RIVALS]


def rivals(ended: Sequence[Ended], graph: Graph) -> list[str]:
    """Sentences of the grammar that are the best of those found with another number, and were
    not found. ended: best first."""
    if not ended:
        return []
    known = {one.text for one in ended}
    return [text for text in sound_alikes(ended[0].text) if text not in known and graph.has(text)]


def on_trial(
    best: Ended, texts: Sequence[str], raws: Sequence[float], habits: Sequence[float], share: float
) -> list[Ended]:
    """Rivals of the best sentence, each with the score it has beside that sentence when both are
    cut into pieces the same way.

    raws, habits: log probability with and without the sound, of the best sentence and then of each
    rival. share: of the habit that is taken off.

    A rival on trial can bring doubt but not win: the beam, which weighs every way of cutting a
    text, had dropped it. (Where it could, "thirteen" was heard as "thirty" in clean sound.)
    """
    gains = [raw - share * habit for raw, habit in zip(raws, habits, strict=True)]
    return [
        Ended(text, best.score + min(0.0, gain - gains[0]), best.raw + raw - raws[0])
        for text, gain, raw in zip(texts, gains[1:], raws[1:], strict=True)
    ]
