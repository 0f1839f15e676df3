"""What the routines about rows share: spot welds, clamps, screws and rivets at a spacing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assistant.declaration import Slot
from assistant.exchange import Answer, Refusal
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import (
    spoken_count,
    spoken_length,
    written_count,
    written_length,
)
from assistant.trade.rounding import length_down
from assistant.trade.spacing import NO_EDGE, Row, row_at_spacing
from assistant.units import Q, Quantity

LENGTH_SLOT = Slot(
    name="length",
    kind="length",
    ask="How long is the flange?",
    default_unit=INCH_OR_MM,
    low=Q(10, "mm"),
    high=Q(100, "m"),
)
SPACING_LOW, SPACING_HIGH = Q(5, "mm"), Q(1, "m")
"""Beyond these a spacing was misheard rather than meant; our own bounds."""

EDGE_SLOT = Slot(
    name="edge",
    kind="length",
    ask="How far from each end is the first one?",
    required=False,
    default_unit={"us": "inch", "metric": "inch"},
    low=NO_EDGE,
    high=Q(1, "m"),
)


def spacing_slot(name: str, ask: str) -> Slot:
    """How far apart the pieces of the row may be at most."""
    return Slot(
        name=name,
        kind="length",
        ask=ask,
        default_unit={"us": "inch", "metric": "inch"},
        low=SPACING_LOW,
        high=SPACING_HIGH,
    )


def assumed_edge(slots: Mapping[str, Any]) -> tuple[str, ...]:
    """What is taken for granted about the ends of the row."""
    return () if "edge" in slots else ("one at each end of the length",)


def check_span(length: Quantity, edge: Quantity) -> None:
    """Raises Refusal when the ends leave nothing between them."""
    if not length.m_as("mm") > 2 * edge.m_as("mm"):
        raise Refusal(
            f"Nothing is left of {written_length(length)} with {written_length(edge)} off each "
            "end: say a longer flange or a shorter distance.",
            f"Nothing is left of {spoken_length(length)} with {spoken_length(edge)} off each "
            "end. Say a longer flange or a shorter distance.",
        )


def row_answer(
    slots: Mapping[str, Any],
    spacing_name: str,
    noun: str,
    units: str,
    figures: Callable[[Row], Mapping[str, Any]],
    cautions: tuple[str, ...],
    along: str = "",
) -> Answer:
    """How many of ``noun`` stand over slot "length", rounded up so that no gap is wider than the
    slot ``spacing_name``, and the gap that gives.

    figures: what to call the row's. along: words after the length (" of flange"). Raises Refusal
    as ``check_span``.
    """
    length: Quantity = slots["length"]
    spacing: Quantity = slots[spacing_name]
    edge: Quantity = slots.get("edge", NO_EDGE)
    check_span(length, edge)
    row = row_at_spacing(length, spacing, edge)
    stated = length_down(row.spacing, INCH_OR_MM[units])

    def told(say: Any, count: Any) -> str:
        ends = f", the first {say(edge)} from each end" if "edge" in slots else ""
        return capital(
            f"{say(length)}{along} at {say(spacing)} or less: {count(row.count, noun)}, about "
            f"{say(stated)} apart{ends}."
        )

    return Answer(
        sentence=told(written_length, written_count),
        spoken=told(spoken_length, spoken_count),
        figures={"length": length, "edge": edge, **figures(row), "spacing": row.spacing},
        assumptions=assumed_edge(slots),
        cautions=cautions,
        basis=f"length over {spacing_name}, rounded up, and one more; no gap is wider than the "
        f"{spacing_name}",
    )
