"""When a panel or a cartridge reaches a temperature, from two readings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.routines._adhesive import capital
from assistant.routines._metal import DIFFERENCE
from assistant.speaking.wording import (
    spoken,
    spoken_temperature,
    written,
    written_temperature,
)
from assistant.trade.rounding import cure_time_up, work_time_down
from assistant.trade.warming import (
    READING_ERROR,
    AlreadyThere,
    Arrival,
    NeverThere,
    NotMoving,
    Readings,
    arrival,
)
from assistant.units import DEGREES, Q, Quantity

DECIMALS = 1

_READING = {
    "kind": "temperature",
    "default_unit": DEGREES,
    # what a shop thermometer can show
    "low": Q(-40, "degC"),
    "high": Q(120, "degC"),
}
SLOTS = (
    Slot(name="first", ask="What was the first reading?", **_READING),
    Slot(name="second", ask="What was the second reading?", **_READING),
    Slot(
        name="gap",
        kind="duration",
        ask="How much time was there between the two readings?",
        low=Q(1, "minute"),
        high=Q(24, "hour"),
    ),
    Slot(name="surroundings", ask="What is the temperature of the air around it?", **_READING),
    Slot(name="wanted", ask="Which temperature must it reach?", **_READING),
    Slot(
        name="thing",
        kind="choice",
        ask="A panel, a cartridge or other metal?",
        required=False,
        choices={"panel": "panel", "cartridge": "cartridge", "metal": "metal"},
    ),
)

CAUTIONS = (
    "Measure again before you go by it: a draft, sun or a lamp changes the surroundings.",
    "Warm nothing past the limit in the product's data sheet, and bring no flame near adhesive "
    "or solvent.",
)
CARTRIDGE_CAUTION = "The inside of a cartridge lags behind its skin: give it longer than this."


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time from the second reading: rounded up when warming, both ways when cooling."""
    thing: str = slots.get("thing", "part")
    wanted: Quantity = slots["wanted"]
    cautions = (*CAUTIONS, CARTRIDGE_CAUTION) if thing == "cartridge" else CAUTIONS
    try:
        readings = Readings(
            slots["first"], slots["second"], slots["gap"], slots["surroundings"]
        )
        found = arrival(readings, wanted)
    except (NotMoving, NeverThere, AlreadyThere) as reason:
        raise _refusal(reason, slots, thing, cautions) from None
    return Answer(
        sentence=_told(slots, thing, readings, found, workplace.units, written),
        spoken=_told(slots, thing, readings, found, workplace.units, spoken),
        figures={
            **{name: slots[name].to("degC") for name in ("first", "second", "surroundings")},
            "wanted": wanted.to("degC"),
            "gap": slots["gap"],
            "rate": readings.rate,
            "time": found.time,
            "soonest": found.soonest,
            "latest": "open" if found.latest is None else found.latest,
        },
        assumptions=("the surroundings stay at this temperature",),
        cautions=cautions,
        basis="Newton's law of cooling through the two readings",
    )


def _told(
    slots: Mapping[str, Any],
    thing: str,
    readings: Readings,
    found: Arrival,
    units: str,
    say: Any,
) -> str:
    degrees = _degrees(say)
    # the scale is said once, unless the readings came in two
    scales = {slots[name].units for name in ("first", "second", "surroundings", "wanted")}
    bare = _degrees(say, scale=len(scales) > 1)
    up, down = say(cure_time_up(found.time)), say(work_time_down(found.time))
    wanted = bare(slots["wanted"])
    given = (
        f"the {thing} went from {degrees(slots['first'])} to {bare(slots['second'])} in "
        f"{say(slots['gap'])}, with {bare(slots['surroundings'])} around it"
    )
    if readings.warming:
        when = f"it reaches {wanted} about {up} after the second reading"
    else:
        when = (
            f"it stays above {wanted} for about {down} after the second reading, and is down to "
            f"it after about {up}"
        )
    off = degrees(READING_ERROR.to(DIFFERENCE[units]))
    soonest = say(work_time_down(found.soonest))
    if found.latest is None:
        open_end = f"With readings {off} off, after {soonest} or never: keep measuring."
    else:
        latest = say(cure_time_up(found.latest))
        open_end = f"With readings {off} off, between {soonest} and {latest}."
    return f"{capital(given)}: {when}. {open_end}"


def _degrees(say: Any, scale: bool = True) -> Any:
    """Words or figures for a temperature, after ``say``; the screen always has the scale."""
    if say is written:
        return lambda temperature: written_temperature(temperature, places=DECIMALS)
    return lambda temperature: spoken_temperature(temperature, places=DECIMALS, scale=scale)


def _refusal(
    reason: Exception, slots: Mapping[str, Any], thing: str, cautions: tuple[str, ...]
) -> Refusal:
    def told(say: Any) -> str:
        degrees = _degrees(say)
        wanted, around = degrees(slots["wanted"]), degrees(slots["surroundings"])
        if isinstance(reason, NotMoving):
            return (
                f"From {degrees(slots['first'])} to {degrees(slots['second'])} the {thing} does "
                f"not move toward the {around} around it. Wait longer, measure again, and ask "
                "again."
            )
        if isinstance(reason, NeverThere):
            up = slots["wanted"].m_as("kelvin") > slots["second"].m_as("kelvin")
            change = "Warm" if up else "Cool"
            return (
                f"The {thing} never reaches {wanted} with {around} around it. {change} the "
                "surroundings, and ask again."
            )
        return f"The {thing} is at {wanted} or past it already, by the second reading."

    return Refusal(told(written), told(spoken), cautions)


ROUTINE = Routine(
    name="warming_time",
    grammar="warming",
    about="when a panel or cartridge reaches a temperature",
    slots=SLOTS,
    examples=(
        "panel went from fifty to fifty eight in ten minutes in seventy degree air when is it "
        "sixty five",
        "when does the cartridge reach sixty degrees",
    ),
    answer=answer,
)
