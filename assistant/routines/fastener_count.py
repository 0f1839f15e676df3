"""How many clamps, screws or rivets a flange takes at a spacing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._metal import MAKER_FIRST
from assistant.routines._rows import (
    EDGE_SLOT,
    LENGTH_SLOT,
    SPACING_HIGH,
    SPACING_LOW,
    assumed_edge,
    told_row,
)
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
    spacing: Quantity = slots["spacing"]
    found = told_row(slots, spacing, fastener, workplace.units)
    return Answer(
        sentence=found.sentence,
        spoken=found.spoken,
        figures={
            "fastener": fastener,
            "count": found.row.count,
            "length": slots["length"],
            "spacing_wanted": spacing,
            "spacing": found.row.spacing,
            "edge": found.edge,
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
