"""Figures in a trainee's words, and whether they are what the card asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from num2words import num2words

from assistant.products.card import Loc
from assistant.rehearsal.card import Figure, ProcedureCard, Step
from assistant.rehearsal.words import Piece
from assistant.trade.rounding import STEP_TOLERANCE
from assistant.understanding import quantities
from assistant.understanding.quantities import NUMBER_WORDS, UNIT_WORDS, NotAQuantity
from assistant.units import Q, Quantity

Value = Quantity | int

LONGEST = 10
"""Words of one figure: "two hundred and twenty five degrees fahrenheit" has seven."""

UNIT_KINDS = ("duration", "length", "volume")
SCALE_WORDS = frozenset("degrees degree fahrenheit celsius centigrade f c".split())
US_SCALE = "degF"
NAMED_SCALES = SCALE_WORDS - {"degrees", "degree"}
_FIRST = NUMBER_WORDS - {"and", "third", "thirds", "fourth", "fifth", "second", "point o"}
_VAGUE = frozenset({"few", "couple", "several", "some", "first", "last"})
"""Before a unit they make no figure: "the first inches"."""

_ONE_OF = frozenset({"inch", "hour", "minute", "foot"})
"""Said alone before "and a half" they are one."""
_HUNDREDS = {
    f"{num2words(hundreds)} {num2words(rest)}": float(100 * hundreds + rest)
    for hundreds in range(1, 10)
    for rest in (*range(10, 20), *range(20, 100, 10))
}
"""Numbers as people say them for short: "one eighty" is 180, "two twenty" 220."""

Ask = Callable[[str], Mapping[str, Any]]
"""A question to the bench in words -> the figures of its answer; empty when there is none."""


@dataclass(frozen=True)
class Said:
    """One figure as it was said. kind "bare": a number without a unit."""

    kind: str
    value: Quantity | float
    words: str


@dataclass(frozen=True)
class Wrong:
    """A figure outside what the card asks for. limit: the nearest value that would do."""

    step: str
    figure: Figure
    said: Value
    words: str
    limit: Value
    side: str


def figures_in(words: Sequence[str]) -> Iterator[Said]:
    """Every figure of the words, longest first at each place, left to right.

    "three inches" is a length, "seventy degrees" a temperature, "two" before "coats" bare.
    """
    at = 0
    while at < len(words):
        said, used = _figure_at(words, at)
        if said is not None:
            yield said
        at += max(used, 1)


def _figure_at(words: Sequence[str], at: int) -> tuple[Said | None, int]:
    if words[at] in _ONE_OF and words[at + 1 : at + 3] == ["and", "a"]:
        said, used = _figure_at(("an", *words[at : at + 4]), 0)  # "every inch and a half"
        return said, used - 1
    if words[at] not in _FIRST or (at and words[at - 1] in _VAGUE):
        return None, 1
    if words[at] in ("a", "an") and words[at - 1 : at] in (["wait"], ["hold"], ["just"]):
        return None, 1  # "wait a minute" is no figure
    for end in range(min(len(words), at + LONGEST), at, -1):
        phrase = " ".join(words[at:end])
        last = words[end - 1]
        if last in SCALE_WORDS:
            try:
                return Said("temperature", quantities.temperature(phrase, "degF"), phrase), end - at
            except (NotAQuantity, ValueError):
                continue
        if not set(words[at:end]) & UNIT_WORDS:
            continue
        for kind in UNIT_KINDS:
            try:
                value = quantities.quantity(phrase, kind)
            except (NotAQuantity, ValueError, ArithmeticError):
                continue
            return Said(kind, value, phrase), end - at
    if words[at] in ("a", "an", "oh", "o"):
        return None, 1
    if " ".join(words[at : at + 2]) in _HUNDREDS:
        found, phrase = _HUNDREDS[" ".join(words[at : at + 2])], " ".join(words[at : at + 2])
        return Said("bare", found, phrase), 2
    for end in range(min(len(words), at + LONGEST), at, -1):
        try:
            number = float(quantities.number(words[at:end]))
        except (NotAQuantity, ValueError):
            continue
        return Said("bare", number, " ".join(words[at:end])), end - at
    return None, 1


def kinds_in(words: Sequence[str]) -> frozenset[str]:
    """The kinds of the figures that the words hold."""
    return frozenset(said.kind for said in figures_in(words))


def said_of(
    figure: Figure, pieces: Sequence[Piece], scale: str = US_SCALE
) -> list[tuple[Value, str]]:
    """What was said of a step's figure, less what was taken back: value and words.

    scale: unit of a temperature that is said without one, "degF" or "degC".
    """
    found: list[tuple[Value, str]] = []
    for piece in pieces:
        here = [
            (value, said.words)
            for said in figures_in(piece.words)
            if (value := _as(figure.kind, said, scale)) is not None
        ]
        if here and piece.taken_back:
            found = []
        found += here
    return found


def _as(kind: str, said: Said, scale: str) -> Value | None:
    """The figure as a value of that kind; a bare number is a count, or degrees; a bare fraction
    is inches in a US shop."""
    if said.kind == kind:
        return in_scale(said, scale)
    if said.kind != "bare":
        return None
    if kind == "count":
        return int(said.value) if float(said.value).is_integer() else None
    if kind == "temperature":
        return Q(float(said.value), scale)
    if kind == "length" and scale == US_SCALE and 0 < said.value < 1:
        return Q(float(said.value), "inch")  # "a three eighths bead"
    return None


def in_scale(said: Said, scale: str) -> Quantity | float:
    """The value of a figure; "seventy degrees" in ``scale``, for no scale was said with it."""
    if said.kind == "temperature" and not set(said.words.split()) & NAMED_SCALES:
        return Q(float(said.value.m_as(US_SCALE)), scale)
    return said.value


def wrong_figures(
    step: Step, pieces: Sequence[Piece], ask: Ask, scale: str = US_SCALE
) -> list[Wrong]:
    """The figures of a step that were said and are not what they must be.

    Where several of a kind were said ("four millimeters on one millimeter sheet") one that is
    right is enough: which of them was meant cannot be told.
    """
    found = []
    for figure in step.figures:
        said = said_of(figure, pieces, scale)
        if not said:
            continue
        low, high = limits(figure, pieces, ask)
        sides = [outside(value, low, high) for value, _ in said]
        if all(sides):
            value, words = said[-1]
            limit = low if sides[-1] == "under" else high
            found.append(Wrong(step.key, figure, value, words, limit, sides[-1]))
    return found


def limits(figure: Figure, pieces: Sequence[Piece], ask: Ask) -> tuple[Value | None, Value | None]:
    """The lowest and the highest value that is right; None where there is no such end.

    For a figure that a routine gives, at the temperature that was said with it, else at the
    usual one.
    """
    if figure.question is None:
        return figure.lowest, figure.highest
    exact = ask(question_for(figure, pieces)).get(figure.figure)
    if exact is None:
        return None, None
    if figure.bound == "at least":
        return exact, None
    if figure.bound == "at most":
        return None, exact
    return exact, exact


def unanswered(card: ProcedureCard, ask: Ask) -> Iterator[tuple[Loc, str]]:
    """(key, why) of each figure whose question gives no such figure here: a misspelt question,
    a name that no answer has, a product that the shop has not."""
    for i, step in enumerate(card.steps):
        for j, figure in enumerate(step.figures):
            if figure.question is not None and limits(figure, (), ask) == (None, None):
                why = f"the answer to {question_for(figure, ())!r} has no figure {figure.figure!r}"
                yield ("steps", i, "figures", j, "question"), why


def question_for(figure: Figure, pieces: Sequence[Piece]) -> str:
    """The figure's question with the temperature that was said, else the usual one."""
    words = figure.usual or ""
    for piece in pieces:
        for said in figures_in(piece.words):
            if said.kind == "temperature" or (said.kind == "bare" and _after_at(piece, said)):
                words = said.words if said.kind == "temperature" else f"{said.words} degrees"
    return (figure.question or "").replace("{temperature}", words)


def _after_at(piece: Piece, said: Said) -> bool:
    """Whether a bare number follows "at": "two hours at seventy"."""
    return f"at {said.words}" in piece.text


def outside(value: Value, low: Value | None, high: Value | None) -> str:
    """ "under", "over" or "" for a value inside; the ends are inside."""
    plain, low, high = (_plain(one) for one in (value, low, high))
    if low is not None and plain < low - abs(low) * STEP_TOLERANCE:
        return "under"
    if high is not None and plain > high + abs(high) * STEP_TOLERANCE:
        return "over"
    return ""


def _plain(value: Value | None) -> float | None:
    if value is None or isinstance(value, int | float):
        return value
    return float(value.to_base_units().magnitude)
