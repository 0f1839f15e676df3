"""How much foam a cavity of a known volume takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._foam import LARGEST_CAVITY, SMALLEST_CAVITY, cavity_answer
from assistant.routines._materials import PRODUCT_SLOT
from assistant.speaking.wording import spoken, written

SLOTS = (
    Slot(
        name="cavity",
        kind="volume",
        ask="How large is the cavity?",
        low=SMALLEST_CAVITY,
        high=LARGEST_CAVITY,
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Liquid foam, cartridges, tips and how far it may rise."""
    cavity = slots["cavity"]
    return cavity_answer(
        f"a cavity of {written(cavity)}", f"a cavity of {spoken(cavity)}", cavity, slots, workplace
    )


ROUTINE = Routine(
    name="foam_for_cavity",
    grammar="sealer",
    about="foam for a cavity",
    slots=SLOTS,
    examples=("how much foam for a cavity of two liters",),
    answer=answer,
)
