"""The record of a bay, read aloud."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer, Refusal
from assistant.record import telling
from assistant.routines._record import BASIS, BAY_SLOT, GRAMMAR, records_of
from assistant.shop.wording import bay_name

SLOTS = (BAY_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """What matters of it for the ear; the whole of it on the screen."""
    records = records_of(workplace)
    bay = slots["bay"]
    record = records.record(records.in_bay(bay))
    if record is None:
        raise Refusal(f"The text of the record of bay {bay} is lost: clampcall record verify.")
    lines = list(telling.lines(record))
    said = telling.spoken(record, workplace.now(), workplace.units)
    return Answer(
        sentence="\n".join(lines),
        spoken=f"{bay_name(bay).spoken}. {said}",
        figures={
            "record": record.id,
            "deviations": len(record.deviations),
            "missing": len(record.missing),
        },
        cautions=telling.CAUTIONS,
        basis=BASIS,
    )


ROUTINE = Routine(
    name="record_read",
    grammar=GRAMMAR,
    about="the job record of a bay",
    slots=SLOTS,
    examples=("read me the record for bay two",),
    answer=answer,
)
