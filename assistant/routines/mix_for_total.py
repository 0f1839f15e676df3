"""How much of each part makes a volume of a mixture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._coating import CAUTIONS, RATIO_SLOT, poured, volume_slot
from assistant.speaking.wording import spoken, spoken_ratio, written, written_ratio
from assistant.trade.coating import mix_for_total

SLOTS = (RATIO_SLOT, volume_slot("total", "How much in all?"))


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Volume of each part, and the marks on the cup."""
    ratio, total = slots["ratio"], slots["total"]
    parts = mix_for_total(ratio, total)
    told, marks = poured(parts, workplace.units, written)
    said, aloud = poured(parts, workplace.units, spoken)
    return Answer(
        sentence=f"{written_ratio(ratio)} for {written(total)}: {told}. Fill to {marks}.",
        spoken=(f"{capital(spoken_ratio(ratio))} for {spoken(total)}: {said}. Fill to {aloud}."),
        figures={
            "total": total,
            **{f"part_{number}": part for number, part in enumerate(parts, start=1)},
        },
        assumptions=("parts by volume, in the order said", "each to the nearest mark"),
        cautions=CAUTIONS,
        basis="shares of the ratio",
    )


ROUTINE = Routine(
    name="mix_for_total",
    grammar="mixing",
    about="parts of a mixture",
    slots=SLOTS,
    examples=("mix four to one to one for twenty four ounces",),
    answer=answer,
)
