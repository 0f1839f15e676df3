"""What the free decoding says about a number that two readings disagree on.

The free decoding is wrong about words of the trade, but a number is plain English: where it
writes the number of the second reading and not that of the first, the first is in doubt
however large its margin is.
"""

from __future__ import annotations

from collections import Counter
from contextlib import suppress
from fractions import Fraction

from assistant.exchange import Heard, Reading
from assistant.understanding.quantities import NUMBER_WORDS, NotAQuantity, number
from assistant.understanding.typed import in_words, tidy

_JOINERS = frozenset({"a", "an", "and", "o", "oh"})
"""Number words that are often no number: "a cartridge", "to and fro"."""


def numbers(text: str) -> Counter[Fraction]:
    """The numbers in a text, in words or figures: "three feet 4" -> 3, 4."""
    found: Counter[Fraction] = Counter()
    run: list[str] = []
    for word in [*in_words(tidy(text)), ""]:
        if word in NUMBER_WORDS:
            run.append(word)
            continue
        while run and run[0] in _JOINERS - {"a", "an"}:
            run.pop(0)
        while run and run[-1] in _JOINERS:
            run.pop()
        if run and set(run) - _JOINERS:
            with suppress(NotAQuantity):  # "five six" is no one number: it decides nothing
                found[number(run)] += 1
        run = []
    return found


def takes_the_rivals_side(heard: Heard, rival: Reading) -> bool:
    """Whether the free text holds the numbers that only the rival has, and lacks some of
    those that only the best reading has."""
    if heard.best is None or not heard.free_text:
        return False
    best, other, free = (numbers(t) for t in (heard.best.text, rival.text, heard.free_text))
    only_best, only_other = best - other, other - best
    return bool(only_other) and only_other <= free and not (only_best and only_best <= free)


def confirms(heard: Heard, rival: Reading) -> bool:
    """Whether the free text holds the numbers that only the best reading has. A hearing
    without a free text (another recogniser's) counts as confirmed: there is no second opinion.
    """
    if heard.best is None or not heard.free_text:
        return True
    only_best = numbers(heard.best.text) - numbers(rival.text)
    return bool(only_best) and only_best <= numbers(heard.free_text)
