"""Random sentences of a grammar, for fixtures, measuring and tests."""

from __future__ import annotations

import random

from assistant.exchange import Reading
from assistant.hearing import jsgf

_MORE_REPEATS = 0.4
"""Chance of one more round of a repeat."""


def sample(
    rules: jsgf.RuleSet, rng: random.Random, root: str | None = None, optional: float = 0.5
) -> Reading:
    """One sentence: alternatives evenly or by weight.

    root: full name of a rule; a random public one when not given. optional: the chance that
    an optional part is said.
    """
    root = root or rng.choice(rules.roots)
    words: list[str] = []
    tags: list[tuple[str, str]] = []

    def speak(item: jsgf.Expansion) -> None:
        match item:
            case jsgf.Token(text):
                words.append(text)
            case jsgf.Ref(name, _):
                speak(rules.rules[name])
            case jsgf.Sequence(items):
                for child in items:
                    speak(child)
            case jsgf.Alternatives(items, weights):
                odds = [1.0 if weight is None else weight for weight in weights]
                speak(rng.choices(items, odds)[0])
            case jsgf.Maybe(child):
                if rng.random() < optional:
                    speak(child)
            case jsgf.Repeat(child, at_least):
                for _ in range(at_least):
                    speak(child)
                while rng.random() < _MORE_REPEATS:
                    speak(child)
            case jsgf.Tagged(child, names):
                begun, place = len(words), len(tags)
                speak(child)
                covered = " ".join(words[begun:])
                for offset, tag in enumerate(names):
                    name, value = jsgf.split_tag(tag)
                    tags.insert(place + offset, (name, covered if value is None else value))
            case jsgf.Void():
                raise ValueError("the grammar led into <VOID>")

    speak(rules.rules[root])
    return Reading(" ".join(words), tuple(tags), jsgf.RuleSet.short(root))
