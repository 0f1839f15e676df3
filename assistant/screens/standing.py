"""How each bay stands, as the wall shows it and as it is read aloud.

Pure: the shop's state and a moment in, ``Standing`` out, the most pressing bay first. The
same record gives the large digits, the short words and the sentence for the ear, so that
nothing on the wall is there for the eye alone. Times are on the safe side: what is left of a
work time or a timer is cut to the second or minute below; what is waited for, how late it is
and how old a reading is, are raised to the one above.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import IntEnum

from assistant.shop.announcements import CLOSE, LEFT_WARNINGS, NEXT, STALE_READING
from assistant.shop.events import Stage
from assistant.shop.stage_clock import WORK
from assistant.shop.state import WHOLE_SHOP, Job, State, Timer
from assistant.shop.wording import (
    MARK_DONE,
    MATERIAL_NOUN,
    STAGE_NOUN,
    Said,
    allowed,
    at_least,
    bay_name,
    both,
    capital,
    full_stop,
    limit_notes,
    moment,
    plain_length,
    temperature,
)

NOTHING = both("")

MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0

CLOSE_NOW, CLOSE_SOON = LEFT_WARNINGS[-1], LEFT_WARNINGS[-2]
"""Work time left, seconds: the last two of the spoken warnings."""

COARSE = 10 * HOUR
"""From here on minutes are left out: nobody stands waiting for them. Our own choice."""


class Urgency(IntEnum):
    """Smaller comes first on the wall."""

    LATE = 0  # hands should have been there already
    CRITICAL = 1  # a bond is lost within minutes
    SOON = 2
    HELD_UP = 3  # a clock that stands still, until somebody warms the joint
    READY = 4  # a wait is over
    RUNNING = 5
    RESTING = 6  # nothing is waited for any more


TIMER = "timer"
"""``share_of`` of a plain timer."""

FALLS_DUE = (STAGE_NOUN[WORK], TIMER)
"""Clocks by whose end hands must be there: what is left of them is never shown longer."""

SHORT_AFTER: Mapping[str, str] = {
    "adhesive": "Panel not on? Clean off, lay a new bead. On? Say it is clamped.",
}
"""``announcements.CLOSE`` in fewer words, where a tile has no room for all of them."""


@dataclass(frozen=True)
class Standing:
    """One clock of a bay, with what hands should do about it.

    bay: its number, 0 for the whole shop. headline: what it is, in capitals on the wall.
    digits: what is left, as the large digits show it; "-" before it says how late it is.
    counts: "left", "late", "over" (a wait that has ended) or "unknown". share: of the clock,
    0 to 1, None where it has none. share_of: which clock. until: when it ends or ended.
    moment: the same in shop time. metal: its last temperature; metal_age: seconds since that
    was read. then: what to do next. more: the bay's other clocks, a few words each.
    job: whose clock it is, None for a plain timer.
    """

    bay: int
    urgency: Urgency
    headline: Said
    digits: str
    counts: str
    left: float
    moment: float
    share: float | None = None
    share_of: str = ""
    until: Said = NOTHING
    what: Said = NOTHING
    metal: Said = NOTHING
    metal_age: float = 0.0
    then: Said = NOTHING
    notes: tuple[Said, ...] = ()
    more: tuple[Said, ...] = ()
    job: Job | None = None

    @property
    def name(self) -> str:
        """ "BAY 4"."""
        return bay_name(self.bay).written.upper()

    @property
    def calls(self) -> bool:
        """Whether hands are needed now."""
        return self.urgency < Urgency.READY

    @property
    def short_then(self) -> str:
        """What to do next, in few enough words for two lines of a tile."""
        if self.urgency == Urgency.LATE and self.job is not None:
            return SHORT_AFTER.get(self.job.material, self.then.written)
        return self.then.written

    @property
    def stale(self) -> bool:
        """Whether the metal should be measured again."""
        return bool(self.metal.written) and self.metal_age >= STALE_READING

    @property
    def metal_line(self) -> Said:
        """ "62 °F, read 4 min ago"; empty for a plain timer."""
        if not self.metal.written:
            return NOTHING
        if self.metal_age < MINUTE:
            age = both("just now")
        else:
            span = at_least(_stepped(self.metal_age, MINUTE, up=True))
            age = Said(f"{span.written} ago", f"{span.spoken} ago")
        again = " Measure again!" if self.stale else ""
        return Said(
            f"metal {self.metal.written}, read {age.written}{'.' if again else ''}{again}",
            f"the metal at {self.metal.spoken}, read {age.spoken}.{again}",
        )

    @property
    def share_line(self) -> str:
        """ "clamp time 62 % done"; empty where there is none."""
        if self.share is None:
            return ""
        word = "gone" if self.share_of == STAGE_NOUN[WORK] else "done"
        return f"{self.share_of} {percent(self.share)} % {word}"

    @property
    def left_line(self) -> Said:
        """ "12 min left", "3 min 10 s late"."""
        match self.counts:
            case "unknown":
                return both("no time can be given")
            case "over":
                return NOTHING
        shown = plain_length(worded_seconds(self.left, self.counts, self.share_of))
        word = "late" if self.counts == "late" else "left"
        return Said(f"{shown.written} {word}", f"{shown.spoken} {word}")

    @property
    def lines(self) -> tuple[Said, ...]:
        """All of it in words, a sentence each: for a screen reader, and to be read aloud."""
        name = bay_name(self.bay)
        first = Said(f"{name.written}: ", f"{name.spoken}: ") + self.headline
        if self.left_line.written:
            first += both(", ") + self.left_line
        if self.until.written:
            first += both(", ") + self.until
        found = [_sentence(first)]
        if self.what.written:
            found.append(_sentence(self.what))
        if self.share_line:
            spoken = self.share_line.replace(" %", " percent")
            found.append(_sentence(Said(self.share_line, spoken)))
        if self.metal_line.written:
            found.append(_sentence(self.metal_line))
        found += [_sentence(note) for note in self.notes]
        if self.then.written and not any(n.written.endswith(self.then.written) for n in self.notes):
            found.append(_sentence(self.then))
        for more in self.more:
            found.append(_sentence(both("Also ") + more))
        return tuple(found)

    @property
    def written(self) -> str:
        return " ".join(line.written for line in self.lines)

    @property
    def spoken(self) -> str:
        return " ".join(line.spoken for line in self.lines)


def percent(share: float) -> int:
    """Whole percent, cut: what is 99.9 % done is not done."""
    return min(100, max(0, math.floor(share * 100)))


def _sentence(said: Said) -> Said:
    written, spoken = said.written.strip(), said.spoken.strip()
    ends = ("!", "?", ".")
    return Said(
        capital(written if written.endswith(ends) else written + "."),
        capital(spoken if spoken.endswith(ends) else spoken + "."),
    )


# ------------------------------------------------------------------------------ figures


def shown_seconds(seconds: float, counts: str, share_of: str = "") -> float:
    """What the digits show of a time: cut for a work time and a timer, raised for a wait and
    for what is late; to the second below an hour (ten minutes when late), then to the minute,
    and from ``COARSE`` on to the hour."""
    late = ((10 * MINUTE, MINUTE),) if counts == "late" else ()
    return _coarser(seconds, counts, share_of, (*late, (HOUR, MINUTE), (COARSE, HOUR)))


def worded_seconds(seconds: float, counts: str, share_of: str = "") -> float:
    """What the words say of it: as the digits, but in the steps that durations are worded in,
    so that none is rounded to the other side."""
    return _coarser(
        seconds, counts, share_of, ((10 * MINUTE, MINUTE), (DAY, HOUR), (14 * DAY, DAY))
    )


def _coarser(
    seconds: float, counts: str, share_of: str, steps: Sequence[tuple[float, float]]
) -> float:
    """Cut or raised to the second, and from each limit on to the step beside it."""
    up = counts == "late" or share_of not in FALLS_DUE
    step = 1.0
    for limit, coarser in steps:
        # raising may reach the next step: 59:59.5 is one hour
        if _stepped(max(0.0, seconds), step, up) >= limit:
            step = coarser
    return _stepped(max(0.0, seconds), step, up)


def _stepped(seconds: float, step: float, up: bool) -> float:
    return (math.ceil if up else math.floor)(round(seconds / step, 6)) * step


def digits_of(seconds: float, counts: str, share_of: str = "") -> str:
    """At most five signs: "12:34", "3h35", "13h", "4d", "-3:10", "-12m"; "-:--" unknown."""
    if counts == "unknown":
        return "-:--"
    shown = shown_seconds(seconds, counts, share_of)
    sign = "-" if counts == "late" else ""
    if shown >= 100 * HOUR:
        days = (math.floor if not sign and share_of in FALLS_DUE else math.ceil)(shown / DAY)
        return f"{sign}{min(days, 99)}d"
    hours, rest = divmod(round(shown), 3600)
    minutes, second = divmod(rest, 60)
    if shown >= COARSE:
        return f"{sign}{hours}h"
    if hours:
        return f"{sign}{hours}h{minutes:02d}"
    if sign and minutes >= 10:
        return f"{sign}{minutes}m"
    return f"{sign}{minutes}:{second:02d}"


# ----------------------------------------------------------------------------- the bays


def standings(state: State, at: float, now: datetime, units: str) -> tuple[Standing, ...]:
    """Every bay in which something is to be seen, the most pressing first."""
    found = []
    for number in sorted(state.bays):
        one = standing(state, number, at, now, units)
        if one is not None:
            found.append(one)
    return tuple(sorted(found, key=order))


def order(one: Standing) -> tuple:
    """What comes first: the urgency, then the clock that ends or ended first."""
    return one.urgency, one.moment, one.bay


def standing(state: State, number: int, at: float, now: datetime, units: str) -> Standing | None:
    """The most pressing clock of a bay with the others behind it; None where nothing runs."""
    clocks = [
        *(one for job in state.bay(number).running for one in _of_job(job, at, now, units)),
        *_of_timers(state, number, at, now, units),
    ]
    if not clocks:
        return None
    first, *rest = sorted(clocks, key=order)
    return replace(first, more=tuple(_few_words(one) for one in rest))


def _few_words(one: Standing) -> Said:
    said = Said(one.headline.written.lower(), one.headline.spoken.lower())
    if one.left_line.written:
        said += both(", ") + one.left_line
    return said


def _of_job(job: Job, at: float, now: datetime, units: str) -> Iterator[Standing]:
    last = job.last_reading
    invented = both(" (invented)") if job.started.invented else both("")
    base = Standing(
        bay=job.bay,
        urgency=Urgency.RESTING,
        headline=both(""),
        digits="",
        counts="over",
        left=0.0,
        moment=math.inf,
        what=Said(job.started.name, job.started.spoken_name) + invented,
        metal=temperature(last.celsius, units),
        metal_age=max(0.0, at - last.at),
        notes=limit_notes(job, units),
        job=job,
    )
    open_work = not job.closed and WORK in job.clocks
    if open_work:
        yield _work(base, job, at, now, units)
    waiting = job.waiting()
    if waiting:
        yield _wait(base, job, waiting[0], at, now, units)
    elif not open_work:
        done = MARK_DONE[job.marks[-1].mark] if job.marks else MATERIAL_NOUN[job.material]
        yield replace(base, headline=both(done), then=both("Say it is done to end its clock."))


def _work(base: Standing, job: Job, at: float, now: datetime, units: str) -> Standing:
    clock = job.clocks[WORK]
    before, after = CLOSE[job.material]
    left = clock.end - at
    if clock.limit is not None and not clock.limit.too_cold:
        return replace(
            base,
            urgency=Urgency.CRITICAL,
            headline=both("too hot: close now"),
            digits=digits_of(0, "unknown"),
            counts="unknown",
            moment=at,
            then=both(before),
        )
    late = left <= 0
    if late:
        urgency, headline = Urgency.LATE, "work time over"
    elif left <= CLOSE_NOW:
        urgency, headline = Urgency.CRITICAL, "close now"
    elif left <= CLOSE_SOON:
        urgency, headline = Urgency.SOON, "close soon"
    else:
        urgency, headline = Urgency.RUNNING, "work time"
    counts, noun = ("late" if late else "left"), STAGE_NOUN[WORK]
    return replace(
        base,
        urgency=urgency,
        headline=both(headline),
        digits=digits_of(abs(left), counts, noun),
        counts=counts,
        left=abs(left),
        moment=clock.end,
        share=clock.share(at),
        share_of=noun,
        until=_until(clock.end, at, now, units, up=False, past=late),
        then=both(after if late else before),
    )


_WAITING: dict[Stage, str] = {
    "clamp": "clamps stay on",
    "sand": "wait to sand",
    "full_cure": "curing",
    "paint": "wait to paint",
    "trim": "wait to trim",
    "flash": "flashing off",
}
_OVER: dict[Stage, str] = {
    "clamp": "clamps may come off",
    "sand": "may be sanded",
    "full_cure": "fully cured",
    "paint": "may be painted",
    "trim": "may be trimmed",
    "flash": "next coat may go on",
}


def _wait(base: Standing, job: Job, stage: Stage, at: float, now: datetime, units: str) -> Standing:
    clock = job.clocks[stage]
    noun, share = STAGE_NOUN[stage], clock.share(at)
    if math.isinf(clock.end):
        return replace(
            base,
            urgency=Urgency.HELD_UP,
            headline=Said(
                f"{MATERIAL_NOUN[job.material]} stands still",
                f"the {MATERIAL_NOUN[job.material]} stands still",
            ),
            digits=digits_of(0, "unknown"),
            counts="unknown",
            moment=base.metal_age,
            share=share,
            share_of=noun,
            then=both("Warm the joint, and tell the new temperature."),
        )
    over = clock.over(at)
    return replace(
        base,
        urgency=Urgency.READY if over else Urgency.RUNNING,
        headline=both(_OVER[stage] if over else _WAITING[stage]),
        digits="0:00" if over else digits_of(clock.end - at, "left", noun),
        counts="over" if over else "left",
        left=max(0.0, clock.end - at),
        moment=clock.end,
        share=min(1.0, share),
        share_of=noun,
        until=_until(clock.end, at, now, units, up=True, past=over),
        then=both(NEXT[stage]) if over else _then(job, stage),
    )


def _then(job: Job, stage: Stage) -> Said:
    """What becomes possible when the wait is over."""
    return both(f"Then {allowed(stage)}.")


def _until(end: float, at: float, now: datetime, units: str, up: bool, past: bool) -> Said:
    until = moment(end, at, now, units, up=up)
    if until is None:
        return NOTHING
    word = "since" if past else "until"
    return Said(f"{word} {until.written}", f"{word} {until.spoken}")


def _of_timers(
    state: State, number: int, at: float, now: datetime, units: str
) -> Iterator[Standing]:
    for timer in state.bay(number).timers:
        label = timer.label or "timer"
        base = Standing(
            bay=number,
            urgency=Urgency.RUNNING,
            headline=both(label),
            digits="",
            counts="left",
            left=0.0,
            moment=math.inf,
        )
        if timer.paused:
            yield replace(
                base,
                headline=both(f"{label} paused"),
                digits=digits_of(timer.left, "left", TIMER),
                left=timer.left,
                share_of=TIMER,
                then=both(f"Say resume the timer{_in_bay(number)}."),
            )
            continue
        left = timer.due - at
        share = min(1.0, 1.0 - left / timer.seconds)
        if left > 0:
            yield replace(
                base,
                digits=digits_of(left, "left", TIMER),
                left=left,
                moment=timer.due,
                share=share,
                share_of=TIMER,
                until=_until(timer.due, at, now, units, up=False, past=False),
            )
        elif not timer_heard(state, timer):
            yield replace(
                base,
                urgency=Urgency.LATE,
                headline=both(f"{label} over"),
                digits=digits_of(-left, "late"),
                counts="late",
                left=-left,
                moment=timer.due,
                until=_until(timer.due, at, now, units, up=False, past=True),
                then=both(f"Say i heard {_heard_words(number)}."),
            )


def timer_heard(state: State, timer: Timer) -> bool:
    """Whether somebody has said that they heard it."""
    return timer.due is not None and state.heard.get(timer.bay, -math.inf) >= timer.due


def _in_bay(number: int) -> str:
    return "" if number == WHOLE_SHOP else f" in bay {number}"


def _heard_words(number: int) -> str:
    return "all the bays" if number == WHOLE_SHOP else f"bay {number}"


# --------------------------------------------------------------------------- the summary


def summary(found: Sequence[Standing]) -> Said:
    """All bays in one sentence, for the head of the screen and as the first thing said."""
    if not found:
        return both("No clock runs in any bay.")
    late = [one for one in found if one.urgency == Urgency.LATE]
    calls = [one for one in found if one.calls and one not in late]
    ready = [one for one in found if one.urgency == Urgency.READY]
    parts = []
    for word, some in (("late", late), ("need hands now", calls), ("ready", ready)):
        if some:
            parts.append(f"{len(some)} {word if len(some) > 1 else word.replace('need', 'needs')}")
    count = f"{len(found)} bays" if len(found) > 1 else "1 bay"
    rest = ", ".join(parts) or "none needs hands now"
    return both(full_stop(f"{count}: {rest}"))
