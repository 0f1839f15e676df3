"""Curing while the temperature changes: equivalent age, what is left, what heat saves.

The share of a stage that is done is the integral of dt / t(T(t)): an hour at a temperature
where the stage takes four is a quarter of it, whatever came before (the form of ASTM C1074's
equivalent age, with the card's own table in the place of one activation energy). Times from
the card enter at their safe end, so the share is rather too small than too large.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from assistant.trade.cure import (
    FLOAT_NOISE_KELVIN,
    Limits,
    OutOfLimits,
    TimeAtTemperature,
    time_at_temperature,
)
from assistant.units import Q, Quantity

Profile = Sequence[tuple[Quantity, Quantity]]
"""(temperature, duration) stretches, in order."""

Readings = Sequence[tuple[Quantity, Quantity]]
"""(time since the bead, temperature) readings, in order."""

STEPS_BETWEEN_READINGS = 60
"""Slices of the integral between two readings: for an hour, a minute each."""


@dataclass(frozen=True)
class CureTable:
    """The times of one stage of a closed joint, heat included.

    rows, limits: as ``time_at_temperature`` takes them, times at their safe end. heated:
    rows above them, for a closed joint under heat; heat_limit: the highest temperature
    then, None where heat is not provided for.
    """

    rows: tuple[tuple[Quantity, Quantity], ...]
    limits: Limits
    heated: tuple[tuple[Quantity, Quantity], ...] = ()
    heat_limit: Quantity | None = None

    def time(self, temperature: Quantity) -> TimeAtTemperature:
        """The stage's time at a temperature.

        Inside the limits as ``time_at_temperature``. Above them, where the card provides for
        heat, fitted between the rows with the heated ones, and never longer than at the
        highest temperature of the limits: warmer is not slower. Raises OutOfLimits.
        """
        highest = self.limits.highest
        if temperature.m_as("kelvin") <= highest.m_as("kelvin") + FLOAT_NOISE_KELVIN:
            return time_at_temperature(self.rows, temperature, self.limits)
        if self.heat_limit is None:
            raise OutOfLimits("highest temperature", highest, temperature)
        under_heat = Limits(self.limits.lowest, self.heat_limit)
        fitted = time_at_temperature((*self.rows, *self.heated), temperature, under_heat)
        try:
            at_limit = time_at_temperature(self.rows, highest, self.limits)
        except OutOfLimits:  # the unheated table ends before the limit
            return fitted
        return min(fitted, at_limit, key=lambda found: found.time.m_as("minute"))


@dataclass(frozen=True)
class Progress:
    """How far a stage is. share: 0 and up, 1 is done. cold: time that counted for nothing."""

    share: float
    cold: Quantity

    @property
    def done(self) -> bool:
        return self.share >= 1


def progress_so_far(table: CureTable, profile: Profile) -> Progress:
    """Share of a stage after stretches at different temperatures: sum of dt / t(T).

    A stretch too cold for the card to give a time counts for nothing: at 0 °C the cure of a
    structural epoxy was inhibited or did not start (EPFL Infoscience, record 178264). Raises
    OutOfLimits for one too hot, ValueError for a negative duration.
    """
    share, cold = [], []
    for temperature, duration in profile:
        hours = duration.m_as("hour")
        if not (math.isfinite(hours) and hours >= 0):
            raise ValueError(f"a duration must be zero or more, not {duration}")
        rate = _rate(table, temperature)
        if rate == 0:
            cold.append(hours)
        share.append(hours * rate)
    return Progress(math.fsum(share), Q(math.fsum(cold), "hour"))


def progress_along(table: CureTable, readings: Readings, until: Quantity) -> Progress:
    """Share of a stage from readings: the integral of dt / t(T(t)), T straight between them.

    readings: one or more, times in order; the last one holds until ``until``, which is not
    before it. Lower sums of 60 slices between two readings, so the share is never too
    large. Time and errors as for ``progress_so_far``; ValueError for readings out of order.
    """
    hours = _in_order(readings, until)
    kelvins = [temperature.m_as("kelvin") for _, temperature in readings]
    share, cold = [], []
    for (start, end), (first, last) in zip(
        pairwise(hours), pairwise([*kelvins, kelvins[-1]]), strict=True
    ):
        if start == end:
            continue
        steps = 1 if first == last else STEPS_BETWEEN_READINGS
        slice_hours = (end - start) / steps
        edges = [first + (last - first) * i / steps for i in range(steps + 1)]
        rates = [_rate(table, Q(edge, "kelvin")) for edge in edges]
        for one, other in pairwise(rates):
            rate = min(one, other)  # warmer is never slower, so this is the least in the slice
            if rate == 0:
                cold.append(slice_hours)
            share.append(slice_hours * rate)
    return Progress(math.fsum(share), Q(math.fsum(cold), "hour"))


def colder_stretches(readings: Readings, until: Quantity) -> Profile:
    """The readings as stretches, each at the colder of the two readings around it.

    A joint that cools, cools fastest at first and lies below the straight line between two
    readings; the colder of them is the safe one. The last reading holds until ``until``.
    Raises ValueError for readings out of order.
    """
    hours = _in_order(readings, until)
    temperatures = [temperature for _, temperature in readings]
    colder = [
        min(pair, key=lambda t: t.m_as("kelvin"))
        for pair in pairwise([*temperatures, temperatures[-1]])
    ]
    return [
        (temperature, Q(end - start, "hour"))
        for temperature, (start, end) in zip(colder, pairwise(hours), strict=True)
    ]


def equivalent_age_by_table(table: CureTable, share: float, reference: Quantity) -> Quantity:
    """The time at one temperature that does as much: share * t(reference), in hours.

    share: 0 or more. Raises OutOfLimits where the card gives no time at ``reference``.
    """
    if not (math.isfinite(share) and share >= 0):
        raise ValueError(f"the share must be zero or more, not {share}")
    return Q(share * table.time(reference).time.m_as("hour"), "hour")


def remaining_time(table: CureTable, share: float, temperature: Quantity) -> Quantity:
    """What is left of a stage at a temperature: (1 - share) * t(T), in hours; 0 when done.

    Arguments and errors as for ``equivalent_age_by_table``.
    """
    if not (math.isfinite(share) and share >= 0):
        raise ValueError(f"the share must be zero or more, not {share}")
    return Q(max(0.0, 1 - share) * table.time(temperature).time.m_as("hour"), "hour")


def time_saved(table: CureTable, temperature: Quantity, heated: Quantity) -> Quantity:
    """How much sooner a stage is over at ``heated`` than at ``temperature``, in hours.

    The warming-up itself is not in it. Raises OutOfLimits past the heat limit or below the
    lowest temperature, ValueError unless ``heated`` is the warmer one.
    """
    if not heated.m_as("kelvin") > temperature.m_as("kelvin"):
        raise ValueError(f"{heated} is not warmer than {temperature}")
    saved = table.time(temperature).time - table.time(heated).time
    return saved.to("hour")


def _rate(table: CureTable, temperature: Quantity) -> float:
    """Share per hour, 0 where it is too cold."""
    try:
        return 1 / table.time(temperature).time.m_as("hour")
    except OutOfLimits as beyond:
        if beyond.too_cold:
            return 0.0
        raise


def _in_order(readings: Readings, until: Quantity) -> list[float]:
    if not readings:
        raise ValueError("no reading is given")
    hours = [*(time.m_as("hour") for time, _ in readings), until.m_as("hour")]
    if not all(math.isfinite(hour) for hour in hours) or any(a > b for a, b in pairwise(hours)):
        raise ValueError("the readings are not in the order of their times")
    return hours
