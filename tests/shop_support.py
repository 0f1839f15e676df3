"""A clock that is set by hand, for tests of the shop."""

from dataclasses import dataclass

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
