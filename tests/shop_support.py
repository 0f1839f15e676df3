"""A clock that is set by hand, and the integral by scipy, for tests of the shop."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from assistant.shop.events import ClockTable
from assistant.shop.stage_clock import StageClock
from assistant.shop.timekeeping import MICROSECONDS, ClockReading

MARCH_FIRST = 1_803_891_600  # 2027-03-01 09:00 UTC, a Monday


@dataclass
class HandClock:
    """Clocks that stand still until they are moved."""

    wall: float = MARCH_FIRST
    uptime: float = 1000.0
    boot: str = "first"

    def read(self) -> ClockReading:
        return ClockReading(
            round(self.wall * MICROSECONDS), round(self.uptime * MICROSECONDS), self.boot
        )

    def run(self, seconds: float) -> None:
        """Time passes, and both clocks go with it."""
        self.wall += seconds
        self.uptime += seconds

    def step(self, seconds: float) -> None:
        """Somebody sets the wall clock."""
        self.wall += seconds

    def restart(self, off: float, boot: str = "second", up: float = 20.0) -> None:
        """The computer is off for a while and has been up for ``up`` seconds again."""
        self.wall += off + up
        self.uptime = up
        self.boot = boot


KELVIN = 273.15


def independent_time(table: ClockTable, celsius: float) -> float:
    """Seconds at a temperature inside the limits, without the program's own functions."""
    rows = sorted((at + KELVIN, seconds) for at, seconds in table.rows)
    near = min(rows, key=lambda row: abs(row[0] - celsius - KELVIN))
    if abs(near[0] - celsius - KELVIN) <= 0.5 / 1.8:  # half a degree Fahrenheit is the row itself
        return near[1]
    if len(rows) == 1:
        return near[1] * 2 ** ((near[0] - celsius - KELVIN) / 10)
    inverse = [-1 / at for at, _ in rows]
    return math.exp(np.interp(-1 / (celsius + KELVIN), inverse, [math.log(s) for _, s in rows]))


def independent_end(clock: StageClock, warmer: bool) -> float:
    """When the integral reaches one: quad over each stretch, brentq in the last."""
    pick = max if warmer else min
    edges = [*clock.times, math.inf]
    pairs = list(zip(clock.celsius, [*clock.celsius[1:], clock.celsius[-1]], strict=True))
    done = 0.0
    for start, end, pair in zip(edges, edges[1:], pairs, strict=True):
        whole = independent_time(clock.table, pick(pair))

        def speed(_, whole=whole):
            return 1 / whole

        reach = min(end, start + 2 * whole)
        here = quad(speed, start, reach)[0]
        if done + here >= 1:

            def missing(t, speed=speed, start=start, done=done):
                return done + quad(speed, start, t)[0] - 1

            return brentq(missing, start, reach, xtol=1e-6)
        done += here
    raise AssertionError("the last stretch is long enough")
