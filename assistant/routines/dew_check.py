"""Go or no-go for bare metal: is it far enough above the dew point?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._air import (
    AIR_SLOT,
    DECIMALS,
    DEW_FORMULA,
    HUMIDITY_SLOT,
    cautions,
)
from assistant.routines._metal import DIFFERENCE, both
from assistant.speaking.wording import (
    spoken_percent,
    spoken_temperature,
    written_percent,
    written_temperature,
)
from assistant.trade.air import DRY_MARGIN, SurfaceCheck, surface_check
from assistant.trade.rounding import dew_point_up, margin_down
from assistant.units import DEGREES, Q, Quantity

SLOTS = (
    Slot(
        name="metal",
        kind="temperature",
        ask="What is the temperature of the metal?",
        default_unit=DEGREES,
        # what a shop thermometer can show
        low=Q(-40, "degC"),
        high=Q(120, "degC"),
    ),
    AIR_SLOT,
    HUMIDITY_SLOT,
)

CHECK_CAUTIONS = (
    "A go is for dew only: the metal must still be clean, and inside the product's limits.",
    "Warm metal with heat that has no flame near solvent, and let the damp film dry off.",
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Go or no-go, the margin (rounded down) and what the metal must reach (rounded up)."""
    metal: Quantity = slots["metal"]
    air: Quantity = slots["air"]
    humidity: float = slots["humidity"]
    units = workplace.units
    found = surface_check(metal, air, humidity)
    return Answer(
        sentence=_told(found, slots, units, written_temperature, written_percent),
        spoken=_told(found, slots, units, spoken_temperature, spoken_percent),
        figures={
            "go": "yes" if found.go else "no",
            "metal": metal.to("degC"),
            "air": air.to("degC"),
            "humidity": humidity,
            "dew_point": found.dew_point,
            "margin": found.margin,
            "least_metal_temperature": found.least,
        },
        cautions=(*CHECK_CAUTIONS, *cautions(units)),
        basis=(
            f"{DEW_FORMULA}; go at {written_temperature(DRY_MARGIN, units)} or more above the "
            "dew point"
            + both(", which also meets the 5 °F of some US standards", "", units)
        ),
    )


def _told(
    found: SurfaceCheck, slots: Mapping[str, Any], units: str, say: Any, say_percent: Any
) -> str:
    unit, step = DEGREES[units], DIFFERENCE[units]
    dew = say(dew_point_up(found.dew_point, unit), places=DECIMALS)
    wanted = say(DRY_MARGIN.to(step), places=DECIMALS)
    given = (
        f"metal at {say(slots['metal'], places=DECIMALS)}, air at "
        f"{say(slots['air'], places=DECIMALS)} and {say_percent(slots['humidity'])}"
    )
    if found.go:
        over = say(margin_down(found.margin, step), places=DECIMALS)
        return (
            f"Go for {given}: the metal is {over} above the dew point of about {dew}, and "
            f"{wanted} is enough."
        )
    least = say(dew_point_up(found.least, unit), places=DECIMALS)
    if found.wet:
        why = f"the metal is not above the dew point of about {dew}, so it is wet or will be"
    else:
        over = say(margin_down(found.margin, step), places=DECIMALS)
        why = f"the metal is only {over} above the dew point of about {dew}, not {wanted}"
    return capital(f"no go for {given}: {why}. Warm it to {least} or more, or dry the air.")


ROUTINE = Routine(
    name="dew_check",
    grammar="air",
    about="whether bare metal stays free of dew",
    slots=SLOTS,
    examples=(
        "is bare metal dry at fifty eight degrees with the air at seventy and fifty percent",
        "will the metal sweat at sixty degrees with the air at eighty and seventy percent humidity",
    ),
    answer=answer,
)
