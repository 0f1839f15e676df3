"""Sentences that could be taken for the one that was said: training is to tell them apart.

A search along a grammar does not ask whether a piece is likely among all, but which of a few
sentences is the likelier: thirteen or thirty, inches or feet. ``rivals`` writes such sentences, in
the manner of the text itself ("13" becomes "30", "thirteen" becomes "thirty").
"""

from __future__ import annotations

import random
import re

from assistant.hearing.sound_alike import ALIKE_FIGURES, ALIKE_WORDS, TEENS, TENS
from audio_fixtures.hardening import sentences

DIGITS = "zero one two three four five six seven eight nine ten eleven twelve".split()
KINDS: tuple[tuple[str, ...], ...] = tuple(
    tuple(kind)
    for kind in (
        DIGITS,
        [*TEENS, *TENS, "twenty"],
        "half third quarter fifth sixth eighth tenth sixteenth thirds eighths sixteenths".split(),
        "inch inches feet foot yards meters millimeters centimeters".split(),
        "ounces milliliters liters pints quarts gallons cups spoons grams kilos pounds".split(),
        "fahrenheit celsius".split(),
        "second seconds minute minutes hour hours day days".split(),
        sentences.DAYS,
        sentences.MONTHS,
        sentences.PLACES,
        sentences.THINGS,
        sentences.FOODS,
        sentences.ANIMALS,
        sentences.ADJECTIVES,
    )
)
"""Words of one kind, any of which may stand for any other."""
SOUND_ALIKE_SHARE = 0.6
"""Of the rivals of a teen or a ten, so many are the one it sounds like."""

NUMBER_WEIGHT = 3
"""A number is changed so many times as often as another word."""

_WORD = re.compile(r"[A-Za-z]+|[0-9]+")


def _is_number(word: str) -> bool:
    return word.isdigit() or any(word.lower() in kind for kind in KINDS[:3])


def _other_figures(figures: str, rng: random.Random) -> str:
    """Another whole number: the one that sounds alike, one figure changed, added or left out."""
    if rng.random() < SOUND_ALIKE_SHARE and (alike := ALIKE_FIGURES.get(figures[-2:])):
        return figures[:-2] + rng.choice(alike)
    at = rng.randrange(len(figures))
    change = rng.choice(("other", "other", "less", "more"))
    if change == "less" and len(figures) > 1:
        return figures[:at] + figures[at + 1 :]
    if change == "more" and len(figures) < 3:
        return figures + rng.choice("0123456789")
    return figures[:at] + rng.choice("0123456789") + figures[at + 1 :]


def _other_word(word: str, rng: random.Random) -> str | None:
    plain = word.lower()
    if plain in ALIKE_WORDS and rng.random() < SOUND_ALIKE_SHARE:
        other = ALIKE_WORDS[plain]
    else:
        kinds = [kind for kind in KINDS if word in kind or plain in kind]
        if not kinds:
            return None
        other = rng.choice(rng.choice(kinds))
    return other.capitalize() if word[0].isupper() else other


def rivals(text: str, rng: random.Random, most: int) -> list[str]:
    """At most ``most`` different sentences, each with one word or number of ``text`` changed.

    >>> rivals("13.", random.Random(1), 1)
    ['30.']
    """
    places = [
        place for place in _WORD.finditer(text) if place[0].isdigit() or _other_word(place[0], rng)
    ]
    weights = [NUMBER_WEIGHT if _is_number(place[0]) else 1 for place in places]
    found: list[str] = []
    for _ in range(3 * most if places else 0):
        place = rng.choices(places, weights)[0]
        other = (_other_figures if place[0].isdigit() else _other_word)(place[0], rng)
        sentence = text[: place.start()] + other + text[place.end() :]
        if sentence != text and sentence not in found:
            found.append(sentence)
        if len(found) == most:
            break
    return found
