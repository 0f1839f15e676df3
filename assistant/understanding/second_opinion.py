"""What the free decoding says about a number that two readings disagree on.

The free decoding is wrong about words of the trade, but a number is plain English: where it
writes the number of the second reading and not that of the first, the first is in doubt
however large its margin is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from difflib import SequenceMatcher
from fractions import Fraction
from itertools import groupby

from assistant.exchange import Heard, Reading
from assistant.understanding.quantities import NUMBER_WORDS, NotAQuantity, number
from assistant.understanding.typed import in_words, tidy

_JOINERS = frozenset({"a", "an", "and", "o", "oh"})
"""Number words that are often no number: "a cartridge", "to and fro"."""


def numbers(text: str) -> Counter[Fraction]:
    """The numbers in a text, in words or figures: "three feet 4" -> 3, 4."""
    return Counter(value for run in _runs(text) for value in _numbers_of(run))


def _runs(text: str) -> Iterator[list[str]]:
    """The number words that stand in a row, joiners at the edges left off."""
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
            yield run
        run = []


def _numbers_of(run: list[str]) -> list[Fraction]:
    """The number that a row of number words is, or those on both sides of its "and"s: "seventy
    and fifty" is two; of "a twenty five", where the article is none of it, 25. "five six" is no one
    number, and decides nothing."""
    with suppress(NotAQuantity):
        return [number(run)]
    if run[0] in {"a", "an"}:
        return _numbers_of(run[1:])
    found: list[Fraction] = []
    for joined, part in groupby(run, key=lambda word: word == "and"):
        if not joined:
            with suppress(NotAQuantity):
                found.append(number(list(part)))
    return found


def leaves_out(heard: Heard) -> bool:
    """Whether the free text holds all numbers of the best reading and another one: "two feet of
    quarter inch bead" read as "two feet", with no rival that would bring doubt. A row of figures
    in the reading that is no one number ("at one thirty") leaves it open."""
    if heard.best is None or not heard.free_text:
        return False
    if not all(_numbers_of(run) for run in _runs(heard.best.text)):
        return False
    best, free = numbers(heard.best.text), numbers(heard.free_text)
    return best <= free and bool(free - best)


def takes_the_rivals_side(heard: Heard, rival: Reading) -> bool:
    """Whether the free text holds the numbers that only the rival has, and lacks some of
    those that only the best reading has."""
    if heard.best is None or not heard.free_text:
        return False
    best, other, free = (numbers(t) for t in (heard.best.text, rival.text, heard.free_text))
    only_best, only_other = best - other, other - best
    return bool(only_other) and only_other <= free and not (only_best and only_best <= free)


def confirms(heard: Heard, rival: Reading) -> bool:
    """Whether the free text holds the numbers that only the best reading has; where both have
    the same numbers, whether it holds those and the words in which the two differ. A hearing
    without a free text (another recogniser's) counts as confirmed: there is no second opinion.
    """
    if heard.best is None or not heard.free_text:
        return True
    best, other, free = (numbers(t) for t in (heard.best.text, rival.text, heard.free_text))
    if best == other:
        return best <= free and _has_words_of(heard.free_text, heard.best.text, rival.text)
    only_best = best - other
    return bool(only_best) and only_best <= free


_EDGE = "|"
"""Stands before the first and behind the last word."""


def _has_words_of(free_text: str, best: str, rival: str) -> bool:
    """Whether the free text goes with ``best`` wherever the two differ, a word before and a
    word behind included: "at 20 degrees." goes with "twenty degrees", not with "twenty degrees
    celsius"."""
    free, ours, theirs = (
        [_EDGE, *in_words(tidy(text)), _EDGE] for text in (free_text, best, rival)
    )
    matches = SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes()
    places = [ours[begin - 1 : end + 1] for kind, begin, end, _, _ in matches if kind != "equal"]
    return bool(places) and all(_holds(free, place) for place in places)


def _holds(words: list[str], part: list[str]) -> bool:
    return any(words[at : at + len(part)] == part for at in range(len(words) - len(part) + 1))
