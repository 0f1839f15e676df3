"""Which events belong to which job record: a fold over the journal, kept as a snapshot.

    ledger = Ledger(journal)
    ledger.update()
    for filed in ledger.filed: ...

A record begins with ``record_begun``, or with the first material that goes on in a bay where
none is open. One that was begun by itself ends where the same material goes on again: nobody
says of each car that it is done, and two cars in one record would be worse than one in two.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from assistant.shop import events as kinds
from assistant.shop import job_events as job
from assistant.shop.journal import Event, Journal
from assistant.shop.timekeeping import MICROSECONDS, ClockReading, Timeline

FORM = 2
"""Goes up when what is kept changes."""
NAME = f"record-{FORM}"

KEEP_EVERY = 200
"""Events folded at once before a snapshot is kept. Our own choice."""


@dataclass(frozen=True)
class Placed:
    """An event of a record. at: shop time, seconds."""

    id: int
    at: float


@dataclass
class Filed:
    """One record and the events that belong to it. said: begun by ``record_begun``, so that it
    goes on until it is closed. closed_by: the event that ended it (its closing, or the next
    record of the bay), 0 while it is open. materials: those that went on. summary: what lists
    and searches need; None when it must be made anew."""

    number: int
    bay: int
    said: bool = False
    imported: bool = False
    closed_by: int = 0
    events: list[Placed] = field(default_factory=list)
    materials: list[str] = field(default_factory=list)
    summary: dict | None = None


_BAY_EVENTS = (kinds.JobStarted, kinds.TemperatureRead, kinds.StageMarked, kinds.Cancelled,
               kinds.Corrected, kinds.Undone)  # fmt: skip


class Ledger:
    """The records of one journal, oldest first."""

    def __init__(self, journal: Journal):
        self._journal = journal
        self._begin()

    def _begin(self) -> None:
        self.last_id = 0
        self.records: dict[int, Filed] = {}
        self._timeline = Timeline()
        self._open: dict[int, int] = {}
        self._last: dict[int, int] = {}
        self._owner: dict[int, int] = {}
        self._generation = self._journal.generation
        self._loaded = False
        self._kept_at = 0

    @property
    def filed(self) -> list[Filed]:
        return list(self.records.values())

    def open_in(self, bay: int) -> Filed | None:
        """The record to which what happens in a bay belongs now."""
        number = self._open.get(bay)
        return None if number is None else self.records[number]

    def last_in(self, bay: int) -> Filed | None:
        """The open record of a bay, or the last one there."""
        number = self._open.get(bay, self._last.get(bay))
        return None if number is None else self.records[number]

    def now(self, reading: ClockReading) -> float:
        """Shop time of a reading of the clocks, seconds."""
        return self._timeline.now(reading)

    # --- folding ---

    def update(self) -> None:
        """Take in what the journal holds by now."""
        if self._generation != self._journal.generation:
            self._begin()
        if not self._loaded:
            self._load()
            self._loaded = True
        self._take(self._journal.events(after=self.last_id))

    def _take(self, events: Iterable[Event]) -> None:
        begun_at = self.last_id
        for event in events:
            if begun_at and isinstance(event.payload, kinds.TextsRemoved):
                # summaries from before may hold what was removed
                self._begin()
                self._loaded = True
                self._take(self._journal.events())
                return
            self.add(event)

    def add(self, event: Event) -> None:
        """One more event."""
        self._timeline, _ = self._timeline.advanced(event.reading)
        self.last_id = event.id
        placed = Placed(event.id, self._timeline.at / MICROSECONDS)
        payload = event.payload
        match payload:
            case job.RecordBegun():
                self._new(placed, payload.bay, said=True)
            case job.RecordImported():
                filed = Filed(event.id, payload.bay, imported=True, closed_by=event.id)
                self._file(filed, placed)
            case job.RecordClosed() | job.Statement():
                filed = self.records.get(payload.record)
                if filed is not None:
                    self._file(filed, placed)
                    if isinstance(payload, job.RecordClosed):
                        filed.closed_by = event.id
                        if self._open.get(filed.bay) == filed.number:
                            del self._open[filed.bay]
            case kinds.JobStarted():
                filed = self.open_in(payload.bay)
                if filed is None or (not filed.said and payload.material in filed.materials):
                    filed = self._new(placed, payload.bay)
                else:
                    self._file(filed, placed)
                filed.materials.append(payload.material)
            case _ if isinstance(payload, _BAY_EVENTS):
                target = getattr(payload, "target", getattr(payload, "job", None))
                if target is not None:
                    filed = self.records.get(self._owner.get(target, 0))
                else:
                    filed = self.last_in(payload.bay)
                if filed is not None:
                    self._file(filed, placed)

    def _new(self, placed: Placed, bay: int, said: bool = False) -> Filed:
        filed = Filed(placed.id, bay, said)
        before = self.open_in(bay)
        if before is not None:
            before.closed_by, before.summary = placed.id, None
        self._open[bay] = self._last[bay] = placed.id
        self._file(filed, placed)
        return filed

    def _file(self, filed: Filed, placed: Placed) -> None:
        self.records[filed.number] = filed
        filed.events.append(placed)
        filed.summary = None
        self._owner[placed.id] = filed.number

    # --- the snapshot ---

    def keep(self, always: bool = False) -> None:
        """Keep what was folded, if it was much."""
        if not always and self.last_id - self._kept_at < KEEP_EVERY:
            return
        last = self._timeline.last
        data = {
            "last_id": self.last_id,
            "at": self._timeline.at,
            "last": None if last is None else [last.wall, last.uptime, last.boot],
            "open": list(self._open.items()),
            "lasts": list(self._last.items()),
            "records": [
                [f.number, f.bay, f.said, f.imported, f.closed_by, f.materials, f.summary,
                 [p.id for p in f.events], [round(p.at, 6) for p in f.events]]
                for f in self.records.values()
            ],
        }  # fmt: skip
        self._journal.keep_snapshot(NAME, self.last_id, json.dumps(data).encode())
        self._kept_at = self.last_id

    def _load(self) -> None:
        kept = self._journal.snapshot(NAME)
        if kept is None:
            return
        try:
            data = json.loads(kept[1])
            if data["last_id"] != kept[0]:
                return
            last = data["last"]
            self._timeline = Timeline(None if last is None else ClockReading(*last), data["at"])
            self._open, self._last = dict(map(tuple, data["open"])), dict(map(tuple, data["lasts"]))
            for number, bay, said, imported, closed_by, materials, summary, ids, ats in data[
                "records"
            ]:
                placed = [Placed(id_, at) for id_, at in zip(ids, ats, strict=True)]
                self.records[number] = Filed(
                    number, bay, said, imported, closed_by, placed, materials, summary
                )
                self._owner.update(dict.fromkeys(ids, number))
            self.last_id = self._kept_at = kept[0]
        except (ValueError, KeyError, TypeError):
            self._begin()
            self._loaded = True


def wall(reading: ClockReading) -> datetime:
    """The wall clock of an event, UTC."""
    return datetime.fromtimestamp(reading.wall / 1e6, UTC)
