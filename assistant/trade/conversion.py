"""Conversions between the units a shop meets, all by pint's definitions.

The inch is 25.4 mm, the pound 453.59237 g, the US gallon 231 in^3, the bar 100 kPa, all
exact; a pound-force per square inch follows from them and standard gravity. Fluid measures
are the US ones. A reading in degrees is converted with its zero; a difference never comes
here.
"""

from __future__ import annotations

import math

from assistant.units import Q, Quantity

FIGURES = 4
"""Significant figures kept: a thousandth of any shop reading at the least. Our own choice."""

TEMPERATURE_DECIMALS = 1
"""A thermometer in a shop shows no more."""

UNITS: dict[str, str] = {
    "inch": "length",
    "foot": "length",
    "yard": "length",
    "thou": "length",
    "micrometer": "length",
    "millimeter": "length",
    "centimeter": "length",
    "meter": "length",
    "degF": "temperature",
    "degC": "temperature",
    "milliliter": "volume",
    "liter": "volume",
    "fluid_ounce": "volume",
    "pint": "volume",
    "quart": "volume",
    "gallon": "volume",
    "inch ** 3": "volume",
    "inch ** 2": "area",
    "foot ** 2": "area",
    "centimeter ** 2": "area",
    "meter ** 2": "area",
    "gram": "mass",
    "kilogram": "mass",
    "ounce": "mass",
    "pound": "mass",
    "psi": "pressure",
    "bar": "pressure",
    "kilopascal": "pressure",
}
"""Every unit that is converted to, and what it measures."""


def convert(amount: Quantity, unit: str) -> Quantity:
    """The amount in another unit of the same kind, exact.

    amount: finite. unit: one of ``UNITS``. Raises ValueError for an unknown unit or one of
    another kind, and for a temperature below absolute zero.
    """
    if unit not in UNITS:
        raise ValueError(f"unknown unit {unit!r}: use one of {', '.join(UNITS)}")
    if not math.isfinite(amount.magnitude):
        raise ValueError(f"cannot convert {amount}: it must be a finite figure")
    if not amount.is_compatible_with(Q(1, unit)):
        raise ValueError(f"{amount:~P} is no {UNITS[unit]}")
    if UNITS[unit] == "temperature" and amount.m_as("kelvin") < 0:
        raise ValueError(f"{amount:~P} is below absolute zero")
    return amount.to(unit)


def as_said(converted: Quantity) -> float:
    """The figure as it is said: to the nearest, a half away from zero.

    FIGURES significant figures; a temperature to TEMPERATURE_DECIMALS decimals.
    """
    value = float(converted.magnitude)
    if converted.check("[temperature]"):
        return _to_decimals(value, TEMPERATURE_DECIMALS)
    if value == 0:
        return 0.0
    return _to_decimals(value, FIGURES - 1 - math.floor(math.log10(abs(value))))


def _to_decimals(value: float, decimals: int) -> float:
    # by way of the decimal that is printed, so that 9.525 is 9.525 and not a hair less
    scaled = float(f"{abs(value):.15g}") * 10.0**decimals
    return math.copysign(math.floor(scaled + 0.5 + 1e-9) / 10.0**decimals, value)
