"""Warming and cooling: when a panel or a cartridge reaches a temperature.

Newton's law of cooling: the difference from the surroundings falls by the same share in
each minute, ``T(t) - S = (T(0) - S) * exp(-k * t)`` (any calculus text; from memory). Two
readings give k. It holds while the whole part is at one temperature and the surroundings
stay as they are; the core of a cartridge lags behind its skin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

from assistant.units import Q, Quantity

READING_ERROR = Q(0.5, "delta_degF")
"""How far each reading may be off: half a degree Fahrenheit, what a thermometer read in
whole degrees leaves open. Our own choice, the one of trade.cure."""

FLOAT_NOISE_KELVIN = 1e-9


class NotMoving(ValueError):
    """The second reading is not between the first and the surroundings."""


class NeverThere(ValueError):
    """The wanted temperature is the surroundings', or lies beyond them."""


class AlreadyThere(ValueError):
    """The second reading has reached the wanted temperature already."""


@dataclass(frozen=True)
class Readings:
    """Two readings of one part, ``gap`` apart, and its surroundings, at one steady temperature.

    gap: above zero, or ValueError. Raises NotMoving unless the second reading lies between
    the first and the surroundings, neither included.
    """

    first: Quantity
    second: Quantity
    gap: Quantity
    surroundings: Quantity

    def __post_init__(self) -> None:
        minutes = self.gap.m_as("minute")
        if not (math.isfinite(minutes) and minutes > 0):
            raise ValueError(f"the time between the readings must be above zero, not {self.gap}")
        before, after = self._off(self.first), self._off(self.second)
        # both on one side of the surroundings, and the second nearer to them
        if not (before * after > 0 and abs(after) < abs(before) - FLOAT_NOISE_KELVIN):
            raise NotMoving("the readings do not move toward the surroundings")

    @property
    def warming(self) -> bool:
        return self._off(self.first) < 0

    @property
    def rate(self) -> Quantity:
        """k, the share of the difference lost each minute at first, in 1/minute."""
        share = self._off(self.first) / self._off(self.second)
        return Q(math.log(share) / self.gap.m_as("minute"), "1/minute")

    def time_to(self, wanted: Quantity) -> Quantity:
        """Minutes from the second reading to ``wanted``: ln((T2 - S) / (T - S)) / k.

        Raises AlreadyThere or NeverThere when ``wanted`` is not ahead.
        """
        now, then = self._off(self.second), self._off(wanted)
        if abs(then) <= FLOAT_NOISE_KELVIN or now * then < 0:
            raise NeverThere("the wanted temperature is not short of the surroundings")
        if abs(then) >= abs(now) - FLOAT_NOISE_KELVIN:
            raise AlreadyThere("the second reading is at the wanted temperature or past it")
        return Q(math.log(now / then) / self.rate.m_as("1/minute"), "minute")

    def temperature_after(self, time: Quantity) -> Quantity:
        """The inverse of ``time_to``: the temperature so long after the second reading, in °C.

        time: zero or more, or ValueError.
        """
        minutes = time.m_as("minute")
        if not minutes >= 0:
            raise ValueError(f"the time must be zero or more, not {time}")
        off = self._off(self.second) * math.exp(-self.rate.m_as("1/minute") * minutes)
        return Q(self.surroundings.m_as("kelvin") + off, "kelvin").to("degC")

    def _off(self, temperature: Quantity) -> float:
        """Kelvin above the surroundings."""
        off = temperature.m_as("kelvin") - self.surroundings.m_as("kelvin")
        if not math.isfinite(off):
            raise ValueError(f"{temperature} is no temperature")
        return off


@dataclass(frozen=True)
class Arrival:
    """When a temperature is reached, counted from the second reading.

    time: by the readings as they are. soonest, latest: with each of the three readings off by
    READING_ERROR either way; latest is None when it may then never be reached.
    """

    time: Quantity
    soonest: Quantity
    latest: Quantity | None


def arrival(readings: Readings, wanted: Quantity) -> Arrival:
    """Time from the second reading to ``wanted``, with what the thermometer leaves open.

    Raises AlreadyThere or NeverThere. The time is monotone in each reading, so its ends lie
    at the corners of their errors.
    """
    times = []
    bounded = True
    for errors in product((-1, 1), repeat=3):
        try:
            times.append(_with_errors(readings, errors).time_to(wanted).m_as("minute"))
        except AlreadyThere:
            times.append(0.0)
        except (NotMoving, NeverThere):
            bounded = False
    time = readings.time_to(wanted)
    minutes = time.m_as("minute")
    return Arrival(
        time=time,
        soonest=Q(min([*times, minutes]), "minute"),
        latest=Q(max([*times, minutes]), "minute") if bounded else None,
    )


def _with_errors(readings: Readings, errors: tuple[int, ...]) -> Readings:
    first, second, surroundings = (
        Q(reading.m_as("kelvin") + sign * READING_ERROR.m_as("kelvin"), "kelvin")
        for reading, sign in zip(
            (readings.first, readings.second, readings.surroundings), errors, strict=True
        )
    )
    return Readings(first, second, readings.gap, surroundings)
