"""How much foam a box section takes: length, width and height of the cavity."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.routines._foam import LARGEST_CAVITY, SMALLEST_CAVITY, cavity_answer
from assistant.routines._materials import BARE_SIZE_UNIT, PRODUCT_SLOT
from assistant.speaking.wording import spoken, written
from assistant.trade.foam import box_volume
from assistant.units import Q

# a rail's web to a van's side; our own bounds
SMALLEST_SIDE, LONGEST_SIDE = Q(5, "mm"), Q(6, "m")


def _side(name: str, ask: str) -> Slot:
    return Slot(
        name=name,
        kind="length",
        ask=ask,
        default_unit=BARE_SIZE_UNIT,
        low=SMALLEST_SIDE,
        high=LONGEST_SIDE,
    )


SLOTS = (
    _side("length", "How long is the cavity?"),
    _side("width", "How wide is the cavity?"),
    _side("height", "How high is the cavity?"),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Liquid foam, cartridges, tips and how far it may rise."""
    sides = [slots[name] for name in ("length", "width", "height")]
    cavity = box_volume(*sides)
    if not SMALLEST_CAVITY <= cavity <= LARGEST_CAVITY:
        raise Refusal(
            f"A cavity of {written(cavity, workplace.units)} is not between "
            f"{written(SMALLEST_CAVITY)} and {written(LARGEST_CAVITY)}: say the sides again.",
            f"A cavity of {spoken(cavity, workplace.units)} is not one I can answer for. Say the "
            "sides again.",
        )
    return cavity_answer(
        f"a cavity of {' × '.join(map(written, sides))}",
        f"a cavity of {' by '.join(map(spoken, sides))}",
        cavity,
        slots,
        workplace,
    )


ROUTINE = Routine(
    name="foam_for_box",
    grammar="sealer",
    about="foam for a box section",
    slots=SLOTS,
    examples=("how much foam for twenty inches by four inches by three inches",),
    answer=answer,
)
