"""Product cards: what a data sheet says, as a TOML file that is checked when it is read.

A card is one file; the file's stem is its key. ``kind`` says which model reads the rest;
a further kind is a further subclass of ``Card`` in ``KINDS``, as in materials.py. Quantities
are written as text with a unit ("220 mL", "70 degF"), a time as a pair from its range
(["40 min", "50 min"]) or as one figure where the sheet prints one.

Every fault is one line: file, line where it can be told, key, what is wrong and what is
expected.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

import pint
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    StringConstraints,
    ValidationError,
)

from assistant.trade.bead import Package
from assistant.trade.changing import CureTable
from assistant.trade.cure import SAME_READING, STAGES, Limits, Stage, TimeRange
from assistant.units import Q, Quantity, registry

LARGEST_CARD_BYTES = 64 * 1024
"""A card is a page of text; what is larger is another file. Our own bound."""

Loc = tuple[str | int, ...]


@dataclass(frozen=True)
class Fault:
    """One thing wrong with a card: ``where`` is the key ("times[2].clamp"), or empty."""

    file: str
    why: str
    where: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = f"{self.file}, line {self.line}" if self.line else self.file
        return f"{place}: {self.where}: {self.why}" if self.where else f"{place}: {self.why}"


class CardError(ValueError):
    """A card that may not be used. ``faults`` holds every fault, ``str`` all of them."""

    def __init__(self, faults: tuple[Fault, ...]):
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*([A-Za-z°/ ]+?)\s*")


def parsed(text: Any, dimension: str, example: str) -> Quantity:
    if isinstance(text, Quantity):
        return text
    match = _QUANTITY.fullmatch(text) if isinstance(text, str) else None
    wanted = f'expected a figure and its unit, such as "{example}", not {text!r}'
    if not match:
        raise ValueError(wanted)
    try:
        quantity = Q(float(match[1]), registry.parse_units(match[2]))
    except (pint.PintError, ValueError, TypeError, AttributeError):
        raise ValueError(wanted) from None
    if not quantity.check(dimension):
        raise ValueError(wanted)
    return quantity


def _volume(text: Any) -> Quantity:
    volume = parsed(text, "[volume]", "220 mL")
    if volume.magnitude < 0:
        raise ValueError(f"must be zero or more, not {text!r}")
    return volume


def _temperature(text: Any) -> Quantity:
    temperature = parsed(text, "[temperature]", "70 degF")
    if not temperature.m_as("kelvin") > 0:
        raise ValueError(f"must be above absolute zero, not {text!r}")
    return temperature


def positive(dimension: str, example: str) -> Callable[[Any], Quantity]:
    """A reader of quantities above zero: "40 min" for dimension "[time]"."""

    def read(text: Any) -> Quantity:
        quantity = parsed(text, dimension, example)
        if not quantity.magnitude > 0:
            raise ValueError(f"must be above zero, not {text!r}")
        return quantity

    return read


_duration = positive("[time]", "40 min")
_thickness = positive("[length]", "0.25 mm")
_speed = positive("[speed]", "10 mm/s")


def _months(text: Any) -> int:
    if isinstance(text, int) and not isinstance(text, bool):
        return text
    match = re.fullmatch(r"\s*([1-9]\d{0,2})\s*months?\s*", text) if isinstance(text, str) else None
    if not match:
        raise ValueError(f'expected whole months, such as "12 months", not {text!r}')
    return int(match[1])


def _range(value: Any) -> TimeRange:
    if isinstance(value, TimeRange):
        return value
    ends = [value, value] if isinstance(value, str) else value
    if not (isinstance(ends, list) and len(ends) == 2):
        raise ValueError('expected two figures, such as ["40 min", "50 min"], or one')
    low, high = (_duration(end) for end in ends)
    if low > high:
        raise ValueError(f"the first figure {ends[0]!r} is longer than the second {ends[1]!r}")
    return TimeRange(low, high)


def _as_text(quantity: Quantity) -> str:
    """As a card could write it: "220 ml", "70 °F", for ``products show``."""
    return f"{quantity:.6g~P}"


AsText = PlainSerializer(_as_text, return_type=str, when_used="json")

Volume = Annotated[Quantity, BeforeValidator(_volume), AsText]
Temperature = Annotated[Quantity, BeforeValidator(_temperature), AsText]
Duration = Annotated[Quantity, BeforeValidator(_duration), AsText]
Thickness = Annotated[Quantity, BeforeValidator(_thickness), AsText]
Speed = Annotated[Quantity, BeforeValidator(_speed), AsText]
Months = Annotated[
    int,
    BeforeValidator(_months),
    PlainSerializer(lambda months: f"{months} months", return_type=str, when_used="json"),
]
Range = Annotated[
    TimeRange,
    BeforeValidator(_range),
    PlainSerializer(
        lambda times: [_as_text(times.low), _as_text(times.high)],
        return_type=list[str],
        when_used="json",
    ),
]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
SpokenName = Annotated[str, StringConstraints(pattern=r"^[a-z]+(?:[ '][a-z]+)*$", max_length=40)]
"""Lower-case words without figures: it becomes part of the grammar that listens."""


class Part(BaseModel):
    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        arbitrary_types_allowed=True,
        defer_build=True,
    )


class TemperatureLimits(Part):
    """The lowest and highest metal temperature the product may be used at, inclusive."""

    lowest: Temperature
    highest: Temperature


class Card(Part):
    """What every kind of card says. ``key`` and ``file`` come from where it lies."""

    KIND: ClassVar[str] = ""

    key: Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(?:[-_][a-z0-9]+)*$")]
    file: str
    kind: str
    name: Text
    spoken: Annotated[list[SpokenName], Field(min_length=1)]
    invented: bool = False
    note: Text | None = None
    default: bool = False
    cautions: list[Text] = []

    @property
    def spoken_name(self) -> str:
        """How an answer calls it: the first of its spoken names."""
        return self.spoken[0]

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        """Faults that lie between keys: (key, why)."""
        if len(set(self.spoken)) < len(self.spoken):
            yield ("spoken",), "holds a name twice"
        if self.invented and not self.note:
            yield ("note",), "an invented card needs a note that says so"


class AdhesivePackage(Part):
    """The cartridge and the tip. ``waste`` is a fraction of the bead's volume, 0 to 0.5."""

    cartridge: Volume
    mix_ratio: Annotated[list[Annotated[float, Field(gt=0)]], Field(min_length=2, max_length=3)]
    purge_per_cartridge: Volume
    purge_per_tip: Volume
    tip_hold_up: Volume
    tip_life: Duration
    waste: Annotated[float, Field(ge=0, le=0.5)]


class TimesAt(Part):
    """One row of the table: the times at one metal temperature, each as a range."""

    temperature: Temperature
    work: Range
    clamp: Range
    sand: Range
    full_cure: Range


class HeatLimit(Part):
    """The highest metal temperature that a closed joint may be heated to, inclusive."""

    highest: Temperature


class HeatedAt(Part):
    """One row of the table of curing under heat; the joint is closed, so no work time."""

    temperature: Temperature
    clamp: Range
    sand: Range
    full_cure: Range


class AdhesiveCard(Card):
    """A two-part structural adhesive.

    times: one row or more; see trade.cure for how it is read between rows and beyond one.
    What a sheet does not print may be left out: spacer_beads (their diameter, which sets the
    thinnest bond line), laying_speed (of a bead from this cartridge), shelf_life (months
    from the date of manufacture, cartridge closed), opened_life (months once opened, capped
    again), heat and heated (curing under heat: they come together).
    """

    KIND: ClassVar[str] = "adhesive"

    kind: Literal["adhesive"]
    weld_through: bool
    package: AdhesivePackage
    limits: TemperatureLimits
    times: Annotated[list[TimesAt], Field(min_length=1)]
    spacer_beads: Thickness | None = None
    laying_speed: Speed | None = None
    shelf_life: Months | None = None
    opened_life: Months | None = None
    heat: HeatLimit | None = None
    heated: list[HeatedAt] = []

    @property
    def cure_limits(self) -> Limits:
        """The limits as trade.cure takes them."""
        return Limits(self.limits.lowest, self.limits.highest)

    def cure_table(self, stage: Stage) -> CureTable:
        """One stage of a closed joint at its safe end, heat included; not the work time.

        Raises ValueError for the work time, which is over when the joint is closed.
        """
        if stage == "work":
            raise ValueError("there is no work time once the joint is closed")
        heated = tuple(
            (row.temperature, getattr(row, stage).safe_end(stage)) for row in self.heated
        )
        return CureTable(
            rows=tuple((row, times.safe_end(stage)) for row, times in self.rows(stage)),
            limits=self.cure_limits,
            heated=heated,
            heat_limit=None if self.heat is None else self.heat.highest,
        )

    @property
    def trade_package(self) -> Package:
        """The package as trade.bead takes it."""
        pack = self.package
        return Package(
            cartridge=pack.cartridge,
            purge_per_cartridge=pack.purge_per_cartridge,
            purge_per_tip=pack.purge_per_tip,
            tip_hold_up=pack.tip_hold_up,
        )

    def rows(self, stage: Stage) -> tuple[tuple[Quantity, TimeRange], ...]:
        """The table of one stage, as trade.cure takes it."""
        return tuple((row.temperature, getattr(row, stage)) for row in self.times)

    def cross_checks(self) -> Iterator[tuple[Loc, str]]:
        yield from super().cross_checks()
        yield from self._package_checks()
        lowest, highest = self.limits.lowest, self.limits.highest
        if not lowest.m_as("kelvin") < highest.m_as("kelvin"):
            yield ("limits", "highest"), "must be above the lowest temperature"
        for i, row in enumerate(self.times):
            if not (
                lowest.m_as("kelvin") - 1e-9
                <= row.temperature.m_as("kelvin")
                <= highest.m_as("kelvin") + 1e-9
            ):
                yield ("times", i, "temperature"), "lies outside the card's limits"
            for earlier, later in pairwise(STAGES):
                before, after = getattr(row, earlier), getattr(row, later)
                if before.low > after.low or before.high > after.high:
                    yield (
                        ("times", i, later),
                        f"must not be shorter than {earlier} at the same temperature",
                    )
        if (
            self.shelf_life is not None
            and self.opened_life is not None
            and self.opened_life > self.shelf_life
        ):
            yield ("opened_life",), "must not be longer than the shelf life"
        yield from self._table_checks()
        yield from self._heat_checks()

    def _heat_checks(self) -> Iterator[tuple[Loc, str]]:
        if (self.heat is None) == bool(self.heated):
            why = "a [heat] limit and [[heated]] rows come together: one of them is missing"
            yield ("heat",) if self.heat else ("heated",), why
            return
        if self.heat is None:
            return
        highest = self.heat.highest.m_as("kelvin")
        if highest < self.limits.highest.m_as("kelvin"):
            yield ("heat", "highest"), "must not be below the highest temperature of [limits]"
        warmest = max(self.times, key=lambda row: row.temperature.m_as("kelvin"))
        before: TimesAt | HeatedAt = warmest
        for i, row in enumerate(self.heated):
            if row.temperature.m_as("kelvin") > highest + 1e-9:
                yield ("heated", i, "temperature"), "lies above the heat limit"
            apart = row.temperature.m_as("kelvin") - before.temperature.m_as("kelvin")
            if apart <= 2 * SAME_READING.m_as("kelvin"):
                yield ("heated", i, "temperature"), "must be warmer than the row before it"
            for earlier, later in pairwise(STAGES[1:]):
                one, other = getattr(row, earlier), getattr(row, later)
                if one.low > other.low or one.high > other.high:
                    why = f"must not be shorter than {earlier} at the same temperature"
                    yield ("heated", i, later), why
            for stage in STAGES[1:]:
                slow, quick = getattr(before, stage), getattr(row, stage)
                if quick.low > slow.low or quick.high > slow.high:
                    why = f"is longer than at {before.temperature:.4g~P}; heat shortens times"
                    yield ("heated", i, stage), why
            before = row

    def _package_checks(self) -> Iterator[tuple[Loc, str]]:
        try:
            _ = self.trade_package
        except ValueError as error:
            yield ("package", "cartridge"), str(error)
        # A tip is done when the mix inside it gels, which no work time outlasts by much; a
        # tip life beyond the longest work time is a slip of the pen.
        if self.package.tip_life > max(row.work.high for row in self.times):
            yield ("package", "tip_life"), "must not be longer than the longest work time"

    def _table_checks(self) -> Iterator[tuple[Loc, str]]:
        order = sorted(
            range(len(self.times)), key=lambda i: self.times[i].temperature.m_as("kelvin")
        )
        for i, j in pairwise(order):
            cold, warm = self.times[i], self.times[j]
            apart = warm.temperature.m_as("kelvin") - cold.temperature.m_as("kelvin")
            if apart <= 2 * SAME_READING.m_as("kelvin"):
                yield ("times", j, "temperature"), "is the temperature of another row"
                continue
            for stage in STAGES:
                slow, quick = getattr(cold, stage), getattr(warm, stage)
                if quick.low > slow.low or quick.high > slow.high:
                    yield (
                        ("times", j, stage),
                        f"is longer than at {cold.temperature:.4g~P}; times fall as it gets warmer",
                    )


KINDS: dict[str, type[Card]] = {model.KIND: model for model in (AdhesiveCard,)}
"""Kind of card -> the model that reads it. Importing the package adds those of materials.py."""

_FROM_ITS_PLACE = ("key", "file")


def card_text(path: Path, what: str) -> str:
    """The text of a card file. what: the kind of card, named in faults. Raises CardError."""
    try:
        if path.stat().st_size > LARGEST_CARD_BYTES:
            raise _one(path, f"is too large for a {what}")
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise _one(path, "is not UTF-8 text") from None
    except OSError as error:
        raise _one(path, f"cannot be read: {error.strerror or error}") from None


def card_table(text: str, file: str) -> dict[str, Any]:
    """What a card's TOML text holds. Raises CardError, with the line where one is known."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = re.search(r"\(at line (\d+)", str(error))
        why = re.sub(r" \(at .*\)$", "", str(error))
        fault = Fault(file, f"is not TOML: {why}", line=int(line[1]) if line else None)
        raise CardError((fault,)) from None
    except RecursionError:
        raise CardError((Fault(file, "is nested too deeply"),)) from None


def refuse_place_names(data: Mapping[str, Any], text: str, file: str) -> None:
    """Raises CardError if a card writes what comes from where its file lies."""
    for name in _FROM_ITS_PLACE:
        if name in data:
            why = "is not written in a card: a card's key is its file name"
            raise CardError((Fault(file, why, name, line_of(text, (name,))),))


def read_card(path: Path) -> Card:
    """Read and check one card file. Raises CardError with every fault found."""
    return parse_card(card_text(path, "product card"), path.stem, path.name)


def parse_card(text: str, key: str, file: str) -> Card:
    """Check a card's text. key: the card's key. file: named in faults. Raises CardError."""
    data = card_table(text, file)
    kind = data.get("kind")
    model = KINDS.get(kind) if isinstance(kind, str) else None
    if model is None:
        why = f"expected one of {', '.join(sorted(KINDS))}, not {kind!r}"
        raise CardError((_fault(text, file, ("kind",), why),))
    refuse_place_names(data, text, file)
    try:
        card = model.model_validate({**data, "key": key, "file": file})
    except ValidationError as error:
        raise CardError(
            tuple(_fault(text, file, e["loc"], why_of(e)) for e in error.errors())
        ) from None
    faults = tuple(_fault(text, file, loc, why) for loc, why in card.cross_checks())
    if faults:
        raise CardError(faults)
    return card


def kind_of(path: Path) -> str | None:
    """The kind a card says it is of, whatever else is wrong with it; None if that is not told."""
    try:
        text = path.read_text(encoding="utf-8", errors="replace")[:LARGEST_CARD_BYTES]
    except OSError:
        return None
    said = re.search(r"""^\s*kind\s*=\s*["']([a-z]+)["']\s*(?:#.*)?$""", text, re.MULTILINE)
    return said[1] if said and said[1] in KINDS else None


def _one(path: Path, why: str) -> CardError:
    return CardError((Fault(path.name, why),))


def _fault(text: str, file: str, loc: Loc, why: str) -> Fault:
    if loc == ("key",):
        return Fault(file, 'a card\'s file name is lower-case letters and figures: "my-card.toml"')
    # a key or table missing from the top of the card: where the card says what it is
    return Fault(file, why, where_of(loc), line_of(text, loc) or line_of(text, ("kind",)))


def why_of(error: Any) -> str:
    """One line of pydantic's finding, in the words of a person who edits the file."""
    given = repr(error.get("input"))
    given = given if len(given) <= 40 else given[:37] + "..."
    if error["type"] == "missing":
        return "is missing"
    if error["type"] == "extra_forbidden":
        return "is not a key of such a card; check its spelling"
    if error["type"] == "value_error":
        return str(error["ctx"]["error"])
    if error["type"] == "string_pattern_mismatch":
        return f"expected lower-case words without figures, not {given}"
    return f"{error['msg'][:1].lower()}{error['msg'][1:]}, not {given}"


def where_of(loc: Loc) -> str:
    words = ""
    for part in loc:
        # rows are counted from one, as a person counts the [[times]] in the file
        words += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if words else part
    return words


_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(r"\s*([\w-]+)\s*=")


def line_of(text: str, loc: Loc) -> int | None:
    """The line on which a key stands, or that of its table when the key is missing.

    Reads the plain shape of a card (headers and ``key = value`` lines); None when the key
    is written in another way that TOML allows.
    """
    found = None  # the header of the innermost table on the way to the key
    table: Loc = ()
    rows: dict[Loc, int] = {}  # array of tables -> its newest row
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.fullmatch(line)
        if header:
            table = ()
            *outer, last = header[2].split(".")
            for name in outer:
                table = (*table, name)
                if table in rows:
                    table = (*table, rows[table])
            table = (*table, last)
            if header[1] == "[[":
                rows[table] = rows.get(table, -1) + 1
                table = (*table, rows[table])
            if loc[: len(table)] == table:
                found = number
            continue
        key = _KEY.match(line)
        here = (*table, key[1]) if key else None
        if here and loc[: len(here)] == here:
            return number
    return found
