"""How many spot welds a flange takes at the original pitch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM
from assistant.routines._rows import (
    EDGE_SLOT,
    LENGTH_SLOT,
    SPACING_HIGH,
    SPACING_LOW,
    assumed_edge,
    check_span,
)
from assistant.routines._welding import COUPON_CAUTION, WELD_CAUTIONS
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
    length: Quantity = slots["length"]
    pitch: Quantity = slots["pitch"]
    edge: Quantity = slots.get("edge", NO_EDGE)
    check_span(length, edge)
    row = row_at_spacing(length, pitch, edge)
    stated = length_down(row.spacing, INCH_OR_MM[workplace.units])

    def told(say: Any, count: Any) -> str:
        ends = f", the first {say(edge)} from each end" if "edge" in slots else ""
        return capital(
            f"{say(length)} of flange at {say(pitch)} or less: {count(row.count, 'spot weld')}, "
            f"about {say(stated)} apart{ends}."
        )

    return Answer(
        sentence=told(written_length, written_count),
        spoken=told(spoken_length, spoken_count),
        figures={
            "length": length,
            "pitch": pitch,
            "edge": edge,
            "spot_welds": row.count,
            "spacing": row.spacing,
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
