"""The shop as the rest of the program sees it: the journal, the state, and the orders.

shop = Shop(Journal(), units="us", source="voice")
effect = shop.start(bay=2, card=card, celsius=16.7)
effect.said.spoken          # said only after the event is on the disk
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from assistant.products.card import Card
from assistant.shop import effects, orders
from assistant.shop.effects import Change, Effect
from assistant.shop.events import Mark, Material, Payload, Source, TextsRemoved
from assistant.shop.journal import Journal
from assistant.shop.snapshot import NAME, from_bytes, to_bytes
from assistant.shop.state import State, fold
from assistant.shop.timekeeping import ClockReading
from assistant.shop.wording import Said, bay_name, both

SNAPSHOT_EVERY = 1_000
"""Events folded at once before a snapshot is kept: less than a tenth of a second. Our own
choice."""


def local_time(reading: ClockReading) -> datetime:
    """What a clock on the wall shows, with its zone's offset at that moment."""
    return datetime.fromtimestamp(reading.wall / 1e6, UTC).astimezone()


class Shop:
    """Orders in, effects out. units: "us" or "metric", for the words. source: who speaks.

    Every order is decided on the newest state while no other program can write, and is on
    the disk when the method returns. Raises orders.NotPossible, journal.JournalTrouble.
    """

    def __init__(self, journal: Journal, units: str = "us", source: Source = "command"):
        self.journal = journal
        self.units = units
        self.source: Source = source
        self._state = State()
        self._generation = journal.generation
        self._begun = False

    # --- state ---

    @property
    def state(self) -> State:
        """The newest state, with what other programs have written."""
        if self._generation != self.journal.generation:
            self._state, self._begun = State(), False
            self._generation = self.journal.generation
        if not self._begun:
            self._state = self._from_snapshot()
            self._begun = True
        self._catch_up()
        return self._state

    def _catch_up(self) -> None:
        begun_at = self._state.last_id
        new = self.journal.events(after=begun_at)
        if begun_at:
            new = list(new)
            if any(isinstance(event.payload, TextsRemoved) for event in new):
                # what was removed must not live on in what was folded before
                self._state, new = State(), self.journal.events()
        self._state = fold(self._state, new)
        if self._state.last_id - begun_at >= SNAPSHOT_EVERY:
            self.journal.keep_snapshot(NAME, self._state.last_id, to_bytes(self._state))

    def _from_snapshot(self) -> State:
        kept = self.journal.snapshot(NAME)
        if kept is None:
            return State()
        try:
            state = from_bytes(kept[1])
        except (ValueError, KeyError, TypeError):
            return State()
        return state if state.last_id == kept[0] else State()

    def read_clock(self) -> tuple[float, datetime]:
        """Shop time in seconds, and local time, now."""
        reading = self.journal.clock.read()
        return self.state.now(reading), local_time(reading)

    # --- orders ---

    def act(self, order: Callable[[State, float, datetime], list[Payload]]) -> Change:
        """Decide and record; the change is on the disk when this returns."""
        seen: dict[str, Any] = {}

        def decide(reading: ClockReading) -> list[Payload]:
            seen["before"] = before = self.state
            seen["at"] = at = before.now(reading)
            seen["now"] = local_time(reading)
            return order(before, at, seen["now"])

        events = self.journal.write(decide)
        after = self._state
        if after.last_id == (events[0].id - 1 if events else after.last_id):
            self._state = after = fold(after, events)
        else:
            after = self.state
        return Change(seen["before"], after, events, seen["at"], seen["now"], self.units)

    def start(self, bay: int, card: Card, celsius: float, ago: float = 0.0) -> Effect:
        """A material went on in a bay, ``ago`` seconds before now."""
        return effects.started(
            self.act(lambda s, at, now: orders.start(s, at, bay, card, celsius, self.source, ago))
        )

    def read_temperature(self, bay: int, celsius: float) -> Effect:
        """The metal in a bay has this temperature now."""
        change = self.act(
            lambda s, at, now: orders.read_temperature(s, at, bay, celsius, self.source)
        )
        return effects.temperature_read(change, bay)

    def mark(self, bay: int, what: Mark, early: bool = False) -> Effect:
        """Hands have done a step."""
        return effects.marked(
            self.act(
                lambda s, at, now: orders.mark(
                    s, at, now, bay, what, self.source, early, self.units
                )
            )
        )

    def start_timer(self, seconds: float, bay: int | None = None, label: str | None = None):
        """Set a plain timer."""
        return effects.timer_started(
            self.act(lambda s, at, now: orders.start_timer(s, at, seconds, self.source, bay, label))
        )

    def pause_timer(self, bay: int | None, label: str | None = None) -> Effect:
        """Stop a plain timer for a while."""
        change = self.act(lambda s, at, now: orders.pause_timer(s, at, bay, label, self.source))
        return effects.timer_changed(change, "paused")

    def resume_timer(self, bay: int | None, label: str | None = None) -> Effect:
        """Let a paused timer go on."""
        change = self.act(lambda s, at, now: orders.resume_timer(s, at, bay, label, self.source))
        return effects.timer_changed(change, "running again")

    def cancel(self, bay: int, material: Material | None = None) -> Effect:
        """Give up the job of a bay, or its only timer."""
        return effects.cancelled(
            self.act(lambda s, at, now: orders.cancel(s, at, bay, self.source, material))
        )

    def cancel_timer(self, bay: int | None, label: str | None = None) -> Effect:
        """Give up a timer."""
        return effects.cancelled(
            self.act(lambda s, at, now: orders.cancel_timer(s, at, bay, label, self.source))
        )

    def correct(
        self,
        bay: int,
        celsius: float | None = None,
        card: Card | None = None,
        ago: float | None = None,
    ) -> Effect:
        """Set right what was said of the running job."""
        change = self.act(
            lambda s, at, now: orders.correct(s, at, bay, self.source, celsius, card, ago)
        )
        return effects.corrected(change, bay)

    def undo(self, bay: int | None) -> Effect:
        """Take back the last thing a person said of a bay."""
        return effects.undone(self.act(lambda s, at, now: orders.undo(s, at, bay, self.source)))

    def undo_last(self) -> Effect:
        """Take back the last thing that was said by this source, in whatever bay, if it was
        just now."""
        return effects.undone(self.act(lambda s, at, now: orders.undo_last(s, at, self.source)))

    def acknowledge(self, bay: int | None = None) -> Effect:
        """A person has heard."""
        change = self.act(lambda s, at, now: orders.acknowledge(s, at, bay, self.source))
        said = both("All bays: heard.")
        if bay is not None:
            name = bay_name(bay)
            said = Said(f"{name.written}: heard.", f"{name.spoken}: heard.")
        return Effect(said, change.events, {}, ())

    def set_quiet_hours(self, hours: tuple[int, int] | None) -> Effect:
        """From and until when nothing but the urgent is spoken; None for never."""
        change = self.act(lambda s, at, now: orders.quiet_hours(s, at, hours, self.source))
        text = "No quiet hours."
        if hours is not None:
            start, end = (f"{minute // 60:02d}:{minute % 60:02d}" for minute in hours)
            text = f"Quiet from {start} to {end}: only the urgent is spoken."
        return Effect(both(text), change.events, {}, ())

    def status(self, bay: int | None = None) -> Effect:
        """How a bay stands, or all of them. Writes nothing."""
        at, now = self.read_clock()
        return effects.status(self._state, at, now, self.units, bay)

    def close(self) -> None:
        self.journal.close()
