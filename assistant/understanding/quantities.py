"""Spoken words to values: numbers, quantities with units, clock times.

The one place where words become quantities. Whole numbers are read by text2num;
fractions, decimals, mixed numbers and units are put together here.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from text_to_num import text2num

from assistant.hearing.written import DENOMINATORS, DIGITS, TEENS, TENS, UNITS
from assistant.units import Q, Quantity


class NotAQuantity(ValueError):
    """The words are not a value of the kind asked for."""


# --- numbers --------------------------------------------------------------------------

_WHOLE_WORDS = {*UNITS, *TEENS, *TENS, "zero", "hundred", "thousand"}
_JOINING = {"a", "an", "and", "point", "oh", "o", "minus", "negative", *DENOMINATORS}
NUMBER_WORDS = frozenset(_WHOLE_WORDS | _JOINING)


def number(words: Sequence[str]) -> Fraction:
    """The value of number words: "two and three eighths", "point three seven five".

    Raises NotAQuantity if they are no number. Exact: 3/8 is Fraction(3, 8).
    """
    words = list(words)
    if words[:1] in (["minus"], ["negative"]):
        return -number(words[1:])
    if not words:
        raise NotAQuantity("no number is said")
    if len(words) == 1 and (digits := _digits(words[0])) is not None:
        return digits
    if "point" in words:
        at = words.index("point")
        whole = _whole(words[:at]) if at else 0
        return whole + _places(words[at + 1 :])
    if words[-1] in DENOMINATORS:
        return _with_fraction(words)
    return Fraction(_whole(words))


def _digits(word: str) -> Fraction | None:
    try:
        return Fraction(word)
    except (ValueError, ZeroDivisionError):
        return None


def _with_fraction(words: list[str]) -> Fraction:
    denominator = DENOMINATORS[words[-1]]
    if "and" in words:
        # "a hundred and three and a half": the last "and" parts whole from fraction
        at = len(words) - 1 - words[::-1].index("and")
        try:
            return _whole(words[:at]) + _numerator(words[at + 1 : -1], denominator)
        except NotAQuantity:
            pass
    return _numerator(words[:-1], denominator)


def _numerator(words: list[str], denominator: int) -> Fraction:
    if words in ([], ["a"], ["an"]):
        return Fraction(1, denominator)
    return Fraction(_whole(words), denominator)


def _whole(words: list[str]) -> int:
    if words[:1] == ["a"] and len(words) > 1:
        words = ["one", *words[1:]]
    if words in (["oh"], ["o"]):
        words = ["zero"]
    if not words or not set(words) <= _WHOLE_WORDS | {"and"}:
        raise NotAQuantity(f"{' '.join(words)!r} is not a number")
    try:
        return text2num(" ".join(word for word in words if word != "and"), "en")
    except ValueError:
        raise NotAQuantity(f"{' '.join(words)!r} is not a number") from None


def _places(words: list[str]) -> Fraction:
    if words and all(word in DIGITS for word in words):
        digits = "".join(DIGITS[word] for word in words)
        return Fraction(int(digits), 10 ** len(digits))
    value = _whole(words)  # "point seventy five"
    return Fraction(value, 10 ** len(str(value)))


# --- units ----------------------------------------------------------------------------


def _named(unit: str, *words: str) -> dict[str, str]:
    return {word: unit for word in words}


_LENGTHS = (
    _named("inch", "inch", "inches")
    | _named("foot", "foot", "feet")
    | _named("yard", "yard", "yards")
    | _named("millimeter", "millimeter", "millimeters")
    | _named("centimeter", "centimeter", "centimeters")
    | _named("meter", "meter", "meters")
    # pint's "mil" is an angle; a shop's is a thousandth of an inch, as is its "thou"
    | _named("thou", "thou", "mil", "mils", "thousandth", "thousandths")
)
_DURATIONS = (
    _named("second", "second", "seconds")
    | _named("minute", "minute", "minutes")
    | _named("hour", "hour", "hours")
    | _named("day", "day", "days")
)
_VOLUMES = (
    _named("milliliter", "milliliter", "milliliters", "cc", "c c", "cubic centimeters")
    | _named("liter", "liter", "liters")
    | _named("fluid_ounce", "ounce", "ounces", "fluid ounce", "fluid ounces")
    | _named("quart", "quart", "quarts")
    | _named("pint", "pint", "pints")
    | _named("gallon", "gallon", "gallons")
    | _named("inch**3", "cubic inch", "cubic inches")
)
_AREAS = {f"square {word}": f"{unit}**2" for word, unit in _LENGTHS.items()}
_MASSES = (
    _named("gram", "gram", "grams")
    | _named("kilogram", "kilogram", "kilograms", "kilo", "kilos")
    | _named("ounce", "ounce", "ounces")
    | _named("pound", "pound", "pounds")
)
_SCALES = _named("degF", "fahrenheit", "f") | _named("degC", "celsius", "centigrade", "c")

_UNIT_TABLES: Mapping[str, Mapping[str, str]] = {
    "length": _LENGTHS,
    "duration": _DURATIONS,
    "volume": _VOLUMES,
    "area": _AREAS,
    "mass": _MASSES,
}
UNIT_WORDS = frozenset(
    word for table in _UNIT_TABLES.values() for name in table for word in name.split()
)
_SMALLER = {"foot": "inch", "hour": "minute", "minute": "second"}
"""What a bare number after a unit counts: "three foot four", "two hours thirty"."""


def quantity(words: str, kind: str, default_unit: str | None = None) -> Quantity:
    """The quantity of a kind that the words say: "three feet four inches".

    kind: length, duration, volume, area or mass. default_unit: what a bare number counts.
    Raises NotAQuantity.
    """
    table = _UNIT_TABLES[kind]
    total: Quantity | None = None
    unit: str | None = None
    pending: list[str] = []
    spoken = words.lower().split()
    at = 0
    while at < len(spoken):
        named, used = _unit_at(spoken, at, table)
        if named is None:
            pending.append(spoken[at])
            at += 1
            continue
        amount = Q(float(_amount(pending)), named)
        total = amount if total is None else total + amount
        unit, pending = named, []
        at += used
    if pending:
        rest = pending[1:] if pending[0] == "and" else pending
        if not rest:
            raise NotAQuantity(f'{words!r} breaks off after "and"')
        if unit is None:
            if default_unit is None:
                raise NotAQuantity(f"{words!r} does not say its unit")
            return Q(float(_amount(rest)), default_unit)
        if rest[-1] in DENOMINATORS:
            return total + Q(float(number(rest)), unit)  # "an inch and a half"
        if unit not in _SMALLER:
            raise NotAQuantity(f"{words!r} ends in a number without a unit")
        return total + Q(float(number(rest)), _SMALLER[unit])
    if total is None:
        raise NotAQuantity(f"{words!r} is not a {kind}")
    return total


def _unit_at(words: list[str], at: int, table: Mapping[str, str]) -> tuple[str | None, int]:
    pair = " ".join(words[at : at + 2])
    if at + 1 < len(words) and pair in table:
        return table[pair], 2
    return table.get(words[at]), 1


def _amount(words: list[str]) -> Fraction:
    """The number before a unit: "forty", "a", "half an", "three eighths of an"."""
    words = list(words)
    if words[:1] == ["and"]:
        words = words[1:]
    if words in ([], ["a"], ["an"]):
        return Fraction(1)
    if words[-1] in ("a", "an") and len(words) > 1:
        words = words[:-1]
    if words[-1] == "of" and len(words) > 1:
        words = words[:-1]
    return number(words)


def temperature(words: str, default_unit: str) -> Quantity:
    """ "minus five celsius", "fifty five degrees" -> a temperature reading."""
    spoken = [word for word in words.lower().split() if word not in ("degrees", "degree")]
    unit = default_unit
    if spoken and spoken[-1] in _SCALES:
        unit = _SCALES[spoken.pop()]
    return Q(float(number(spoken)), unit)


def percent(words: str) -> float:
    """ "ten percent" -> 0.1."""
    spoken = words.lower().split()
    if spoken[-1:] == ["percent"]:
        spoken.pop()
    return float(number(spoken) / 100)


def ratio(words: str) -> tuple[float, ...]:
    """ "four to one to one" -> (4, 1, 1)."""
    parts: list[list[str]] = [[]]
    for word in words.lower().split():
        if word == "to":
            parts.append([])
        else:
            parts[-1].append(word)
    values = tuple(float(number(part)) for part in parts)
    if len(values) < 2:
        raise NotAQuantity(f"{words!r} is not a ratio")
    return values


# --- clock times ----------------------------------------------------------------------

_HALVES = {
    ("a", "m"): "am",
    ("p", "m"): "pm",
    ("in", "the", "morning"): "am",
    ("in", "the", "afternoon"): "pm",
    ("in", "the", "evening"): "pm",
    ("at", "night"): "pm",
}


@dataclass(frozen=True)
class ClockTime:
    """A time of day as said: hour and minute on the face, and the half of day if told.

    hour: 0..23 where ``half`` is given, else 1..12 as said.
    """

    hour: int
    minute: int
    half: str | None = None

    def isoformat(self) -> str:
        """The face of the clock, "15:30"; "03:30" also where the half of day was not told."""
        return f"{self.hour:02}:{self.minute:02}"

    def next_after(self, now: datetime.datetime) -> datetime.datetime:
        """The first moment after ``now`` when a clock shows this."""
        hours = [self.hour] if self.half else [self.hour % 12, self.hour % 12 + 12]
        moments = []
        for day in (0, 1):
            for hour in hours:
                at = datetime.time(hour, self.minute, tzinfo=now.tzinfo)
                date = now.date() + datetime.timedelta(days=day)
                moments.append(datetime.datetime.combine(date, at))
        return min(moment for moment in moments if moment > now)


def clock(words: str) -> ClockTime:
    """ "half past three", "three fifteen p m", "quarter to four", "noon"."""
    spoken = words.lower().split()
    if spoken == ["noon"]:
        return ClockTime(12, 0, "pm")
    if spoken == ["midnight"]:
        return ClockTime(0, 0, "am")
    half = None
    for ending, name in _HALVES.items():
        if tuple(spoken[-len(ending) :]) == ending:
            half = name
            spoken = spoken[: -len(ending)]
            break
    spoken = [word for word in spoken if word not in ("o'clock", "minutes", "minute")]
    if spoken[:1] == ["a"]:
        spoken = spoken[1:]
    for at, word in enumerate(spoken):
        if word in ("past", "after", "to", "before"):
            minutes = {"half": 30, "quarter": 15}.get(spoken[0]) or int(number(spoken[:at]))
            hour = int(number(spoken[at + 1 :]))
            if word in ("to", "before"):
                hour, minutes = (hour - 1) or 12, 60 - minutes
            return _clock_time(hour, minutes, half, words)
    minute_words = [word for word in spoken[1:] if word != "oh"]
    minutes = int(number(minute_words)) if minute_words else 0
    return _clock_time(int(number(spoken[:1])), minutes, half, words)


def _clock_time(hour: int, minute: int, half: str | None, words: str) -> ClockTime:
    if not (1 <= hour <= 12 and 0 <= minute < 60):
        raise NotAQuantity(f"{words!r} is not a time of day")
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return ClockTime(hour, minute, half)


# --- the same value said in other words -------------------------------------------------

_SAME_WORD = {
    word: unit
    for table in (*_UNIT_TABLES.values(), _SCALES)
    for word, unit in table.items()
    if " " not in word
} | {"degree": "degrees"}


def canonical(words: str) -> str:
    """Words with numbers as figures and units by one name, to tell if two readings differ.

    "a hundred and five inches" and "one hundred five inch" both become "105 inch".
    """
    spoken = words.lower().split()
    found: list[str] = []
    at = 0
    while at < len(spoken):
        for end in range(_run_end(spoken, at), at, -1):
            try:
                value = number(spoken[at:end])
            except NotAQuantity:
                continue
            found.append(str(value))
            at = end
            break
        else:
            found.append(_SAME_WORD.get(spoken[at], spoken[at]))
            at += 1
    return " ".join(found)


def _run_end(words: Sequence[str], at: int) -> int:
    end = at
    while end < len(words) and words[end] in NUMBER_WORDS:
        end += 1
    return end
