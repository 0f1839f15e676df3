"""Temperature and cure progress of one material over time, with their limits.

Drawn with reportlab's own shapes, so that one drawing serves the PDF and, as SVG, the HTML.
What the lines are is told by words and dashes, not by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color, black

from assistant.record.curve import clock_of, last_moment
from assistant.record.document import JobRecord, MaterialUse
from assistant.record.findings import counting
from assistant.record.wording import stage_words, step_words
from assistant.shop.events import Stage
from assistant.shop.stage_clock import WORK
from assistant.shop.state import WAITS

WIDTH, HEIGHT = 500.0, 285.0
"""Points; an A4 or letter page with margins takes it."""
LEFT, RIGHT, BOTTOM, TOP = 46.0, 46.0, 62.0, 16.0
BETWEEN = 22.0
"""Between the two panels."""
FONT, SMALL = "Vera", 7.0

GRAY = Color(0.55, 0.55, 0.55)
PALE = Color(0.87, 0.87, 0.87)
METAL = Color(0.10, 0.25, 0.55)
AIR = Color(0.35, 0.55, 0.75)
LIMIT = Color(0.70, 0.15, 0.10)
STROKES: tuple[tuple[Color, tuple[int, ...]], ...] = (
    (Color(0.70, 0.15, 0.10), ()),
    (Color(0.10, 0.40, 0.25), (6, 2)),
    (Color(0.10, 0.25, 0.55), (2, 2)),
    (Color(0.45, 0.30, 0.55), (8, 2, 2, 2)),
)
"""Colour and dashes of the stages, in their order."""

ROUNDING = 1e-9
"""Of a share that is worked out: a curve that has come this near to its end is there."""
HELD = (3, 3)
"""Dashes of a reading that is only taken to hold."""

HOURS_FROM = 3 * 3600
"""Seconds. Shorter times are told in minutes."""
LEAST_HOURS = 0.25
BEYOND = 1.08
"""How much further than the last moment of interest the time goes."""


@dataclass(frozen=True)
class _Frame:
    """One panel: its corner and size, and what its axes span. x: seconds, y: any unit."""

    left: float
    bottom: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self.across(x), self.up(y)

    def across(self, x: float) -> float:
        share = (x - self.x[0]) / (self.x[1] - self.x[0])
        return self.left + min(1.0, max(0.0, share)) * self.width

    def up(self, y: float) -> float:
        share = (y - self.y[0]) / (self.y[1] - self.y[0])
        return self.bottom + min(1.0, max(0.0, share)) * self.height


def span(material: MaterialUse) -> tuple[float, float]:
    """From when it went on until the last thing known, or until what hands wait for is over:
    elapsed seconds."""
    start = material.start_elapsed
    ends = [start + LEAST_HOURS * 3600, last_moment(material)]
    for stage in (WORK, *WAITS[material.material][:1]):
        if stage in material.tables:
            end = clock_of(material, stage).end
            if math.isfinite(end):
                ends.append(end)
    return start, start + (max(ends) - start) * BEYOND


def plot(record: JobRecord, material: MaterialUse) -> Drawing:
    """Above, temperatures with the card's limits; below, the share of each stage that is done
    with its end at 100 %; the steps as upright lines through both."""
    drawing = Drawing(WIDTH, HEIGHT)
    x = span(material)
    half = (HEIGHT - BOTTOM - TOP - BETWEEN) / 2
    width = WIDTH - LEFT - RIGHT
    upper = _Frame(
        LEFT, BOTTOM + half + BETWEEN, width, half, x, _temperatures(record, material, x)
    )
    lower = _Frame(LEFT, BOTTOM, width, half, x, (0.0, 1.12))
    for frame in (upper, lower):
        drawing.add(Rect(frame.left, frame.bottom, frame.width, frame.height,
                         fillColor=None, strokeColor=GRAY, strokeWidth=0.6))  # fmt: skip
    _hours(drawing, upper, lower)
    _temperature_panel(drawing, upper, record, material)
    stages = _progress_panel(drawing, lower, material)
    _steps(drawing, upper, lower, material)
    _legend(drawing, stages)
    return drawing


def _temperatures(
    record: JobRecord, material: MaterialUse, x: tuple[float, float]
) -> tuple[float, float]:
    table = next(iter(material.tables.values()))
    values = [r.celsius for r in material.readings] + [table.lowest, table.highest]
    for air in counting(record.air):
        if x[0] - 3600 <= air.elapsed <= x[1]:
            values += [v for v in (air.celsius, air.dew_point) if v is not None]
    low, high = min(values), max(values)
    room = 0.12 * (high - low) + 1
    return low - room, high + room


def _text(x: float, y: float, text: str, size=SMALL, anchor="start", color=black) -> String:
    return String(x, y, text, fontName=FONT, fontSize=size, textAnchor=anchor, fillColor=color)


def _step_of(length: float, most: int, steps: Sequence[float]) -> float:
    return next((s for s in steps if length / s <= most), steps[-1])


_TIME_STEPS = (300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800)


def _hours(drawing: Drawing, upper: _Frame, lower: _Frame) -> None:
    start, end = lower.x
    step = _step_of(end - start, 10, _TIME_STEPS)
    hours = end - start >= HOURS_FROM
    at = 0.0
    while at <= end - start:
        x = lower.across(start + at)
        for frame in (upper, lower):
            drawing.add(Line(x, frame.bottom, x, frame.bottom + frame.height,
                             strokeColor=PALE, strokeWidth=0.4))  # fmt: skip
        figure = f"{at / 3600:g}" if hours else f"{at / 60:g}"
        drawing.add(_text(x, lower.bottom - 9, figure, anchor="middle"))
        at += step
    unit = "hours" if hours else "minutes"
    drawing.add(
        _text(lower.left + lower.width / 2, lower.bottom - 19, f"{unit} since it went on",
              anchor="middle")
    )  # fmt: skip


def _temperature_panel(
    drawing: Drawing, frame: _Frame, record: JobRecord, material: MaterialUse
) -> None:
    table = next(iter(material.tables.values()))
    low, high = frame.y
    fahrenheit = _step_of((high - low) * 1.8, 7, (5, 10, 20, 50, 100))
    at = math.ceil((low * 1.8 + 32) / fahrenheit) * fahrenheit
    while at <= high * 1.8 + 32:
        drawing.add(_text(frame.left - 4, frame.up((at - 32) / 1.8) - 2.5, f"{at:g}", anchor="end"))
        at += fahrenheit
    celsius = _step_of(high - low, 7, (2, 5, 10, 20, 50))
    at = math.ceil(low / celsius) * celsius
    right = frame.left + frame.width
    while at <= high:
        drawing.add(_text(right + 4, frame.up(at) - 2.5, f"{at:g}"))
        at += celsius
    drawing.add(_text(frame.left - 4, frame.bottom + frame.height + 4, "°F", anchor="end"))
    drawing.add(_text(right + 4, frame.bottom + frame.height + 4, "°C"))
    for limit, words, below in (
        (table.highest, "card's highest", False), (table.lowest, "card's lowest", True),
    ):  # fmt: skip
        y = frame.up(limit)
        drawing.add(Line(frame.left, y, right, y, strokeColor=LIMIT, strokeWidth=0.8))
        drawing.add(_text(right - 3, y - 8 if below else y + 3, words, anchor="end", color=LIMIT))
    readings = material.readings
    points: list[float] = []
    for reading in readings:
        points += frame.at(reading.elapsed, reading.celsius)
    if len(readings) > 1:
        drawing.add(PolyLine(points, strokeColor=METAL, strokeWidth=1.2))
    last = readings[-1]
    x, y = frame.at(last.elapsed, last.celsius)
    if x < right:
        drawing.add(Line(x, y, right, y, strokeColor=METAL, strokeWidth=0.8, strokeDashArray=HELD))
    for reading in readings:
        x, y = frame.at(reading.elapsed, reading.celsius)
        drawing.add(Rect(x - 1.8, y - 1.8, 3.6, 3.6, fillColor=METAL, strokeColor=None))
    for air in counting(record.air):
        if not frame.x[0] <= air.elapsed <= frame.x[1]:
            continue
        for value, words in ((air.celsius, "air"), (air.dew_point, "dew point")):
            if value is not None:
                x, y = frame.at(air.elapsed, value)
                drawing.add(Rect(x - 1.8, y - 1.8, 3.6, 3.6, fillColor=None, strokeColor=AIR))
                drawing.add(_text(x + 4, y - 2.5, words, color=AIR))


def _progress_panel(
    drawing: Drawing, frame: _Frame, material: MaterialUse
) -> list[tuple[Stage, Color, tuple[int, ...], bool]]:
    right = frame.left + frame.width
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        drawing.add(
            _text(frame.left - 4, frame.up(share) - 2.5, f"{share * 100:.0f} %", anchor="end")
        )
    y = frame.up(1.0)
    drawing.add(Line(frame.left, y, right, y, strokeColor=GRAY, strokeWidth=0.8))
    drawn = []
    order = [s for s in (WORK, *WAITS[material.material]) if s in material.tables]
    for stage, (color, dashes) in zip(order, STROKES, strict=False):
        clock = clock_of(material, stage)
        start, end = frame.x
        turns = [t for t in (*clock.times, clock.end) if start < t < end and math.isfinite(t)]
        moments = sorted({start, *turns, end})
        points: list[float] = []
        for at in moments:
            share = clock.share(at)
            points += frame.at(at, min(1.0, share))
            if share >= 1.0 - ROUNDING:
                break
        drawing.add(
            PolyLine(points, strokeColor=color, strokeWidth=1.2, strokeDashArray=dashes or None)
        )
        ends_here = math.isfinite(clock.end) and clock.end <= end
        if ends_here:
            x = frame.across(clock.end)
            drawing.add(Rect(x - 1.8, y - 1.8, 3.6, 3.6, fillColor=color, strokeColor=None))
        drawn.append((stage, color, dashes, ends_here))
    return drawn


def _steps(drawing: Drawing, upper: _Frame, lower: _Frame, material: MaterialUse) -> None:
    """Upright lines, with the words in a row of their own where they do not meet."""
    taken: list[float] = []
    for step in material.steps:
        if not lower.x[0] <= step.elapsed <= lower.x[1]:
            continue
        x = lower.across(step.elapsed)
        for frame in (upper, lower):
            drawing.add(Line(x, frame.bottom, x, frame.bottom + frame.height,
                             strokeColor=black, strokeWidth=0.7))  # fmt: skip
        words = step_words(material.material, step.mark).split(" (")[0]
        if step.early:
            words += ", early"
        y = lower.bottom + lower.height + 13
        if any(abs(x - other) < 80 for other in taken):
            y -= 8
        taken.append(x)
        near_right = x > lower.left + lower.width - 70
        drawing.add(
            _text(x - 2 if near_right else x + 2, y, words, anchor="end" if near_right else "start")
        )


def _legend(drawing: Drawing, stages: Sequence[tuple[Stage, Color, tuple, bool]]) -> None:
    x, y = LEFT, 22.0
    drawing.add(_text(x, y, "Share done:"))
    x += 52
    for stage, color, dashes, ends_here in stages:
        # drawn as the curves are: a browser shows its dashes, those of a short Line it does not
        sample = [x, y + 2.5, x + 22, y + 2.5]
        drawing.add(
            PolyLine(sample, strokeColor=color, strokeWidth=1.2, strokeDashArray=dashes or None)
        )
        words = stage_words(stage) + ("" if ends_here else " (ends later)")
        drawing.add(_text(x + 26, y, words))
        x += 34 + 3.9 * len(words)
    drawing.add(
        _text(LEFT, 9, "Filled squares: metal as it was read. Broken line: the last reading, taken "
              "to hold. Upright lines: steps that were told.")
    )  # fmt: skip
