"""A new job record is begun in a bay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._record import BAY_SLOT, GRAMMAR, answer_of, records_of

SLOTS = (BAY_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """What happens in the bay from now on belongs to it."""
    told = records_of(workplace).begin(slots["bay"])
    text = "a new record is begun"
    return answer_of(told, workplace, text, text)


ROUTINE = Routine(
    name="record_begin",
    grammar=GRAMMAR,
    about="begin a job record",
    slots=SLOTS,
    examples=("begin a record for bay two",),
    answer=answer,
    changes_clock=True,
)
