"""What goes with a first part that is measured already."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._coating import CAUTIONS, RATIO_SLOT, poured, volume_slot
from assistant.speaking.wording import spoken, spoken_ratio, written, written_ratio
from assistant.trade.coating import mix_from_first
from assistant.units import Q

SLOTS = (RATIO_SLOT, volume_slot("first", "How much of the first part?"))


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Volume of each further part, the total, and the marks on the cup."""
    ratio, first = slots["ratio"], slots["first"]
    parts = mix_from_first(ratio, first)
    total = Q(sum(part.m_as("mL") for part in parts), "mL")
    told, _ = poured(parts[1:], workplace.units, written)
    said, _ = poured(parts[1:], workplace.units, spoken)
    _, marks = poured(parts, workplace.units, written)
    _, aloud = poured(parts, workplace.units, spoken)
    return Answer(
        sentence=(
            f"{written_ratio(ratio)} with {written(first)} of the first part: add {told}. "
            f"Fill to {marks}."
        ),
        spoken=(
            f"{capital(spoken_ratio(ratio))} with {spoken(first)} of the first part: add {said}. "
            f"Fill to {aloud}."
        ),
        figures={
            "total": total,
            **{f"part_{number}": part for number, part in enumerate(parts, start=1)},
        },
        assumptions=("parts by volume, in the order said", "each to the nearest mark"),
        cautions=CAUTIONS,
        basis="shares of the ratio",
    )


ROUTINE = Routine(
    name="mix_from_first",
    grammar="mixing",
    about="what goes with a first part",
    slots=SLOTS,
    examples=("what goes with sixteen ounces of paint at four to one",),
    answer=answer,
)
