"""What is due to be said: a pure function of the state and the time.

Nothing is queued anywhere. At each moment ``outstanding`` names what is due and not yet said,
the most pressing first; whoever speaks takes the first of them, says it, and writes that
down. So nothing is lost or said twice when a program dies, two programs agree, and what
became untrue (a bay was clamped, a clock moved) is simply no longer there.

A waiting stage ("the clamps may come off") is due when its safe-side time has passed, never
before. The same announcement is due again when a colder reading has moved its moment to after
it was said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum

from assistant.shop.effects import moved_ends
from assistant.shop.events import Stage
from assistant.shop.stage_clock import WORK
from assistant.shop.state import ClockTrouble, Job, QuietHours, State, Timer
from assistant.shop.wording import (
    MATERIAL_NOUN,
    STAGE_NOUN,
    Said,
    allowed,
    as_set,
    at_least,
    bay_name,
    both,
    capital,
    full_stop,
    limit_notes,
    moment,
    plain_length,
    temperature,
    time_left,
)

MINUTE = 60.0


class Priority(IntEnum):
    """Smaller comes first."""

    CRITICAL = 0  # a bond is lost if it is not heard: said over quiet hours, and repeated
    URGENT = 1
    NORMAL = 2
    LOW = 3


LEFT_WARNINGS = (10 * MINUTE, 5 * MINUTE, 2 * MINUTE)
"""Work time left at which a warning is due."""

TOO_NEAR = 45.0
"""Seconds. Of two warnings closer than this only the later is said: one would run into the
other. Our own choice."""

MOVED_ON = 30.0
"""Seconds by which the moment must lie behind the last saying for it to be said again."""

REPEATS = ((5, MINUTE), (math.inf, 5 * MINUTE))
"""Unheard critical announcements: up to so many sayings every minute, then every five.
Our own choice."""

LATE = 15.0
"""Seconds after which an announcement is marked late: longer than another one takes to say.
Our own choice."""

STALE_READING = 2 * 3600.0
"""Seconds after which the age of the last temperature is told while a clock runs by it.
Our own choice: a shop's temperature is another one then."""

NEXT: dict[Stage, str] = {
    "clamp": "Look at the squeeze-out before you take them off, and put no full load on it.",
    "sand": "Wear a respirator, and draw the dust off.",
    "full_cure": "Say it is done to end its clock.",
    "paint": "Say painted when it is.",
    "trim": "Cut it, never burn it off.",
    "flash": "Ventilate, and put the next coat on.",
}
"""What to do next, when a stage is over."""

CLOSE: dict[str, tuple[str, str]] = {
    "adhesive": (
        "Close the panel and clamp it.",
        "If the panel is not on, do not close it: clean the adhesive off and lay a new bead. If "
        "it is, say it is clamped.",
    ),
    "filler": ("Finish spreading.", "Do not spread on: what drags comes off."),
    "sealer": ("Finish tooling.", "Do not tool it any more."),
    "foam": ("Finish pouring.", "Do not pour on: it does not flow any more."),
    "primer": ("Finish the coat.", "Do not spray what is left: clean the gun."),
}
"""What to do before the work time is over, and after."""


@dataclass(frozen=True)
class Announcement:
    """One thing to be said. key: names it in the journal. due: shop time. covers: keys that
    need not be said beside it. again: how often it has been said. broken: it was begun once
    and never finished, so a part of it may have been heard."""

    key: str
    bay: int
    priority: Priority
    due: float
    job: Job | None = None
    stage: Stage | None = None
    what: str = ""
    timer: Timer | None = None
    trouble: ClockTrouble | None = None
    repeats: bool = False
    covers: tuple[str, ...] = ()
    again: int = 0
    broken: bool = False

    def late(self, at: float) -> float:
        """Seconds since it was due."""
        return max(0.0, at - self.due)

    def marked_late(self, at: float) -> bool:
        """Whether its words say how late it is. A repetition is not late, it is a repetition."""
        return not self.again and (self.broken or self.late(at) > LATE)


def work_warnings(job: Job) -> list[tuple[str, float]]:
    """Names and moments of the warnings of a work time, in order: "half", "10", "5", "2",
    "gone". Those that would lie before the start, or run into the next, are left out."""
    clock = job.clocks[WORK]
    moments = [("half", clock.when(0.5))]
    for left in LEFT_WARNINGS:
        moments.append((f"{left / MINUTE:.0f}", clock.end - left))
    moments = sorted((m for m in moments if m[1] > job.start_at), key=lambda m: m[1])
    moments.append(("gone", clock.end))
    return [
        (name, due)
        for i, (name, due) in enumerate(moments)
        if i + 1 == len(moments) or moments[i + 1][1] - due >= TOO_NEAR
    ]


def _of_job(job: Job) -> Iterator[Announcement]:
    """Every announcement that a job has as things stand, due or not."""
    if not job.closed and WORK in job.clocks:
        names = []
        for name, due in work_warnings(job):
            critical = name in ("gone", "2")
            yield Announcement(
                f"{job.id}/work/{name}",
                job.bay,
                Priority.CRITICAL if critical else Priority.URGENT,
                due,
                job,
                WORK,
                name,
                repeats=name == "gone",
                covers=tuple(names),
            )
            names.append(f"{job.id}/work/{name}")
    for stage in job.waiting():
        end = job.clocks[stage].end
        if math.isfinite(end):
            clamps = stage == "clamp"
            yield Announcement(
                f"{job.id}/{stage}",
                job.bay,
                Priority.NORMAL if clamps else Priority.LOW,
                end,
                job,
                stage,
                "over",
            )


def _moved(job: Job) -> Iterator[Announcement]:
    """A change that matters, by the last reading of a sensor or a typed one. Who said it by
    voice has had the effect in the answer."""
    last = job.last_reading
    if last.id == job.id or last.source not in ("feed", "command", "screen"):
        return
    before = replace(job, readings=job.readings[:-1])
    moved = moved_ends([before], [job], last.at)
    if not moved:
        return
    stands = any(not math.isfinite(job.clocks[stage].end) for _, stage in moved)
    hot = any(stage == WORK and job.clocks[WORK].limit for _, stage in moved)
    yield Announcement(
        f"{job.id}/moved/{last.id}",
        job.bay,
        Priority.CRITICAL if hot else Priority.URGENT if stands else Priority.NORMAL,
        last.at,
        job,
        moved[0][1],
        "moved",
    )


def _of_timer(timer: Timer) -> Iterator[Announcement]:
    if timer.due is not None:
        yield Announcement(
            f"{timer.id}/timer", timer.bay, Priority.URGENT, timer.due, timer=timer, repeats=True
        )


def _stale(job: Job) -> Iterator[Announcement]:
    if job.waiting() or not job.closed:
        last = job.last_reading
        yield Announcement(
            f"{job.id}/reading/{last.id}",
            job.bay,
            Priority.LOW,
            last.at + STALE_READING,
            job,
            what="stale",
        )


def agenda(job: Job) -> tuple[Announcement, ...]:
    """Every announcement of a job as things stand, due or not.

    Kept with the job, which never changes: a watch asks several times a second.
    """
    kept = job.__dict__.get(_AGENDA)
    if kept is None:
        kept = (*_of_job(job), *_moved(job), *_stale(job))
        job.__dict__[_AGENDA] = kept
    return kept


_AGENDA = "announcements.agenda"


def _all(state: State) -> Iterator[Announcement]:
    for job in state.running:
        yield from agenda(job)
    for timer in state.timers:
        yield from _of_timer(timer)
    if state.running or any(timer.due is not None for timer in state.timers):
        for trouble in state.troubles:
            key = f"clock/{trouble.event}"
            yield Announcement(key, 0, Priority.URGENT, trouble.at, trouble=trouble)


def outstanding(state: State, at: float) -> tuple[Announcement, ...]:
    """What is due at this moment of shop time and not said, the most pressing first.

    Of several warnings of one work time only the last is there; it covers the others.
    """
    found: list[Announcement] = []
    for one in _all(state):
        if one.due > at:
            continue
        said = state.said.get(one.key)
        if said is not None and said.at >= one.due - MOVED_ON:
            if not one.repeats or _heard(state, one):
                continue
            pause = next(pause for most, pause in REPEATS if said.count <= most)
            if at < said.at + pause:
                continue
            one = replace(one, due=said.at + pause, again=said.count)
        found.append(replace(one, broken=one.key in state.begun))
    found = _only_the_last_warning(found, state)
    return tuple(sorted(found, key=lambda one: (one.priority, one.due, one.key)))


def _heard(state: State, one: Announcement) -> bool:
    """A person has acknowledged the bay since this was due."""
    return state.heard.get(one.bay, -math.inf) >= one.due


def _only_the_last_warning(found: list[Announcement], state: State) -> list[Announcement]:
    covered = {key for one in found for key in one.covers}
    kept = []
    for one in found:
        if one.key in covered:
            continue
        covers = tuple(key for key in one.covers if key not in state.said)
        kept.append(replace(one, covers=covers))
    return kept


def is_quiet(quiet: QuietHours | None, now: datetime) -> bool:
    """Whether local time lies in the quiet hours; they may span midnight."""
    if quiet is None:
        return False
    minute = now.hour * 60 + now.minute
    if quiet.start < quiet.end:
        return quiet.start <= minute < quiet.end
    return minute >= quiet.start or minute < quiet.end


def may_be_said(one: Announcement, quiet: QuietHours | None, now: datetime) -> bool:
    """In quiet hours only the critical; the rest waits, and is said late."""
    return one.priority == Priority.CRITICAL or not is_quiet(quiet, now)


def words(one: Announcement, at: float, now: datetime, units: str) -> Said:
    """The announcement in words: bay, stage, what to do next; and how late it is."""
    said = _words(one, at, now, units)
    if one.again:
        ask = both(" Say heard, to stop this.") if one.again > 1 else both("")
        return both("Again. ") + said + ask
    if one.marked_late(at):
        how = at_least(one.late(at))
        late = one.late(at) > LATE
        lead = Said(f"Late by {how.written}. ", f"Late by {how.spoken}. ")
        return (lead if late else both("Late, once more. ")) + said
    return said


def _words(one: Announcement, at: float, now: datetime, units: str) -> Said:
    name = bay_name(one.bay)
    start = Said(f"{name.written}: ", f"{name.spoken}: ")
    if one.trouble is not None:
        return _trouble(one.trouble, now)
    if one.timer is not None:
        span = as_set(one.timer.seconds)
        label = f"{one.timer.label}. " if one.timer.label else ""
        return start + Said(
            f"{label}The timer of {span.written} is over.",
            f"{label}The timer of {span.spoken} is over.",
        )
    job = one.job
    assert job is not None
    if one.what == "stale":
        age = at_least(at - job.last_reading.at)
        last = temperature(job.last_reading.celsius, units)
        return start + Said(
            f"the last temperature, {last.written}, is {age.written} old. Measure the metal again.",
            f"the last temperature, {last.spoken}, is {age.spoken} old. Measure the metal again.",
        )
    if one.what == "moved":
        return start + _moved_words(one, job, at, now, units)
    if one.stage == WORK:
        return start + _work_words(one, job, at)
    stage = one.stage
    assert stage is not None
    product = Said(job.started.name, job.started.spoken_name)
    return start + Said(
        f"the {STAGE_NOUN[stage]} of {product.written} is over, {allowed(stage)}. {NEXT[stage]}",
        f"the {STAGE_NOUN[stage]} of {product.spoken} is over, {allowed(stage)}. {NEXT[stage]}",
    )


def _work_words(one: Announcement, job: Job, at: float) -> Said:
    before, after = CLOSE[job.material]
    left = job.clocks[WORK].end - at
    noun = MATERIAL_NOUN[job.material]
    if left <= 0:
        return both(f"the work time of the {noun} is over. {after}")
    rest = time_left(left)
    if one.what == "half":
        return Said(
            f"half the work time of the {noun} is gone, about {rest.written} left. {before}",
            f"half the work time of the {noun} is gone, about {rest.spoken} left. {before}",
        )
    return Said(
        f"{rest.written} of work time left. {before}",
        f"{rest.spoken} of work time left. {before}",
    )


def _moved_words(one: Announcement, job: Job, at: float, now: datetime, units: str) -> Said:
    reading = temperature(job.last_reading.celsius, units)
    said = Said(f"the metal is at {reading.written} now.", f"the metal is at {reading.spoken} now.")
    for note in limit_notes(job, units):
        said += both(" ") + note
    stage = one.stage
    assert stage is not None
    end = job.clocks[stage].end
    until = moment(end, at, now, units, up=stage != WORK)
    if until is None or job.clocks[stage].limit is not None:
        return said
    if stage == WORK:
        return said + Said(
            full_stop(f" The work time ends at {until.written}"),
            full_stop(f" The work time ends at {until.spoken}"),
        )
    may = capital(allowed(stage))
    if end <= at:
        return said + f" {may}."
    if stage == "clamp":
        return said + Said(
            full_stop(f" The clamps stay on until {until.written}"),
            full_stop(f" The clamps stay on until {until.spoken}"),
        )
    return said + Said(
        full_stop(f" {may} at {until.written}"), full_stop(f" {may} at {until.spoken}")
    )


def _trouble(trouble: ClockTrouble, now: datetime) -> Said:
    span = plain_length(abs(trouble.seconds))
    if trouble.trouble == "step":
        way = "forward" if trouble.seconds > 0 else "back"
        return Said(
            f"The clock of this computer was set {way} by {span.written}. The bays' clocks go on "
            "as they were.",
            f"The clock of this computer was set {way} by {span.spoken}. The bays' clocks go on "
            "as they were.",
        )
    if trouble.trouble == "restart":
        return Said(
            f"The computer was started anew, after {span.written} without a record. The bays' "
            "clocks counted on by the time of day.",
            f"The computer was started anew, after {span.spoken} without a record. The bays' "
            "clocks counted on by the time of day.",
        )
    return both(
        "The computer was started anew and its time of day was wrong, so nobody knows how long it "
        "was off. Waiting times may run too long. Take no work time from here: look at each bay."
    )
