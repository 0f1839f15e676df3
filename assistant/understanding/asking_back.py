"""The question that tells two readings apart, and the replies that answer it.

Numbers that sound alike are asked for figure by figure ("five zero or one five?"), because
no figure sounds like another. Nothing here knows what the numbers are about.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from assistant.exchange import Reading
from assistant.speaking.wording import digit_by_digit
from assistant.understanding import quantities
from assistant.understanding.quantities import NUMBER_WORDS, NotAQuantity

ORDINALS = ("first", "second")


@dataclass(frozen=True)
class Question:
    """written: for the screen. spoken: for the ear, with figures that cannot be confused."""

    written: str
    spoken: str


@dataclass(frozen=True)
class Option:
    """One of two readings: what it says where they differ.

    words: as heard, "fifty degrees". figures: the same with its number figure by figure,
    "five zero"; empty where it holds no number that could be mistaken.
    """

    reading: Reading
    words: str
    figures: str


def options(best: Reading, rival: Reading) -> tuple[Option, Option]:
    """The two readings with the words in which they differ."""
    ours, theirs = _difference(best, rival)
    return (
        Option(best, ours, in_figures(ours)),
        Option(rival, theirs, in_figures(theirs)),
    )


def which(best: Reading, rival: Reading) -> Question:
    """The question which of two readings was meant."""
    one, other = options(best, rival)
    written = f"Did you say {one.words!r} or {other.words!r}?"
    if one.figures and other.figures and _around(one.words) == _around(other.words):
        return Question(written, f"Did you say {one.figures} or {other.figures}?")
    return Question(written, f"Did you say {_apart(one)}, or {_apart(other)}?")


def sure(reading: Reading) -> Question:
    """The question whether one reading was meant; yes or no answers it."""
    apart = _apart(Option(reading, reading.text, in_figures(reading.text)))
    return Question(f"Did you say {reading.text!r}? Yes or no?", f"Did you say {apart}? Yes or no?")


def replies(choices: tuple[Option, ...]) -> tuple[tuple[str, ...], ...]:
    """For each option the replies that choose it: its words, its number, its figures, its place."""
    found = []
    for place, option in enumerate(choices):
        forms = [option.words, f"the {ORDINALS[place]}", f"the {ORDINALS[place]} one"]
        number = " ".join(word for word in option.words.split() if word in NUMBER_WORDS)
        forms += [number] if _one_number(option.words) is not None else []
        if option.figures:
            forms += [option.figures, option.figures.replace("zero", "oh")]
        found.append(tuple(dict.fromkeys(form for form in forms if form)))
    taken = [set(forms) for forms in found]
    # a form that would choose either of them chooses none
    return tuple(
        tuple(f for f in forms if not any(f in taken[o] for o in range(len(found)) if o != n))
        for n, forms in enumerate(found)
    )


def in_figures(words: str) -> str:
    """The one number in the words, figure by figure: "five zero", "three over eight"; or ""."""
    number = _one_number(words)
    if number is None or (number.denominator == 1 and 0 <= number < 10):
        return ""  # a single figure is as clear as it gets
    if _said_as_decimal(words):
        return digit_by_digit(float(number))
    whole, part = divmod(abs(number), 1)
    lead = f"{digit_by_digit(int(whole))} and " if whole else ""
    over = f"{digit_by_digit(part.numerator)} over {digit_by_digit(part.denominator)}"
    return f"{'minus ' if number < 0 else ''}{lead}{over}"


def _difference(one: Reading, other: Reading) -> tuple[str, str]:
    """The values in which two readings differ, or the whole sentences."""
    ours, theirs = dict(one.tags), dict(other.tags)
    names = [
        name
        for name in ours | theirs
        if quantities.canonical(ours.get(name, "")) != quantities.canonical(theirs.get(name, ""))
    ]
    if one.rule == other.rule and len(names) == 1 and names[0] in ours and names[0] in theirs:
        return ours[names[0]], theirs[names[0]]
    if one.rule == other.rule and one.text == other.text:
        # "and sixty": the same words under another tag, so the tags tell them apart
        here, there = (
            {value: name for name, value in tags.items() if name in names}
            for tags in (ours, theirs)
        )
        for value in here:
            if value in there and here[value] != there[value]:
                return f"{_noun(here[value])} {value}", f"{_noun(there[value])} {value}"
    return one.text, other.text


def _noun(tag: str) -> str:
    return tag.replace("_", " ")


def _apart(option: Option) -> str:
    return f"{option.words}, {option.figures}" if option.figures else option.words


def _runs(words: str) -> list[list[str]]:
    """Number words and other words in turn."""
    runs: list[list[str]] = []
    before = None
    for word in words.lower().split():
        kind = word in NUMBER_WORDS
        if kind == before:
            runs[-1].append(word)
        else:
            runs.append([word])
        before = kind
    return runs


def _one_number(words: str) -> Fraction | None:
    """The number in the words if there is exactly one."""
    found = []
    for run in _runs(words):
        if run[0] in NUMBER_WORDS:
            try:
                found.append(quantities.number(run))
            except NotAQuantity:
                if set(run) - {"a", "an", "and", "oh", "o"}:
                    return None
    return found[0] if len(found) == 1 else None


def _around(words: str) -> str:
    """The words without their number, units by one name."""
    return quantities.canonical(
        " ".join(word for word in words.lower().split() if word not in NUMBER_WORDS)
    )


def _said_as_decimal(words: str) -> bool:
    """Whether the number is whole or has a point; the others are fractions."""
    number = _one_number(words)
    return number is not None and (number.denominator == 1 or "point" in words.split())
