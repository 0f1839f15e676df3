"""What the two routines about air and dew share: slots and cautions."""

from __future__ import annotations

from assistant.declaration import Slot
from assistant.routines._metal import MAKER_FIRST, both
from assistant.trade.air import AIR_RANGE, HUMIDITY_RANGE
from assistant.units import DEGREES

DECIMALS = 1
"""A thermometer in a shop shows no more."""

AIR_SLOT = Slot(
    name="air",
    kind="temperature",
    ask="What is the temperature of the air?",
    default_unit=DEGREES,
    low=AIR_RANGE[0],
    high=AIR_RANGE[1],
)
HUMIDITY_SLOT = Slot(
    name="humidity",
    kind="percent",
    ask="What is the relative humidity, in percent?",
    low=HUMIDITY_RANGE[0],
    high=HUMIDITY_RANGE[1],
)



def cautions(units: str) -> tuple[str, ...]:
    """Said with every figure about dew, in the units of the shop."""
    moved = both("3 °F", "1.5 °C", units)
    return (
        f"{MAKER_FIRST} So do the limits in the product's data sheet.",
        "Measure the metal itself, at its coldest spot: a panel just brought in is colder than "
        "the air.",
        f"A hygrometer five percent out moves the dew point by about {moved}: stay well clear.",
    )


DEW_FORMULA = "ASHRAE formula for vapor pressure"
