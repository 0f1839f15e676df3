"""The wall as lines of text: tiles with large digits, rows for the rest, the plot of one bay.

Pure: standings in, lines out. A line is a row of spans, a span a text and how it is set off:
plain, strong or reversed. There is no colour, and whatever is set off also says so in
words, so that the same lines serve a monochrome terminal, a picture and a test.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, NamedTuple

from assistant.screens.digits import SIZES, Size, drawn
from assistant.screens.standing import Standing, Urgency, percent
from assistant.screens.trend import SMALLEST_HEIGHT, SMALLEST_WIDTH, plotted, trend

Look = Literal["", "strong", "reversed"]


class Span(NamedTuple):
    """A piece of a line."""

    text: str
    look: Look = ""


Line = tuple[Span, ...]

TILE_LINES = 5
"""Lines of a tile besides its digits: head, bar, metal, and two of what comes next."""

THEN_LINES = 2

GAP = 1
"""Columns between tiles."""

WIDEST_DIGITS = "00:00"
"""The digits of a clock are at most as wide as this."""

TALL = 50
"""Lines of a body from which the smallest digits of a tile are one size larger: the more
lines a screen has, the smaller each of them is."""

LOWER_PART = {20: 8, 36: 12, 60: 18}
"""Lines kept for rows and plot below the tiles, by the lines of the body. Our own choice."""

EMPTY = (
    "No clock runs in any bay.",
    "",
    "Say or type, for example:",
    "  bay two the bead is on with the long open at sixty two degrees",
)


@dataclass(frozen=True)
class Wall:
    """What is drawn. lines: all of equal length. places: which bay stands where, as (top,
    left, bottom, right), for a finger or a mouse. hidden: bays for which there was no room."""

    lines: tuple[Line, ...]
    places: tuple[tuple[int, tuple[int, int, int, int]], ...] = ()
    hidden: int = 0


def text_of(line: Line) -> str:
    return "".join(span.text for span in line)


def fitted(text: str, width: int) -> str:
    """Exactly ``width`` columns; what is cut off is shown by a sign."""
    if len(text) <= width:
        return text.ljust(width)
    return text[: max(0, width - 1)] + "…" if width > 0 else ""


def wall(
    found: Sequence[Standing],
    focus: int | None,
    width: int,
    height: int,
    at: float,
    now: datetime,
    units: str,
    skip: int = 0,
) -> Wall:
    """The wall in ``height`` lines of ``width`` columns.

    found: most pressing first. focus: the bay whose course is plotted; None or a bay that is
    not there: the first. skip: so many of the bays below the tiles are scrolled past.
    """
    if not found:
        return Wall(
            tuple(
                _blank(width) if not row else (Span(fitted(row, width)),)
                for row in (*EMPTY, *[""] * max(0, height - len(EMPTY)))[:height]
            )
        )
    chosen = next((one for one in found if one.bay == focus), found[0])
    size, across, down = arrangement(len(found), width, height, found)
    tiles, rest = found[: across * down], found[across * down :]
    lines: list[Line] = []
    places = []
    tile_width = (width - GAP * (across - 1)) // across
    for first in range(0, len(tiles), across):
        row = tiles[first : first + across]
        drawn_tiles = [tile(one, size, tile_width, one is chosen) for one in row]
        for n, one in enumerate(row):
            left = n * (tile_width + GAP)
            place = (len(lines), left, len(lines) + size.rows + TILE_LINES, left + tile_width)
            places.append((one.bay, place))
        lines += _beside(drawn_tiles, tile_width, width)
    lower, row_places, hidden = _lower(
        rest, chosen, width, height - len(lines), at, now, units, skip
    )
    places += [
        (bay, (top + len(lines), left, bottom + len(lines), right))
        for bay, (top, left, bottom, right) in row_places
    ]
    lines += lower
    return Wall(tuple(lines[:height]), tuple(places), hidden)


def arrangement(
    count: int, width: int, height: int, found: Sequence[Standing] = ()
) -> tuple[Size, int, int]:
    """The size of the digits, and how many tiles stand across and down.

    The largest size at which every bay has a tile; where none does, the smallest one that is
    read across the shop, and as many tiles as there is room for.
    """
    two_digits = any(one.bay > 9 for one in found)
    smallest = SIZES[2] if height >= TALL and width >= 120 else SIZES[1]
    for size in reversed(SIZES[SIZES.index(smallest) :]):
        across = min(_most_across(size, width, two_digits), count)
        if across < 1:
            continue
        down = -(-count // across)
        rows = down * (size.rows + TILE_LINES)
        if rows + _lower_part(height) <= height or (size is SIZES[1] and rows <= height // 2):
            return size, across, down
    size = smallest if _most_across(smallest, width, two_digits) else SIZES[1]
    across = max(1, min(_most_across(size, width, two_digits), count))
    down = max(1, (height - _lower_part(height)) // (size.rows + TILE_LINES))
    return size, across, min(down, -(-count // across))


def _lower_part(height: int) -> int:
    return next((part for most, part in LOWER_PART.items() if height <= most), 20)


def _most_across(size: Size, width: int, two_digits: bool) -> int:
    number = _number_size(size).width("00" if two_digits else "0")
    least = size.width(WIDEST_DIGITS) + number + 2
    return (width + GAP) // (least + GAP)


def _number_size(size: Size) -> Size:
    """The bay's number is drawn one size smaller than its clock."""
    return SIZES[max(0, SIZES.index(size) - 1)]


def _beside(blocks: Sequence[Sequence[Line]], each: int, width: int) -> list[Line]:
    """Blocks of equal height side by side, filled up to ``width``."""
    lines = []
    for row in zip(*blocks, strict=True):
        spans: list[Span] = []
        for n, line in enumerate(row):
            if n:
                spans.append(Span(" " * GAP))
            spans += line
        used = each * len(row) + GAP * (len(row) - 1)
        lines.append((*spans, Span(" " * (width - used))))
    return lines


# ------------------------------------------------------------------------------ one tile


def tile(one: Standing, size: Size, width: int, in_focus: bool) -> list[Line]:
    """A bay with its number and its clock in large digits: ``size.rows + TILE_LINES`` lines."""
    then = textwrap.wrap(one.short_then or " ".join(m.written for m in one.more), width)
    if len(then) > THEN_LINES:
        then[THEN_LINES - 1] = fitted(f"{then[THEN_LINES - 1]} {then[THEN_LINES]}", width)
    return [
        _head(one, width, in_focus),
        *_digits(one, size, width),
        _bar_line(one, width),
        (Span(fitted(_metal_and_product(one), width)),),
        *((Span(fitted(row, width)),) for row in (*then, "", "")[:THEN_LINES]),
    ]


def _head(one: Standing, width: int, in_focus: bool) -> Line:
    mark = "▶ " if in_focus else ""
    text = f"{mark}{one.name}  {one.headline.written.upper()}"
    if one.calls:
        flag = " LATE " if one.urgency == Urgency.LATE else " NOW "
        if one.urgency in (Urgency.SOON, Urgency.HELD_UP):
            flag = ""
        body = fitted(f" {text}", width - len(flag))
        return (Span(body + flag, "reversed"),)
    until = one.until.written
    rule = width - len(text) - len(until) - 2
    if until and rule >= 1:
        return (Span(text, "strong"), Span(f" {'─' * rule} "), Span(until))
    rule = max(0, width - len(text) - 1)
    return (Span(fitted(f"{text} {'─' * rule}", width), "strong"),)


def _digits(one: Standing, size: Size, width: int) -> list[Line]:
    number = _number_size(size)
    bay = drawn(str(one.bay), number) if one.bay else ("",) * number.rows
    clock = drawn(one.digits, size) if one.digits else ("",) * size.rows
    look: Look = "strong" if one.calls else ""
    lines: list[Line] = []
    for row in range(size.rows):
        left = bay[row] if row < number.rows else ""
        space = width - len(left) - len(clock[row])
        lines.append((Span(left), Span(" " * max(0, space)), Span(clock[row], look)))
    return [
        (Span(fitted(text_of(line), width)),) if len(text_of(line)) > width else line
        for line in lines
    ]


def bar(share: float, width: int) -> str:
    """A share as a bar between two ends: full blocks for what is done, dots for what is not."""
    inner = max(1, width - 2)
    full = int(min(1.0, max(0.0, share)) * inner)
    return f"[{'█' * full}{'·' * (inner - full)}]"


def _bar_line(one: Standing, width: int) -> Line:
    if one.share is None:
        return (Span(fitted(one.until.written, width)),)
    label = one.share_line
    room = width - len(label) - 1
    if room < 6:
        return (Span(fitted(label, width)),)
    return (Span(f"{bar(one.share, room)} {label}"),)


def _metal_and_product(one: Standing) -> str:
    if not one.metal.written:
        return one.what.written
    if one.stale:
        return f"{one.metal.written}, old: measure again!"
    minutes = int(one.metal_age // 60)
    age = "now" if not minutes else f"{minutes} min ago"
    return f"{one.metal.written} {age}, {one.what.written}"


# ----------------------------------------------------------------- rows, and the plot


def _lower(
    rest: Sequence[Standing],
    chosen: Standing,
    width: int,
    height: int,
    at: float,
    now: datetime,
    units: str,
    skip: int,
) -> tuple[list[Line], list[tuple[int, tuple[int, int, int, int]]], int]:
    """On the left rows of the bays without a tile, and the bay in focus in full words; on the
    right its course."""
    if height <= 0:
        return [], [], len(rest)
    plot_width = _plot_width(width, height, chosen)
    plot = _plot(chosen, plot_width, height, at, now, units) if plot_width else []
    if not plot:
        plot_width = 0
    left_width = width - plot_width - (2 if plot_width else 0)
    left, places, hidden = _rows(rest, left_width, height, skip) if rest else ([], [], 0)
    left = [*left, *_in_full(chosen, left_width, height - len(left), bool(left))]
    lines: list[Line] = []
    for n in range(height):
        line = left[n] if n < len(left) else (Span(" " * left_width),)
        if plot_width:
            line = (*line, Span("  "), *(plot[n] if n < len(plot) else ()))
        lines.append((*line, Span(" " * max(0, width - len(text_of(line))))))
    return lines, places, hidden


def _plot_width(width: int, height: int, chosen: Standing) -> int:
    if chosen.job is None or height < SMALLEST_HEIGHT + 1:
        return 0
    share = width // 2 - 1
    return share if share >= SMALLEST_WIDTH else 0


def _in_full(one: Standing, width: int, height: int, below_rows: bool) -> list[Line]:
    """The bay in focus in whole sentences, as they are also read aloud; where there is room
    for all of them."""
    rows = [row for line in one.lines for row in textwrap.wrap(line.written, width)]
    before = [""] if below_rows else []
    if len(rows) + len(before) + 1 > height:
        return []
    title = f"▶ {one.name} in full "
    head = fitted(title + "─" * max(0, width - len(title)), width)
    return [
        *((Span(fitted(row, width)),) for row in before),
        (Span(head, "strong"),),
        *((Span(fitted(row, width)),) for row in rows),
    ]


def _plot(
    chosen: Standing, width: int, height: int, at: float, now: datetime, units: str
) -> list[Line]:
    assert chosen.job is not None
    found = plotted(trend(chosen.job, at), width, height - 1, now, units)
    if not found:
        return []
    title = f"▶ {chosen.name}  {chosen.what.written} "
    head = fitted(title + "─" * max(0, width - len(title)), width)
    return [(Span(head, "strong"),), *((Span(line[:width].ljust(width)),) for line in found)]


ROW_WIDTH = 46
"""Columns of a row that says what is needed: number, clock, headline, bar, temperature."""


def _rows(
    rest: Sequence[Standing], width: int, height: int, skip: int
) -> tuple[list[Line], list[tuple[int, tuple[int, int, int, int]]], int]:
    columns = max(1, width // (ROW_WIDTH + 2))
    each = (width - 2 * (columns - 1)) // columns
    room = height * columns
    if len(rest) > room:
        room -= 1  # for the line that says how many there are besides
    skip = max(0, min(skip, len(rest) - room))
    shown = rest[skip : skip + room]
    hidden = len(rest) - len(shown)
    lines: list[Line] = []
    places = []
    for row in range(min(height, len(shown))):
        spans: list[Span] = []
        for column in range(columns):
            index = column * height + row
            if column:
                spans.append(Span("  "))
            if index < len(shown):
                left = column * (each + 2)
                places.append((shown[index].bay, (row, left, row + 1, left + each)))
                spans += _row(shown[index], each)
            else:
                spans.append(Span(" " * each))
        lines.append(tuple(spans))
    if hidden:
        note = fitted(_besides(skip, hidden - skip), each)
        last = columns * height - 1
        column, row = divmod(last, height)
        _put(lines, row, column * (each + 2), note, width)
    return lines, places, hidden


def _besides(above: int, below: int) -> str:
    """ "51 more: Page Down"; "5 above: Page Up"."""
    parts = []
    if below:
        parts.append(f"{below} more: Page Down")
    if above:
        parts.append(f"{above} above: Page Up")
    return ", ".join(parts)


def _put(lines: list[Line], row: int, left: int, text: str, width: int) -> None:
    while len(lines) <= row:
        lines.append((Span(" " * width),))
    before = text_of(lines[row]).ljust(width)
    lines[row] = (Span(before[:left] + text + before[left + len(text) :]),)


def _row(one: Standing, width: int) -> Line:
    number = f"{one.bay:>2}" if one.bay else " –"
    clock = f"{one.digits:>6}"
    ended = one.urgency in (Urgency.LATE, Urgency.READY)
    share = "" if one.share is None or ended else f"{percent(one.share):>3} %"
    tail = f"{share:>6} {one.metal.written:>7}" if share else f"{one.metal.written:>7}"
    words = one.headline.written
    if one.urgency == Urgency.LATE:
        words = f"LATE {words.removesuffix(' over')}"
    room = width - len(number) - len(clock) - len(tail) - 4
    if room < 10:
        tail, room = "", width - len(number) - len(clock) - 3
    look: Look = "strong" if one.urgency <= Urgency.READY else ""
    text = (
        f"{number} {clock}  {fitted(words, room)} {tail}"
        if tail
        else (f"{number} {clock}  {fitted(words, room)}")
    )
    return (Span(fitted(text, width), look),)


def _blank(width: int) -> Line:
    return (Span(" " * width),)
