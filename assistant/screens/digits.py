"""Large digits for the wall, drawn with block characters.

Each sign is a few strokes on a grid; ``drawn`` lays them with a square brush at any size.
A character cell is about twice as high as wide, so it holds two square dots, one above the
other, and the shapes are made of the four characters " ", "▀", "▄" and "█".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

Point = tuple[float, float]
Stroke = tuple[Point, ...]

SIGNS: dict[str, tuple[Stroke, ...]] = {
    "0": (((0, 0), (1, 0), (1, 1), (0, 1), (0, 0)),),
    "1": (((0.1, 0.22), (0.5, 0), (0.5, 1)), ((0, 1), (1, 1))),
    "2": (((0, 0.1), (0, 0), (1, 0), (1, 0.4), (0, 1), (1, 1)),),
    "3": (((0, 0), (1, 0), (1, 1), (0, 1)), ((0.3, 0.47), (1, 0.47))),
    "4": (((0, 0), (0, 0.55), (1, 0.55)), ((0.85, 0.2), (0.85, 1))),
    "5": (((1, 0), (0, 0), (0, 0.43), (1, 0.43), (1, 1), (0, 1)),),
    "6": (((0.85, 0), (0, 0.4), (0, 1), (1, 1), (1, 0.46), (0, 0.46)),),
    "7": (((0, 0), (1, 0), (1, 0.2), (0.35, 1)),),
    "8": (((0, 0), (1, 0), (1, 1), (0, 1), (0, 0)), ((0, 0.46), (1, 0.46))),
    "9": (((1, 0.54), (0, 0.54), (0, 0), (1, 0), (1, 0.6), (0.15, 1)),),
    ":": (((0, 0.28), (0, 0.28)), ((0, 0.76), (0, 0.76))),
    "-": (((0, 0.5), (1, 0.5)),),
    "h": (((0, 0), (0, 1)), ((0, 0.48), (1, 0.48), (1, 1))),
    "d": (((1, 0), (1, 1), (0, 1), (0, 0.48), (1, 0.48)),),
    "m": (((0, 1), (0, 0.44), (1, 0.44), (1, 1)), ((0.5, 0.44), (0.5, 1))),
    " ": (),
}
"""Strokes of each sign: corners from the top left (0, 0) to the bottom right (1, 1)."""

_ROUND = {
    "0": ((0, 0), (1, 0), (0, 1), (1, 1)),
    "2": ((1, 0),),
    "3": ((1, 0), (1, 1)),
    "5": ((1, 1),),
    "6": ((0, 1), (1, 1)),
    "9": ((0, 0), (1, 0)),
}
"""Outer corners whose outermost dot is left out: an 8 keeps its corners, a 0 does not."""

_SHARE_OF_WIDTH = {"-": 0.6, "h": 0.8, "d": 0.8, "m": 1.2, " ": 0.4}
"""How wide a sign is against a digit; a colon is as wide as the brush."""


@dataclass(frozen=True)
class Size:
    """How large digits are drawn. columns, rows: of one digit, in cells. brush: in dots."""

    columns: int
    rows: int
    brush: int

    def width_of(self, sign: str) -> int:
        """Columns of one sign."""
        if sign == ":":
            return self.brush
        return max(1, round(self.columns * _SHARE_OF_WIDTH.get(sign, 1.0)))

    def width(self, text: str) -> int:
        """Columns of a whole text, with one gap between signs."""
        return sum(map(self.width_of, text)) + self.gap * max(0, len(text) - 1)

    @property
    def gap(self) -> int:
        return 1 if self.columns < 8 else 2


SIZES = (
    Size(3, 3, 1),
    Size(6, 5, 2),
    Size(8, 7, 2),
    Size(11, 9, 3),
    Size(14, 12, 4),
)
"""Ascending. From the second on they are meant to be read across the shop."""


@lru_cache(maxsize=512)
def drawn(text: str, size: Size) -> tuple[str, ...]:
    """The text in large digits: ``size.rows`` lines of equal length.

    Raises KeyError for a sign that has no shape.
    """
    rows = [""] * size.rows
    for number, sign in enumerate(text):
        space = " " * size.gap if number else ""
        for y, line in enumerate(_sign(sign, size)):
            rows[y] += space + line
    return tuple(rows)


def _sign(sign: str, size: Size) -> list[str]:
    wide, high = size.width_of(sign), 2 * size.rows
    dots = [[False] * wide for _ in range(high)]
    across, down = wide - size.brush, high - size.brush
    for stroke in SIGNS[sign]:
        for (x0, y0), (x1, y1) in pairwise(stroke):
            steps = 2 * max(1, round(max(abs(x1 - x0) * across, abs(y1 - y0) * down)))
            for step in range(steps + 1):
                share = step / steps
                x = round((x0 + (x1 - x0) * share) * across)
                y = round((y0 + (y1 - y0) * share) * down)
                _press(dots, x, y, size.brush)
    for x, y in _ROUND.get(sign, ()):
        dots[y * (high - 1)][x * (wide - 1)] = False
    return [
        "".join(
            " ▀▄█"[upper + 2 * lower] for upper, lower in zip(dots[row], dots[row + 1], strict=True)
        )
        for row in range(0, high, 2)
    ]


def _press(dots: list[list[bool]], x: int, y: int, brush: int) -> None:
    for row in dots[max(0, y) : y + brush]:
        for column in range(max(0, x), min(len(row), x + brush)):
            row[column] = True
