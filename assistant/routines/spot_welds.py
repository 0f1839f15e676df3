"""How many spot welds a flange takes at the original pitch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._rows import EDGE_SLOT, LENGTH_SLOT, row_answer, spacing_slot
from assistant.routines._welding import COUPON_CAUTION, WELD_CAUTIONS
from assistant.trade.spacing import Row

SLOTS = (
    LENGTH_SLOT,
    spacing_slot("pitch", "How far apart were the original spot welds?"),
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

    def figures(row: Row) -> dict[str, Any]:
        return {"pitch": slots["pitch"], "spot_welds": row.count}

    return row_answer(
        slots, "pitch", "spot weld", workplace.units, figures, SPOT_CAUTIONS, along=" of flange"
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
