"""Rounding to the safe side, in one place.

A figure that is said aloud is rounded so that following it can only err the harmless way:
work time down, clamp and cure time up, material up, what is left over down. Every function
rounds the exact figure once, in the unit it is stated in. Never round a rounded figure into
another unit: two roundings add up, and the second may undo the first.

The steps are a choice of this program (common practice, no source): fine enough that the
step is at most a fifth of a time, and coarse enough to be said in a few words. Each
boundary is a multiple of the steps on both of its sides, so rounding keeps the order of
two figures.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Literal

from assistant.units import Q, Quantity

# (below this many of the unit, step); the last step holds for all larger figures.
Steps = tuple[tuple[float, float], ...]

TIME_STEPS_SECONDS: Steps = (
    (5 * 60, 10),
    (30 * 60, 60),
    (6 * 3600, 5 * 60),
    (24 * 3600, 15 * 60),
    (14 * 24 * 3600, 3600),
    (math.inf, 24 * 3600),
)

_LARGE: Steps = ((10, 0.05), (100, 0.1), (math.inf, 1))
"""Liters, gallons, kilograms, pounds: as many decimals as are said of them."""

VOLUME_STEPS: dict[str, Steps] = {
    "liter": _LARGE,
    "gallon": _LARGE,
    "mL": ((10, 0.5), (100, 1), (1000, 5), (math.inf, 50)),
    "fluid_ounce": ((10, 0.1), (50, 0.5), (math.inf, 1)),
}

MASS_STEPS: dict[str, Steps] = {
    "kilogram": _LARGE,
    "pound": _LARGE,
    "gram": ((10, 0.5), (100, 1), (1000, 5), (math.inf, 50)),
    "ounce": ((10, 0.1), (50, 0.5), (math.inf, 1)),
}

_METRIC_SHARE: Steps = ((1, 0.01), (10, 0.1), (math.inf, 1))
_US_SHARE: Steps = ((1, 0.01), (100, 0.1), (math.inf, 1))
SHARE_STEPS: dict[str, Steps] = {
    "mL": _METRIC_SHARE,
    "gram": _METRIC_SHARE,
    "fluid_ounce": _US_SHARE,
    "ounce": _US_SHARE,
}

COVERAGE_STEPS: dict[str, Steps] = {
    "foot ** 2": ((10, 0.5), (math.inf, 1)),
    "meter ** 2": _LARGE,
}

REACH_STEPS: dict[str, Steps] = {
    "inch": ((12, 0.25), (math.inf, 1)),
    "mm": ((100, 1), (1000, 5), (math.inf, 10)),
}

DEW_POINT_STEP = 0.5
"""Degrees of either scale."""

MARGIN_STEP = 0.1
"""Degrees of either scale; the margin that is asked for is a multiple of it in both."""

LENGTH_STEPS: dict[str, float] = {"inch": 1 / 16, "mm": 1}
"""As a tape is read (common practice, no source)."""

BEAD_STEPS: dict[str, float] = {"inch": 1 / 16, "mm": 0.5}
"""As a tip is cut with care (common practice, no source)."""

BUTTON_STEPS: dict[str, float] = {"inch": 0.001, "mm": 0.01}
"""As calipers are read (common practice, no source)."""

AREA_STEPS: dict[str, Steps] = {
    "inch**2": ((10, 0.1), (100, 0.5), (math.inf, 1)),
    "cm**2": ((10, 0.1), (100, 0.5), (math.inf, 1)),
}

STEP_TOLERANCE = 1e-9
"""A figure this near to a step, relative to the figure, is on it: float noise, not time."""

Direction = Literal["up", "down", "nearest"]


def work_time_down(time: Quantity) -> Quantity:
    """Work (open) time as it is said: never longer than ``time``.

    time: a duration, zero or more, any unit. Returns minutes.
    """
    return _time(time, "down")


def clamp_time_up(time: Quantity) -> Quantity:
    """Clamp (handling) time as it is said: never shorter than ``time``.

    time: a duration, zero or more, any unit. Returns minutes.
    """
    return _time(time, "up")


def cure_time_up(time: Quantity) -> Quantity:
    """Sand and full-cure time as it is said: never shorter than ``time``.

    time: a duration, zero or more, any unit. Returns minutes.
    """
    return _time(time, "up")


TIME_LEFT_STEPS_SECONDS: Steps = (
    (5 * 60, 10),
    (72 * 3600, 60),
    (14 * 24 * 3600, 3600),
    (math.inf, 24 * 3600),
)
"""Of a clock that runs: finer than a time that is planned with, since it was stated once and
is read again and again."""


def time_left_down(time: Quantity) -> Quantity:
    """What is left of a running work time as it is said: never more than is left.

    time: a duration, zero or more, any unit. Returns minutes.
    """
    seconds = _by_steps(time.m_as("second"), TIME_LEFT_STEPS_SECONDS, "down")
    return Q(seconds, "second").to("minute")


SPAN_STEPS_SECONDS: Steps = (
    (10, 0.1),
    (10 * 60, 1),
    (72 * 3600, 60),
    (14 * 24 * 3600, 3600),
    (math.inf, 24 * 3600),
)
"""The steps in which any duration is worded (``speaking.wording``): a figure that is on one of
them is not rounded a second time, to the other side."""


def span_up(time: Quantity) -> Quantity:
    """A time that must not be told shorter than it is: what is waited for, the age of a reading,
    how late something is.

    time: a duration, zero or more, any unit. Returns seconds.
    """
    return Q(_by_steps(time.m_as("second"), SPAN_STEPS_SECONDS, "up"), "second")


def span_down(time: Quantity) -> Quantity:
    """A time that must not be told longer than it is: what is left before something falls due,
    or how long something was waited for.

    time: a duration, zero or more, any unit. Returns seconds.
    """
    return Q(_by_steps(time.m_as("second"), SPAN_STEPS_SECONDS, "down"), "second")


def material_up(volume: Quantity, unit: str = "mL") -> Quantity:
    """Material needed as it is said: never less than ``volume``.

    volume: the exact figure, zero or more. unit: "mL", "liter", "fluid_ounce" or "gallon" (US);
    the answer's unit, and the one it is rounded in.
    """
    return _volume(volume, unit, "up")


def leftover_down(volume: Quantity, unit: str = "mL") -> Quantity:
    """Material left over as it is said: never more than ``volume``.

    Arguments as for ``material_up``.
    """
    return _volume(volume, unit, "down")


def warmest_needed_up(temperature: Quantity, unit: str) -> Quantity:
    """A temperature that must be reached, as it is said: whole degrees, never colder.

    temperature: a reading. unit: "degF" or "degC", the answer's.
    """
    return Q(_to_step_signed(temperature.m_as(unit), "up"), unit)


def hottest_allowed_down(temperature: Quantity, unit: str) -> Quantity:
    """A temperature that must not be passed, as it is said: whole degrees, never hotter.

    Arguments as for ``warmest_needed_up``.
    """
    return Q(_to_step_signed(temperature.m_as(unit), "down"), unit)


def mass_up(mass: Quantity, unit: str) -> Quantity:
    """Material needed by weight, as it is said: never less than ``mass``.

    mass: the exact figure, zero or more. unit: "gram", "kilogram", "ounce" or "pound".
    """
    return Q(_by_steps(mass.m_as(unit), MASS_STEPS[unit], "up"), unit)


def reach_down(length: Quantity, unit: str) -> Quantity:
    """How far material reaches, as it is said: never further than ``length``.

    length: zero or more. unit: "inch" or "mm", the answer's.
    """
    return Q(_by_steps(length.m_as(unit), REACH_STEPS[unit], "down"), unit)


def coverage_down(area: Quantity, unit: str) -> Quantity:
    """What material covers, as it is said: never more than ``area``.

    area: zero or more. unit: "foot ** 2" or "meter ** 2", the answer's.
    """
    return Q(_by_steps(area.m_as(unit), COVERAGE_STEPS[unit], "down"), unit)


def share_nearest(amount: Quantity, unit: str) -> Quantity:
    """One part of a mixture as it is said: to the nearest step.

    Too much of a part is as wrong as too little, so neither direction is the safe one. From
    a tenth of the unit up, what is said is off by a twentieth at most.

    amount: zero or more. unit: "mL", "gram", "fluid_ounce" or "ounce", the answer's.
    """
    return Q(_by_steps(amount.m_as(unit), SHARE_STEPS[unit], "nearest"), unit)


def pieces_up(count: float) -> int:
    """Whole cartridges or tips: the next whole number, unless ``count`` is one already."""
    return round(_to_step(count, 1.0, "up"))


def dew_point_up(dew_point: Quantity, unit: str) -> Quantity:
    """A dew point, or the least temperature of bare metal, as it is said: never colder.

    dew_point: a reading. unit: "degF" or "degC", the answer's.
    """
    return Q(_to_step(_finite(dew_point.m_as(unit)), DEW_POINT_STEP, "up"), unit)


def margin_down(difference: Quantity, unit: str) -> Quantity:
    """How far a reading is from its limit, as it is said: never more than it is.

    difference: of two temperatures, negative past the limit. unit: "delta_degF" or
    "delta_degC".
    """
    return Q(_to_step(_finite(difference.m_as(unit)), MARGIN_STEP, "down"), unit)


def length_up(length: Quantity, unit: str) -> Quantity:
    """A length of which there must be enough, as it is said: never shorter.

    length: zero or more. unit: "inch" (sixteenths) or "mm" (whole ones), the answer's.
    """
    return Q(_to_step(_finite(length.m_as(unit)), LENGTH_STEPS[unit], "up"), unit)


def length_down(length: Quantity, unit: str) -> Quantity:
    """A length of which there must not be too much, as it is said: never longer.

    Arguments as for ``length_up``.
    """
    return Q(_to_step(_finite(length.m_as(unit)), LENGTH_STEPS[unit], "down"), unit)


def bead_up(diameter: Quantity, unit: str) -> Quantity:
    """A bead's size that must fill a joint, as it is said: never smaller.

    diameter: above zero. unit: "inch" (sixteenths) or "mm" (halves), as tips are cut.
    """
    return Q(_to_step(_finite(diameter.m_as(unit)), BEAD_STEPS[unit], "up"), unit)


def percent_up(share: float) -> float:
    """A share of which there must be enough, as it is said: whole percent, never less."""
    return _to_step(_finite(share) * 100, 1.0, "up") / 100


def percent_down(share: float) -> float:
    """A share of which there must not be too much said: whole percent, never more."""
    return _to_step(_finite(share) * 100, 1.0, "down") / 100


def button_up(diameter: Quantity, unit: str) -> Quantity:
    """A weld button's smallest diameter, as it is said: never smaller.

    diameter: above zero. unit: "inch" (thousandths) or "mm" (hundredths), as calipers read.
    """
    return Q(_to_step(_finite(diameter.m_as(unit)), BUTTON_STEPS[unit], "up"), unit)


def area_down(area: Quantity, unit: str) -> Quantity:
    """A bonded area as it is said: never more than there is.

    area: zero or more. unit: "inch**2" or "cm**2", the answer's.
    """
    return Q(_by_steps(area.m_as(unit), AREA_STEPS[unit], "down"), unit)


def clock_up(moment: datetime) -> datetime:
    """A moment from which something may be done, as it is said: the next whole minute."""
    down = clock_down(moment)
    return moment if down == moment else down + timedelta(minutes=1)


def clock_down(moment: datetime) -> datetime:
    """A moment by which something must be done, as it is said: the whole minute before."""
    return moment.replace(second=0, microsecond=0)


def _time(time: Quantity, direction: Direction) -> Quantity:
    seconds = _by_steps(time.m_as("second"), TIME_STEPS_SECONDS, direction)
    return Q(seconds, "second").to("minute")


def _volume(volume: Quantity, unit: str, direction: Direction) -> Quantity:
    return Q(_by_steps(volume.m_as(unit), VOLUME_STEPS[unit], direction), unit)


def _to_step_signed(degrees: float, direction: Direction) -> float:
    """Whole degrees; a reading may lie below zero."""
    if not math.isfinite(degrees):
        raise ValueError(f"cannot round {degrees}: it must be a finite figure")
    return _to_step(degrees, 1.0, direction)


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError(f"cannot round {value}: it must be a finite figure")
    return value


def _by_steps(value: float, steps: Steps, direction: Direction) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"cannot round {value}: it must be a finite figure, zero or more")
    step = next(step for below, step in steps if value < below)
    return _to_step(value, step, direction)


def _to_step(value: float, step: float, direction: Direction) -> float:
    steps = value / step
    nearest = round(steps)
    if direction == "nearest" or math.isclose(
        steps, nearest, rel_tol=STEP_TOLERANCE, abs_tol=STEP_TOLERANCE
    ):
        whole = nearest
    else:
        whole = math.ceil(steps) if direction == "up" else math.floor(steps)
    # Tenths: 24 * 0.1 is 2.4000000000000004, 24 / 10 is 2.4.
    return whole * step if step >= 1 else whole / round(1 / step)
