"""How many clamps, screws or rivets a flange takes at a spacing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._metal import MAKER_FIRST
from assistant.routines._rows import EDGE_SLOT, LENGTH_SLOT, row_answer, spacing_slot
from assistant.trade.spacing import Row

SLOTS = (
    Slot(
        name="fastener",
        kind="choice",
        ask="Clamps, screws or rivets?",
        choices={"clamps": "clamp", "screws": "screw", "rivets": "rivet"},
    ),
    LENGTH_SLOT,
    spacing_slot("spacing", "How far apart?"),
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

    def figures(row: Row) -> dict[str, Any]:
        return {"fastener": fastener, "count": row.count, "spacing_wanted": slots["spacing"]}

    return row_answer(slots, "spacing", fastener, workplace.units, figures, CAUTIONS[fastener])


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
