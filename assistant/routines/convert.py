"""One amount in another unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.routines._adhesive import capital
from assistant.speaking.wording import (
    MOST_DECIMALS,
    ruler_fraction,
    spoken_length,
    spoken_number,
    written_length,
    written_number,
)
from assistant.trade.conversion import UNITS, as_said, convert
from assistant.trade.joint import nearest_mark
from assistant.units import Q, Quantity

SHORTEST_FOR_TAPE, LONGEST_FOR_TAPE = Q(1 / 32, "inch"), Q(8, "foot")
"""Outside these a thirty-second of an inch is of no use; our own choice."""


@dataclass(frozen=True)
class Names:
    """How a unit is said and written."""

    one: str
    many: str
    symbol: str


NAMES: dict[str, Names] = {
    "inch": Names("inch", "inches", "in"),
    "foot": Names("foot", "feet", "ft"),
    "yard": Names("yard", "yards", "yd"),
    "thou": Names("mil", "mils", "mil"),
    "micrometer": Names("micron", "microns", "µm"),
    "millimeter": Names("millimeter", "millimeters", "mm"),
    "centimeter": Names("centimeter", "centimeters", "cm"),
    "meter": Names("meter", "meters", "m"),
    "degF": Names("degree Fahrenheit", "degrees Fahrenheit", "°F"),
    "degC": Names("degree Celsius", "degrees Celsius", "°C"),
    "milliliter": Names("milliliter", "milliliters", "mL"),
    "liter": Names("liter", "liters", "L"),
    "fluid_ounce": Names("fluid ounce", "fluid ounces", "fl oz"),
    "pint": Names("pint", "pints", "pt"),
    "quart": Names("quart", "quarts", "qt"),
    "gallon": Names("gallon", "gallons", "gal"),
    "inch ** 3": Names("cubic inch", "cubic inches", "in³"),
    "inch ** 2": Names("square inch", "square inches", "in²"),
    "foot ** 2": Names("square foot", "square feet", "ft²"),
    "yard ** 2": Names("square yard", "square yards", "yd²"),
    "millimeter ** 2": Names("square millimeter", "square millimeters", "mm²"),
    "centimeter ** 2": Names("square centimeter", "square centimeters", "cm²"),
    "meter ** 2": Names("square meter", "square meters", "m²"),
    "gram": Names("gram", "grams", "g"),
    "kilogram": Names("kilogram", "kilograms", "kg"),
    "ounce": Names("ounce", "ounces", "oz"),
    "pound": Names("pound", "pounds", "lb"),
    "psi": Names("pound per square inch", "pounds per square inch", "psi"),
    "bar": Names("bar", "bar", "bar"),
    "kilopascal": Names("kilopascal", "kilopascals", "kPa"),
}
_NAMED = {Q(1, unit).units: unit for unit in NAMES}

PLAIN_NUMBERS = {
    "mils": "thou",
    "microns": "micrometer",
    "psi": "psi",
    "bar": "bar",
    "kilopascals": "kilopascal",
}
"""Slots that hold a bare number, the unit being in the slot's name -> that unit."""

QUANTITIES = ("length", "temperature", "volume", "area", "mass")

CHOICES: dict[str, str] = {
    name: unit for unit, names in NAMES.items() for name in (names.one, names.many)
} | {
    "thou": "thou",
    "fahrenheit": "degF",
    "celsius": "degC",
    "p s i": "psi",
}

WIDEST: dict[str, tuple[Quantity, Quantity]] = {
    # what a shop meets, with room to spare; our own bounds
    "length": (Q(0, "mm"), Q(1000, "m")),
    "temperature": (Q(-100, "degC"), Q(2000, "degC")),
    "volume": (Q(0, "mL"), Q(10, "m**3")),
    "area": (Q(0, "mm**2"), Q(1000, "m**2")),
    "mass": (Q(0, "gram"), Q(10, "tonne")),
}

SLOTS = (
    *(
        Slot(
            name=kind,
            kind=kind,
            ask=f"Which {kind}?",
            required=False,
            low=WIDEST[kind][0],
            high=WIDEST[kind][1],
        )
        for kind in QUANTITIES
    ),
    *(
        Slot(name=name, kind="number", ask=f"How many {name}?", required=False, low=0.0, high=1e6)
        for name in PLAIN_NUMBERS
    ),
    Slot(name="to", kind="choice", ask="Into which unit?", choices=CHOICES),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The amount in the unit asked for, whatever the shop's own system."""
    amount, unit = _amount(slots), slots["to"]
    try:
        found = convert(amount, unit)
    except ValueError as trouble:
        raise Refusal(
            f"No such conversion: {trouble}.", "I cannot convert that. Say it again."
        ) from None
    tape = _on_tape(found)
    return Answer(
        sentence=(
            f"{_given(amount, written_length, _written)} is {_written(as_said(found), unit)}"
            f"{f', on a tape {written_length(tape)}' if tape is not None else ''}."
        ),
        spoken=capital(
            f"{_given(amount, spoken_length, _spoken)} is {_spoken(as_said(found), unit)}"
            f"{f', on a tape {spoken_length(tape)}' if tape is not None else ''}."
        ),
        figures={"given": amount, "converted": found},
        assumptions=_assumptions(amount, unit),
        basis="definitions of the units, to four figures"
        if UNITS[unit] != "temperature"
        else "definitions of the scales, to a tenth of a degree",
    )


def _amount(slots: Mapping[str, Any]) -> Quantity:
    for kind in QUANTITIES:
        if kind in slots:
            return slots[kind]
    for name, unit in PLAIN_NUMBERS.items():
        if name in slots:
            return Q(slots[name], unit)
    raise Refusal("Say the amount and both units, as in: ten millimeters in inches.")


def _assumptions(amount: Quantity, unit: str) -> tuple[str, ...]:
    if UNITS[unit] == "volume":
        return ("fluid measures are US ones",)
    if UNITS[unit] == "temperature":
        return ("a reading of a thermometer, not a difference",)
    if "ounce" in (unit, _NAMED[amount.units]):
        return ("ounces of weight, not fluid ounces",)
    return ()


def _on_tape(found: Quantity) -> Quantity | None:
    """The nearest thirty-second of an inch, unless the figure needs none."""
    if found.units not in (Q(1, "inch").units, Q(1, "foot").units):
        return None
    if not SHORTEST_FOR_TAPE <= found <= LONGEST_FOR_TAPE or as_said(found).is_integer():
        return None
    return nearest_mark(found, "thirty-second").length.to(found.units)


def _given(
    amount: Quantity, as_length: Callable[[Quantity], str], plain: Callable[[float, str], str]
) -> str:
    """The amount as it was said: an inch fraction as one, and feet with their inches."""
    unit = _NAMED[amount.units]
    if unit in ("inch", "foot") and ruler_fraction(amount.m_as("inch")) is not None:
        return as_length(amount)
    return plain(float(amount.magnitude), unit)


def _written(value: float, unit: str) -> str:
    return f"{written_number(value, MOST_DECIMALS)} {NAMES[unit].symbol}"


def _spoken(value: float, unit: str) -> str:
    name = NAMES[unit].one if abs(value) == 1 else NAMES[unit].many
    return f"{spoken_number(value, MOST_DECIMALS, quarters=False)} {name}"


ROUTINE = Routine(
    name="convert",
    grammar="conversion",
    about="conversions of units",
    slots=SLOTS,
    examples=(
        "what is ten millimeters in inches",
        "how many milliliters in a pint",
        "convert sixty eight fahrenheit to celsius",
    ),
    answer=answer,
)
