"""The plan of the job backwards: when the bead must go on for a goal at a time of day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    full_stop,
    said_assumptions,
)
from assistant.routines._plan import PLAN_CAUTIONS, SANDING_SLOT, plan_assumptions, stage_times
from assistant.routines._times import (
    AIR_SLOT,
    TEMPERATURE_SLOT,
    WORDS,
    basis_text,
    figure,
    time_or_refusal,
    words_for,
)
from assistant.speaking.wording import spoken, spoken_moment, written, written_moment
from assistant.trade.cure import Stage
from assistant.trade.plan import Goal, latest_bead, limiting_stage, plan_from, time_to
from assistant.units import Quantity

GOALS_SAID: dict[Goal, str] = {
    "clamp": "unclamp",
    "sand": "sand",
    "prime": "prime",
    "full_cure": "load it fully",
}

SLOTS = (
    Slot(
        name="stage",
        kind="choice",
        ask="To unclamp, to sand, to prime, or to load it fully?",
        choices={goal: goal for goal in GOALS_SAID},
    ),
    Slot(name="by", kind="clock", ask="By what time?"),
    TEMPERATURE_SLOT,
    AIR_SLOT,
    SANDING_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The last minute for the bead; when it is past, the first minute of the goal from now."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    temperature: Quantity = slots["temperature"]
    goal: Goal = slots["stage"]
    now = workplace.now()
    by = slots["by"].next_after(now)
    times = stage_times(card, temperature, slots, units)
    latest = latest_bead(goal, by, times)
    needed = time_to(goal, times)
    limit: Stage = limiting_stage(goal, times)
    plan = plan_from(now, times)
    earliest = {
        "clamp": plan.clamps_off,
        "sand": plan.sand_from,
        "prime": plan.prime_from,
        "full_cure": plan.cured_from,
    }[goal]
    basis = basis_text(time_or_refusal(limit, card, temperature, units), temperature, units)
    in_time = latest >= now
    doing = GOALS_SAID[goal]
    why = f"the {WORDS[limit].noun} limits, {{time}}"
    by_told, by_said = written_moment(by, now, units), spoken_moment(by, now)
    if in_time:
        close_by = plan_from(latest, times).close_by
        sentence = (
            f"To {doing} by {by_told} at {figure(temperature)}: bead on by "
            f"{written_moment(latest, now, units)} at the latest ({card.name}), closed by "
            f"{full_stop(written_moment(close_by, now, units))}"
        )
        words = (
            f"To {doing} by {by_said} at {words_for(temperature)}, the bead of "
            f"{card.spoken_name} must be on by {spoken_moment(latest, now)}, closed by "
            f"{full_stop(spoken_moment(close_by, now))}"
        )
    else:
        sentence = (
            f"Too late to {doing} by {by_told} at {figure(temperature)} with {card.name}: with the "
            f"bead on now, from {full_stop(written_moment(earliest, now, units))}"
        )
        words = (
            f"Too late to {doing} by {by_said} at {words_for(temperature)} with "
            f"{card.spoken_name}. With the bead on now, from "
            f"{full_stop(spoken_moment(earliest, now))}"
        )
    sanded = goal == "prime"
    extra = f" and {written(times.sanding)} of sanding" if sanded else ""
    said_extra = f" and {spoken(times.sanding)} of sanding" if sanded else ""
    told = why.format(time=written(getattr(times, limit)) + extra)
    said = why.format(time=spoken(getattr(times, limit)) + said_extra)
    assumptions = plan_assumptions(slots, times)
    taken = ["the time for sanding"] if sanded and "sanding" not in slots else []
    return Answer(
        sentence=f"{sentence} {told[:1].upper()}{told[1:]}.",
        spoken=(
            f"{words} {said[:1].upper()}{said[1:]}. "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "stage": goal,
            "by": by.isoformat(),
            "in_time": "yes" if in_time else "no",
            "bead_on_by": latest.isoformat(),
            "earliest_from_now": earliest.isoformat(),
            "time_needed": needed,
            "limiting_stage": limit,
            "temperature": temperature.to("degC"),
            "product": card.key,
        },
        assumptions=(*assumptions, *assumed_product(card, "product" in slots)),
        cautions=(*PLAN_CAUTIONS, *card.cautions),
        basis=f"steps side by side from the bead; times {basis}",
    )


ROUTINE = Routine(
    name="bead_on_by",
    grammar="plan",
    about="when the bead must go on",
    slots=SLOTS,
    examples=(
        "to prime by three when must the bead go on at seventy degrees",
        "how late can the bead go on to unclamp by half past five with the fast set",
    ),
    answer=answer,
)
