"""The last entry of a record does not count any more; it stays in the history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, answer_of, records_of

SLOTS = (BAY_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Says what was struck. Clocks and readings are taken back by "undo bay two"."""
    records = records_of(workplace)
    filed = records.in_bay(slots["bay"])
    found = records.last_statement(filed)
    told = records.state(filed, orders.last_withdrawal(records))
    name = "entry" if found is None else _NOUNS[found[0]]
    text = f"the last {name} is struck"
    return answer_of(told, workplace, text, text)


_NOUNS = {
    "references": "reference",
    "people": "person",
    "lots": "lot",
    "air": "reading of the air",
    "coupons": "weld coupon",
    "stated_deviations": "deviation",
    "acceptances": "acceptance",
    "notes": "note",
    "photos": "photo",
}

ROUTINE = Routine(
    name="record_strike",
    grammar=GRAMMAR,
    about="strike the last entry of a record",
    slots=SLOTS,
    examples=("strike the last entry for bay two",),
    answer=answer,
    changes_clock=True,
)
