"""The course of one job: temperature of the metal and progress of its cure, as a plot of text.

The plot is plotext's, without colour: the temperature is drawn with degree signs, the progress
with percent signs, and what is still to come, if the last temperature holds, with dots. Each
line is told by what it is made of.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import plotext

from assistant.shop.events import Stage
from assistant.shop.stage_clock import WORK
from assistant.shop.state import Job
from assistant.shop.wording import STAGE_NOUN, local_moment
from assistant.units import Q

DEGREES, DONE, TO_COME = "°", "%", "."

POINTS = 120
"""Samples of a line: more than any terminal has columns for a plot."""

SMALLEST_HEIGHT, SMALLEST_WIDTH = 5, 24
"""Below this a plot has more frame than line."""

STACKED_HEIGHT = 15
"""From this height the two lines get a plot each, one above the other."""

LEAST_SPAN = 6.0
"""Degrees that the temperature's axis spans at least, so that half a degree is no mountain."""

FARTHEST_AHEAD = 3.0
"""The plot looks ahead at most this many times as long as the job has been running."""


@dataclass(frozen=True)
class Trend:
    """The course of a job. Times in seconds of shop time, temperatures in Celsius, progress in
    percent of ``stage``. at: now. to_come: progress from now on."""

    stage: Stage
    begin: float
    at: float
    finish: float
    celsius: tuple[tuple[float, float], ...]
    done: tuple[tuple[float, float], ...]
    to_come: tuple[tuple[float, float], ...]


def stage_shown(job: Job) -> Stage:
    """The stage whose progress is worth a plot: the next that is waited for, else the work
    time (a job has one or the other)."""
    waiting = job.waiting()
    return waiting[0] if waiting else next(iter(job.clocks), WORK)


def trend(job: Job, at: float) -> Trend:
    """The course of a job until ``at``, and what is to come."""
    stage = stage_shown(job)
    clock = job.clocks[stage]
    begin = job.start_at
    passed = max(60.0, at - begin)
    finish = min(clock.end, at + FARTHEST_AHEAD * passed)
    finish = max(at, finish) if math.isfinite(finish) else at + passed

    def progress(first: float, last: float) -> tuple[tuple[float, float], ...]:
        moments = _moments(first, last)
        return tuple((moment, 100 * min(1.0, clock.share(moment))) for moment in moments)

    return Trend(
        stage,
        begin,
        at,
        finish,
        tuple((moment, _celsius(job, moment)) for moment in _moments(begin, at)),
        progress(begin, at),
        progress(at, finish) if finish > at else (),
    )


def _moments(first: float, last: float) -> list[float]:
    return [first + (last - first) * step / POINTS for step in range(POINTS + 1)]


def _celsius(job: Job, moment: float) -> float:
    """The reading that held at a moment: readings are not joined, nobody knows the way."""
    found = job.readings[0].celsius
    for reading in job.readings:
        if reading.at <= moment:
            found = reading.celsius
    return found


def plotted(course: Trend, width: int, height: int, now: datetime, units: str) -> tuple[str, ...]:
    """The plot in ``height`` lines of at most ``width`` columns; fewer than the smallest gives
    none. now: local time at ``course.at``. units: "us" or "metric", for the temperature."""
    if height < SMALLEST_HEIGHT or width < SMALLEST_WIDTH:
        return ()
    if height >= STACKED_HEIGHT:
        upper = height // 2
        return (
            *_temperature_plot(course, width, upper, now, units),
            *_progress_plot(course, width, height - upper, now),
        )
    if width >= 3 * SMALLEST_WIDTH:
        left = width // 2
        pairs = zip(
            _temperature_plot(course, left - 1, height, now, units),
            _progress_plot(course, width - left, height, now),
            strict=True,
        )
        return tuple(f"{a:<{left}}{b}" for a, b in pairs)
    return _both_plots(course, width, height, now, units)


def _both_plots(course: Trend, width, height, now, units) -> tuple[str, ...]:
    legend = f"{DEGREES} metal {_unit(units)}, {DONE} of {STAGE_NOUN[course.stage]}"
    plotext.clear_figure()
    _draw_temperature(course, units, height)
    _draw_progress(course, height, "right")
    return (legend[:width], *_built(course, width, height - 1, now))


def _temperature_plot(course: Trend, width, height, now, units) -> tuple[str, ...]:
    plotext.clear_figure()
    _draw_temperature(course, units, height)
    legend = f"{DEGREES} metal at the joint, {_unit(units)}"
    return (legend[:width], *_built(course, width, height - 1, now))


def _progress_plot(course: Trend, width, height, now) -> tuple[str, ...]:
    plotext.clear_figure()
    _draw_progress(course, height, "left")
    ahead = f"   {TO_COME} to come" if course.to_come else ""
    legend = f"{DONE} of the {STAGE_NOUN[course.stage]}{ahead}"
    return (legend[:width], *_built(course, width, height - 1, now))


def _unit(units: str) -> str:
    return "°C" if units == "metric" else "°F"


def _draw_temperature(course: Trend, units: str, height: int) -> None:
    unit = "degC" if units == "metric" else "degF"
    shown = [Q(celsius, "degC").m_as(unit) for _, celsius in course.celsius]
    middle = (min(shown) + max(shown)) / 2
    half = max(LEAST_SPAN, max(shown) - min(shown)) / 2
    low, high = math.floor(middle - half), math.ceil(middle + half)
    plotext.plot([t for t, _ in course.celsius], shown, marker=DEGREES)
    plotext.ylim(low, high)
    ticks = _ticks(low, high, height)
    plotext.yticks(ticks, [f"{tick:.0f}" for tick in ticks])


def _draw_progress(course: Trend, height: int, side: str) -> None:
    if course.to_come:
        _line(course.to_come, TO_COME, side)
    _line(course.done, DONE, side)
    plotext.ylim(0, 100, yside=side)
    ticks = (0, 50, 100) if height >= 7 else (0, 100)
    plotext.yticks(ticks, [f"{tick}" for tick in ticks], yside=side)


def _line(points: Sequence[tuple[float, float]], marker: str, side: str) -> None:
    plotext.plot([t for t, _ in points], [y for _, y in points], marker=marker, yside=side)


def _ticks(low: float, high: float, height: int) -> list[float]:
    """Whole degrees, as many as fit, the same step between them."""
    most = max(2, min(5, height // 3))
    step = max(1, math.ceil((high - low) / (most - 1)))
    return [float(tick) for tick in range(int(low), int(high) + 1, step)]


def _built(course: Trend, width: int, height: int, now: datetime) -> tuple[str, ...]:
    plotext.theme("clear")
    plotext.limit_size(False, False)  # to the terminal's; the plot is only a part of it
    plotext.plotsize(width, height)
    plotext.xlim(course.begin, max(course.finish, course.begin + 60.0))
    count = 3 if width < 50 else 5
    span = max(course.finish, course.begin + 60.0) - course.begin
    ticks = [course.begin + span * n / (count - 1) for n in range(count)]
    plotext.xticks(ticks, [_clock(tick, course.at, now, span) for tick in ticks])
    lines = plotext.uncolorize(plotext.build()).splitlines()
    return tuple(line[:width].rstrip().ljust(width) for line in lines[:height])


def _clock(tick: float, at: float, now: datetime, span: float) -> str:
    local = local_moment(tick, at, now)
    if span > 2 * 86400:
        return f"{local:%a %H}h"
    return f"{local:%H:%M:%S}" if span <= 240 else f"{local:%H:%M}"
