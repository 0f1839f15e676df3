"""Where to cut the existing panel so that an overlap is left."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._joint import CUT_CAUTIONS
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import spoken_length, written_length
from assistant.trade.joint import USUAL_OVERLAP, cut_line
from assistant.trade.rounding import length_up
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="edge",
        kind="length",
        ask="Where does the edge of the new panel lie?",
        required=False,
        default_unit=INCH_OR_MM,
        low=Q(0, "mm"),
        high=Q(10, "m"),
    ),
    Slot(
        name="overlap",
        kind="length",
        ask="How wide is the overlap?",
        required=False,
        default_unit=INCH_OR_MM,
        low=Q(3, "mm"),
        high=Q(300, "mm"),
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The distance of the cut, rounded up: too little cut off can still be trimmed."""
    unit = INCH_OR_MM[workplace.units]
    given = "overlap" in slots
    overlap: Quantity = slots["overlap"] if given else USUAL_OVERLAP.to(unit)
    edge: Quantity | None = slots.get("edge")
    figures: dict[str, Any] = {"overlap": overlap}
    if edge is not None:
        cut = cut_line(edge, overlap)
        figures |= {"edge": edge, "cut_line": cut}

    def told(say: Any) -> str:
        if edge is None:
            step = length_up(overlap, unit)
            return (
                "lay the new panel on and mark its edge on the existing one. From that mark "
                f"measure {say(step)} toward the part that comes off, and cut there: "
                f"{say(step)} of the existing panel stays under the new one."
            )
        return (
            f"edge of the new panel at {say(edge)}, overlap {say(overlap)}: cut the existing "
            f"panel at {say(length_up(cut, unit))} from the same mark, on the side that comes off."
        )

    assumptions = []
    if not given:
        assumptions.append(f"overlap not given: {written_length(overlap)}")
    if edge is not None:
        assumptions.append("the edge is measured from a mark on the part that stays")
    spoken = capital(told(spoken_length))
    return Answer(
        sentence=capital(told(written_length)),
        spoken=spoken if given else f"{spoken} I assumed the overlap.",
        figures=figures,
        assumptions=tuple(assumptions),
        cautions=CUT_CAUTIONS,
        basis="edge plus overlap"
        + ("" if given else f"; {written_length(overlap)} is common practice, no source"),
    )


ROUTINE = Routine(
    name="cut_line",
    grammar="joint",
    about="the cut line for an overlap",
    slots=SLOTS,
    examples=(
        "where is the cut line",
        "cut line for the panel edge at thirty two inches with a one inch overlap",
    ),
    answer=answer,
)
