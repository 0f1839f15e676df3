"""How many clamps, screws or rivets a flange takes at a spacing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM, MAKER_FIRST
from assistant.routines._rows import (
    EDGE_SLOT,
    LENGTH_SLOT,
    SPACING_HIGH,
    SPACING_LOW,
    assumed_edge,
    check_span,
)
from assistant.speaking.wording import (
    spoken_count,
    spoken_length,
    written_count,
    written_length,
)
from assistant.trade.rounding import length_down
from assistant.trade.spacing import NO_EDGE, row_at_spacing
from assistant.units import Quantity

SLOTS = (
    Slot(
        name="fastener",
        kind="choice",
        ask="Clamps, screws or rivets?",
        choices={"clamps": "clamp", "screws": "screw", "rivets": "rivet"},
    ),
    LENGTH_SLOT,
    Slot(
        name="spacing",
        kind="length",
        ask="How far apart?",
        default_unit={"us": "inch", "metric": "inch"},
        low=SPACING_LOW,
        high=SPACING_HIGH,
    ),
    EDGE_SLOT,
)

CAUTIONS = {
    "clamp": (
        MAKER_FIRST,
        "Have all clamps within reach before the bead, and check the fit between them: squeezed "
        "to metal on metal, a bond line is starved.",
    ),
    "screw": (
        MAKER_FIRST,
        "Fill the holes of temporary screws as the maker says, and protect the bare metal.",
        "Drilling: eyes covered, and know what lies behind the panel.",
    ),
    "rivet": (
        MAKER_FIRST,
        "Use the maker's rivet and hole; set rivets while the adhesive is wet.",
        "Drilling and setting: eyes covered, and know what lies behind the panel.",
    ),
}


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Count, rounded up so that no gap is wider than the spacing."""
    fastener: str = slots["fastener"]
    length: Quantity = slots["length"]
    spacing: Quantity = slots["spacing"]
    edge: Quantity = slots.get("edge", NO_EDGE)
    check_span(length, edge)
    row = row_at_spacing(length, spacing, edge)
    stated = length_down(row.spacing, INCH_OR_MM[workplace.units])

    def told(say: Any, count: Any) -> str:
        ends = f", the first {say(edge)} from each end" if "edge" in slots else ""
        return capital(
            f"{say(length)} at {say(spacing)} or less: {count(row.count, fastener)}, about "
            f"{say(stated)} apart{ends}."
        )

    return Answer(
        sentence=told(written_length, written_count),
        spoken=told(spoken_length, spoken_count),
        figures={
            "fastener": fastener,
            "count": row.count,
            "length": length,
            "spacing_wanted": spacing,
            "spacing": row.spacing,
            "edge": edge,
        },
        assumptions=assumed_edge(slots),
        cautions=CAUTIONS[fastener],
        basis="length over spacing, rounded up, and one more; no gap is wider than the spacing",
    )


ROUTINE = Routine(
    name="fastener_count",
    grammar="joint",
    about="clamps, screws or rivets at a spacing",
    slots=SLOTS,
    examples=(
        "how many clamps for forty inches every three inches",
        "how many rivets in one meter spaced fifty millimeters",
    ),
    answer=answer,
)
