"""The numbers that sound like those heard, put on trial beside them.

A beam drops a hypothesis early, and with it the one rival that matters: where "ninety" was
dropped, "nineteen" has no rival left and its margin says nothing. So the best sentence is
written once more with each of its numbers' sound-alikes, and those are scored on the same
sound in one call. Feet and inches sound like one number: "seven feet four", "seventy four", and
"nine feet ten", "nineteen"; so does what is left of a number in noise: "two hundred eight" of
"two hundred eighteen".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from assistant.hearing import written
from assistant.hearing.graph import Graph
from assistant.hearing.search import Ended

TEENS = list(written.TEENS)[3:]
"""Thirteen to nineteen: the smaller ones sound like no tens."""
TENS = list(written.TENS)[1:]
"""Thirty to ninety, each of which sounds like one of the teens."""
ALIKE_WORDS = dict(zip(TEENS, TENS, strict=True))
ALIKE_WORDS |= {ten: teen for teen, ten in ALIKE_WORDS.items()}
ALIKE_FIGURES = {str(10 + n): [f"{n}0"] for n in range(3, 10)}
ALIKE_FIGURES |= {f"{n}0": [f"1{n}"] for n in range(3, 10)}
AFTER_HUNDREDS = {f"0{n}": [f"1{n}", f"{n}0"] for n in range(3, 10)}
"""Behind the figure of the hundreds: "208" may be what is left of 218 or 280."""

_ONES = list(written.UNITS)
_FIGURES = written.UNITS | {"ten": written.TEENS["ten"]}
_TY = dict(zip(_ONES[1:], written.TENS, strict=True))
_TEEN = dict(zip(_ONES[2:], TEENS, strict=True))
_OF_TY, _OF_TEEN = ({sound: one for one, sound in table.items()} for table in (_TY, _TEEN))

MOST_RIVALS = 6
"""Sentences put on trial; one number differs in each."""

_PLACES = re.compile(r"(?<![0-9./:])[0-9]{2,4}(?![0-9/:])|[A-Za-z]+")
_HUNDREDS = re.compile(rf"(?<=hundred )(?:and )?({'|'.join(_ONES[2:])})(?![a-z])", re.IGNORECASE)
_FEET_AND_INCHES = re.compile(
    rf"(?<![a-z0-9./:])([2-9]|{'|'.join(_TY)})[ -](?:feet|foot)[ -]([1-9]|10|{'|'.join(_ONES)}|ten)"
    r"(?![a-z0-9./:]|[ -](?:and|point|hundred))",
    re.IGNORECASE,
)
_INCHES = re.compile(
    rf"(?<![a-z0-9./:])(?:(1)([3-9])|([2-9])([1-9])|({'|'.join(_OF_TEEN)})"
    rf"|({'|'.join(_OF_TY)})[ -]({'|'.join(_ONES)}))(?=[ -]inch)",
    re.IGNORECASE,
)


def sound_alikes(text: str) -> list[str]:
    """The text with one number at a time replaced by one that sounds like it.

    >>> sound_alikes("How much for 19 pounds?")
    ['How much for 90 pounds?']
    >>> sound_alikes("for seven feet four inches")
    ['for seventy four inches']
    """
    found = []
    for place in _PLACES.finditer(text):
        for other in _alike(place.group()):
            found.append(text[: place.start()] + other + text[place.end() :])
    for pattern, others in (
        (_HUNDREDS, _after_hundreds),
        (_FEET_AND_INCHES, _as_one_number),
        (_INCHES, _as_feet_and_inches),
    ):
        found += _replaced(text, pattern, others)
    return found[:MOST_RIVALS]


def in_feet_and_inches(text: str) -> list[str]:
    """The text with one number of inches at a time told in feet and inches that sound like it.

    >>> in_feet_and_inches("for seventy four inches")
    ['for seven feet four inches']
    """
    return _replaced(text, _INCHES, _as_feet_and_inches)


def _replaced(
    text: str, pattern: re.Pattern[str], others: Callable[[re.Match[str]], list[str]]
) -> list[str]:
    return [
        text[: place.start()] + other + text[place.end() :]
        for place in pattern.finditer(text)
        for other in others(place)
    ]


def _alike(word: str) -> list[str]:
    """A number word's or a figure's sound-alikes."""
    if not word[0].isdigit():
        other = ALIKE_WORDS.get(word.lower())
        return [other] if other else []
    # "170" is heard as "117": the last two figures are the word that sounds alike
    lead, last = word[:-2], word[-2:]
    others = ALIKE_FIGURES.get(last) or (AFTER_HUNDREDS.get(last, []) if lead else [])
    return [lead + other for other in others]


def _after_hundreds(place: re.Match[str]) -> list[str]:
    one = place[1].lower()
    return [_TEEN[one], _TY[one]]


def _as_one_number(place: re.Match[str]) -> list[str]:
    """ "seven feet four" as "seventy four", "9 feet 10" as "19"."""
    feet, inches = place[1].lower(), place[2].lower()
    if feet.isdigit() or inches.isdigit():
        feet, inches = _FIGURES.get(feet, feet), _FIGURES.get(inches, inches)
        return [f"1{feet}"] * (feet != "2") if inches == "10" else [feet + inches]
    if inches == "ten":
        return [_TEEN[feet]] if feet in _TEEN else []
    return [f"{_TY[feet]} {inches}"]


def _as_feet_and_inches(place: re.Match[str]) -> list[str]:
    """The other way round."""
    ten, teen, tens, ones, teen_word, ty_word, one_word = place.groups()
    if ten:
        return [f"{teen} feet 10"]
    if tens:
        return [f"{tens} feet {ones}"]
    if teen_word:
        return [f"{_OF_TEEN[teen_word.lower()]} feet ten"]
    return [f"{_OF_TY[ty_word.lower()]} feet {one_word.lower()}"]


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
