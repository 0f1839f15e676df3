"""Procedure cards: the steps of a piece of work, as a TOML file that is checked when read.

A card is one file; the file's stem is its key. Its steps stand in an order in which they can
be done, and ``after`` says which of them must come before which: only that order is judged.

    name = "Adhesive cartridge start-up"
    spoken = "cartridge start up"
    invented = true
    note = "Invented shop. ..."

    [[steps]]
    key = "level"
    say = "Level the cartridge: push until both parts come out evenly."
    wordings = ["level the cartridge", "push until both sides flow"]
    after = ["open"]
    why = "..."

    [[steps.figures]]
    about = "purge bead"
    ask = "How long a bead is purged?"
    low = "25 mm"
    high = "100 mm"

Every fault is one line: file, line, key, what is wrong and what is expected.
"""

from __future__ import annotations

import graphlib
from collections.abc import Iterable, Iterator
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from assistant.products.card import (
    CardError,
    Fault,
    Loc,
    card_table,
    card_text,
    line_of,
    parsed,
    refuse_place_names,
    where_of,
    why_of,
)
from assistant.units import Quantity

DIMENSIONS = {
    "length": ("[length]", "25 mm"),
    "duration": ("[time]", "20 min"),
    "temperature": ("[temperature]", "70 degF"),
    "volume": ("[volume]", "220 mL"),
}
"""Kinds of figures that have a unit -> dimension, an example. "count" has none."""

FigureKind = Literal["length", "duration", "temperature", "volume", "count"]
Bound = Literal["at least", "at most", "near"]
ClockKind = Literal["adhesive", "sealer", "foam", "filler", "primer", "timer"]

Key = Annotated[str, StringConstraints(pattern=r"^[a-z]+(?:_[a-z]+)*$", max_length=40)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Words = Annotated[str, StringConstraints(pattern=r"^[a-z']+(?: [a-z']+)*$", max_length=120)]
"""Lower-case words without figures or marks, as they are spoken."""


class _Part(BaseModel):
    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True
    )


class Figure(_Part):
    """A figure that belongs to a step, judged when it is said.

    about: what it is a figure of. ask: the drill's question. Either low and high (one may be
    absent; text with a unit, or a number for a count), or a routine's question that gives the
    figure: ``question`` is asked of the bench ("when can i unclamp at {temperature}", where
    {temperature} is what the trainee said, else ``usual``), ``figure`` is the name of its
    figure, ``bound`` how a said figure must lie to it.
    """

    kind: FigureKind
    about: Text
    ask: Text
    low: str | int | None = None
    high: str | int | None = None
    question: Text | None = None
    usual: Words | None = None
    figure: Key | None = None
    bound: Bound | None = None

    @cached_property
    def lowest(self) -> Quantity | int | None:
        return self._end(self.low)

    @cached_property
    def highest(self) -> Quantity | int | None:
        return self._end(self.high)

    def _end(self, end: str | int | None) -> Quantity | int | None:
        if end is None:
            return None
        if self.kind == "count":
            if isinstance(end, int):
                return end
            raise ValueError(f"expected a whole number without quotes, not {end!r}")
        return parsed(end, *DIMENSIONS[self.kind])

    def faults(self) -> Iterator[tuple[Loc, str]]:
        """(key, why), keys relative to the figure."""
        ends = {}
        for name in ("low", "high"):
            try:
                ends[name] = self._end(getattr(self, name))
            except ValueError as error:
                yield (name,), str(error)
        if None not in (low := ends.get("low"), high := ends.get("high")) and low > high:
            yield ("low",), "is more than the high end"
        if self.question is None:
            if self.low is None and self.high is None:
                yield ("about",), "needs a low or a high end, or a question that gives the figure"
            for name in ("figure", "bound", "usual"):
                if getattr(self, name) is not None:
                    yield (name,), "goes with a question"
            return
        if self.low is not None or self.high is not None:
            yield ("question",), "gives the figure: leave out low and high"
        for name in ("figure", "bound"):
            if getattr(self, name) is None:
                yield ("question",), f"needs {name!r} beside it"
        if ("{temperature}" in self.question) != (self.usual is not None):
            yield ("question",), 'holds {temperature} if and only if "usual" tells a usual one'


class Step(_Part):
    """One step. say: how it is read out. wordings: other ways a trainee may say it. after:
    keys of the steps that must come before it. why: the reason. forgotten: what a trainee
    commonly forgets of it. caution: read with it. safety: missing it can hurt someone.
    hold: a question that must be confirmed aloud before the reading goes on. clock: what
    starts to run when the step is done; a timer has ``seconds``. hints: from vague to clear;
    the exact one is ``say``. optional: leaving it out is no fault."""

    key: Key
    say: Text
    wordings: Annotated[list[Words], Field(min_length=1)]
    why: Text
    after: list[Key] = []
    forgotten: Text | None = None
    caution: Text | None = None
    safety: bool = False
    hold: Text | None = None
    clock: ClockKind | None = None
    seconds: Annotated[int, Field(gt=0, le=86400)] | None = None
    hints: list[Text] = []
    optional: bool = False
    figures: list[Figure] = []

    @property
    def short(self) -> str:
        """The step in a few words, for reports: its first wording."""
        return self.wordings[0]


class ProcedureCard(_Part):
    """A procedure. ``key`` and ``file`` come from where it lies. same: groups of words that
    mean the same on this card, beside those every card knows."""

    key: Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$")]
    file: str
    name: Text
    spoken: Words
    invented: bool = False
    note: Text | None = None
    about: Text
    cautions: list[Text] = []
    same: list[Annotated[list[Words], Field(min_length=2)]] = []
    steps: Annotated[list[Step], Field(min_length=2, max_length=40)]

    def step(self, key: str) -> Step:
        """KeyError for a key that is none of this card's."""
        return self._by_key[key]

    @cached_property
    def _by_key(self) -> dict[str, Step]:
        return {step.key: step for step in self.steps}

    @cached_property
    def before(self) -> dict[str, frozenset[str]]:
        """Step -> every step that must come before it, directly or by way of others."""
        found: dict[str, frozenset[str]] = {}
        for step in self.steps:  # their order fits the partial one, see cross_checks
            found[step.key] = frozenset(step.after).union(*(found[key] for key in step.after))
        return found

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        """Faults that lie between keys: (key, why)."""
        if self.invented and not self.note:
            yield ("note",), "an invented card needs a note that says so"
        yield from self._order_checks()
        said: dict[str, str] = {}
        for i, step in enumerate(self.steps):
            for words in step.wordings:
                if words in said:
                    yield ("steps", i, "wordings"), f"{words!r} is said of {said[words]!r} too"
                said[words] = step.key
            if (step.clock == "timer") != (step.seconds is not None):
                yield ("steps", i, "clock"), 'a "timer" has "seconds", and nothing else has'
            kinds = [figure.kind for figure in step.figures]
            for j, figure in enumerate(step.figures):
                if kinds.index(figure.kind) < j:
                    why = f"a step has one {figure.kind}: part the step, or leave one out"
                    yield ("steps", i, "figures", j, "kind"), why
                for loc, why in figure.faults():
                    yield ("steps", i, "figures", j, *loc), why

    def _order_checks(self) -> Iterator[tuple[Loc, str]]:
        places: dict[str, int] = {}
        for i, step in enumerate(self.steps):
            if step.key in places:
                yield ("steps", i, "key"), f"{step.key!r} is the key of another step too"
            places.setdefault(step.key, i)
        missing = False
        for i, step in enumerate(self.steps):
            for key in step.after:
                if key not in places:
                    missing = True
                    yield ("steps", i, "after"), f"there is no step {key!r}"
        if missing:
            return
        order = graphlib.TopologicalSorter({step.key: step.after for step in self.steps})
        try:
            order.prepare()
        except graphlib.CycleError as error:
            ring = " after ".join(reversed(error.args[1]))
            yield ("steps", places[error.args[1][0]], "after"), f"the order runs in a ring: {ring}"
            return
        for i, step in enumerate(self.steps):
            for key in step.after:
                if places[key] > i:
                    why = f"{key!r} must come before it, so it must stand above it in the file"
                    yield ("steps", i, "after"), why


def read_procedure(path: Path) -> ProcedureCard:
    """Read and check one card file. Raises CardError with every fault found."""
    return parse_procedure(card_text(path, "procedure card"), path.stem, path.name)


def parse_procedure(text: str, key: str, file: str) -> ProcedureCard:
    """Check a card's text. key: the card's key. file: named in faults. Raises CardError."""
    data = card_table(text, file)
    refuse_place_names(data, text, file)
    try:
        card = ProcedureCard.model_validate({**data, "key": key, "file": file})
    except ValidationError as error:
        raise CardError(
            tuple(_fault(text, file, e["loc"], _why(e)) for e in error.errors())
        ) from None
    refuse(card.cross_checks(), text, file)
    return card


def refuse(found: Iterable[tuple[Loc, str]], text: str, file: str) -> None:
    """Raise CardError where there is any fault; found: (key, why) of each. text, file: the
    card's."""
    faults = tuple(_fault(text, file, loc, why) for loc, why in found)
    if faults:
        raise CardError(faults)


def _fault(text: str, file: str, loc: Loc, why: str) -> Fault:
    if loc == ("key",):
        return Fault(file, 'the file name is lower-case letters and figures: "my-card.toml"')
    # what is missing from the top of the card: where the card says what it is
    return Fault(file, why, where_of(loc), line_of(text, loc) or line_of(text, ("name",)))


def _why(error: Any) -> str:
    if error["type"] == "literal_error":
        return f"expected {error['ctx']['expected']}, not {error['input']!r}"
    return why_of(error)
