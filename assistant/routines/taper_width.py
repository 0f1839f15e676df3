"""How wide a bevel or taper is ground, for a thickness and an angle."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._joint import CUT_CAUTIONS
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import (
    spoken,
    spoken_length,
    written_length,
    written_number,
)
from assistant.trade.joint import ANGLE_RANGE, STEEPEST_TAPER, taper
from assistant.trade.rounding import length_up
from assistant.units import Q, Quantity

SLOTS = (
    Slot(
        name="thickness",
        kind="length",
        ask="How thick is the sheet?",
        default_unit={"us": "inch", "metric": "inch"},
        low=Q(0.1, "mm"),
        high=Q(25, "mm"),
    ),
    Slot(
        name="angle",
        kind="number",
        ask="At what angle, in degrees?",
        required=False,
        low=ANGLE_RANGE[0].m_as("degree"),
        high=ANGLE_RANGE[1].m_as("degree"),
    ),
)

STEEP = "A taper for a blended joint lies under {}."


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Run and face, rounded up: a wider taper is a flatter one."""
    thickness: Quantity = slots["thickness"]
    given = "angle" in slots
    angle = Q(slots["angle"], "degree") if given else STEEPEST_TAPER
    found = taper(thickness, angle)
    unit = INCH_OR_MM[workplace.units]
    run, face = length_up(found.run, unit), length_up(found.face, unit)

    def told(say: Any, degrees: str) -> str:
        least = "" if given else "more than "
        return (
            f"Taper through {say(thickness)} at {'' if given else 'under '}{degrees}: "
            f"{least}{say(run)} wide, {say(face)} along the slope."
        )

    degrees = f"{written_number(angle.m_as('degree'))}°"
    sentence, words = told(written_length, degrees), told(spoken_length, spoken(angle))
    if given and angle >= STEEPEST_TAPER:
        sentence = f"{sentence} {STEEP.format('10°')}"
        words = f"{words} {STEEP.format('ten degrees')}"
    return Answer(
        sentence=sentence,
        spoken=words,
        figures={"thickness": thickness, "angle": angle, "run": found.run, "face": found.face},
        assumptions=() if given else ("angle not given: under 10 degrees",),
        cautions=CUT_CAUTIONS,
        basis="thickness over the tangent and the sine of the angle; under 10 degrees is "
        "common practice, no source",
    )


ROUTINE = Routine(
    name="taper_width",
    grammar="joint",
    about="the width of a bevel or taper",
    slots=SLOTS,
    examples=(
        "how wide is the taper for one millimeter at eight degrees",
        "bevel width for an eighth of an inch at thirty degrees",
    ),
    answer=answer,
)
