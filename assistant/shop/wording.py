"""The words of the shop: bays, stages, moments, and what an order has brought about.

Everything comes twice: for the screen and for the ear. Times are rounded to the safe side by
``trade.rounding``: work time down, what is waited for up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from assistant.shop.events import Mark, Material, Stage
from assistant.shop.stage_clock import WORK
from assistant.shop.state import WHOLE_SHOP, Job, Timer
from assistant.speaking.wording import (
    join_words,
    spoken_duration,
    spoken_moment,
    spoken_number,
    spoken_temperature,
    written_duration,
    written_moment,
    written_temperature,
)
from assistant.trade.cure import OutOfLimits
from assistant.trade.rounding import clock_down, clock_up, span_down, span_up, time_left_down
from assistant.units import Q, Quantity

DECIMALS = 1
"""A thermometer in a shop shows no more."""


_FARTHEST = 400 * 86400.0
"""Seconds. An end farther off than a year is as good as never."""


class Said(NamedTuple):
    """One thing, for the screen and for the ear."""

    written: str
    spoken: str

    def __add__(self, other) -> Said:
        other = other if isinstance(other, Said) else Said(other, other)
        return Said(self.written + other.written, self.spoken + other.spoken)


def both(text: str) -> Said:
    return Said(text, text)


class Name(NamedTuple):
    """A bay's name at the beginning of a sentence; ``inside`` one."""

    written: str
    spoken: str
    inside: Said


def bay_name(number: int) -> Name:
    """ "Bay 2", "Bay two"; the whole shop where there is no bay."""
    if number == WHOLE_SHOP:
        return Name("The shop", "The shop", both("the shop"))
    word = spoken_number(number)
    return Name(f"Bay {number}", f"Bay {word}", Said(f"bay {number}", f"bay {word}"))


MATERIAL_NOUN: Mapping[Material, str] = {
    "adhesive": "bead",
    "filler": "filler",
    "sealer": "sealer",
    "foam": "foam",
    "primer": "primer",
}

STAGE_NOUN: Mapping[Stage, str] = {
    "work": "work time",
    "clamp": "clamp time",
    "sand": "sanding time",
    "full_cure": "full cure time",
    "paint": "time before paint",
    "trim": "time before trimming",
    "flash": "flash time",
}

_ALLOWED: Mapping[Stage, str] = {
    "clamp": "the clamps may come off",
    "sand": "it may be sanded",
    "full_cure": "it is fully cured",
    "paint": "it may be painted",
    "trim": "the foam may be trimmed",
    "flash": "the next coat may go on",
}

MARK_DONE: Mapping[Mark, str] = {
    "closed": "clamped",
    "clamps_off": "clamps off",
    "sanded": "sanded",
    "painted": "painted",
    "trimmed": "trimmed",
    "done": "done",
}


def allowed(stage: Stage) -> str:
    """What may be done when a stage is over: "the clamps may come off"."""
    return _ALLOWED[stage]


def spoken_list(items: Iterable[str]) -> str:
    return join_words(items, "or")


def temperature(celsius: float, units: str) -> Said:
    reading = Q(celsius, "degC")
    return Said(
        written_temperature(reading, units, DECIMALS), spoken_temperature(reading, units, DECIMALS)
    )


def local_moment(at_moment: float, at: float, now: datetime) -> datetime:
    """Local time of a moment in shop time; daylight saving at that moment, not at this one."""
    moment = now + timedelta(seconds=at_moment - at)
    if now.tzinfo is not None:
        # through UTC: adding to a local time would ignore a change of the clocks in between
        moment = (now.astimezone(UTC) + timedelta(seconds=at_moment - at)).astimezone(
            None if _is_system_zone(now) else now.tzinfo
        )
    return moment


def _is_system_zone(now: datetime) -> bool:
    """A fixed offset, as ``astimezone()`` gives: today's, so the system is asked again."""
    return type(now.tzinfo).__name__ == "timezone"


def moment(at_moment: float, at: float, now: datetime, units: str, up: bool) -> Said | None:
    """A clock time, a minute to the safe side; None for never."""
    if not math.isfinite(at_moment) or at_moment - at > _FARTHEST:
        return None
    exact = local_moment(at_moment, at, now)
    shown = clock_up(exact) if up else clock_down(exact)
    return Said(written_moment(shown, now, units), spoken_moment(shown, now))


def time_left(seconds: float) -> Said:
    """What is left of a work time, to the safe side."""
    return _span(time_left_down(Q(max(0.0, seconds), "second")))


def at_least(seconds: float) -> Said:
    """A time that must not be told shorter: an age, how late it is, what is waited for."""
    return _span(span_up(Q(max(0.0, seconds), "second")))


def at_most(seconds: float) -> Said:
    """A time that must not be told longer: what is left before something falls due."""
    return _span(span_down(Q(max(0.0, seconds), "second")))


def as_set(seconds: float) -> Said:
    """A time as somebody has set it, to the second."""
    return _span(Q(seconds, "second"), exact=True)


def plain_length(seconds: float) -> Said:
    """A time that was rounded to its safe side already, or has none: to the nearest."""
    return _span(Q(seconds, "second"))


def _span(time: Quantity, exact: bool = False) -> Said:
    return Said(written_duration(time, exact), spoken_duration(time, exact))


def past_limit(job: Job, limit: OutOfLimits, stage: Stage, units: str) -> Said:
    """What a temperature past the card's limit means for a clock, and what to do."""
    at = Said(
        written_temperature(limit.limit, units, DECIMALS),
        spoken_temperature(limit.limit, units, DECIMALS),
    )
    if limit.too_cold and stage != WORK:
        return Said(
            f"Too cold for {job.started.name}: its cure counts for nothing below {at.written}. "
            "Warm the joint, and tell the new temperature.",
            f"Too cold for {job.started.spoken_name}. Its cure counts for nothing below "
            f"{at.spoken}. Warm the joint, and tell the new temperature.",
        )
    if limit.too_cold:
        return both("")
    if stage == WORK:
        return Said(
            f"Hotter than the card of {job.started.name} allows ({at.written}): no work time is "
            "known. Close the panel at once, or clean the adhesive off.",
            f"Hotter than the card of {job.started.spoken_name} allows. No work time is known. "
            "Close the panel at once, or clean the adhesive off.",
        )
    return Said(
        f"Hotter than the card of {job.started.name} allows ({at.written}): let it cool; the clock "
        "runs as at that limit.",
        f"Hotter than the card of {job.started.spoken_name} allows. Let it cool. The clock runs "
        "as at the limit.",
    )


def limit_notes(job: Job, units: str) -> tuple[Said, ...]:
    """What there is to say of the last temperature, each thing once."""
    notes: list[Said] = []
    for stage, clock in job.clocks.items():
        if clock.limit is None or (stage == WORK and job.closed):
            continue
        note = past_limit(job, clock.limit, stage, units)
        if note.written and note not in notes:
            notes.append(note)
    return tuple(notes)


def next_ends(job: Job, at: float, now: datetime, units: str) -> Said:
    """When the running clocks of a job end: the work time, and the next thing waited for."""
    said = both("")
    if not job.closed and WORK in job.clocks:
        end, limit = job.clocks[WORK].end, job.clocks[WORK].limit
        if limit is not None and not limit.too_cold:
            pass  # no time may be given: limit_notes says what to do
        elif end <= at:
            said += Said(" Work time is over.", " Work time is over.")
        elif (until := moment(end, at, now, units, up=False)) is not None:
            left = time_left(end - at)
            said += Said(
                f" Work time ends at {until.written} (about {left.written}).".replace(".)", ")"),
                f" Work time ends at {until.spoken}, in about {left.spoken}.",
            )
    waiting = job.waiting()
    for stage in waiting[:1]:
        end = job.clocks[stage].end
        until = moment(end, at, now, units, up=True)
        if until is None:
            said += f" The {STAGE_NOUN[stage]} stands still."
        elif end <= at:
            said += f" {capital(allowed(stage))}."
        else:
            may = capital(allowed(stage))
            said += Said(
                full_stop(f" {may} at {until.written}"), full_stop(f" {may} at {until.spoken}")
            )
    return said


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


def full_stop(text: str) -> str:
    """With one full stop at its end: "until 3:10 p.m." has it already."""
    return text if text.endswith(".") else text + "."


def timer_name(timer: Timer) -> str:
    return timer.label or "timer"
