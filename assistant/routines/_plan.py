"""What the routines about the plan of a job share: slots, stage times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from assistant.declaration import Slot, Workplace
from assistant.exchange import Refusal
from assistant.products.card import AdhesiveCard
from assistant.products.materials import PrimerCard
from assistant.routines._adhesive import CAUTIONS
from assistant.routines._times import (
    CLAMP_CAUTIONS,
    SAND_CAUTIONS,
    WORDS,
    figure,
    time_or_refusal,
)
from assistant.speaking.wording import written
from assistant.trade.cure import STAGES, OutOfLimits, time_at_temperature
from assistant.trade.plan import (
    USUAL_SANDING,
    PrimerTimes,
    StageTimes,
    last_coat_from,
    primer_sand_from,
)
from assistant.trade.rounding import cure_time_up
from assistant.units import Q, Quantity

SANDING_SLOT = Slot(
    name="sanding",
    kind="duration",
    ask="How long does the sanding take?",
    required=False,
    low=Q(1, "minute"),
    high=Q(1, "day"),
)

PLAN_CAUTIONS = (
    *CLAMP_CAUTIONS,
    *SAND_CAUTIONS[1:],
    "The plan holds while the metal keeps this temperature: measure again when it changes.",
    *CAUTIONS,
)


def stage_times(
    card: AdhesiveCard, temperature: Quantity, slots: Mapping[str, Any], units: str
) -> StageTimes:
    """The card's times as they are said, each rounded to its safe side; or a Refusal."""
    found = {
        stage: WORDS[stage].rounded(time_or_refusal(stage, card, temperature, units).time)
        for stage in STAGES
    }
    return StageTimes(**found, sanding=slots.get("sanding", USUAL_SANDING))


def plan_assumptions(slots: Mapping[str, Any], times: StageTimes) -> list[str]:
    """What a plan takes for granted."""
    lines = [
        "each time from the first of the bead, at its safe end, rounded to the safe side",
        "the metal keeps this temperature all the while",
    ]
    if "sanding" not in slots:
        lines.append(f"time for sanding not given: {written(times.sanding)}")
    if "air" in slots:
        lines.append(f"by the metal, not the air's {figure(slots['air'])}")
    return lines


@dataclass(frozen=True)
class Priming:
    """The shop's primer after the sanding: its card, its times, the clock times of its steps."""

    card: PrimerCard
    times: PrimerTimes
    last_coat_from: datetime
    sand_from: datetime


def priming(
    prime_from: datetime, temperature: Quantity, workplace: Workplace
) -> tuple[Priming | None, str]:
    """The primer's steps, or None and the reason; the bond's plan stands without them."""
    try:
        card: PrimerCard = workplace.product(None, PrimerCard.KIND)
    except Refusal:
        return None, "no steps of a primer: no card of one"
    found = {}
    for stage in ("flash", "sand"):
        rows = [(at, times.high) for at, times in card.rows(stage)]
        try:
            time = time_at_temperature(rows, temperature, card.cure_limits).time
        except OutOfLimits as beyond:
            side = "warmer" if beyond.too_cold else "cooler"
            return None, (
                f"no steps of the primer: {card.name} must be {side}, "
                f"{figure(beyond.limit, workplace.units)}"
            )
        found[stage] = cure_time_up(time)
    times = PrimerTimes(coats=card.coats, **found)
    return (
        Priming(
            card, times, last_coat_from(prime_from, times), primer_sand_from(prime_from, times)
        ),
        f"{card.name}, and the spraying itself not counted: count again from its last coat",
    )
