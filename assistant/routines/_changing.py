"""What the routines about a changing temperature share: slots, wording, refusals."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

from assistant.declaration import Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import CAUTIONS, assumed_product, full_stop, said_assumptions
from assistant.routines._times import WORDS, figure, words_for
from assistant.routines._warm_enough import STAGE_SLOT
from assistant.speaking.wording import (
    spoken,
    spoken_moment,
    spoken_percent,
    written,
    written_moment,
    written_percent,
)
from assistant.trade.changing import (
    CureTable,
    Progress,
    equivalent_age_by_table,
    remaining_time,
)
from assistant.trade.cure import OutOfLimits, Stage
from assistant.trade.rounding import clock_up, cure_time_up, percent_down, span_up, work_time_down
from assistant.units import Q, Quantity

GOAL_SLOT = replace(STAGE_SLOT, required=False)

DEFAULT_STAGE: Stage = "clamp"

ROOM = Q(70, "degF")
"""The row of a table that is nearest to this is what an equivalent age is told at: room
temperature, as data sheets mean it (common practice, no source)."""

HEAT_CAUTIONS = (
    "Heat evenly and slowly, measure the metal at the joint, and never pass the card's limit.",
    "No open flame near uncured adhesive, solvent or foam; keep the air moving.",
)

DONE: dict[Stage, str] = {
    "clamp": "the clamps may come off",
    "sand": "it may be sanded",
    "full_cure": "it is fully cured",
}


def reference_of(card: AdhesiveCard) -> Quantity:
    """The temperature of the card's row nearest to room temperature."""
    rows = [row.temperature for row in card.times]
    return min(rows, key=lambda row: abs(row.m_as("kelvin") - ROOM.m_as("kelvin")))


def too_hot(beyond: OutOfLimits, card: AdhesiveCard, stage: Stage, units: str) -> Refusal:
    """No figure at a temperature past the limits: which one, and what to do."""
    cautions = (*WORDS[stage].cautions, *HEAT_CAUTIONS, *CAUTIONS)

    def told(say: Callable[..., str], name: str) -> str:
        limit = say(beyond.limit, units)
        to_do = (
            f"Warm the joint to {limit} or more"
            if beyond.too_cold
            else f"Stay at {limit} or below"
        )
        if not beyond.limit_name.endswith("temperature"):
            side = "starts" if beyond.too_cold else "ends"
            why = f"the table of {name} {side} at {limit}"
        else:
            why = f"the {beyond.limit_name} for {name} is {limit}"
        return (
            f"No {WORDS[stage].noun} at {say(beyond.value, units)}: {why}. {to_do}, measured "
            "on the metal, and ask again."
        )

    return Refusal(told(figure, card.name), told(words_for, card.spoken_name), cautions)


def answer_progress(
    stage: Stage,
    progress: Progress,
    now_at: Quantity,
    card: AdhesiveCard,
    slots: Mapping[str, Any],
    workplace: Workplace,
    what: tuple[str, str],
    assumptions: tuple[str, ...],
    more_figures: Mapping[str, Any] | None = None,
) -> Answer:
    """Share done, equivalent age, and what is left at the temperature now.

    what: what the joint has been through, for the screen and for the ear. Raises Refusal
    where the card gives no time at ``now_at`` and something is left.
    """
    units = workplace.units
    table: CureTable = card.cure_table(stage)
    noun = WORDS[stage].noun
    reference = reference_of(card)
    age = equivalent_age_by_table(table, progress.share, reference)
    said_age = work_time_down(age)
    share = min(1.0, percent_down(progress.share))
    assumed = [*assumptions, f"the {WORDS[stage].end} {noun} of the card's range"]
    if progress.cold.magnitude > 0:
        cold = written(span_up(progress.cold))
        assumed.append(f"{cold} below the card's temperatures counted as no cure at all")
    assumed.extend(assumed_product(card, "product" in slots))

    left = Q(0, "hour")
    if not progress.done:
        try:
            left = remaining_time(table, progress.share, now_at)
        except OutOfLimits as beyond:
            raise too_hot(beyond, card, stage, units) from None
    stated = cure_time_up(left)
    now = workplace.now()
    over = clock_up(now + timedelta(minutes=stated.m_as("minute")))
    if progress.done:
        ending = said_ending = f"{DONE[stage]} now"
    else:
        ending = (
            f"at {figure(now_at, units)} about {written(stated)} more, until "
            f"{written_moment(over, now, units)}"
        )
        said_ending = (
            f"at {words_for(now_at, units)} about {spoken(stated)} more, until "
            f"{spoken_moment(over, now)}"
        )
    cold_told = " Cold time counts for nothing: warm the joint." if progress.cold.magnitude else ""
    return Answer(
        sentence=(
            f"After {what[0]}: about {written_percent(share)} of the {noun} of {card.name} is "
            f"done, as after {written(said_age)} at {figure(reference, units)}; "
            f"{full_stop(ending)}{cold_told}"
        ),
        spoken=(
            f"After {what[1]}, about {spoken_percent(share)} of the {noun} of "
            f"{card.spoken_name} is done, as after {spoken(said_age)} at "
            f"{words_for(reference, units)}; {full_stop(said_ending)}{cold_told} "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "stage": stage,
            "progress": progress.share,
            "equivalent_age": age,
            "reference": reference.to("degC"),
            "cold": progress.cold,
            "remaining": left,
            "remaining_stated": stated,
            "product": card.key,
            **(more_figures or {}),
        },
        assumptions=tuple(assumed),
        cautions=(*WORDS[stage].cautions, *CAUTIONS),
        basis="equivalent age: the sum of each stretch over the card's time at its temperature",
    )
