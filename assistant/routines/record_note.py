"""A note in free words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated

SLOTS = (BAY_SLOT, Slot(name="text", kind="words", ask="What is the note?"))


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Written down as it was heard, and read back: words heard freely may be wrong."""
    text = slots["text"].strip()
    heard = workplace.shop.source == "voice"
    told = text.rstrip(".!?")
    hint = "Say strike the last entry, to take it back"
    return stated(
        slots,
        workplace,
        lambda records: orders.note(records, text, heard),
        f'noted: "{text}". {hint}',
        f"noted: {told}. {hint}",
    )


ROUTINE = Routine(
    name="record_note",
    grammar=GRAMMAR,
    about="a note for the job record",
    slots=SLOTS,
    examples=("note for bay two",),
    answer=answer,
    open_slot="text",
)
