"""The plan of a job: when each step may begin, forwards from the bead and backwards from a goal.

Work, clamp, sand and full-cure times all run from the first of the bead, side by side; they
are not added up. What is added is the work of hands between them: sanding must be done
before the primer goes on. A step waits for the later of what it needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from assistant.trade.rounding import clock_down, clock_up
from assistant.units import Q, Quantity

USUAL_SANDING = Q(20, "minute")
"""Blocking and feathering one joint (common practice, no source)."""

Goal = Literal["clamp", "sand", "prime", "full_cure"]
GOALS: tuple[Goal, ...] = ("clamp", "sand", "prime", "full_cure")


@dataclass(frozen=True)
class StageTimes:
    """The times of one job at its temperature, each from the first of the bead, above zero.

    sanding: how long the sanding itself takes, zero or more.
    """

    work: Quantity
    clamp: Quantity
    sand: Quantity
    full_cure: Quantity
    sanding: Quantity = USUAL_SANDING

    def __post_init__(self) -> None:
        for name in ("work", "clamp", "sand", "full_cure", "sanding"):
            minutes = getattr(self, name).m_as("minute")
            least = minutes >= 0 if name == "sanding" else minutes > 0
            if not (math.isfinite(minutes) and least):
                raise ValueError(f"the {name.replace('_', ' ')} time must not be {minutes} min")


@dataclass(frozen=True)
class Plan:
    """Clock times. close_by: the last minute; the others: the first minute of each step."""

    bead_on: datetime
    close_by: datetime
    clamps_off: datetime
    sand_from: datetime
    prime_from: datetime
    cured_from: datetime

    @property
    def free(self) -> tuple[tuple[datetime, datetime], ...]:
        """Waits in which the joint needs no hands, for other work to overlap: (from, until)."""
        waits = ((self.close_by, self.clamps_off), (self.clamps_off, self.sand_from))
        return tuple((start, end) for start, end in waits if end > start)


@dataclass(frozen=True)
class PrimerTimes:
    """Priming after the sanding: coats, one or more; flash time between them, sand time."""

    coats: int
    flash: Quantity
    sand: Quantity

    def __post_init__(self) -> None:
        if self.coats < 1:
            raise ValueError(f"the coats must be one or more, not {self.coats}")
        for name in ("flash", "sand"):
            minutes = getattr(self, name).m_as("minute")
            if not (math.isfinite(minutes) and minutes > 0):
                raise ValueError(f"the primer's {name} time must not be {minutes} min")


def last_coat_from(prime_from: datetime, times: PrimerTimes) -> datetime:
    """The first minute for the last coat: a flash time after each coat before it.

    The spraying itself takes no time here (common practice, no source): count again from the
    last coat as it was really sprayed.
    """
    return clock_up(prime_from + (times.coats - 1) * _delta(times.flash))


def primer_sand_from(prime_from: datetime, times: PrimerTimes) -> datetime:
    """The first minute for sanding the primer: its sand time after the last coat."""
    return clock_up(last_coat_from(prime_from, times) + _delta(times.sand))


def time_to(goal: Goal, times: StageTimes) -> Quantity:
    """From the first of the bead until the goal may begin, in minutes.

    Unclamp: the clamp time. Sand: the later of clamp and sand time, because clamps are in the
    way. Prime: that and the sanding itself. Full cure: the full-cure time. Longest path
    through steps that wait for each other, as in any plan of work (common practice, no
    source). Raises ValueError for an unknown goal.
    """
    clamp, sand = times.clamp.m_as("minute"), times.sand.m_as("minute")
    minutes = {
        "clamp": clamp,
        "sand": max(clamp, sand),
        "prime": max(clamp, sand) + times.sanding.m_as("minute"),
        "full_cure": times.full_cure.m_as("minute"),
    }
    if goal not in minutes:
        raise ValueError(f"unknown goal {goal!r}: use one of {', '.join(GOALS)}")
    return Q(minutes[goal], "minute")


def limiting_stage(goal: Goal, times: StageTimes) -> Literal["clamp", "sand", "full_cure"]:
    """The stage that the goal waits for: shortening any other changes nothing.

    Raises ValueError for an unknown goal.
    """
    if goal not in GOALS:
        raise ValueError(f"unknown goal {goal!r}: use one of {', '.join(GOALS)}")
    if goal == "full_cure":
        return "full_cure"
    if goal == "clamp" or times.clamp >= times.sand:
        return "clamp"
    return "sand"


def plan_from(bead_on: datetime, times: StageTimes) -> Plan:
    """All clock times of a job whose bead goes on then, to whole minutes on the safe side."""

    def start(goal: Goal) -> datetime:
        return clock_up(bead_on + _delta(time_to(goal, times)))

    return Plan(
        bead_on=bead_on,
        close_by=clock_down(bead_on + _delta(times.work)),
        clamps_off=start("clamp"),
        sand_from=start("sand"),
        prime_from=start("prime"),
        cured_from=start("full_cure"),
    )


def latest_bead(goal: Goal, by: datetime, times: StageTimes) -> datetime:
    """The last minute for the bead so that the goal may begin at ``by``: rounded down.

    The inverse of ``plan_from``: the plan from this moment reaches the goal by ``by``.
    """
    return clock_down(by - _delta(time_to(goal, times)))


def _delta(time: Quantity) -> timedelta:
    return timedelta(minutes=time.m_as("minute"))
