"""What a routine declares about itself: its grammar rule, its slots, its function.

The stages before a routine (hearing, understanding) know nothing of the trade; they
read these declarations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from assistant.exchange import Answer
from assistant.units import Quantity

SLOT_KINDS = (
    "length",
    "temperature",
    "temperature_difference",
    "volume",
    "area",
    "mass",
    "duration",
    "clock",  # datetime.time
    "count",  # int
    "number",  # float
    "percent",  # float, 0.1 for ten percent
    "ratio",  # tuple of floats, "four to one to one"
    "choice",  # one of Slot.choices
    "product",  # a product card's key
    "spelled",  # letters and figures by the spelling alphabet: "AB12"
    "words",  # the words as heard
)


@dataclass(frozen=True)
class Slot:
    """One value a routine needs.

    name: the tag that carries it in the grammar.
    kind: one of SLOT_KINDS; says how the words become a value.
    ask: the question that fetches it when it is missing and required.
    default_unit: unit of a bare number ("at fifty-five"), by unit system:
        ``{"us": "degF", "metric": "degC"}``.
    low, high: accepted range, inclusive; a value outside is refused by name.
    usual: the range, inclusive, in which nearly every value asked for lies. A reading
        outside it ("sixteen degrees" in a US shop) needs clearer sound than its rival inside
        ("sixty degrees"), and where the two come close the program asks back.
    choices: for kind "choice", words as heard -> value.
    many: the tag may occur more than once; the slot is then a tuple.
    """

    name: str
    kind: str
    ask: str = ""
    required: bool = True
    default_unit: Mapping[str, str] | None = None
    low: Quantity | float | None = None
    high: Quantity | float | None = None
    usual: tuple[Any, Any] | None = None
    choices: Mapping[str, str] | None = None
    many: bool = False

    def __post_init__(self) -> None:
        if self.kind not in SLOT_KINDS:
            raise ValueError(f"slot {self.name!r}: unknown kind {self.kind!r}")
        if self.required and not self.ask:
            raise ValueError(f"slot {self.name!r} is required, so it needs a question")


class Workplace(Protocol):
    """What a routine may ask of its surroundings."""

    @property
    def units(self) -> str:
        """'us' or 'metric': the system answers are given in."""

    def now(self) -> datetime:
        """Local time, for clock-time answers."""

    def product(self, key: str | None, kind: str) -> Any:
        """The product card with that key, or the shop's default of that kind."""

    def products(self, kind: str) -> tuple[Any, ...]:
        """All cards of that kind."""

    @property
    def shop(self) -> Any:
        """The bays and their journal (shop.shop.Shop); opened when first asked for."""


@dataclass(frozen=True)
class Routine:
    """One family of questions.

    name: also the name of its public rule in ``grammars/<grammar>.jsgf``.
    grammar: stem of that file.
    about: what it answers, in a few words ("adhesive for a bead").
    examples: questions it answers, shown by help and when nothing else fits.
    answer: slots (missing optional ones absent) and surroundings -> Answer;
        raises exchange.Refusal when no number may be given.
    grounds: what is said to "how do you know": formula, source and limits in plain words.
    changes_clock: it starts, moves or ends a clock of a bay, or writes into its record, so a
        hearing must be clearer than for a question before it is acted on.
    read_back: what it writes down is read back, and written only on a yes, where it was heard
        by ear.
    open_slot: the slot that takes what is said behind a sentence of the grammar, in free words
        ("note for bay two, ..."); empty for none. The grammar has no tag for it.
    """

    name: str
    grammar: str
    about: str
    slots: tuple[Slot, ...]
    examples: tuple[str, ...]
    answer: Callable[[Mapping[str, Any], Workplace], Answer]
    grounds: str = ""
    changes_clock: bool = False
    read_back: bool = False
    open_slot: str = ""

    def slot(self, name: str) -> Slot:
        for slot in self.slots:
            if slot.name == name:
                return slot
        raise KeyError(name)
