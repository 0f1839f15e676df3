"""The state of the shop: a fold over the journal's events, and nothing else.

    state = fold(State(), journal.events())

A bay is the list of its events that still count; jobs, timers and clocks are read from that
list. So a correction or an undoing is an event like any other, and the clocks come out as if
the wrong thing had never been said, while the journal keeps it.

What hands may do with a job, and when (MARKS): each material has its steps in order; a step
may end the work time (``closes``) or need a stage to be over (``needs``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from assistant.shop import events as kinds
from assistant.shop.events import (
    JobStarted,
    Mark,
    Material,
    Payload,
    Stage,
    TemperatureRead,
    TimerStarted,
)
from assistant.shop.journal import Event
from assistant.shop.stage_clock import WORK, StageClock
from assistant.shop.timekeeping import MICROSECONDS, ClockReading, Passed, Timeline

WHOLE_SHOP = 0
"""The number under which timers without a bay stand."""


@dataclass(frozen=True)
class Step:
    """One thing that hands do. closes: it ends the work time. needs: the stage that must be
    over before it."""

    mark: Mark
    closes: bool = False
    needs: Stage | None = None


STEPS: Mapping[Material, tuple[Step, ...]] = {
    "adhesive": (
        Step("closed", closes=True),
        Step("clamps_off", closes=True, needs="clamp"),
        Step("sanded", needs="sand"),
        Step("done", needs="full_cure"),
    ),
    "filler": (
        Step("closed", closes=True),
        Step("sanded", closes=True, needs="sand"),
        Step("done", needs="sand"),
    ),
    "sealer": (
        Step("closed", closes=True),
        Step("painted", closes=True, needs="paint"),
        Step("done", needs="full_cure"),
    ),
    "foam": (
        Step("closed", closes=True),
        Step("trimmed", closes=True, needs="trim"),
        Step("done", needs="full_cure"),
    ),
    "primer": (
        Step("closed", closes=True),
        Step("sanded", closes=True, needs="sand"),
        Step("done", needs="sand"),
    ),
}
"""The steps of each material, in order. A step may be left out; none goes backwards."""

WAITS: Mapping[Material, tuple[Stage, ...]] = {
    "adhesive": ("clamp", "sand", "full_cure"),
    "filler": ("sand",),
    "sealer": ("paint", "full_cure"),
    "foam": ("trim", "full_cure"),
    "primer": ("flash", "sand"),
}
"""The stages that are waited for, in order."""


@dataclass(frozen=True)
class Entry:
    """An event that still counts. at: shop time, seconds."""

    id: int
    at: float
    payload: Payload


@dataclass(frozen=True)
class Reading:
    """A temperature of the metal that a job's clocks use."""

    id: int
    at: float
    celsius: float
    source: str


@dataclass(frozen=True)
class Marked:
    """A step that was done."""

    id: int
    at: float
    mark: Mark
    early: bool


@dataclass(frozen=True)
class Job:
    """One material in one bay, from when it went on.

    id: number of the event that started it. start_at: shop time. ended: "done", "cancelled",
    "replaced" by the next of the same material, or empty.
    """

    id: int
    said_at: float
    start_at: float
    started: JobStarted
    readings: tuple[Reading, ...]
    marks: tuple[Marked, ...] = ()
    ended: str = ""

    @property
    def running(self) -> bool:
        return not self.ended

    @property
    def material(self) -> Material:
        return self.started.material

    @property
    def bay(self) -> int:
        return self.started.bay

    @property
    def last_reading(self) -> Reading:
        return self.readings[-1]

    @property
    def steps(self) -> tuple[Step, ...]:
        return STEPS[self.material]

    @cached_property
    def clocks(self) -> Mapping[Stage, StageClock]:
        """Every chemical clock of this job, the work time first."""
        times = tuple(reading.at for reading in self.readings)
        celsius = tuple(reading.celsius for reading in self.readings)
        order = (WORK, *WAITS[self.material])
        return {
            stage: StageClock(stage, self.started.tables[stage], times, celsius)
            for stage in order
            if stage in self.started.tables
        }

    @property
    def done_steps(self) -> int:
        """How many steps of the order are behind: up to the furthest one marked."""
        order = [step.mark for step in self.steps]
        return max((order.index(marked.mark) + 1 for marked in self.marks), default=0)

    @property
    def open_steps(self) -> tuple[Step, ...]:
        return self.steps[self.done_steps :]

    @property
    def closed(self) -> bool:
        """The work time does not matter any more."""
        return any(step.closes for step in self.steps[: self.done_steps])

    def waiting(self) -> tuple[Stage, ...]:
        """The stages whose end somebody still waits for."""
        behind = {step.needs for step in self.steps[: self.done_steps] if step.needs}
        stages = [stage for stage in WAITS[self.material] if stage in self.clocks]
        last = max((stages.index(stage) + 1 for stage in behind if stage in stages), default=0)
        return tuple(stages[last:])


@dataclass(frozen=True)
class Timer:
    """A plain timer. It runs while ``due`` is set; paused, ``left`` seconds remain."""

    id: int
    bay: int
    label: str | None
    seconds: float
    set_at: float
    due: float | None
    left: float = 0.0
    ended: bool = False

    @property
    def paused(self) -> bool:
        return self.due is None


@dataclass(frozen=True)
class Bay:
    """One bay: its events that still count, oldest first."""

    number: int
    entries: tuple[Entry, ...] = ()

    @cached_property
    def jobs(self) -> tuple[Job, ...]:
        """Every job these events tell of, oldest first."""
        return _jobs(self.entries)

    @cached_property
    def running(self) -> tuple[Job, ...]:
        return tuple(job for job in self.jobs if job.running)

    @cached_property
    def timers(self) -> tuple[Timer, ...]:
        """Timers that are not cancelled, in the order they were set."""
        return tuple(timer for timer in _timers(self.entries) if not timer.ended)

    def entry(self, number: int) -> Entry | None:
        return next((entry for entry in self.entries if entry.id == number), None)


@dataclass(frozen=True)
class Said:
    """An announcement that was made. at: when last, shop time. count: how often."""

    at: float
    count: int = 1


@dataclass(frozen=True)
class ClockTrouble:
    """A jump of the clocks that the journal shows. seconds: of the step, or of the gap."""

    event: int
    at: float
    trouble: str
    seconds: float


@dataclass(frozen=True)
class QuietHours:
    """From and until when, minutes of the local day."""

    start: int
    end: int


MOST_TROUBLES = 8
MOST_SAID = 1000
"""Announcements that are remembered before those of jobs and timers that are gone are not."""


@dataclass(frozen=True)
class State:
    """All that the journal says about the shop up to event ``last_id``."""

    last_id: int = 0
    timeline: Timeline = field(default_factory=Timeline)
    bays: Mapping[int, Bay] = field(default_factory=dict)
    said: Mapping[str, Said] = field(default_factory=dict)
    begun: Mapping[str, float] = field(default_factory=dict)
    heard: Mapping[int, float] = field(default_factory=dict)
    quiet: QuietHours | None = None
    troubles: tuple[ClockTrouble, ...] = ()

    @property
    def at(self) -> float:
        """Shop time of the last event, seconds."""
        return self.timeline.at / MICROSECONDS

    def now(self, reading: ClockReading) -> float:
        """Shop time of a reading of the clocks, seconds."""
        return self.timeline.now(reading)

    def bay(self, number: int) -> Bay:
        return self.bays.get(number, Bay(number))

    @property
    def running(self) -> tuple[Job, ...]:
        """Every running job, by bay."""
        return tuple(job for n in sorted(self.bays) for job in self.bays[n].running)

    @property
    def timers(self) -> tuple[Timer, ...]:
        return tuple(timer for n in sorted(self.bays) for timer in self.bays[n].timers)


def fold(state: State, events: Iterable[Event]) -> State:
    """The state after these events."""
    for event in events:
        state = applied(state, event)
    return state


def applied(state: State, event: Event) -> State:
    """The state after one more event. Pure; an event of another room changes only the time."""
    timeline, gap = state.timeline.advanced(event.reading)
    at = timeline.at / MICROSECONDS
    changes: dict = {"last_id": event.id, "timeline": timeline}
    if gap.trouble:
        trouble = _trouble(event, at, gap)
        changes["troubles"] = (*state.troubles, trouble)[-MOST_TROUBLES:]
    payload = event.payload
    if isinstance(payload, _BAY_EVENTS):
        number = payload.bay if payload.bay is not None else WHOLE_SHOP
        bay = _with(state.bay(number), Entry(event.id, at, payload))
        changes["bays"] = {**state.bays, number: bay}
    elif isinstance(payload, kinds.AnnouncementMade):
        changes |= _said(state, payload, at)
    elif isinstance(payload, kinds.AnnouncementBegun):
        changes["begun"] = {**state.begun, payload.key: at}
    elif isinstance(payload, kinds.Acknowledged):
        bay_number = payload.bay
        if bay_number is None:
            changes["heard"] = {number: at for number in {*state.bays, *state.heard, WHOLE_SHOP}}
        else:
            changes["heard"] = {**state.heard, bay_number: at}
    elif isinstance(payload, kinds.QuietHoursSet):
        both = payload.start is not None and payload.end is not None
        changes["quiet"] = QuietHours(payload.start, payload.end) if both else None
    return replace(state, **changes)


_BAY_EVENTS = (
    kinds.JobStarted,
    kinds.TemperatureRead,
    kinds.StageMarked,
    kinds.TimerStarted,
    kinds.TimerPaused,
    kinds.TimerResumed,
    kinds.Cancelled,
    kinds.Corrected,
    kinds.Undone,
)


def _trouble(event: Event, at: float, gap: Passed) -> ClockTrouble:
    micros = gap.step if gap.trouble == "step" else gap.micros
    return ClockTrouble(event.id, at, gap.trouble, micros / MICROSECONDS)


def _said(state: State, made: kinds.AnnouncementMade, at: float) -> dict:
    said = dict(state.said)
    if len(said) > MOST_SAID:
        known = {str(entry.id) for bay in state.bays.values() for entry in bay.entries}
        known |= {str(trouble.event) for trouble in state.troubles}
        said = {key: one for key, one in said.items() if known & {*key.split("/")[:2]}}
    for key in (made.key, *made.covers):
        before = said.get(key)
        said[key] = Said(at, before.count + 1 if before else 1)
    begun = {key: when for key, when in state.begun.items() if key != made.key}
    return {"said": said, "begun": begun}


def _with(bay: Bay, entry: Entry) -> Bay:
    if isinstance(entry.payload, kinds.Undone):
        kept = tuple(e for e in bay.entries if e.id != entry.payload.target)
        return Bay(bay.number, kept)
    grown = Bay(bay.number, (*bay.entries, entry))
    if isinstance(entry.payload, JobStarted | TimerStarted):
        return _pruned(grown)
    return grown


KEPT_TIMERS = 20
"""Timers of one bay that are remembered, and all that were due within a day."""
DAY = 86400.0


def _pruned(bay: Bay) -> Bay:
    """Without what nobody can ask for any more: all but the last two jobs of each material,
    and all but the newest timers. So a bay's list does not grow with the years."""
    jobs = [job for job in bay.jobs]
    keep: set[int] = set()
    for material in {job.material for job in jobs}:
        keep |= {job.id for job in [job for job in jobs if job.material == material][-2:]}
    now = bay.entries[-1].at
    timers = _timers(bay.entries)
    keep |= {timer.id for timer in timers[-KEPT_TIMERS:]}
    keep |= {timer.id for timer in timers if timer.paused or timer.due > now - DAY}
    earliest = min((job.start_at for job in jobs if job.id in keep), default=0.0)

    def kept(entry: Entry) -> bool:
        match entry.payload:
            case JobStarted() | TimerStarted():
                return entry.id in keep
            case TemperatureRead():
                return entry.at >= earliest
            case kinds.StageMarked(job=target):
                return target in keep
            case kinds.TimerPaused(timer=target) | kinds.TimerResumed(timer=target):
                return target in keep
            case kinds.Cancelled(target=target):
                return target in keep
            case kinds.Corrected(target=target):
                return target in keep or any(
                    e.id == target and e.at >= earliest for e in bay.entries
                )
        return True

    return Bay(bay.number, tuple(entry for entry in bay.entries if kept(entry)))


def _jobs(entries: tuple[Entry, ...]) -> tuple[Job, ...]:
    corrected: dict[int, kinds.Corrected] = {}
    for entry in entries:
        if isinstance(entry.payload, kinds.Corrected):
            before = corrected.get(entry.payload.target)
            corrected[entry.payload.target] = (
                entry.payload
                if before is None
                else before.model_copy(
                    update={
                        k: v
                        for k, v in entry.payload
                        if k in ("celsius", "started") and v is not None
                    }
                )
            )
    temperatures = [
        Reading(e.id, e.at, _celsius(e, corrected), e.payload.source)
        for e in entries
        if isinstance(e.payload, TemperatureRead)
    ]
    jobs: list[Job] = []
    for entry in entries:
        match entry.payload:
            case JobStarted():
                correction = corrected.get(entry.id)
                started = entry.payload
                if correction is not None and correction.started is not None:
                    started = correction.started
                if correction is not None and correction.celsius is not None:
                    started = started.model_copy(update={"celsius": correction.celsius})
                jobs = [
                    replace(job, ended=job.ended or "replaced")
                    if job.material == started.material
                    else job
                    for job in jobs
                ]
                start_at = entry.at - started.ago
                first = Reading(entry.id, start_at, started.celsius, started.source)
                later = tuple(r for r in temperatures if r.at > start_at)
                jobs.append(Job(entry.id, entry.at, start_at, started, (first, *later)))
            case kinds.StageMarked(job=target, mark=mark, early=early):
                jobs = [
                    replace(
                        job,
                        marks=(*job.marks, Marked(entry.id, entry.at, mark, early)),
                        ended="done" if mark == "done" else job.ended,
                    )
                    if job.id == target
                    else job
                    for job in jobs
                ]
            case kinds.Cancelled(target=target):
                jobs = [
                    replace(job, ended=job.ended or "cancelled") if job.id == target else job
                    for job in jobs
                ]
    return tuple(jobs)


def _celsius(entry: Entry, corrected: Mapping[int, kinds.Corrected]) -> float:
    correction = corrected.get(entry.id)
    if correction is not None and correction.celsius is not None:
        return correction.celsius
    return entry.payload.celsius


def _timers(entries: tuple[Entry, ...]) -> list[Timer]:
    timers: dict[int, Timer] = {}
    for entry in entries:
        match entry.payload:
            case TimerStarted(bay=bay, seconds=seconds, label=label):
                timers[entry.id] = Timer(
                    entry.id, bay or WHOLE_SHOP, label, seconds, entry.at, entry.at + seconds
                )
            case kinds.TimerPaused(timer=target) if target in timers:
                timer = timers[target]
                if timer.due is not None:
                    left = max(0.0, timer.due - entry.at)
                    timers[target] = replace(timer, due=None, left=left)
            case kinds.TimerResumed(timer=target) if target in timers:
                timer = timers[target]
                if timer.due is None:
                    timers[target] = replace(timer, due=entry.at + timer.left, left=0.0)
            case kinds.Cancelled(target=target) if target in timers:
                timers[target] = replace(timers[target], ended=True)
    return list(timers.values())
