"""The dew point of the shop's air, and how warm bare metal must be in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._air import (
    AIR_SLOT,
    DECIMALS,
    DEW_FORMULA,
    HUMIDITY_SLOT,
    cautions,
)
from assistant.speaking.wording import (
    spoken_percent,
    spoken_temperature,
    written_percent,
    written_temperature,
)
from assistant.trade.air import DRY_MARGIN, dew_point, least_dry
from assistant.trade.rounding import dew_point_up
from assistant.units import DEGREES, Quantity

SLOTS = (AIR_SLOT, HUMIDITY_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Dew point and the least temperature of bare metal, both rounded up."""
    air: Quantity = slots["air"]
    humidity: float = slots["humidity"]
    unit = DEGREES[workplace.units]
    dew = dew_point(air, humidity)
    least = least_dry(dew)
    stated, wanted = dew_point_up(dew, unit), dew_point_up(least, unit)
    return Answer(
        sentence=(
            f"Air at {written_temperature(air, places=DECIMALS)} and "
            f"{written_percent(humidity)} humidity: dew point about "
            f"{written_temperature(stated, places=DECIMALS)}. Bare metal must be at "
            f"{written_temperature(wanted, places=DECIMALS)} or more."
        ),
        spoken=(
            f"Air at {spoken_temperature(air, places=DECIMALS)} and "
            f"{spoken_percent(humidity)} humidity: dew point about "
            f"{spoken_temperature(stated, places=DECIMALS)}. Bare metal must be at "
            f"{spoken_temperature(wanted, places=DECIMALS)} or more."
        ),
        figures={
            "air": air.to("degC"),
            "humidity": humidity,
            "dew_point": dew,
            "least_metal_temperature": least,
        },
        cautions=cautions(workplace.units),
        basis=(
            f"{DEW_FORMULA}; bare metal {written_temperature(DRY_MARGIN, workplace.units)} above "
            "the dew point"
        ),
    )


ROUTINE = Routine(
    name="dew_point",
    grammar="air",
    about="the dew point of the air",
    slots=SLOTS,
    examples=(
        "what is the dew point at seventy degrees and fifty percent humidity",
        "dew point for twenty one celsius and sixty percent",
    ),
    answer=answer,
)
