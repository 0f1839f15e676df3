"""How far apart a known number of spot welds stands on a flange."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM
from assistant.routines._rows import (
    EDGE_SLOT,
    LENGTH_SLOT,
    SPACING_LOW,
    assumed_edge,
    check_span,
)
from assistant.routines.spot_welds import SPOT_CAUTIONS
from assistant.speaking.wording import (
    spoken_count,
    spoken_length,
    written_count,
    written_length,
)
from assistant.trade.rounding import length_down
from assistant.trade.spacing import NO_EDGE, spacing_of_row
from assistant.units import Quantity

SLOTS = (
    Slot(name="welds", kind="count", ask="How many spot welds were there?", low=2, high=999),
    LENGTH_SLOT,
    EDGE_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The gap, rounded down: the welds are never set wider than they were."""
    welds: int = slots["welds"]
    length: Quantity = slots["length"]
    edge: Quantity = slots.get("edge", NO_EDGE)
    check_span(length, edge)
    spacing = spacing_of_row(length, welds, edge)
    if spacing < SPACING_LOW:
        raise _too_close(welds, length, workplace.units)
    stated = length_down(spacing, INCH_OR_MM[workplace.units])

    def told(say: Any, count: Any) -> str:
        ends = f", the first {say(edge)} from each end" if "edge" in slots else ""
        return capital(
            f"{count(welds, 'spot weld')} in {say(length)}: about {say(stated)} apart, center to "
            f"center{ends}."
        )

    return Answer(
        sentence=told(written_length, written_count),
        spoken=told(spoken_length, spoken_count),
        figures={"spot_welds": welds, "length": length, "edge": edge, "spacing": spacing},
        assumptions=assumed_edge(slots),
        cautions=SPOT_CAUTIONS,
        basis="length over one less than the number of welds",
    )


def _too_close(welds: int, length: Quantity, units: str) -> Refusal:
    def told(say: Any, count: Any) -> str:
        return (
            f"{capital(count(welds, 'spot weld'))} in {say(length)} would stand less than "
            f"{say(SPACING_LOW, units)} apart. Say the number and the length again."
        )

    return Refusal(
        told(written_length, written_count), told(spoken_length, spoken_count), SPOT_CAUTIONS
    )


ROUTINE = Routine(
    name="spot_spacing",
    grammar="welding",
    about="how far apart spot welds stand",
    slots=SLOTS,
    examples=(
        "how far apart are twenty one spot welds in thirty inches",
        "spot weld spacing for sixteen welds in six hundred millimeters",
    ),
    answer=answer,
)
