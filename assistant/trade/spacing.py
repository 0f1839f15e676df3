"""Things set out in a row: spot welds, clamps, screws, rivets along a flange.

A row has one at each end of its span and equal gaps between: n things, n - 1 gaps (the
fence-post rule, plain arithmetic). The gap is never wider than the one asked for, so the
count is rounded up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.trade.rounding import pieces_up
from assistant.units import Q, Quantity

NO_EDGE = Q(0, "mm")


@dataclass(frozen=True)
class Row:
    """count: how many, both ends included. spacing: centre to centre, exact, in mm."""

    count: int
    spacing: Quantity


def row_at_spacing(length: Quantity, spacing: Quantity, edge: Quantity = NO_EDGE) -> Row:
    """How many fit a length with gaps no wider than ``spacing``: ceil(span / spacing) + 1.

    length: of the flange, above zero. spacing: centre to centre, above zero. edge: from each
    end of the length to the first and the last of the row, zero or more; span is what is
    left between. Raises ValueError outside these ranges or when no span is left.
    """
    span = _span(length, edge)
    pitch = _positive("spacing", spacing)
    gaps = max(1, pieces_up(span / pitch))
    return Row(gaps + 1, Q(span / gaps, "mm"))


def spacing_of_row(length: Quantity, count: int, edge: Quantity = NO_EDGE) -> Quantity:
    """The gap between ``count`` things in a length: span / (count - 1), in mm.

    count: 2 or more. length, edge and errors as for ``row_at_spacing``.
    """
    if count < 2:
        raise ValueError(f"a spacing needs 2 or more in the row, not {count}")
    return Q(_span(length, edge) / (count - 1), "mm")


def _span(length: Quantity, edge: Quantity) -> float:
    whole = _positive("length", length)
    off = edge.m_as("mm")
    if not (math.isfinite(off) and off >= 0):
        raise ValueError(f"the distance from the end must be zero or more, not {edge}")
    if not whole > 2 * off:
        raise ValueError(f"nothing is left of {length} with {edge} off each end")
    return whole - 2 * off


def _positive(name: str, length: Quantity) -> float:
    in_mm = length.m_as("mm")
    if not (math.isfinite(in_mm) and in_mm > 0):
        raise ValueError(f"the {name} must be above zero, not {length}")
    return in_mm
