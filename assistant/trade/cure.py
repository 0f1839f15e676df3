"""Times at a temperature: how a data sheet's table reads between its lines.

A chemical reaction's time falls with temperature by the Arrhenius form,
``t(T) = A * exp(E / (R * T))`` with T in kelvin, so ln(t) is straight over 1/T. Between two
rows of a table that line is drawn through the two rows; beyond the table nothing is drawn:
at 0 °C the cure of a structural epoxy was inhibited or did not start (EPFL Infoscience,
record 178264), which no line through warm rows foretells. A card with a single temperature
is carried to others, inside the card's limits, by the rule of thumb that the time doubles
for every 10 K (18 °F) colder and halves for every 10 K warmer (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from typing import Literal

from assistant.units import Q, Quantity, registry

DOUBLING_STEP = Q(10, "delta_degC")
"""Colder by this much, twice the time. Exactly 18 °F. Common practice, no source."""

SAME_READING = Q(0.5, "delta_degF")
"""Half a degree Fahrenheit, what a thermometer read in whole degrees leaves open. A reading
this near to a row of the table is that row: data sheets print 70 °F as 21 °C."""

FLOAT_NOISE_KELVIN = 1e-9
"""A limit is not passed by less than this: 50 °F and 10 °C are one limit."""

Stage = Literal["work", "clamp", "sand", "full_cure"]
STAGES: tuple[Stage, ...] = ("work", "clamp", "sand", "full_cure")

SAFE_END: dict[Stage, Literal["low", "high"]] = {
    "work": "low",
    "clamp": "high",
    "sand": "high",
    "full_cure": "high",
}
"""Which end of a printed range is planned with: the shortest work time, the longest others."""


class Basis(Enum):
    """Where a time comes from."""

    TABLE = "table"
    FITTED = "fitted from the table"
    RULE_OF_THUMB = "rule of thumb"


@dataclass(frozen=True)
class Limits:
    """The lowest and the highest temperature a product may be used at, both inclusive."""

    lowest: Quantity
    highest: Quantity

    def __post_init__(self) -> None:
        if not self.lowest.m_as("kelvin") <= self.highest.m_as("kelvin"):
            raise ValueError(f"the lowest temperature {self.lowest} is above {self.highest}")


@dataclass(frozen=True)
class TimeRange:
    """A time as a data sheet prints it, "40 to 50 minutes"; both ends the same for one figure."""

    low: Quantity
    high: Quantity

    def safe_end(self, stage: Stage) -> Quantity:
        return getattr(self, SAFE_END[stage])


@dataclass(frozen=True)
class TimeAtTemperature:
    """An exact time, with where it comes from.

    rows: the temperatures of the table's rows it was made from, one or two.
    """

    time: Quantity
    basis: Basis
    rows: tuple[Quantity, ...]


LimitName = Literal[
    "lowest temperature", "highest temperature", "start of the table", "end of the table"
]


class OutOfLimits(ValueError):
    """A temperature for which no time may be given.

    limit_name: which limit it passes. limit: its value. value: the temperature asked for.
    """

    def __init__(self, limit_name: LimitName, limit: Quantity, value: Quantity):
        self.limit_name = limit_name
        self.limit = limit
        self.value = value
        side = "below" if self.too_cold else "above"
        super().__init__(f"{value:.4g~P} is {side} the {limit_name}, {limit:.4g~P}")

    @property
    def too_cold(self) -> bool:
        return self.limit_name in ("lowest temperature", "start of the table")


def time_at_temperature(
    rows: Sequence[tuple[Quantity, Quantity]], temperature: Quantity, limits: Limits
) -> TimeAtTemperature:
    """The time at a temperature, from a table of (temperature, time).

    rows: one or more, in any order, temperatures all different, times above zero.
    temperature: of the metal, inside ``limits``, and inside the table if it has two rows
    or more. Basis: the row itself within ``SAME_READING`` of it; otherwise ln(t) linear
    over 1/T between the two rows around it (Arrhenius); with one row the doubling rule,
    ``t * 2^((T_row - T) / 10 K)``.

    Raises OutOfLimits, naming the limit passed, and ValueError for an empty or faulty table.
    """
    table = sorted((_kelvin(t), time.m_as("minute"), t) for t, time in rows)
    if not table:
        raise ValueError("the table holds no row")
    if any(not (math.isfinite(minutes) and minutes > 0) for _, minutes, _ in table):
        raise ValueError("every time of the table must be above zero")
    if any(a[0] == b[0] for a, b in pairwise(table)):
        raise ValueError("the table holds a temperature twice")

    wanted = _kelvin(temperature)
    _check("lowest temperature", limits.lowest, temperature)
    _check("highest temperature", limits.highest, temperature)

    nearest = min(table, key=lambda row: abs(row[0] - wanted))
    if abs(nearest[0] - wanted) <= SAME_READING.m_as("kelvin"):
        return TimeAtTemperature(Q(nearest[1], "minute"), Basis.TABLE, (nearest[2],))

    if len(table) == 1:
        kelvin, minutes, stated = table[0]
        doublings = (kelvin - wanted) / DOUBLING_STEP.m_as("kelvin")
        return TimeAtTemperature(
            Q(minutes * 2**doublings, "minute"), Basis.RULE_OF_THUMB, (stated,)
        )

    _check("start of the table", table[0][2], temperature)
    _check("end of the table", table[-1][2], temperature)
    cold, warm = next(
        (a, b) for a, b in pairwise(table) if a[0] <= wanted <= b[0]
    )
    share = (1 / cold[0] - 1 / wanted) / (1 / cold[0] - 1 / warm[0])
    minutes = math.exp((1 - share) * math.log(cold[1]) + share * math.log(warm[1]))
    return TimeAtTemperature(Q(minutes, "minute"), Basis.FITTED, (cold[2], warm[2]))


def stage_time(
    rows: Sequence[tuple[Quantity, TimeRange]],
    stage: Stage,
    temperature: Quantity,
    limits: Limits,
) -> TimeAtTemperature:
    """The time to plan with at a temperature, from a table of printed ranges.

    Takes the safe end of each range (``SAFE_END``): the shortest work time, the longest
    clamp, sand and full-cure time. The result is exact; trade.rounding rounds it.
    Ranges, basis and errors as for ``time_at_temperature``.
    """
    ends = [(row_temperature, times.safe_end(stage)) for row_temperature, times in rows]
    return time_at_temperature(ends, temperature, limits)


@dataclass(frozen=True)
class TemperatureForTime:
    """The lowest temperature at which a stage is done within a time.

    any_allowed: the time suffices even at the lowest temperature for which the card gives a
    time; ``temperature`` is that one. reached: the exact time at ``temperature``.
    """

    temperature: Quantity
    reached: TimeAtTemperature
    any_allowed: bool


class TooShort(ValueError):
    """No allowed temperature is warm enough. fastest: the time at the warmest, ``warmest``."""

    def __init__(self, fastest: Quantity, warmest: Quantity):
        self.fastest = fastest
        self.warmest = warmest
        super().__init__(f"even at {warmest:.4g~P} it takes {fastest.to('minute'):.4g~P}")


def temperature_span(
    rows: Sequence[tuple[Quantity, Quantity]], limits: Limits
) -> tuple[Quantity, Quantity]:
    """The coldest and the warmest temperature for which ``time_at_temperature`` gives a time.

    With two rows or more, the table inside the limits; with one, the limits. Raises
    ValueError for an empty table or one that lies outside the limits.
    """
    if not rows:
        raise ValueError("the table holds no row")
    if len(rows) == 1:
        return limits.lowest, limits.highest
    order = sorted((temperature for temperature, _ in rows), key=_kelvin)
    coldest = max(order[0], limits.lowest, key=_kelvin)
    warmest = min(order[-1], limits.highest, key=_kelvin)
    if _kelvin(coldest) > _kelvin(warmest) + FLOAT_NOISE_KELVIN:
        raise ValueError("the table lies outside the limits")
    return coldest, warmest


def temperature_for_time(
    rows: Sequence[tuple[Quantity, Quantity]], time: Quantity, limits: Limits
) -> TemperatureForTime:
    """The lowest temperature at which the time of the table is ``time`` or less.

    The inverse of ``time_at_temperature``: ``1/T`` linear over ln(t) between the rows, with
    one row ``T = T_row + 10 K * log2(t_row / t)``. time: above zero. Times must not grow
    with temperature. Where the reading of a row reaches half a degree to its warm side, the
    answer is the warm side's end.

    Raises TooShort when even the warmest allowed temperature takes longer, and ValueError
    for a time of zero or less or a faulty table.
    """
    minutes = time.m_as("minute")
    if not (math.isfinite(minutes) and minutes > 0):
        raise ValueError(f"the time must be above zero, not {time}")
    coldest, warmest = temperature_span(rows, limits)
    at_coldest = time_at_temperature(rows, coldest, limits)
    if at_coldest.time <= time:
        return TemperatureForTime(coldest, at_coldest, any_allowed=True)
    at_warmest = time_at_temperature(rows, warmest, limits)
    if at_warmest.time > time:
        raise TooShort(at_warmest.time, warmest)

    kelvin = min(_kelvin(warmest), max(_kelvin(coldest), _on_the_line(rows, minutes)))
    found = Q(kelvin, "kelvin")
    reached = time_at_temperature(rows, found, limits)
    if reached.time.m_as("minute") > minutes * (1 + FLOAT_NOISE_SHARE):
        # the nearest row's time stands for half a degree beyond it: pass that half degree
        row = _kelvin(reached.rows[0])
        kelvin = row + SAME_READING.m_as("kelvin") + 2 * FLOAT_NOISE_KELVIN
        found = Q(min(kelvin, _kelvin(warmest)), "kelvin")
        reached = time_at_temperature(rows, found, limits)
    return TemperatureForTime(found, reached, any_allowed=False)


class TooLong(ValueError):
    """No allowed temperature is cool enough. longest: the time at the coldest, ``coldest``."""

    def __init__(self, longest: Quantity, coldest: Quantity):
        self.longest = longest
        self.coldest = coldest
        super().__init__(f"even at {coldest:.4g~P} there are only {longest.to('minute'):.4g~P}")


def hottest_for_time(
    rows: Sequence[tuple[Quantity, Quantity]], time: Quantity, limits: Limits
) -> TemperatureForTime:
    """The highest temperature at which the time of the table is still ``time`` or more.

    The work time's side of ``temperature_for_time``, with its line, its ranges and its
    errors; any_allowed: even the warmest allowed temperature leaves the time. Raises TooLong
    when the coldest allowed temperature leaves less.
    """
    minutes = time.m_as("minute")
    if not (math.isfinite(minutes) and minutes > 0):
        raise ValueError(f"the time must be above zero, not {time}")
    coldest, warmest = temperature_span(rows, limits)
    at_warmest = time_at_temperature(rows, warmest, limits)
    if at_warmest.time >= time:
        return TemperatureForTime(warmest, at_warmest, any_allowed=True)
    at_coldest = time_at_temperature(rows, coldest, limits)
    if at_coldest.time < time:
        raise TooLong(at_coldest.time, coldest)

    kelvin = min(_kelvin(warmest), max(_kelvin(coldest), _on_the_line(rows, minutes, warmest=True)))
    found = Q(kelvin, "kelvin")
    reached = time_at_temperature(rows, found, limits)
    if reached.time.m_as("minute") < minutes * (1 - FLOAT_NOISE_SHARE):
        # the nearest row's time stands for half a degree before it: stay below that
        row = _kelvin(reached.rows[0])
        kelvin = row - SAME_READING.m_as("kelvin") - 2 * FLOAT_NOISE_KELVIN
        found = Q(max(kelvin, _kelvin(coldest)), "kelvin")
        reached = time_at_temperature(rows, found, limits)
    return TemperatureForTime(found, reached, any_allowed=False)


FLOAT_NOISE_SHARE = 1e-9
"""A time is not passed by less than this share of it."""


def _on_the_line(
    rows: Sequence[tuple[Quantity, Quantity]], minutes: float, warmest: bool = False
) -> float:
    """Kelvin at which the line through the rows has this time; it must be on the line.

    Where the line is level at that time, its cold end, or its warm end if ``warmest``.
    """
    table = sorted((_kelvin(t), time.m_as("minute")) for t, time in rows)
    if len(table) == 1:
        kelvin, stated = table[0]
        return kelvin + DOUBLING_STEP.m_as("kelvin") * math.log2(stated / minutes)
    stretches = list(pairwise(table))
    if warmest:
        stretches.reverse()
    # a level stretch is never the one: the sloping one beside it is met first, and the
    # callers have answered for a table that is level at its end
    cold, warm = next((a, b) for a, b in stretches if a[1] >= minutes >= b[1])
    share = math.log(cold[1] / minutes) / math.log(cold[1] / warm[1])
    return 1 / ((1 - share) / cold[0] + share / warm[0])


def arrhenius_factor(
    temperature: Quantity, reference: Quantity, activation_energy: Quantity
) -> float:
    """How much faster than at ``reference`` the cure runs: exp[-E/R * (1/T - 1/T_ref)].

    temperature, reference: above absolute zero. activation_energy: per mole, above zero;
    usual for a room-temperature epoxy-amine: 50 to 70 kJ/mol. The form is that of
    ASTM C1074's equivalent age, which writes Q for E/R.
    """
    e_over_r = (activation_energy / (1 * registry.molar_gas_constant)).m_as("kelvin")
    return math.exp(-e_over_r * (1 / _kelvin(temperature) - 1 / _kelvin(reference)))


def equivalent_age(
    profile: Iterable[tuple[Quantity, Quantity]], reference: Quantity, activation_energy: Quantity
) -> Quantity:
    """The time at ``reference`` that does as much curing as the profile: sum of factor * dt.

    profile: (temperature, duration) stretches, durations zero or more. Returns hours.
    Form: ASTM C1074. Raises ValueError for a negative duration.
    """
    return Q(
        math.fsum(
            arrhenius_factor(temperature, reference, activation_energy) * _hours(duration)
            for temperature, duration in profile
        ),
        "hour",
    )


def progress(
    profile: Iterable[tuple[Quantity, Quantity]],
    rows: Sequence[tuple[Quantity, Quantity]],
    limits: Limits,
) -> float:
    """Share of a stage done after a changing temperature: sum of dt / t(T); 1 is done.

    profile: (temperature, duration) stretches. rows, limits and errors as for
    ``time_at_temperature``, which gives t(T); also ValueError for a negative duration.
    """
    return math.fsum(
        _hours(duration) / time_at_temperature(rows, temperature, limits).time.m_as("hour")
        for temperature, duration in profile
    )


def _kelvin(temperature: Quantity) -> float:
    kelvin = temperature.m_as("kelvin")
    if not (math.isfinite(kelvin) and kelvin > 0):
        raise ValueError(f"{temperature} is not a temperature above absolute zero")
    return kelvin


def _hours(duration: Quantity) -> float:
    hours = duration.m_as("hour")
    if not (math.isfinite(hours) and hours >= 0):
        raise ValueError(f"a duration must be zero or more, not {duration}")
    return hours


def _check(name: LimitName, limit: Quantity, value: Quantity) -> None:
    error = OutOfLimits(name, limit, value)
    beyond = _kelvin(limit) - _kelvin(value)
    if not error.too_cold:
        beyond = -beyond
    if beyond > FLOAT_NOISE_KELVIN:
        raise error
