"""Quantities, counts, times and lists in words: for the ear and for the screen.

This is the one place where a quantity becomes text. ``spoken...`` functions return words
only, with no digit and no symbol in them, so that any voice says the same thing;
``written...`` functions return figures and unit symbols.

Rounding here is cosmetic and goes to the nearest (a half goes away from zero), with the
carry done after it: 59.6 minutes is one hour, never "60 min". The safe-side rounding of a
result was done before, by ``assistant.trade.rounding``; the number of figures kept here
leaves such a result unchanged.

``units`` is "us", "metric" or None; None words a quantity in the unit it came in.
Everything is a pure function. A value that is not a finite number raises ValueError.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from num2words import num2words

from assistant.units import Q, Quantity

US, METRIC = "us", "metric"

# ---------------------------------------------------------------------------- numbers

LARGEST_SPOKEN = 1e12
"""Past this a number is of no use to the ear; our own bound."""

MOST_DECIMALS = 6
"""Decimals kept at most, for a figure that would otherwise read as nought; our own bound."""


def _finite(value: float) -> float:
    number = float(value)
    if not math.isfinite(number) or abs(number) >= LARGEST_SPOKEN:
        raise ValueError(f"no words for {value!r}: it is not a number a person can use")
    return number


def _nearest(value: float, places: int) -> Decimal:
    """Nearest decimal with that many places, trailing zeros dropped, a half away from zero."""
    # repr gives the shortest decimal that is this float, so 2.45 is 2.45 and not 2.4500000000000002
    exact = Decimal(repr(float(value)))
    rounded = exact.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    if rounded == 0:
        return Decimal(0)  # also turns -0 into 0
    text = f"{rounded:f}"
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def _usual_places(value: float) -> int:
    """Decimals for a figure of which nothing else is known: about three figures."""
    size = abs(value)
    return 0 if size >= 100 else 1 if size >= 10 else 2 if size >= 1 else 3


def _figures(value: float, places: int | None = None, zero_is_fine: bool = False) -> Decimal:
    """``value`` as it is shown: rounded, but a figure below one keeps two figures.

    ``zero_is_fine`` is for scales on which nought is a reading like any other.
    """
    number = _finite(value)
    places = _usual_places(number) if places is None else places
    if 0 < abs(number) < 1 and not zero_is_fine:
        two_figures = 1 - math.floor(math.log10(abs(number)))
        places = max(places, min(two_figures, MOST_DECIMALS))
    return _nearest(number, places)


def _words(number: Decimal | int) -> str:
    """American number words: "one hundred fifteen", not "one hundred and fifteen"."""
    number = Decimal(number)
    whole = number == number.to_integral_value()
    # the sign by hand: num2words drops it between minus one and nought
    size = abs(number)
    words = num2words(int(size) if whole else size).replace(",", "").replace(" and ", " ")
    return f"minus {words}" if number < 0 else words


def spoken_number(value: float, places: int | None = None, quarters: bool = True) -> str:
    """A bare number in words.

    Halves (and, unless ``quarters`` is false, quarters) above one are said as such: "two
    and a half", since "and a half" is heard better than "point five". ``places`` decimals
    are kept; without it about three figures.

    >>> spoken_number(2.5)
    'two and a half'
    >>> spoken_number(0.05)
    'zero point zero five'
    """
    figure = _figures(value, places)
    size = abs(figure)
    part = _PARTS.get(size % 1) if size > 1 and (quarters or size % 1 == Decimal("0.5")) else None
    if part is None:
        return _words(figure)
    sign = "minus " if figure < 0 else ""
    return f"{sign}{_words(int(size))} and {part}"


_PARTS = {
    Decimal("0.25"): "a quarter",
    Decimal("0.5"): "a half",
    Decimal("0.75"): "three-quarters",
}


def written_number(value: float, places: int | None = None) -> str:
    """A bare number in figures, thousands marked with a comma: "1,604", "0.05"."""
    return f"{_figures(value, places):,f}"


# ---------------------------------------------------------------------------- fractions

FINEST_FRACTION = 32
"""A shop rule is read to the thirty-second of an inch (common practice, no source)."""

FRACTION_TOLERANCE_INCH = 0.0005
"""How near a length must lie to a thirty-second to be called by it: half a thousandth of an
inch, so that 9.525 mm is three eighths and 9.5 mm is not. Our own choice."""

_DENOMINATORS = {
    2: ("half", "halves"),
    4: ("quarter", "quarters"),
    8: ("eighth", "eighths"),
    16: ("sixteenth", "sixteenths"),
    32: ("thirty-second", "thirty-seconds"),
}


def ruler_fraction(inches: float) -> Fraction | None:
    """The thirty-second that ``inches`` is, in lowest terms; None when it is not one."""
    nearest = Fraction(round(_finite(inches) * FINEST_FRACTION), FINEST_FRACTION)
    if abs(float(nearest) - inches) > FRACTION_TOLERANCE_INCH:
        return None
    if nearest == 0 and inches != 0:
        return None  # a thin film is not a length of nought
    return nearest


def _fraction_words(part: Fraction) -> str:
    """A proper fraction of a rule: "one-half", "three-eighths", "five thirty-seconds"."""
    one, many = _DENOMINATORS[part.denominator]
    name = one if part.numerator == 1 else many
    joint = " " if "-" in name else "-"
    return f"{_words(part.numerator)}{joint}{name}"


def _mixed_words(size: Fraction) -> str:
    whole, part = divmod(size, 1)
    if not part:
        return _words(int(whole))
    if not whole:
        return _fraction_words(part)
    tail = {Fraction(1, 2): "a half", Fraction(1, 4): "a quarter"}.get(part)
    return f"{_words(int(whole))} and {tail or _fraction_words(part)}"


def _mixed_written(size: Fraction) -> str:
    whole, part = divmod(size, 1)
    if not part:
        return f"{int(whole):,}"
    return f"{int(whole):,} {part}" if whole else str(part)


def spoken_fraction(size: Quantity | float) -> str:
    """A size in inches without its unit, as a bead or a drill is called: "three-eighths".

    ``size``: a length, or a number of inches. What is no thirty-second is said as a decimal.
    """
    inches = float(size.to("inch").magnitude) if isinstance(size, Quantity) else float(size)
    fraction = ruler_fraction(inches)
    if fraction is None:
        return spoken_number(inches, _inch_places(inches))
    sign = "minus " if fraction < 0 else ""
    return sign + _mixed_words(abs(fraction))


# ---------------------------------------------------------------------------- units


@dataclass(frozen=True)
class _Unit:
    """How one unit is named and how many decimals its figures deserve."""

    one: str
    many: str
    symbol: str
    places: Callable[[float], int] = _usual_places
    system: str | None = None
    quarters: bool = False
    zero_is_fine: bool = False


def _steps(*steps: tuple[float, int], otherwise: int) -> Callable[[float], int]:
    """``_steps((10, 0), otherwise=1)``: no decimals from 10 up, one below."""

    def places(value: float) -> int:
        return next((p for least, p in steps if abs(value) >= least), otherwise)

    return places


_TENTHS = _steps((100, 0), (1, 1), otherwise=2)
_WHOLE_FROM_TEN = _steps((10, 0), (1, 1), otherwise=2)
_DEGREES = _steps(otherwise=0)
_SMALL_DEGREES = _steps((10, 0), otherwise=1)
_inch_places = _steps((100, 1), (10, 1), (1, 2), otherwise=3)

# The one table of unit names and their spelling, which is American. Symbols follow NIST
# SP 811 (from memory) where it has one: a space before every unit, the degree sign included.
_UNITS: dict[str, _Unit] = {
    # length
    "inch": _Unit("inch", "inches", "in", _inch_places, US, quarters=True),
    "foot": _Unit("foot", "feet", "ft", system=US, quarters=True),
    "yard": _Unit("yard", "yards", "yd", system=US, quarters=True),
    "thou": _Unit("mil", "mils", "mil", _TENTHS, US),
    "micrometer": _Unit("micrometer", "micrometers", "µm", _WHOLE_FROM_TEN, METRIC),
    "millimeter": _Unit("millimeter", "millimeters", "mm", _TENTHS, METRIC),
    "centimeter": _Unit("centimeter", "centimeters", "cm", _TENTHS, METRIC),
    "meter": _Unit("meter", "meters", "m", _steps((100, 1), (10, 2), otherwise=3), METRIC),
    # volume
    "milliliter": _Unit("milliliter", "milliliters", "mL", _WHOLE_FROM_TEN, METRIC),
    "cubic_centimeter": _Unit(
        "cubic centimeter", "cubic centimeters", "cm³", _WHOLE_FROM_TEN, METRIC
    ),
    "liter": _Unit("liter", "liters", "L", system=METRIC),
    "fluid_ounce": _Unit("fluid ounce", "fluid ounces", "fl oz", _TENTHS, US, quarters=True),
    "pint": _Unit("pint", "pints", "pt", system=US, quarters=True),
    "quart": _Unit("quart", "quarts", "qt", system=US, quarters=True),
    "gallon": _Unit("gallon", "gallons", "gal", system=US, quarters=True),
    "cubic_inch": _Unit("cubic inch", "cubic inches", "in³", system=US, quarters=True),
    # mass
    "gram": _Unit("gram", "grams", "g", _WHOLE_FROM_TEN, METRIC),
    "kilogram": _Unit("kilogram", "kilograms", "kg", system=METRIC),
    "ounce": _Unit("ounce", "ounces", "oz", _TENTHS, US, quarters=True),
    "pound": _Unit("pound", "pounds", "lb", system=US, quarters=True),
    # temperature
    "degree_Fahrenheit": _Unit(
        "degree Fahrenheit", "degrees Fahrenheit", "°F", _DEGREES, US, zero_is_fine=True
    ),
    "degree_Celsius": _Unit(
        "degree Celsius", "degrees Celsius", "°C", _DEGREES, METRIC, zero_is_fine=True
    ),
    "delta_degree_Fahrenheit": _Unit(
        "degree Fahrenheit", "degrees Fahrenheit", "°F", _SMALL_DEGREES, US
    ),
    "delta_degree_Celsius": _Unit(
        "degree Celsius", "degrees Celsius", "°C", _SMALL_DEGREES, METRIC
    ),
    "kelvin": _Unit("kelvin", "kelvins", "K", _TENTHS, METRIC),
    # time, inside compound units and for shelf lives
    "second": _Unit("second", "seconds", "s"),
    "minute": _Unit("minute", "minutes", "min"),
    "hour": _Unit("hour", "hours", "h"),
    "day": _Unit("day", "days", "d"),
    "week": _Unit("week", "weeks", "weeks"),
    "month": _Unit("month", "months", "months"),
    "year": _Unit("year", "years", "years"),
    # the rest
    "percent": _Unit("percent", "percent", "%", _TENTHS, quarters=True),
    "degree": _Unit("degree", "degrees", "°", _TENTHS),
    "pound_force_per_square_inch": _Unit(
        "pound per square inch", "pounds per square inch", "psi", system=US
    ),
    "kilopascal": _Unit("kilopascal", "kilopascals", "kPa", system=METRIC),
    "megapascal": _Unit("megapascal", "megapascals", "MPa", system=METRIC),
    "decibel": _Unit("decibel", "decibels", "dB", _TENTHS),
    "joule": _Unit("joule", "joules", "J"),
    "kilojoule": _Unit("kilojoule", "kilojoules", "kJ"),
    "mole": _Unit("mole", "moles", "mol"),
}

_POWERS_SPOKEN = {1: "", 2: "square ", 3: "cubic "}
_POWERS_WRITTEN = {1: "", 2: "²", 3: "³"}


def _known(name: str) -> _Unit:
    """The table's entry, or one made from pint's own name for what the table lacks."""
    if name in _UNITS:
        return _UNITS[name]
    words = name.replace("_", " ")
    return _Unit(words, words + "s", f"{Q(1, name).units:~P}")


def _unit_name(quantity: Quantity) -> str:
    """Pint's name of a plain unit ("inch"); empty for a compound one."""
    parts = tuple(quantity.unit_items())
    return str(parts[0][0]) if len(parts) == 1 and parts[0][1] == 1 else ""


def _compound(quantity: Quantity) -> _Unit:
    """Name and symbol of a unit with powers and divisions: "milliliters per meter"."""
    parts = [(name, int(power)) for name, power in quantity.unit_items()]
    if len(parts) == 1 and parts[0][1] == 1:
        return _known(parts[0][0])
    over = [(name, power) for name, power in parts if power > 0]
    under = [(name, -power) for name, power in parts if power < 0]
    if any(power not in _POWERS_SPOKEN for _, power in over + under):
        raise ValueError(f"no words for the unit {quantity.units}")

    def words(items: Sequence[tuple[str, int]], last_many: bool) -> str:
        names = [
            _POWERS_SPOKEN[power]
            + (_known(n).many if last_many and i == len(items) - 1 else _known(n).one)
            for i, (n, power) in enumerate(items)
        ]
        return " ".join(names)

    def symbols(items: Sequence[tuple[str, int]]) -> str:
        return "·".join(_known(n).symbol + _POWERS_WRITTEN[p] for n, p in items)

    per = f" per {words(under, False)}" if under else ""
    slash = f"/{symbols(under)}" if under else ""
    one, many = words(over, False) + per, words(over, True) + per
    return _Unit(one.strip(), many.strip(), (symbols(over) or "1") + slash)


# Units an answer is given in, by system: (unit, used from this much of it up), largest first.
# A gallon is 128 fluid ounces; the rest are our own choices of what reads well.
_VOLUMES = {
    US: (("gallon", 1), ("fluid_ounce", 0)),
    METRIC: (("liter", 1), ("milliliter", 0)),
}
_MASSES = {
    US: (("pound", 1), ("ounce", 0)),
    METRIC: (("kilogram", 1), ("gram", 0)),
}
_AREAS = {
    US: (("foot ** 2", 2), ("inch ** 2", 0)),
    METRIC: (("meter ** 2", 1), ("centimeter ** 2", 1), ("millimeter ** 2", 0)),
}
_SPEEDS = {
    US: (("inch / minute", 0),),
    METRIC: (("millimeter / second", 0),),
}
_PER_LENGTH = {
    US: (("fluid_ounce / foot", 0),),
    METRIC: (("milliliter / meter", 0),),
}
_FLOWS = {
    US: (("fluid_ounce / minute", 0),),
    METRIC: (("milliliter / minute", 0),),
}
_PRESSURES = {
    US: (("psi", 0),),
    METRIC: (("megapascal", 1), ("kilopascal", 0)),
}
_THINNEST_MILLIMETERS = 0.1
"""Below this a metric thickness is said in micrometers; our own choice."""
_METRIC_LENGTHS = (("meter", 1), ("millimeter", _THINNEST_MILLIMETERS), ("micrometer", 0))

_LARGER_US_MEASURES = {"pint", "quart", "gallon", "pound", "yard", "thou"}
"""Units a US shop names on purpose; kept as they came while there is at least one of them."""

_VOLUME_NAMES = {
    "milliliter",
    "liter",
    "cubic_centimeter",
    "fluid_ounce",
    "pint",
    "quart",
    "gallon",
    "cubic_inch",
}


def _ladder(quantity: Quantity) -> dict[str, tuple[tuple[str, float], ...]] | None:
    names = {name for name, _ in quantity.unit_items()}
    if quantity.check("[volume]"):
        return _VOLUMES
    if quantity.check("[mass]"):
        return _MASSES
    if quantity.check("[area]"):
        # milliliters per meter have the dimension of an area and are none
        return _PER_LENGTH if names & _VOLUME_NAMES else _AREAS
    if quantity.check("[speed]"):
        return _SPEEDS
    if quantity.check("[volume] / [time]"):
        return _FLOWS
    if quantity.check("[pressure]"):
        return _PRESSURES
    return None


def _check_units(units: str | None) -> None:
    if units not in (US, METRIC, None):
        raise ValueError(f"units must be 'us' or 'metric', not {units!r}")


def _in_system(quantity: Quantity, units: str | None) -> Quantity:
    """The quantity in the unit in which that system's shop would say it."""
    _check_units(units)
    _finite(quantity.magnitude)
    if units is None:
        return quantity
    name = _unit_name(quantity)
    if quantity.check("[temperature]"):
        if name.startswith("delta_"):
            return quantity.to("delta_degF" if units == US else "delta_degC")
        return quantity.to("degF" if units == US else "degC")
    if units == US and name in _LARGER_US_MEASURES and abs(quantity.magnitude) >= 1:
        return quantity
    if quantity.check("[length]"):
        return quantity.to("inch") if units == US else _climb(quantity, _METRIC_LENGTHS)
    ladder = _ladder(quantity)
    return quantity if ladder is None else _climb(quantity, ladder[units])


_FLOAT_NOISE = 1e-12


def _climb(quantity: Quantity, rungs: Sequence[tuple[str, float]]) -> Quantity:
    """Largest unit of which there is enough; judged on the rounded figure, so 999.7 mL is 1 L."""
    for below, (unit, least) in zip((*rungs[1:], rungs[-1]), rungs, strict=True):
        # round as it would be shown one rung down, then ask whether that fills this rung
        smaller = quantity.to(below[0])
        places = _compound(smaller).places(smaller.magnitude)
        shown = Q(float(_figures(smaller.magnitude, places)), below[0]).to(unit)
        exact = quantity.to(unit)
        if abs(shown.magnitude) >= least - _FLOAT_NOISE:
            # the exact figure, so that it is rounded once; only a carry uses the rounded one
            return exact if abs(exact.magnitude) >= least else shown
    return quantity.to(rungs[-1][0])


# ---------------------------------------------------------------------------- any quantity


def spoken(value: Any, units: str | None = None) -> str:
    """Any figure of an answer in words.

    ``value``: a pint quantity, a number, a timedelta, a time or datetime, or a text (which
    is returned as it is). See the functions for each kind.

    >>> spoken(Q(0.375, "inch"))
    'three-eighths inch'
    >>> spoken(Q(72.4, "mL"))
    'seventy-two milliliters'
    """
    if isinstance(value, str):
        return value
    if isinstance(value, timedelta):
        return spoken_duration(value)
    if isinstance(value, datetime | time):
        return spoken_clock(value)
    if not isinstance(value, Quantity):
        return spoken_number(value)
    if value.check("[length]"):
        return spoken_length(value, units)
    if value.check("[temperature]"):
        return spoken_temperature(value, units)
    if value.check("[time]"):
        return spoken_duration(value)
    chosen = _in_system(value, units)
    if not chosen.unit_items():
        return spoken_number(chosen.magnitude)
    return _say(float(chosen.magnitude), _compound(chosen))


def written(value: Any, units: str | None = None) -> str:
    """Any figure of an answer for the screen; the counterpart of ``spoken``.

    >>> written(Q(215, "minute"))
    '3 h 35 min'
    """
    if isinstance(value, str):
        return value
    if isinstance(value, timedelta):
        return written_duration(value)
    if isinstance(value, datetime | time):
        return written_clock(value, units or US)
    if not isinstance(value, Quantity):
        return written_number(value)
    if value.check("[length]"):
        return written_length(value, units)
    if value.check("[temperature]"):
        return written_temperature(value, units)
    if value.check("[time]"):
        return written_duration(value)
    chosen = _in_system(value, units)
    if not chosen.unit_items():
        return written_number(chosen.magnitude)
    return _show(float(chosen.magnitude), _compound(chosen))


def spoken_both(quantity: Quantity, first: str = METRIC) -> str:
    """In both systems: "seventy-two milliliters, two and a half fluid ounces"."""
    _check_units(first)
    other = US if first == METRIC else METRIC
    words = spoken(quantity, first), spoken(quantity, other)
    return words[0] if words[0] == words[1] else f"{words[0]}, {words[1]}"


def written_both(quantity: Quantity, first: str = METRIC) -> str:
    """In both systems: "72 mL (2.4 fl oz)"."""
    _check_units(first)
    other = US if first == METRIC else METRIC
    text = written(quantity, first), written(quantity, other)
    return text[0] if text[0] == text[1] else f"{text[0]} ({text[1]})"


def _say(value: float, unit: _Unit, places: int | None = None) -> str:
    figure = _figures(
        value, unit.places(value) if places is None else places, zero_is_fine=unit.zero_is_fine
    )
    name = unit.one if abs(figure) == 1 else unit.many
    if abs(figure) == Decimal("0.5"):
        article = "an" if unit.one[0] in "aeiou" else "a"
        return f"{'minus ' if figure < 0 else ''}half {article} {unit.one}"
    return f"{spoken_number(figure, MOST_DECIMALS, unit.quarters)} {name}"


def _show(value: float, unit: _Unit, places: int | None = None) -> str:
    figure = _figures(
        value, unit.places(value) if places is None else places, zero_is_fine=unit.zero_is_fine
    )
    return f"{figure:,f} {unit.symbol}"


# ---------------------------------------------------------------------------- lengths

LONGEST_IN_INCHES = 96
"""Up to this a US length is said in inches, as the trade says panel and flange lengths
(common practice, no source); beyond it in feet and inches."""


def spoken_length(quantity: Quantity, units: str | None = None, feet: bool | None = None) -> str:
    """A length: "forty inches", "three-eighths inch", "ten feet four inches", "9.5 mm" in words.

    feet: True for feet and inches, False for inches alone; None lets the length decide:
    feet when it came in feet or is longer than LONGEST_IN_INCHES. An inch figure is a
    fraction when it lies on a thirty-second, otherwise a decimal; below a thirty-second it
    is thousandths.
    """
    chosen, in_feet = _length_in_system(quantity, units, feet)
    value = float(chosen.magnitude)
    if in_feet:
        sign, whole, inches = _feet_and_inches(value)
        words = f"{_words(whole)} {'foot' if whole == 1 else 'feet'}" if whole else ""
        rest = _spoken_inches(inches) if inches or not whole else ""
        return f"{sign and 'minus '}{words} {rest}".replace("  ", " ").strip()
    if _unit_name(chosen) == "inch":
        return _spoken_inches(value)
    return _say(value, _compound(chosen))


def written_length(quantity: Quantity, units: str | None = None, feet: bool | None = None) -> str:
    """A length for the screen: "3/8 in", "2 9/16 in", "10 ft 4 in", "12.7 mm", "0.010 in"."""
    chosen, in_feet = _length_in_system(quantity, units, feet)
    value = float(chosen.magnitude)
    if in_feet:
        sign, whole, inches = _feet_and_inches(value)
        words = f"{whole:,} ft" if whole else ""
        rest = _written_inches(inches) if inches or not whole else ""
        return f"{sign}{words} {rest}".strip()
    if _unit_name(chosen) == "inch":
        return _written_inches(value)
    return _show(value, _compound(chosen))


def _length_in_system(
    quantity: Quantity, units: str | None, feet: bool | None
) -> tuple[Quantity, bool]:
    """The length in the unit to say it in, and whether as feet and inches (it is then inches)."""
    own = _unit_name(quantity)
    chosen = _in_system(quantity, units)
    if _unit_name(chosen) not in ("inch", "foot"):
        return chosen, False
    inches = chosen.to("inch")
    if feet is None:
        feet = own == "foot" or abs(inches.magnitude) > LONGEST_IN_INCHES
    if feet and abs(inches.magnitude) < 12:
        feet = False
    return inches, feet


def _feet_and_inches(inches: float) -> tuple[str, int, float]:
    """Sign, whole feet and the inches left, rounded before the carry: 11.99 in is a foot."""
    size = abs(inches)
    fraction = ruler_fraction(size)
    rounded = Fraction(_nearest(size, 1)) if fraction is None else fraction
    whole, rest = divmod(rounded, 12)
    return ("-" if inches < 0 else ""), int(whole), float(rest)


def _thousandths(inches: float) -> Decimal | None:
    """Thousandths of an inch, for what is thinner than the finest mark of a rule."""
    if inches == 0 or abs(inches) >= 1 / FINEST_FRACTION:
        return None
    return _figures(inches * 1000, 0 if abs(inches) >= 0.01 else 1)


def _spoken_inches(inches: float) -> str:
    fraction = ruler_fraction(inches)
    if fraction is not None:
        sign, size = ("minus " if fraction < 0 else ""), abs(fraction)
        if size == Fraction(3, 4):
            return f"{sign}three-quarter inch"  # as it is said
        return f"{sign}{_mixed_words(size)} {'inch' if 0 < size <= 1 else 'inches'}"
    thousandths = _thousandths(inches)
    if thousandths is not None:
        name = "thousandth" if abs(thousandths) == 1 else "thousandths"
        return f"{spoken_number(thousandths, MOST_DECIMALS, False)} {name} of an inch"
    return _say(inches, _UNITS["inch"])


def _written_inches(inches: float) -> str:
    fraction = ruler_fraction(inches)
    if fraction is not None:
        return f"{'-' if fraction < 0 else ''}{_mixed_written(abs(fraction))} in"
    thousandths = _thousandths(inches)
    if thousandths is not None:
        # three decimals at least, as feeler gauges are marked: "0.010 in"
        decimals = max(3, -thousandths.scaleb(-3).as_tuple().exponent)
        return f"{thousandths.scaleb(-3):.{decimals}f} in"
    return _show(inches, _UNITS["inch"])


# ---------------------------------------------------------------------------- temperatures


def spoken_temperature(
    quantity: Quantity, units: str | None = None, places: int | None = None, scale: bool = True
) -> str:
    """A temperature or a difference: "fifty-five degrees Fahrenheit", "minus five degrees
    Celsius". Whole degrees unless ``places`` says otherwise; a difference below ten keeps a
    decimal. ``scale=False`` leaves the scale's name off. A quantity in kelvin is a reading,
    not a difference, once ``units`` asks for another scale."""
    chosen = _in_system(quantity, units)
    words = _say(float(chosen.magnitude), _compound(chosen), places)
    return words if scale else words.replace(" Fahrenheit", "").replace(" Celsius", "")


def written_temperature(
    quantity: Quantity, units: str | None = None, places: int | None = None
) -> str:
    """A temperature or a difference for the screen: "55 °F", "13 °C"."""
    chosen = _in_system(quantity, units)
    return _show(float(chosen.magnitude), _compound(chosen), places)


# ---------------------------------------------------------------------------- durations

_MINUTE, _HOUR, _DAY = 60, 3600, 86400  # seconds

# (below this many seconds, rounded to this many): our own choice of what a person can use.
_DURATION_STEPS = (
    (10, Decimal("0.1")),
    (10 * _MINUTE, Decimal(1)),
    (72 * _HOUR, Decimal(_MINUTE)),
    (14 * _DAY, Decimal(_HOUR)),
    (math.inf, Decimal(_DAY)),
)
_HOURS_UP_TO = 72 * _HOUR
"""Cure times are said in hours ("forty-eight hours"); days from three days up."""

_CALENDAR = {"week", "month", "year"}


def _duration_parts(
    duration: Quantity | timedelta, exact: bool = False
) -> tuple[str, list[tuple[Decimal, str]]]:
    """Sign and the parts of a duration, rounded first and carried after.

    exact: to the second, however long. A whole number of weeks, months or years (a shelf
    life) stays as it came.
    """
    if isinstance(duration, timedelta):
        seconds = duration.total_seconds()
    else:
        own = _unit_name(duration)
        if own in _CALENDAR and float(duration.magnitude).is_integer():
            count = Decimal(int(duration.magnitude))
            return ("-" if count < 0 else ""), [(abs(count), own)]
        seconds = float(duration.to("second").magnitude)
    size = Decimal(repr(round(abs(_finite(seconds)), 6)))  # a microsecond is float noise
    # each bound is a multiple of its step, so a figure that rounds up to the bound reads the
    # same in the next row
    step = next(step for below, step in _DURATION_STEPS if size < below)
    step = min(step, Decimal(1)) if exact else step
    rounded = (size / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step
    sign = "-" if seconds < 0 and rounded else ""
    if rounded == 0:
        return "", [(Decimal(0), "minute")]
    days, rest = divmod(rounded, _DAY) if rounded >= _HOURS_UP_TO else (Decimal(0), rounded)
    hours, rest = divmod(rest, _HOUR)
    minutes, secs = divmod(rest, _MINUTE)
    parts = [(days, "day"), (hours, "hour"), (minutes, "minute"), (secs, "second")]
    return sign, [(amount, name) for amount, name in parts if amount]


def spoken_duration(duration: Quantity | timedelta, exact: bool = False) -> str:
    """A duration: "three hours thirty-five minutes", "three and a half hours", "forty minutes".

    To a tenth of a second below 10 s, a second below 10 min, a minute below 72 h, an hour
    below 14 days, a day beyond: to the nearest, so a figure to act by is rounded before, to its
    safe side (``trade.rounding``). exact: to the second, as somebody has set it.
    """
    sign, parts = _duration_parts(duration, exact)
    words = [_words(a) + f" {n}{'' if a == 1 else 's'}" for a, n in parts]
    names = [name for _, name in parts]
    if names in (["hour", "minute"], ["minute", "second"]) and parts[1][0] == 30:
        words = [f"{_words(parts[0][0])} and a half {names[0]}s"]
    elif names == ["second"]:
        words = [_say(float(parts[0][0]), _UNITS["second"])]
    return ("minus " if sign else "") + " ".join(words)


def written_duration(duration: Quantity | timedelta, exact: bool = False) -> str:
    """A duration for the screen: "3 h 35 min", "45 min", "4 min 30 s", "3 days 6 h"; rounded as
    ``spoken_duration`` has it."""
    symbols = {"hour": "h", "minute": "min", "second": "s"}
    sign, parts = _duration_parts(duration, exact)
    texts = [f"{a:,f} {symbols.get(n) or (n if a == 1 else n + 's')}" for a, n in parts]
    return sign + " ".join(t.replace(".0 ", " ") for t in texts)


# ---------------------------------------------------------------------------- clock times


def _hour_and_minute(moment: time | datetime) -> tuple[int, int]:
    """To the nearest minute, carried through the hour and past midnight."""
    minutes = moment.hour * 60 + moment.minute + (1 if moment.second >= 30 else 0)
    return divmod(minutes % (24 * 60), 60)


def spoken_clock(moment: time | datetime, past: bool = False) -> str:
    """A time of day: "three ten p.m.", "three oh five p.m.", "noon".

    past: the older way, "ten past three p.m.", "quarter to four p.m.".
    """
    hour, minute = _hour_and_minute(moment)
    if minute == 0 and hour in (0, 12):
        return "noon" if hour else "midnight"
    if past and minute:
        return _past_or_to(hour, minute)
    half = "a.m." if hour < 12 else "p.m."
    twelve = _words(hour % 12 or 12)
    if minute == 0:
        return f"{twelve} {half}"
    return f"{twelve} {'oh ' if minute < 10 else ''}{_words(minute)} {half}"


def _past_or_to(hour: int, minute: int) -> str:
    if minute > 30:
        hour, minute, way = (hour + 1) % 24, 60 - minute, "to"
    else:
        way = "past"
    count = {15: "quarter", 30: "half"}.get(minute)
    if count is None:
        exact = "" if minute % 5 == 0 else " minute" + ("" if minute == 1 else "s")
        count = _words(minute) + exact
    if hour in (0, 12):
        return f"{count} {way} {'noon' if hour else 'midnight'}"
    return f"{count} {way} {_words(hour % 12)} {'a.m.' if hour < 12 else 'p.m.'}"


def written_clock(moment: time | datetime, units: str = US) -> str:
    """A time of day for the screen: "3:10 p.m." in a US shop, "15:10" in a metric one."""
    _check_units(units)
    hour, minute = _hour_and_minute(moment)
    if units == METRIC:
        return f"{hour:02d}:{minute:02d}"
    if minute == 0 and hour in (0, 12):
        return "noon" if hour else "midnight"  # "12:00 p.m." is read both ways
    return f"{hour % 12 or 12}:{minute:02d} {'a.m.' if hour < 12 else 'p.m.'}"


_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_WEEK = 7  # days


def spoken_moment(moment: datetime, now: datetime) -> str:
    """A moment as seen from ``now``: "three ten p.m.", "... tomorrow", "... on Friday"."""
    return f"{spoken_clock(moment)} {_which_day(moment, now, spoken_date)}".strip()


def written_moment(moment: datetime, now: datetime, units: str = US) -> str:
    """The same for the screen: "3:10 p.m. tomorrow", "15:10 on Friday"."""
    day = _which_day(moment, now, lambda d: written_date(d, units))
    return f"{written_clock(moment, units)} {day}".strip()


def _which_day(moment: datetime, now: datetime, far: Callable[[date], str]) -> str:
    shown = (moment + timedelta(seconds=30)).date()  # the clock time is rounded to the minute
    days = (shown - now.date()).days
    near = {0: "", 1: "tomorrow", -1: "yesterday"}.get(days)
    if near is not None:
        return near
    return f"on {_WEEKDAYS[shown.weekday()]}" if 1 < days < _WEEK else f"on {far(shown)}"


_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def spoken_date(day: date) -> str:
    """A calendar day: "March third, twenty twenty-seven"."""
    return (
        f"{_MONTHS[day.month - 1]} {num2words(day.day, to='ordinal')}, "
        f"{num2words(day.year, to='year')}"
    ).replace(" and ", " ")


def written_date(day: date, units: str = US) -> str:
    """A calendar day for the screen: "March 3, 2027", in a metric shop "2027-03-03"."""
    _check_units(units)
    if units == METRIC:
        return day.isoformat()[:10]
    return f"{_MONTHS[day.month - 1]} {day.day}, {day.year}"


# ---------------------------------------------------------------------------- counts, lists

_IRREGULAR = {"foot": "feet", "inch": "inches", "half": "halves", "percent": "percent"}


def plural(noun: str) -> str:
    """Plural of a trade noun; of its first part where it has an "of": "tubes of sealer"."""
    if " of " in noun:
        head, tail = noun.split(" of ", 1)
        return f"{plural(head)} of {tail}"
    before, _, last = noun.rpartition(" ")
    if last in _IRREGULAR:
        last = _IRREGULAR[last]
    elif last.endswith(("s", "x", "z", "ch", "sh")):
        last += "es"
    elif last.endswith("y") and last[-2:-1] not in "aeiou":
        last = last[:-1] + "ies"
    else:
        last += "s"
    return f"{before} {last}".strip()


def spoken_count(count: float, noun: str, many: str | None = None) -> str:
    """A count of things: "one cartridge", "two cartridges", "no cartridges"."""
    if count == 0:
        return f"no {many or plural(noun)}"
    words = spoken_number(count)
    return f"{words} {noun if words == 'one' else many or plural(noun)}"


def written_count(count: float, noun: str, many: str | None = None) -> str:
    """A count for the screen: "1 cartridge", "2 cartridges"."""
    text = written_number(count)
    return f"{text} {noun if text == '1' else many or plural(noun)}"


def join_words(items: Iterable[str], word: str = "and") -> str:
    """A list: "a", "a and b", "a, b and c". No item gives an empty text."""
    texts = [item for item in items if item]
    if len(texts) < 2:
        return "".join(texts)
    return f"{', '.join(texts[:-1])} {word} {texts[-1]}"


def spoken_percent(part: float) -> str:
    """A part of one as percent: 0.1 -> "ten percent", 0.125 -> "twelve and a half percent"."""
    return _say(round(_finite(part) * 100, 9), _UNITS["percent"])


def written_percent(part: float) -> str:
    """A part of one as percent for the screen: "10 %"."""
    return _show(round(_finite(part) * 100, 9), _UNITS["percent"])


def spoken_ratio(parts: Iterable[float]) -> str:
    """A mixing ratio: "four to one to one"."""
    return " to ".join(spoken_number(part) for part in parts)


def written_ratio(parts: Iterable[float]) -> str:
    """A mixing ratio for the screen: "4:1:1"."""
    return ":".join(written_number(part) for part in parts)


# ---------------------------------------------------------------------------- asking back

def digit_by_digit(value: float) -> str:
    """Each figure by itself, so that fifteen and fifty cannot be mixed up: "five zero"."""
    names = {"-": "minus", ".": "point"}
    figure = _nearest(_finite(value), MOST_DECIMALS)
    return " ".join(names.get(c) or num2words(int(c)) for c in f"{figure:f}")
