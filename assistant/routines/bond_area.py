"""The bonded area of a flange."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._metal import INCH_OR_MM, MAKER_FIRST
from assistant.speaking.wording import (
    spoken,
    spoken_length,
    written,
    written_length,
)
from assistant.trade.joint import bond_area
from assistant.trade.rounding import area_down
from assistant.units import Q, Quantity

AREA_UNIT = {"us": "inch**2", "metric": "cm**2"}

SLOTS = (
    Slot(
        name="length",
        kind="length",
        ask="How long is the flange?",
        default_unit=INCH_OR_MM,
        low=Q(10, "mm"),
        high=Q(100, "m"),
    ),
    Slot(
        name="width",
        kind="length",
        ask="How wide is the flange?",
        # only a fraction is said without its unit, and a fraction is of an inch
        default_unit={"us": "inch", "metric": "inch"},
        low=Q(1, "mm"),
        high=Q(1, "m"),
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Length times width, rounded down."""
    length: Quantity = slots["length"]
    width: Quantity = slots["width"]
    area = bond_area(length, width)
    stated = area_down(area, AREA_UNIT[workplace.units])
    return Answer(
        sentence=(
            f"A bond {written_length(length)} long and {written_length(width)} wide: about "
            f"{written(stated)}."
        ),
        spoken=capital(
            f"a bond {spoken_length(length)} long and {spoken_length(width)} wide: about "
            f"{spoken(stated)}."
        ),
        figures={"length": length, "width": width, "bond_area": area},
        assumptions=("the adhesive wets the whole width of the flange",),
        cautions=(
            MAKER_FIRST,
            "An area is not a strength: stress is uneven along a lap, and test strengths are "
            "no design stresses (ASTM D4896).",
        ),
        basis="length times width",
    )


ROUTINE = Routine(
    name="bond_area",
    grammar="joint",
    about="the bonded area of a flange",
    slots=SLOTS,
    examples=(
        "what is the bond area of forty inches by three quarters",
        "bond area for one meter by twenty millimeters",
    ),
    answer=answer,
)
