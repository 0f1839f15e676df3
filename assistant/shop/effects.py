"""What an order has brought about, in words: the effect is said, not only that it was heard."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from assistant.shop import events as kinds
from assistant.shop.events import JobStarted, Stage
from assistant.shop.journal import Event
from assistant.shop.stage_clock import WORK
from assistant.shop.state import WHOLE_SHOP, Job, State
from assistant.shop.wording import (
    MARK_DONE,
    MATERIAL_NOUN,
    Said,
    as_set,
    at_least,
    at_most,
    bay_name,
    both,
    capital,
    full_stop,
    limit_notes,
    moment,
    next_ends,
    temperature,
)
from assistant.units import Q

MATTERS_SECONDS, MATTERS_SHARE = 60.0, 0.05
"""An end that moves by more than both this time and this share of what was left is told.
Our own choice: less changes nobody's plan."""

CAUTIONS = (
    "The vehicle maker's repair procedure and the product's data sheet come before these clocks.",
    "Go by the temperature of the metal at the joint, not of the air.",
)

EARLY_CAUTION = "Put no load on it, and look at it again before it goes on."


@dataclass(frozen=True)
class Effect:
    """What was done. said: for screen and ear. figures: name -> value behind the words."""

    said: Said
    events: tuple[Event, ...] = ()
    figures: Mapping[str, Any] = field(default_factory=dict)
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True)
class Change:
    """The shop before and after some events, at one moment. at: shop time. now: local time."""

    before: State
    after: State
    events: tuple[Event, ...]
    at: float
    now: datetime
    units: str

    def job(self, number: int) -> Job:
        return next(job for bay in self.after.bays.values() for job in bay.jobs if job.id == number)


def _undo_hint(bay: int) -> Said:
    inside = bay_name(bay).inside
    return Said(
        f" Undo: clampcall bays undo {bay or ''}".rstrip() + ".",
        f" Say undo {inside.spoken} to take it back.",
    )


def _invented(started: JobStarted) -> Said:
    if not started.invented:
        return both("")
    return Said(" The product is an invented one.", " That product is invented.")


def started(change: Change) -> Effect:
    """A job has begun."""
    job = change.job(change.events[0].id)
    return Effect(
        _job_line(change, job) + _invented(job.started) + _undo_hint(job.bay),
        change.events,
        figures(job, change.at),
    )


def _job_line(change: Change, job: Job) -> Said:
    units, name = change.units, bay_name(job.bay)
    at = temperature(job.last_reading.celsius, units)
    noun = MATERIAL_NOUN[job.material]
    ago = change.at - job.start_at
    since = both("")
    if ago >= 1:
        span = at_least(ago)
        since = Said(f", on for {span.written}", f", on for {span.spoken}")
    line = Said(
        f"{name.written}: the {noun} clock runs, {job.started.name} at "
        f"{at.written}{since.written}.",
        f"{name.spoken}: the {noun} clock runs, {job.started.spoken_name} at "
        f"{at.spoken}{since.spoken}.",
    )
    line += next_ends(job, change.at, change.now, units)
    for note in limit_notes(job, units):
        line += both(" ") + note
    return line


def temperature_read(change: Change, bay: int) -> Effect:
    """A new temperature, and what it moves."""
    units, name = change.units, bay_name(bay)
    jobs = change.after.bay(bay).running
    at = temperature(jobs[-1].last_reading.celsius, units)
    said = Said(f"{name.written} is at {at.written}.", f"{name.spoken} is at {at.spoken}.")
    found: dict[str, Any] = {}
    for job in jobs:
        if len(jobs) > 1:
            said += f" {MATERIAL_NOUN[job.material].capitalize()}:"
        said += next_ends(job, change.at, change.now, units)
        for note in limit_notes(job, units):
            said += both(" ") + note
        found |= figures(job, change.at)
    return Effect(said + _undo_hint(bay), change.events, found)


def marked(change: Change) -> Effect:
    """A step was done."""
    payload = change.events[0].payload
    assert isinstance(payload, kinds.StageMarked)
    job = change.job(payload.job)
    name, done = bay_name(job.bay), MARK_DONE[payload.mark]
    said = Said(f"{name.written}: {done}.", f"{name.spoken}: {done}.")
    cautions: tuple[str, ...] = CAUTIONS
    before = next((j for j in change.before.bay(job.bay).running if j.id == job.id), None)
    work = job.clocks.get(WORK)
    if before is not None and not before.closed and job.closed and work and work.over(change.at):
        late = at_least(change.at - work.end)
        material = job.material
        advice = (
            "If the panel went on after that, take it off, clean off the adhesive and lay a new "
            "bead."
            if material == "adhesive"
            else "What was still worked after that comes off."
        )
        said += Said(
            f" The work time was over {late.written} before. {advice}",
            f" The work time was over {late.spoken} before. {advice}",
        )
    if payload.early:
        cautions = (EARLY_CAUTION, *cautions)
        said += f" Early! {EARLY_CAUTION}"
    if job.running:
        said += next_ends(job, change.at, change.now, change.units)
    return Effect(said + _undo_hint(job.bay), change.events, figures(job, change.at), cautions)


def timer_started(change: Change) -> Effect:
    """A plain timer runs."""
    event = change.events[0]
    payload = event.payload
    assert isinstance(payload, kinds.TimerStarted)
    number = payload.bay or WHOLE_SHOP
    name = bay_name(number)
    span = as_set(payload.seconds)
    until = moment(change.at + payload.seconds, change.at, change.now, change.units, up=False)
    label = f", {payload.label}" if payload.label else ""
    said = Said(
        f"{name.written}{label}: timer of {span.written} runs, until {until.written}",
        f"{name.spoken}{label}: a timer of {span.spoken} runs, until {until.spoken}",
    )
    said = Said(full_stop(said.written), full_stop(said.spoken))
    return Effect(
        said + _undo_hint(number),
        change.events,
        {"timer": event.id, "time": Q(payload.seconds, "second")},
        (),
    )


def timer_changed(change: Change, word: str) -> Effect:
    """A timer was paused, resumed or cancelled."""
    payload = change.events[0].payload
    number = payload.bay or WHOLE_SHOP
    target = getattr(payload, "timer", None) or payload.target
    timer = next(t for t in change.before.bay(number).timers if t.id == target)
    name, label = bay_name(number), f", {timer.label}" if timer.label else ""
    left = at_most(timer.left if timer.paused else timer.due - change.at)
    tail = "" if word == "cancelled" else f", {left.written} left"
    tail_spoken = "" if word == "cancelled" else f", {left.spoken} left"
    said = Said(
        f"{name.written}{label}: timer {word}{tail}.",
        f"{name.spoken}{label}: the timer is {word}{tail_spoken}.",
    )
    return Effect(said + _undo_hint(number), change.events, {"timer": timer.id}, ())


def cancelled(change: Change) -> Effect:
    """A job was given up (or a timer, where no job ran)."""
    payload = change.events[0].payload
    assert isinstance(payload, kinds.Cancelled)
    number = payload.bay or WHOLE_SHOP
    if any(timer.id == payload.target for timer in change.before.bay(number).timers):
        return timer_changed(change, "cancelled")
    job = change.job(payload.target)
    name, noun = bay_name(number), MATERIAL_NOUN[job.material]
    said = Said(
        f"{name.written}: the {noun} clock is cancelled. Nothing more is said about it.",
        f"{name.spoken}: the {noun} clock is cancelled. Nothing more is said about it.",
    )
    return Effect(said + _undo_hint(number), change.events, {"job": job.id})


def corrected(change: Change, bay: int) -> Effect:
    """The running job with what was wrong set right."""
    target = change.events[0].payload.target
    jobs = change.after.bay(bay).running
    job = next((j for j in jobs if j.id == target), jobs[-1])
    said = Said("Corrected. ", "Corrected. ") + _job_line(change, job) + _invented(job.started)
    return Effect(said + _undo_hint(bay), change.events, figures(job, change.at))


def undone(change: Change) -> Effect:
    """What was taken back, and how the bay stands now."""
    payload = change.events[0].payload
    assert isinstance(payload, kinds.Undone)
    number = payload.bay or WHOLE_SHOP
    entry = change.before.bay(number).entry(payload.target)
    name = bay_name(number)
    what = _told(entry.payload, change.units)
    said = Said(
        f"{name.written}: taken back: {what.written}.", f"{name.spoken}. Taken back: {what.spoken}."
    )
    running = change.after.bay(number).running
    for job in running:
        noun = MATERIAL_NOUN[job.material]
        said += f" The {noun} clock runs."
        said += next_ends(job, change.at, change.now, change.units)
    if not running:
        said += " Nothing runs there now." if number else ""
    return Effect(said, change.events, {"undone": payload.target})


def _told(payload: kinds.Payload, units: str) -> Said:
    """What an event had said, for taking it back."""
    match payload:
        case JobStarted():
            return Said(
                f"{MATERIAL_NOUN[payload.material]} of {payload.name}",
                f"the {MATERIAL_NOUN[payload.material]} of {payload.spoken_name}",
            )
        case kinds.TemperatureRead():
            return temperature(payload.celsius, units)
        case kinds.StageMarked():
            return both(MARK_DONE[payload.mark])
        case kinds.TimerStarted():
            return both(f"the timer {payload.label}" if payload.label else "the timer")
        case kinds.Cancelled():
            return both("the cancelling")
        case kinds.Corrected():
            return both("the correction")
        case kinds.TimerPaused() | kinds.TimerResumed():
            return both("the pause" if isinstance(payload, kinds.TimerPaused) else "the going on")
    return both("the last order")


def figures(job: Job, at: float) -> dict[str, Any]:
    """The exact figures behind what is said of a job."""
    found: dict[str, Any] = {
        "bay": job.bay,
        "job": job.id,
        "product": job.started.product,
        "temperature": Q(job.last_reading.celsius, "degC"),
    }
    for stage, clock in job.clocks.items():
        found[f"{stage}_share"] = clock.share(at)
        if clock.end != float("inf"):
            found[f"{stage}_left"] = Q(max(0.0, clock.end - at), "second")
    return found


def moved_ends(before: Sequence[Job], after: Sequence[Job], at: float) -> list[tuple[Job, Stage]]:
    """The clocks whose end a reading has moved by enough to be told, most pressing first."""
    old = {job.id: job for job in before}
    found = []
    for job in after:
        if job.id not in old:
            continue
        stages = (() if job.closed or WORK not in job.clocks else (WORK,)) + job.waiting()
        for stage in stages:
            was, now = old[job.id].clocks[stage].end, job.clocks[stage].end
            if was == now:
                continue
            left = abs(was - at) if was != float("inf") else 0.0
            if abs(now - was) >= max(MATTERS_SECONDS, MATTERS_SHARE * left):
                found.append((job, stage))
    return found


def status(state: State, at: float, now: datetime, units: str, bay: int | None = None) -> Effect:
    """How a bay stands, or all of them."""
    if bay is not None:
        return _bay_status(state, at, now, units, bay)
    numbers = [n for n in sorted(state.bays) if state.bays[n].running or _live(state, n, at)]
    if not numbers:
        return Effect(both("No clock runs in any bay."), cautions=())
    said = both("")
    found: dict[str, Any] = {"bays": len(numbers)}
    for number in numbers:
        one = _bay_status(state, at, now, units, number)
        said = said + (both(" ") if said.written else both("")) + one.said
    return Effect(said, figures=found)


def _live(state: State, number: int, at: float):
    return [t for t in state.bay(number).timers if t.paused or t.due > at]


def _bay_status(state: State, at: float, now: datetime, units: str, bay: int) -> Effect:
    name, there = bay_name(bay), state.bay(bay)
    said = Said(f"{name.written}:", f"{name.spoken}:")
    found: dict[str, Any] = {"bay": bay}
    for job in there.running:
        reading = temperature(job.last_reading.celsius, units)
        said += Said(
            f" {job.started.name} at {reading.written}.",
            f" {capital(job.started.spoken_name)} at {reading.spoken}.",
        )
        said += next_ends(job, at, now, units)
        for note in limit_notes(job, units):
            said += both(" ") + note
        found |= figures(job, at)
    for timer in _live(state, bay, at):
        left = at_most(timer.left if timer.paused else timer.due - at)
        label = timer.label or "timer"
        state_word = "paused, " if timer.paused else ""
        said += Said(
            f" {label.capitalize()}: {state_word}{left.written} left.",
            f" {label.capitalize()}: {state_word}{left.spoken} left.",
        )
    if not (there.running or _live(state, bay, at)):
        said += " nothing runs there."
        return Effect(said, figures=found, cautions=())
    return Effect(said, figures=found)
