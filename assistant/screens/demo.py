"""Invented bays, for pictures, for trying the screen, and for tests: a clock set by hand and a
journal of its own in a folder that is thrown away. Nothing of it touches the shop's journal."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from assistant.products.shelf import Shelf, load_shelf
from assistant.shop.announcements import outstanding, words
from assistant.shop.events import AnnouncementMade
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop, local_time
from assistant.shop.timekeeping import MICROSECONDS, ClockReading

MORNING = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
"""When the demonstration begins: a Monday."""

MINUTE = 60.0

NOTE = "invented bays"
"""Stands at the head of every screen that shows them."""

QUESTION = "how much adhesive for forty inches"
"""What is asked in the picture of the bench."""

BEGUN = "when can i "
"""What somebody is typing there: what can be asked is narrowed down by it."""


@dataclass
class StandingClock:
    """Clocks that stand still until they are moved."""

    seconds: float = 0.0

    def read(self) -> ClockReading:
        wall = round((MORNING.timestamp() + self.seconds) * MICROSECONDS)
        return ClockReading(wall, round((1000.0 + self.seconds) * MICROSECONDS), "demonstration")

    def run(self, seconds: float) -> None:
        self.seconds += seconds


class RunningClock:
    """A clock that goes on from where another stands, by the computer's own."""

    def __init__(self, begin: StandingClock):
        self._begin, self._begun = begin, time.monotonic()

    def read(self) -> ClockReading:
        return StandingClock(self._begin.seconds + time.monotonic() - self._begun).read()


Event = tuple[float, Callable[[Shop], object]]


def invented_day(shop: Shop, clock: StandingClock, shelf: Shelf | None = None) -> None:
    """Nine bays in every state that the wall knows; it ends at 11:30 by the clock."""
    cards = load_shelf(Path("no cards of the shop")) if shelf is None else shelf

    def start(bay: int, key: str, kind: str, celsius: float) -> Callable[[Shop], object]:
        return lambda shop: shop.start(bay, cards.product(key, kind), celsius)

    def reading(bay: int, celsius: float) -> Callable[[Shop], object]:
        return lambda shop: shop.read_temperature(bay, celsius)

    day: list[Event] = [
        (5, start(1, "long-open", "adhesive", 19.5)),
        (30, lambda shop: shop.mark(1, "closed")),
        (62, reading(1, 21.0)),
        (95, reading(1, 23.5)),
        (20, start(5, "long-open", "adhesive", 23.0)),
        (45, lambda shop: shop.mark(5, "closed")),
        (28, start(7, "light-filler", "filler", 21.0)),
        (40, lambda shop: shop.mark(7, "closed")),
        (70, start(3, "long-open", "adhesive", 12.0)),
        (85, lambda shop: shop.mark(3, "closed")),
        (110, reading(3, 2.0)),
        (80, start(8, "cavity-foam", "foam", 21.0)),
        (83, lambda shop: shop.mark(8, "closed")),
        (96, start(4, "long-open", "adhesive", 17.0)),
        (98, start(2, "long-open", "adhesive", 24.0)),
        (120, start(6, "long-open", "adhesive", 20.0)),
        (126, lambda shop: shop.start_timer(35 * MINUTE, 6, "paint booth")),
        (130, start(9, "seam-sealer", "sealer", 21.0)),
        (136, lambda shop: shop.start_timer(20 * MINUTE, None, "parts")),
    ]
    begun = clock.seconds
    for minute, happens in sorted(day, key=lambda event: event[0]):
        clock.run(begun + minute * MINUTE - clock.seconds)
        happens(shop)
    clock.run(begun + 150 * MINUTE - clock.seconds)


def many_bays(shop: Shop, clock: StandingClock, count: int = 60) -> None:
    """A clock in each of so many bays, half a minute apart, every third one clamped."""
    cards = load_shelf(Path("no cards of the shop"))
    keys = (("long-open", "adhesive"), ("fast", "adhesive"), ("light-filler", "filler"))
    for bay in range(1, count + 1):
        key, kind = keys[bay % len(keys)]
        shop.start(bay, cards.product(key, kind), 18.0 + bay % 7)
        if bay % 3 == 0:
            shop.mark(bay, "closed")
        clock.run(30.0)


def say_what_is_due(shop: Shop) -> None:
    """Writes down that what is due was said, as the voice would."""
    at, _ = shop.read_clock()
    now = local_time(shop.journal.clock.read())
    for one in outstanding(shop.state, at):
        made = AnnouncementMade(
            key=one.key,
            late=one.late(at),
            marked_late=False,
            text=words(one, one.due, now, shop.units).written,
            covers=one.covers,
        )
        shop.journal.append(made)


def demo_journal(folder: Path, clock: StandingClock) -> Journal:
    return Journal(folder, clock, writer="demonstration")
