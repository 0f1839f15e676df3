"""The drill: questions from the cards and from the routines with fresh figures, and answers
judged with tolerance and unit.

A figure may err to the safe side by more than to the other: a clamp time that is told too
long costs an hour, one that is told too short costs a panel.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Literal

from num2words import num2words

from assistant.rehearsal.card import Figure, ProcedureCard, Step
from assistant.rehearsal.figures import US_SCALE, Ask, Value, figures_in, in_scale, limits, outside
from assistant.rehearsal.matching import Matcher
from assistant.speaking.wording import written
from assistant.understanding.quantities import UNIT_WORDS, NotAQuantity, quantity
from assistant.understanding.typed import in_words, tidy
from assistant.units import Q, Quantity

SAFE_TOLERANCE = 0.25
"""Share by which a figure may err to the safe side."""
UNSAFE_TOLERANCE = 0.02
"""Share by which it may err to the other: what rounding in one's head costs."""
EVEN_TOLERANCE = 0.05
"""Share, both ways, where neither side is the safe one."""
DEGREES_TOLERANCE = 3.0
"""The same for temperatures, in degrees Fahrenheit: a share of degrees means nothing."""

NAMES = {"count": "whole number", "duration": "time"}
"""Kinds of figures that have another name when spoken of."""

_SKIPS = frozenset(
    {"skip", "skip it", "pass", "next", "i don't know", "i do not know", "dont know"}
)
"""Whole answers of somebody who wants to be told."""

Side = Literal["up", "down", "even", "exact"]
"""Where an error does no harm: a clamp time up, a work time down, a count nowhere."""


class Mark(Enum):
    """How an answer is judged."""

    right = "right"
    no_unit = "no unit"
    wrong = "wrong"
    unsafe = "wrong, and on the unsafe side"
    other_unit = "a figure of another kind"
    skipped = "skipped"
    not_understood = "not understood"


@dataclass(frozen=True)
class Judged:
    """mark, and what is said to it."""

    mark: Mark
    sentence: str

    @property
    def rating(self) -> int:
        """As progress counts it: 3 right, 2 right but for its unit, 1 wrong."""
        return {Mark.right: 3, Mark.no_unit: 2}.get(self.mark, 1)


@dataclass(frozen=True)
class Question:
    """item: its name in the progress, the same whatever the fresh figures. kind: what the
    answer is ("words" for a step). judge: the answer's words -> Judged. known: False where
    nothing here gives the answer, so that it cannot be judged."""

    item: str
    text: str
    kind: str
    judge: Callable[[str], Judged]
    reason: str = ""
    known: bool = True


# --- from the cards -----------------------------------------------------------------------


def card_items(card: ProcedureCard) -> list[str]:
    """The names of all questions that a card gives."""
    found = []
    for step in card.steps:
        found += [f"{card.key}:before:{step.key}" for _ in step.after[:1]]
        found += [f"{card.key}:figure:{step.key}:{figure.kind}" for figure in step.figures]
    return found


def card_question(card: ProcedureCard, item: str, ask: Ask) -> Question:
    """The question of that name. Raises KeyError for a name that the card has not."""
    _, what, key, *kind = item.split(":")
    step = card.step(key)
    if what == "before":
        return _before(card, key, item)
    figure = next((one for one in step.figures if [one.kind] == kind), None)
    if figure is None:
        raise KeyError(item)

    ends = limits(figure, (), ask)

    def judge(text: str) -> Judged:
        return _judge_figure(figure, text, *ends)

    return Question(item, figure.ask, figure.kind, judge, step.why, known=ends != (None, None))


def _before(card: ProcedureCard, key: str, item: str) -> Question:
    matcher = Matcher(card)
    step = card.step(key)

    def judge(text: str) -> Judged:
        told = {saying.step for saying in matcher.follow(text)} - {key}
        wanted = " and ".join(card.step(other).short for other in step.after)
        if _is_skip(text):
            return Judged(Mark.skipped, f"Skipped. It is: {wanted}.")
        if not told:
            return Judged(Mark.not_understood, f"I did not hear a step in that. It is: {wanted}.")
        if told & card.before[key]:
            return Judged(Mark.right, f"Right: {wanted}.")
        return Judged(Mark.wrong, f"Not that. Before it comes: {wanted}. {step.why}")

    return Question(item, _before_text(step), "words", judge, step.why)


def _before_text(step: Step) -> str:
    return f"What has to come before this step: {step.short}?"


def _judge_figure(figure: Figure, text: str, low: Value | None, high: Value | None) -> Judged:
    if figure.question is None:
        unsafe = "over" if low is None else "under"
        wanted = _range(low, high)
        return _judged(text, figure.kind, lambda value: outside(value, low, high), wanted, unsafe)
    exact = high if low is None else low
    sides: dict[str | None, Side] = {"at least": "up", "at most": "down"}
    return _judge_near(text, figure.kind, exact, sides.get(figure.bound, "even"))


def _range(low: Value | None, high: Value | None) -> str:
    if low is not None and high is not None:
        return f"{_shown(low)} to {_shown(high)}"
    return f"at least {_shown(low)}" if low is not None else f"at most {_shown(high)}"


# --- from the routines, with fresh figures ------------------------------------------------


@dataclass(frozen=True)
class Template:
    """A question to a routine. words: with a place for each fresh figure. fresh: the values to
    draw from; the first are degrees Fahrenheit where ``at_degrees``. figure: name of the answer's
    figure. kind: of the answer. side: where an error does no harm."""

    item: str
    words: str
    fresh: tuple[Sequence[float], ...]
    figure: str
    kind: str
    side: Side
    at_degrees: bool = False


TEMPLATES = (
    Template("clamp_time", "when can i unclamp at {} degrees with the long open",
             (range(55, 90),), "clamp_time", "duration", "up", True),
    Template("work_time", "how long do i have to work at {} degrees with the long open",
             (range(55, 90),), "work_time", "duration", "down", True),
    Template("sand_time", "when can i sand at {} degrees with the fast",
             (range(60, 95),), "sand_time", "duration", "up", True),
    Template("adhesive", "how much adhesive for {} inches of three eighths bead",
             (range(12, 80, 4),), "bead_volume", "volume", "up"),
    Template("spots", "how many spot welds for {} inches every inch and a half",
             (range(12, 60, 3),), "spot_welds", "count", "exact"),
    Template("clamps", "how many clamps for {} inches every three inches",
             (range(12, 60, 3),), "count", "count", "exact"),
    Template("button", "how big is the weld button for {} millimeter",
             (("point eight", "one", "one point two", "one point five", "two"),),
             "smallest_button", "length", "up"),
    Template("dew_point", "what is the dew point at {} degrees and {} percent humidity",
             (range(60, 85, 5), range(30, 80, 10)), "dew_point", "temperature", "up", True),
    Template("inches", "what is {} millimeters in inches",
             ((6, 8, 10, 12, 16, 20, 25, 40, 50),), "converted", "length", "even"),
    Template("hardener", "how much hardener for {} grams of filler",
             (range(50, 400, 25),), "hardener_mass", "mass", "even"),
    Template("lifts", "how many lifts of filler for {}",
             (("an eighth", "three sixteenths", "a quarter"),), "lifts", "count", "exact"),
)  # fmt: skip


def routine_items() -> list[str]:
    """The names of the questions to routines."""
    return [f"routine:{template.item}" for template in TEMPLATES]


def routine_question(item: str, rng: random.Random, ask: Ask, scale: str = US_SCALE) -> Question:
    """The question of that name with fresh figures. scale: of degrees that are said without one,
    "degF" or "degC". Raises KeyError for another name."""
    name = item.removeprefix("routine:")
    template = next((one for one in TEMPLATES if one.item == name), None)
    if template is None:
        raise KeyError(item)
    fresh = [rng.choice(list(values)) for values in template.fresh]
    if template.at_degrees:
        fresh[0] = round(Q(fresh[0], US_SCALE).m_as(scale))
    words = template.words.format(*(_said(value) for value in fresh))
    exact = ask(words).get(template.figure)
    text = f"{words[:1].upper()}{words[1:]}?".replace(" i ", " I ")
    if template.item == "adhesive":
        text = text.replace("?", ", in the bead alone?")
    if template.item == "button":
        text = text.replace("How big is", "How wide at least is")

    def judge(answer: str) -> Judged:
        return _judge_near(answer, template.kind, exact, template.side, scale)

    return Question(item, text, template.kind, judge, known=exact is not None)


def _said(value: float | str) -> str:
    return value if isinstance(value, str) else num2words(value).replace("-", " ")


def _side_of(value: Value, exact: Value, side: Side) -> str:
    """ "" for right, "under" or "over" beyond the tolerance."""
    if side == "exact":
        return "" if value == exact else "under" if value < exact else "over"
    if isinstance(exact, Quantity) and exact.check("[temperature]"):
        apart = value.m_as("degF") - exact.m_as("degF")
        below, above = DEGREES_TOLERANCE, DEGREES_TOLERANCE
    else:
        plain = [one.to_base_units().magnitude if isinstance(one, Quantity) else one
                 for one in (value, exact)]  # fmt: skip
        apart = plain[0] / plain[1] - 1
        below = {"up": UNSAFE_TOLERANCE, "down": SAFE_TOLERANCE}.get(side, EVEN_TOLERANCE)
        above = {"down": UNSAFE_TOLERANCE, "up": SAFE_TOLERANCE}.get(side, EVEN_TOLERANCE)
    return "under" if apart < -below else "over" if apart > above else ""


# --- judging ------------------------------------------------------------------------------


def _judge_near(text: str, kind: str, exact: Value, side: Side, scale: str = US_SCALE) -> Judged:
    """An answer against the exact figure, with the tolerance of its safe side."""
    unsafe = {"up": "under", "down": "over"}.get(side, "")
    wanted = _shown(exact, scale)
    return _judged(text, kind, lambda value: _side_of(value, exact, side), wanted, unsafe, scale)


def _judged(
    text: str,
    kind: str,
    side_of: Callable[[Value], str],
    wanted: str,
    unsafe: str = "",
    scale: str = US_SCALE,
) -> Judged:
    if _is_skip(text):
        return Judged(Mark.skipped, f"Skipped. It is {wanted}.")
    value, unit_missing = read_value(text, kind, scale)
    if unit_missing:
        return Judged(Mark.no_unit, f"Say the unit with it. It is {wanted}.")
    if value is None and any(figures_in(in_words(tidy(text)))):
        return Judged(Mark.other_unit, f"That is no {NAMES.get(kind, kind)}. It is {wanted}.")
    if value is None:
        return Judged(Mark.not_understood, f"I did not hear a figure in that. It is {wanted}.")
    side = side_of(value)
    if not side:
        return Judged(Mark.right, f"Right, {wanted}.")
    direction = "too little" if side == "under" else "too much"
    mark, more = (Mark.unsafe, ", on the unsafe side") if side == unsafe else (Mark.wrong, "")
    return Judged(mark, f"{_shown(value, scale)} is {direction}{more}: it is {wanted}.")


def _is_skip(text: str) -> bool:
    return " ".join(text.lower().strip(" .!?").split()) in _SKIPS


def read_value(text: str, kind: str, scale: str = US_SCALE) -> tuple[Value | None, bool]:
    """The answer's figure, and whether a figure was said that lacks its unit.

    A bare number is a count; a temperature without its scale is in ``scale``. The last figure
    counts, as after "no, wait".
    """
    words = in_words(tidy(text))
    found: Value | None = None
    bare = False
    for said in figures_in(words):
        if said.kind == kind:
            found = in_scale(said, scale)
        elif said.kind == "bare" and kind == "count":
            found = int(said.value) if float(said.value).is_integer() else None
        elif said.kind == "bare" and kind == "temperature":
            found = Q(float(said.value), scale)
        elif said.kind == "bare":
            bare = True
    if kind == "mass" and found is None:
        found = _mass(words)
    return found, bare and found is None


def _mass(words: list[str]) -> Quantity | None:
    for at in range(len(words)):
        for end in range(len(words), at, -1):
            if set(words[at:end]) & UNIT_WORDS:
                try:
                    return quantity(" ".join(words[at:end]), "mass")
                except (NotAQuantity, ValueError):
                    continue
    return None


def _shown(value: Value | None, scale: str = US_SCALE) -> str:
    if isinstance(value, Quantity):
        if value.check("[time]"):
            return written(value.to("minute"))
        if value.check("[temperature]"):
            return written(value.to(scale))
    return written(value)


def questions(
    items: Iterable[str],
    cards: Sequence[ProcedureCard],
    rng: random.Random,
    ask: Ask,
    scale: str = US_SCALE,
) -> Iterator[Question]:
    """The questions of these names, in order; names that no card here has, and questions that
    nothing here answers, are left out."""
    by_key = {card.key: card for card in cards}
    for item in items:
        if item.startswith("routine:"):
            question = routine_question(item, rng, ask, scale)
        elif (card := by_key.get(item.split(":")[0])) is not None:
            question = card_question(card, item, ask)
        else:
            continue
        if question.known:
            yield question


def label(item: str, cards: Sequence[ProcedureCard]) -> str:
    """What a question of that name asks, for a list; the name itself where no card has it."""
    if item.startswith("routine:"):
        name = item.removeprefix("routine:")
        words = next((one.words for one in TEMPLATES if one.item == name), item)
        return words.replace("{}", "...").replace(" i ", " I ")
    key, _, step_key, *kind = item.split(":")
    try:
        card = next(card for card in cards if card.key == key)
        step = card.step(step_key)
        asked = next(one.ask for one in step.figures if [one.kind] == kind) if kind else None
    except (StopIteration, KeyError):
        return item
    return f"{card.key}: {asked or _before_text(step)}"
