"""The record of a bay, read aloud."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer, Refusal
from assistant.record import telling
from assistant.record.brief import brief
from assistant.routines._record import BASIS, BAY_SLOT, GRAMMAR, records_of
from assistant.shop.wording import bay_name

SLOTS = (BAY_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """What matters of it before the next step; the screen is told how to see the whole."""
    records = records_of(workplace)
    bay = slots["bay"]
    record = records.record(records.in_bay(bay))
    if record is None:
        raise Refusal(f"The text of the record of bay {bay} is lost: clampcall record verify.")
    told = brief(record, workplace.now(), workplace.units)
    name = bay_name(bay)
    whole = f"The whole of it: clampcall record show {record.id}"
    return Answer(
        sentence=f"{name.written}. {told.written} {whole}",
        spoken=f"{name.spoken}. {told.spoken}",
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
