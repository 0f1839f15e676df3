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

from rapidfuzz.distance import Levenshtein

from assistant.exchange import Heard, Reading
from assistant.understanding.quantities import NUMBER_WORDS, NotAQuantity, number
from assistant.understanding.typed import in_words, tidy

_JOINERS = frozenset({"a", "an", "and", "o", "oh"})
"""Number words that are often no number: "a cartridge", "to and fro"."""
_SURELY_NUMBERS = NUMBER_WORDS - _JOINERS
LOST_WORDS = 5
"""A free text this many words longer than the best reading tells of more than the reading has: so
it was with 36 of 147 wrong readings and with 5 of 3,031 right ones (synthetic voices, pink noise at
12 and 6 dB)."""
MISHEARD_WORDS = 3
"""A number in a longer stretch of other words than this is no word misheard: the whole stretch may
be something else. ("one canine plant at fifty five degrees" was read as "one p s i in p s i".)"""


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


def has_a_number_more(heard: Heard) -> bool:
    """Whether the free text holds all numbers of the best reading and another one."""
    if not _has_plain_numbers(heard):
        return False
    best, free = numbers(heard.best.text), numbers(heard.free_text)
    return best <= free and bool(free - best)


def lacks_a_number(heard: Heard) -> bool:
    """Whether the best reading has a number that the free text has not."""
    if heard.best is None or not heard.free_text:
        return False
    return not numbers(heard.best.text) <= numbers(heard.free_text)


def leaves_out(heard: Heard) -> bool:
    """Whether a part of what was said may be missing in the best reading, with no rival that would
    bring doubt: the free text is LOST_WORDS longer, or it holds more numbers, and one in a place
    where the reading has fewer words ("two feet of quarter inch bead" read as "two feet") or the
    two part for more than MISHEARD_WORDS. A number in the place of as many words ("one can i
    unclamp" for "when can i unclamp") is a word misheard.
    """
    if heard.best is None or not heard.free_text:
        return False
    best, free = _words(heard.best.text), _words(heard.free_text)
    if len(free) - len(best) >= LOST_WORDS:
        return True
    if not _has_plain_numbers(heard):
        return False
    if numbers(heard.free_text).total() <= numbers(heard.best.text).total():
        return False
    return any(
        _SURELY_NUMBERS & set(free[here:there])
        for kind, begin, end, here, there in _opcodes(best, free)
        if kind != "equal" and there - here > min(end - begin, MISHEARD_WORDS)
    )


def _has_plain_numbers(heard: Heard) -> bool:
    """Whether there is a free text to compare, and no row of figures in the best reading that is
    no one number ("at one thirty"): the free text may write it as one."""
    if heard.best is None or not heard.free_text:
        return False
    return all(_numbers_of(run) for run in _runs(heard.best.text))


def support(heard: Heard, rival: Reading) -> float:
    """How far the free text goes with the best reading rather than with a rival, -1 to 1: as it
    leans, but not with the best reading where it lacks a number of it."""
    leans = leaning(heard, rival)
    return 0.0 if leans > 0.0 and lacks_a_number(heard) else leans


def leaning(heard: Heard, rival: Reading) -> float:
    """Which of two readings the free text goes with: 1 where it has the best one's letters in all
    that they differ in, -1 where it has the rival's, 0 where it is as far from the one as from the
    other, or there is none.

    It is by how many letters it is nearer to the best one (Levenshtein's distance, figures read
    as words), over the distance between the two; by the triangle inequality never beyond 1. So
    words that both readings have, and that the free text may not know, count for nothing.
    """
    if heard.best is None or not heard.free_text:
        return 0.0
    best, other, free = (
        " ".join(_words(text)) for text in (heard.best.text, rival.text, heard.free_text)
    )
    apart = Levenshtein.distance(best, other)
    nearer = Levenshtein.distance(free, other) - Levenshtein.distance(free, best)
    return nearer / apart if apart else 0.0


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
    places = [
        ours[begin - 1 : end + 1]
        for kind, begin, end, _, _ in _opcodes(ours, theirs)
        if kind != "equal"
    ]
    return bool(places) and all(_holds(free, place) for place in places)


def _opcodes(one: list[str], other: list[str]) -> list[tuple[str, int, int, int, int]]:
    """The stretches of words in which two texts are equal or differ."""
    return SequenceMatcher(None, one, other, autojunk=False).get_opcodes()


def _holds(words: list[str], part: list[str]) -> bool:
    return any(words[at : at + len(part)] == part for at in range(len(words) - len(part) + 1))


def _words(text: str) -> list[str]:
    """The words of a text, figures read as words."""
    return in_words(tidy(text))
