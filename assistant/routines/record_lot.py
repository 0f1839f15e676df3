"""The lot of a material, spelled, with its expiry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.record.brief import spoken_expiry
from assistant.routines._bays import MATERIALS
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated
from assistant.routines.lot_good import DAY_SLOT, MONTH_SLOT, MONTHS, YEAR_SLOT
from assistant.understanding.spelling import spelled_out

SLOTS = (
    Slot(
        name="material",
        kind="choice",
        ask="Of which material?",
        required=False,
        choices=MATERIALS,
    ),
    Slot(name="lot", kind="spelled", ask="Spell the lot, please?"),
    replace(MONTH_SLOT, required=False),
    DAY_SLOT,
    YEAR_SLOT,
    BAY_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Written down, and read back letter by letter; an expiry that was not said stays missing."""
    expiry = expiry_of(slots)
    orders.checked_expiry(expiry)
    told = f", expiry {expiry}" if expiry else ", expiry not stated"
    said = f", expiry {spoken_expiry(expiry)}" if expiry else ", expiry not stated"
    return stated(
        slots,
        workplace,
        lambda records: orders.lot(records, slots["lot"], expiry, slots.get("material")),
        f"lot {slots['lot']}{told}",
        f"lot {spelled_out(slots['lot'])}{said}",
    )


def expiry_of(slots: Mapping[str, Any]) -> str | None:
    """ "2027-03-31", "2027-03" without a day, None where no expiry was said."""
    if "month" not in slots or "year" not in slots:
        return None
    month = f"{slots['year']}-{MONTHS.index(slots['month']) + 1:02d}"
    return f"{month}-{int(slots['day']):02d}" if "day" in slots else month


ROUTINE = Routine(
    name="record_lot",
    grammar=GRAMMAR,
    about="write down a lot and its expiry",
    slots=SLOTS,
    examples=("add to bay two lot alfa bravo one two expiry march twenty twenty seven",),
    answer=answer,
    changes_clock=True,
    read_back=True,
)
