"""Temperature and humidity of the air in a bay, for the record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.record import orders
from assistant.routines._record import BAY_SLOT, GRAMMAR, stated
from assistant.shop.orders import COLDEST, HOTTEST
from assistant.shop.wording import temperature
from assistant.speaking.wording import spoken_percent, written_percent
from assistant.trade.air import AIR_RANGE
from assistant.units import DEGREES, Q

SLOTS = (
    BAY_SLOT,
    Slot(
        name="air",
        kind="temperature",
        ask="What is the temperature of the air?",
        default_unit=DEGREES,
        low=AIR_RANGE[0],
        high=AIR_RANGE[1],
    ),
    Slot(
        name="humidity",
        kind="percent",
        ask="What is the humidity?",
        required=False,
        low=0.01,
        high=1.0,
    ),
    Slot(
        name="metal",
        kind="temperature",
        ask="What is the temperature of the metal?",
        required=False,
        default_unit=DEGREES,
        low=Q(COLDEST, "degC"),
        high=Q(HOTTEST, "degC"),
    ),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Written down; the margin over the dew point stands in the record."""
    celsius = slots["air"].m_as("degC")
    humidity = slots.get("humidity")
    air = temperature(celsius, workplace.units)
    told, said = f"air at {air.written}", f"air at {air.spoken}"
    if humidity is not None:
        told += f" and {written_percent(humidity)}"
        said += f" and {spoken_percent(humidity)}"
    metal = slots["metal"].m_as("degC") if "metal" in slots else None
    if metal is not None:
        at = temperature(metal, workplace.units)
        told += f", metal at {at.written}"
        said += f", metal at {at.spoken}"
    return stated(
        slots,
        workplace,
        lambda records: orders.air(records, celsius, humidity, metal),
        told,
        said,
    )


ROUTINE = Routine(
    name="record_air",
    grammar=GRAMMAR,
    about="write down the air's temperature and humidity",
    slots=SLOTS,
    examples=("the air in bay two is seventy degrees and fifty percent",),
    answer=answer,
    changes_clock=True,
)
