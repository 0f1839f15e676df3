"""What the routines about the plan of a job share: slots, stage times."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Slot
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import CAUTIONS
from assistant.routines._times import (
    CLAMP_CAUTIONS,
    SAND_CAUTIONS,
    WORDS,
    figure,
    time_or_refusal,
)
from assistant.speaking.wording import written
from assistant.trade.cure import STAGES
from assistant.trade.plan import USUAL_SANDING, StageTimes
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
