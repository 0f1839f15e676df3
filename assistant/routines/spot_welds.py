"""How many spot welds a flange takes at the original pitch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._rows import (
    EDGE_SLOT,
    LENGTH_SLOT,
    SPACING_HIGH,
    SPACING_LOW,
    assumed_edge,
    told_row,
)
from assistant.routines._welding import COUPON_CAUTION, WELD_CAUTIONS
from assistant.units import Quantity

SLOTS = (
    LENGTH_SLOT,
    Slot(
        name="pitch",
        kind="length",
        ask="How far apart were the original spot welds?",
        default_unit={"us": "inch", "metric": "inch"},
        low=SPACING_LOW,
        high=SPACING_HIGH,
    ),
    EDGE_SLOT,
)

SPOT_CAUTIONS = (
    "Keep the number and the places of the original welds where the maker gives them.",
    "Welds closer together than the original lose current to their neighbors.",
    COUPON_CAUTION,
    *WELD_CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Count, rounded up so that no gap is wider than the pitch, and the gap it gives."""
    pitch: Quantity = slots["pitch"]
    found = told_row(slots, pitch, "spot weld", workplace.units, along=" of flange")
    return Answer(
        sentence=found.sentence,
        spoken=found.spoken,
        figures={
            "length": slots["length"],
            "pitch": pitch,
            "edge": found.edge,
            "spot_welds": found.row.count,
            "spacing": found.row.spacing,
        },
        assumptions=assumed_edge(slots),
        cautions=SPOT_CAUTIONS,
        basis="length over pitch, rounded up, and one more; no gap is wider than the pitch",
    )


ROUTINE = Routine(
    name="spot_welds",
    grammar="welding",
    about="spot welds for a flange",
    slots=SLOTS,
    examples=(
        "how many spot welds for thirty inches every inch and a half",
        "how many spot welds in six hundred millimeters at forty millimeter pitch",
    ),
    answer=answer,
)
