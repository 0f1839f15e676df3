"""A step was done in a bay: clamped, clamps off, sanded, done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._bays import BAY_SLOT, GRAMMAR, answer_of

MARKS = {mark: mark for mark in ("closed", "clamps_off", "sanded", "painted", "trimmed", "done")}

SLOTS = (
    BAY_SLOT,
    Slot("mark", "choice", ask="What was done?", choices=MARKS),
    Slot("early", "choice", ask="Before its time?", required=False, choices={"yes": "yes"}),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Records the step; Refusal before its clock is over, unless it is said to be early."""
    effect = workplace.shop.mark(slots["bay"], slots["mark"], early="early" in slots)
    return answer_of(effect, workplace)


ROUTINE = Routine(
    name="bay_stage",
    grammar=GRAMMAR,
    about="a step done in a bay",
    slots=SLOTS,
    examples=("bay two is clamped", "bay two the clamps are off"),
    answer=answer,
    changes_clock=True,
)
