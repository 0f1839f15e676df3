"""A person accepts what was done otherwise than it should have been."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated
from assistant.understanding.spelling import spelled_out

SLOTS = (
    BAY_SLOT,
    Slot(name="by", kind="spelled", ask="Who accepts them? Spell the name, please?"),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """All deviations of the bay's record that nobody has accepted yet, under a name."""
    return stated(
        slots,
        workplace,
        lambda records: orders.acceptance(records, None, slots["by"]),
        f"deviations accepted by {slots['by']}",
        f"deviations accepted by {spelled_out(slots['by'])}",
    )


ROUTINE = Routine(
    name="record_accept",
    grammar=GRAMMAR,
    about="accept the deviations of a job",
    slots=SLOTS,
    examples=("accept the deviations in bay two by alfa bravo",),
    answer=answer,
    changes_clock=True,
    read_back=True,
)
