"""The plan of the job forwards: clock times of every step from the bead on."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
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
from assistant.routines._plan import (
    PLAN_CAUTIONS,
    SANDING_SLOT,
    Priming,
    plan_assumptions,
    priming,
    stage_times,
)
from assistant.routines._times import (
    AIR_SLOT,
    TEMPERATURE_SLOT,
    WORDS,
    basis_text,
    figure,
    time_or_refusal,
    words_for,
)
from assistant.speaking.wording import (
    join_words,
    spoken,
    spoken_count,
    spoken_moment,
    written,
    written_count,
    written_moment,
)
from assistant.trade.plan import limiting_stage, plan_from
from assistant.units import Quantity

SLOTS = (
    TEMPERATURE_SLOT,
    AIR_SLOT,
    Slot(name="start", kind="clock", ask="When does the bead go on?", required=False),
    SANDING_SLOT,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Close by, clamps off, sand, prime, cured; what limits and when hands are free."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    temperature: Quantity = slots["temperature"]
    now = workplace.now()
    bead_on = slots["start"].next_after(now) if "start" in slots else now
    times = stage_times(card, temperature, slots, units)
    plan = plan_from(bead_on, times)
    limit = limiting_stage("prime", times)
    limit_time = getattr(times, limit)
    basis = basis_text(time_or_refusal("clamp", card, temperature, units), temperature, units)

    def told(at: datetime) -> str:
        return written_moment(at, now, units)

    def said(at: datetime) -> str:
        return spoken_moment(at, now)

    free = join_words(f"from {told(start)} until {told(end)}" for start, end in plan.free)
    said_free = ", then ".join(spoken(end - start) for start, end in plan.free)
    assumptions = plan_assumptions(slots, times)
    if "start" not in slots:
        assumptions.append("the bead goes on now")
    taken = [] if "sanding" in slots else ["the time for sanding"]
    primer, note = priming(plan.prime_from, temperature, workplace)
    assumptions.append(note)
    return Answer(
        sentence=(
            f"Bead on at {told(bead_on)}, metal at {figure(temperature)} ({card.name}): close by "
            f"{told(plan.close_by)}, clamps off from {told(plan.clamps_off)}, sand from "
            f"{told(plan.sand_from)}, prime from {told(plan.prime_from)}, fully cured from "
            f"{full_stop(told(plan.cured_from))} The {WORDS[limit].noun}, "
            f"{written(limit_time)}, limits. Hands free for other work {full_stop(free)} The full "
            "cure goes on under the primer." + _primed(primer, told, written, written_count)
        ),
        spoken=(
            f"Bead on at {said(bead_on)} with {card.spoken_name} at {words_for(temperature)}: "
            f"close by {said(plan.close_by)}, clamps off from {said(plan.clamps_off)}, sand from "
            f"{said(plan.sand_from)}, prime from {said(plan.prime_from)}, fully cured from "
            f"{full_stop(said(plan.cured_from))} The {WORDS[limit].noun}, {spoken(limit_time)}, "
            f"limits. Hands are free for {said_free}."
            f"{_primed(primer, said, spoken, spoken_count)} "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "bead_on": bead_on.isoformat(),
            "close_by": plan.close_by.isoformat(),
            "clamps_off": plan.clamps_off.isoformat(),
            "sand_from": plan.sand_from.isoformat(),
            "prime_from": plan.prime_from.isoformat(),
            "cured_from": plan.cured_from.isoformat(),
            "limiting_stage": limit,
            "work_time": times.work,
            "clamp_time": times.clamp,
            "sand_time": times.sand,
            "full_cure_time": times.full_cure,
            "sanding": times.sanding,
            "temperature": temperature.to("degC"),
            "product": card.key,
        }
        | _primer_figures(primer),
        assumptions=(*assumptions, *assumed_product(card, "product" in slots)),
        cautions=(*PLAN_CAUTIONS, *card.cautions, *(primer.card.cautions if primer else ())),
        basis=f"steps side by side from the bead; times {basis}",
    )


def _primed(primer: Priming | None, at: Any, say: Any, count: Any) -> str:
    """The primer's steps in words, a space before them; empty without a primer."""
    if primer is None:
        return ""
    times = primer.times
    apart = f", {say(times.flash)} apart" if times.coats > 1 else ""
    told = f"{count(times.coats, 'coat')}{apart}, sand it from {at(primer.sand_from)}"
    return f" Primer: {full_stop(told)}"


def _primer_figures(primer: Priming | None) -> dict[str, Any]:
    if primer is None:
        return {}
    return {
        "primer": primer.card.key,
        "primer_coats": primer.times.coats,
        "primer_flash_time": primer.times.flash,
        "primer_sand_time": primer.times.sand,
        "last_coat_from": primer.last_coat_from.isoformat(),
        "primer_sand_from": primer.sand_from.isoformat(),
    }


ROUTINE = Routine(
    name="job_plan",
    grammar="plan",
    about="the plan of the job",
    slots=SLOTS,
    examples=(
        "plan the job if the bead goes on at one thirty at seventy degrees",
        "what is the plan of the job if the bead goes on now with the fast set",
    ),
    answer=answer,
)
