"""The last entry of a record does not count any more; it stays in the history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._record import BAY_SLOT, GRAMMAR, strike

SLOTS = (BAY_SLOT,)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Says what was struck. Clocks and readings are taken back by "undo bay two"."""
    return strike(slots["bay"], workplace)


ROUTINE = Routine(
    name="record_strike",
    grammar=GRAMMAR,
    about="strike the last entry of a record",
    slots=SLOTS,
    examples=("strike the last entry for bay two",),
    answer=answer,
    changes_clock=True,
)
