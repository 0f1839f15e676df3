"""The repair order, the vehicle or a person, spelled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated
from assistant.understanding.spelling import spelled_out

REFERENCES = {"repair_order": "repair order", "vehicle": "vehicle"}
ROLES = {name: name for name in ("technician", "helper", "inspector")}

SLOTS = (
    Slot(
        name="what",
        kind="choice",
        ask="What is it: the repair order, the vehicle or a person?",
        choices={name: name for name in (*REFERENCES, *ROLES)},
    ),
    Slot(name="text", kind="spelled", ask="Spell it, please?"),
    BAY_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Written down, and read back letter by letter."""
    what, text = slots["what"], slots["text"]
    name = REFERENCES.get(what) or ROLES[what]
    return stated(
        slots,
        workplace,
        lambda records: (
            orders.reference(records, what, text)
            if what in REFERENCES
            else orders.person(records, text, what)
        ),
        f"{name} {text}",
        f"{name} {spelled_out(text)}",
    )


ROUTINE = Routine(
    name="record_state",
    grammar=GRAMMAR,
    about="write down a repair order, a vehicle or a person",
    slots=SLOTS,
    examples=("write down for bay two repair order one zero four two",),
    answer=answer,
    changes_clock=True,
    read_back=True,
)
