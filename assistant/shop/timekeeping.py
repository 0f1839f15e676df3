"""Elapsed time that survives clock steps, daylight saving, suspend and restart.

Every event carries three figures: wall time in UTC, time since the computer was started
(suspend included), and which start that was. Between two events of one start the time since
the start tells what has passed, whatever was done to the wall clock; across a restart only
the wall clock can. Daylight saving never enters: it changes what a clock shows, not UTC.

``Timeline`` adds this up into shop time: microseconds since the first event of the journal.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

MICROSECONDS = 1_000_000

STEP_TOLERANCE = 2 * MICROSECONDS
"""The wall clock may differ by this much from the time since the start before it counts as a
step: one correction by a time service is smaller. Our own choice."""

DRIFT = 200e-6
"""And by this share of what has passed: a computer's crystal is good to some 100 millionths
(common practice, no source), twice that."""


@dataclass(frozen=True)
class ClockReading:
    """The clocks at one moment. wall: microseconds since 1970, UTC. uptime: microseconds
    since the computer's start, suspend included. boot: names that start."""

    wall: int
    uptime: int
    boot: str


class Clock(Protocol):
    """Where the time comes from; tests hand in one of their own."""

    def read(self) -> ClockReading: ...


class SystemClock:
    """The computer's own clocks."""

    def read(self) -> ClockReading:
        return ClockReading(time.time_ns() // 1000, _uptime_ns() // 1000, _boot_id())


def _uptime_ns() -> int:
    """Nanoseconds since some fixed moment of this start, suspend included.

    Linux: CLOCK_BOOTTIME. macOS: CLOCK_MONOTONIC goes on in sleep, Python's own monotonic
    does not. Windows: Python's monotonic goes on.
    """
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC)
    return time.monotonic_ns()


_lock = threading.Lock()
_boot: list[str] = []

NO_BOOT_ID = "program-"
"""Begins the name where the system does not tell one start of the computer from another."""


def _boot_id() -> str:
    """Names this start of the computer; where the system does not tell, this start of the
    program: then other programs' events are placed by the wall clock."""
    with _lock:
        if not _boot:
            try:
                name = _systems_boot_id()
            except (OSError, ValueError, subprocess.SubprocessError):
                name = ""
            _boot.append(name or f"{NO_BOOT_ID}{uuid.uuid4()}")
        return _boot[0]


def _systems_boot_id() -> str:
    if sys.platform.startswith("linux"):
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    if sys.platform == "darwin":
        command = ["/usr/sbin/sysctl", "-n", "kern.bootsessionuuid"]
        return subprocess.run(command, capture_output=True, text=True, timeout=5).stdout.strip()
    if sys.platform == "win32":
        import winreg

        place = r"SYSTEM\CurrentControlSet\Control\Session Manager\Memory Management"
        with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, place + r"\PrefetchParameters") as key:
            return f"start-{winreg.QueryValueEx(key, 'BootId')[0]}"
    return ""


Trouble = Literal["", "step", "restart", "unknown"]


@dataclass(frozen=True)
class Passed:
    """What lies between two readings.

    micros: elapsed, zero or more. trouble: "step" where the wall clock was set meanwhile (by
    ``step`` microseconds, forwards positive), "restart" where the computer was started anew,
    "unknown" where it was and the wall clock shows less than has passed since: then
    ``micros`` is the least that it can be.
    """

    micros: int
    trouble: Trouble = ""
    step: int = 0


def passed(before: ClockReading, after: ClockReading) -> Passed:
    """Elapsed time from one reading to a later one; never negative."""
    wall = after.wall - before.wall
    if before.boot == after.boot and after.uptime >= before.uptime:
        micros = after.uptime - before.uptime
        step = wall - micros
        if abs(step) > STEP_TOLERANCE + DRIFT * micros:
            return Passed(micros, "step", step)
        return Passed(micros)
    if NO_BOOT_ID in (before.boot[: len(NO_BOOT_ID)], after.boot[: len(NO_BOOT_ID)]) and wall >= 0:
        return Passed(wall)
    # a new start has run for its uptime at least
    least = after.uptime if before.boot != after.boot else 0
    if wall + STEP_TOLERANCE < least:
        return Passed(max(0, least), "unknown", wall - least)
    return Passed(max(wall, 0), "restart")


@dataclass(frozen=True)
class Timeline:
    """Shop time. at: microseconds from the first event to ``last``."""

    last: ClockReading | None = None
    at: int = 0

    def advanced(self, reading: ClockReading) -> tuple[Timeline, Passed]:
        """The timeline with one more reading at its end, and what had passed."""
        if self.last is None:
            return Timeline(reading, 0), Passed(0)
        gap = passed(self.last, reading)
        return Timeline(reading, self.at + gap.micros), gap

    def now(self, reading: ClockReading) -> float:
        """Shop time of a reading taken after the last event, in seconds."""
        return self.advanced(reading)[0].at / MICROSECONDS
