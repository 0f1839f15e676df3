"""The job records of a shop: find, read, state.

    records = Records(shop)
    told = records.state(records.in_bay(2), lambda number: NoteTaken(record=number, ...))

Every statement is decided on the newest journal while no other program can write, and is on
the disk when the method returns.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from assistant.exchange import Refusal
from assistant.record.building import LISTS, Item, built
from assistant.record.document import JobRecord
from assistant.record.findings import counting
from assistant.record.ledger import Filed, Ledger, wall
from assistant.record.wording import REFERENCE_WORDS, for_comparing
from assistant.shop import job_events as job
from assistant.shop.events import Payload, Source
from assistant.shop.journal import Event, Journal
from assistant.shop.orders import check_bay
from assistant.shop.timekeeping import ClockReading

KEY = re.compile(r"^([0-9a-f]{8})-([1-9]\d*)$")

AT_ONCE, MOST_BETWEEN = 200, 8
"""Records whose summaries are made together, and the most events that are read for each one
that is needed. Our own choice."""

Fetch = Callable[[int], Event | None]

Make = Callable[[int], Iterable[Payload]]
"""Number of the record -> what is stated."""


def bay_in(name: str) -> int | None:
    """The bay that a name of a record is about: "bay 2" -> 2."""
    match = re.fullmatch(r"bay\s*(\d{1,6})", name.strip(), re.IGNORECASE)
    return int(match[1]) if match else None


class NoSuchRecord(Refusal):
    """No record, or not one alone, is called so; the message says what would find one."""


class NotStated(Refusal):
    """The statement does not fit the record; the message says why."""


@dataclass(frozen=True)
class Former:
    """A repair order or vehicle that does not count any more. now: the one that does; empty
    where it was withdrawn."""

    what: str
    text: str
    now: str


@dataclass(frozen=True)
class Summary:
    """What lists and searches show of a record; empty text where nothing was stated. former:
    what it was called before it was amended."""

    number: int
    id: str
    bay: int
    began: datetime
    closed: bool
    imported: bool
    repair_order: str
    vehicle: str
    people: tuple[str, ...]
    products: tuple[str, ...]
    lots: tuple[str, ...]
    deviations: int
    open_deviations: int
    words: str
    former: tuple[Former, ...] = ()
    empty: bool = False


@dataclass(frozen=True)
class Told:
    """What was recorded. began: a record was begun for it, too."""

    record: int
    bay: int
    events: tuple[Event, ...]
    began: bool = False


class Records:
    """The records of one journal. source: who states things here."""

    def __init__(self, journal: Journal, source: Source = "command"):
        self.journal = journal
        self.source: Source = source
        self._ledger = Ledger(journal)
        self._id: str | None = None

    # --- reading ---

    @property
    def ledger(self) -> Ledger:
        """The newest one."""
        self._ledger.update()
        return self._ledger

    @property
    def journal_id(self) -> str:
        """First figures of the first event's hash: tells one journal from another."""
        if self._id is None:
            first = self.journal.event(1)
            if first is None:
                return "0" * 8
            self._id = first.hash[:8]
        return self._id

    def key(self, number: int) -> str:
        """Key of an event of this journal."""
        return f"{self.journal_id}-{number}"

    def journal_head(self) -> str:
        """Number and hash of the newest event, for a printed page."""
        number, digest = self.journal.head()
        return f"journal {self.journal_id}, {number} events, last hash {digest}"

    def record(self, filed: Filed) -> JobRecord | None:
        """The document of a record; None for an imported one whose text is lost."""
        filed = self.ledger.records.get(filed.number, filed)
        return self._record(filed)

    def _record(self, filed: Filed, fetch: Fetch | None = None) -> JobRecord | None:
        fetch = fetch or self.journal.event
        items = [
            Item(event, placed.at)
            for placed in filed.events
            if (event := fetch(placed.id)) is not None
        ]
        closing = fetch(filed.closed_by)
        closed = None if closing is None or filed.imported else wall(closing.reading)
        return built(items, self.key, closed)

    def summaries(self) -> list[Summary]:
        """Every record, the newest last. Made once, and kept in the journal's snapshot."""
        ledger = self.ledger
        new = [filed for filed in ledger.filed if filed.summary is None]
        for start in range(0, len(new), AT_ONCE):
            some = new[start : start + AT_ONCE]
            fetch = self._fetched(some)
            for filed in some:
                filed.summary = _summary(filed, self._record(filed, fetch))
        if new:
            ledger.keep(always=True)
        return [_from_plain(filed) for filed in ledger.filed]

    def _fetched(self, some: list[Filed]) -> Fetch:
        """The events of some records, read in one go where they lie close together."""
        ids = {placed.id for filed in some for placed in filed.events}
        first, last = min(ids, default=0), max(ids, default=0)
        if last - first > MOST_BETWEEN * len(ids):
            return self.journal.event
        events = self.journal.events(after=first - 1, upto=last)
        kept = {event.id: event for event in events if event.id in ids}
        return lambda number: kept.get(number) or self.journal.event(number)

    # --- finding ---

    def find(self, name: str) -> Filed:
        """A record by its id (or its beginning), its repair order, its vehicle, or "bay 2" for
        the one that stands there; also by a repair order or vehicle that was amended, where no
        record is called so now (``amended`` tells). Raises NoSuchRecord."""
        name = " ".join(name.split())
        if (bay := bay_in(name)) is not None:
            return self.in_bay(bay)
        summaries = [s for s in self.summaries() if not s.empty]
        wanted = for_comparing(name)
        if re.fullmatch(r"[0-9a-f]{6,16}", wanted):
            ids = [s for s in summaries if s.id.startswith(wanted)]
            if ids:
                return self._only(ids, name)
        same = [s for s in summaries if wanted in _called(s)]
        same = same or [s for s in summaries if _former(s, wanted)]
        if not same:
            raise NoSuchRecord(
                f"No record is called {name!r}: name its id, its repair order, its vehicle, or "
                '"bay 2". clampcall record list shows them.'
            )
        return self._only(same, name)

    def amended(self, filed: Filed, name: str) -> str:
        """What to say where ``find`` knew the record by a name that was amended; else empty."""
        wanted = for_comparing(" ".join(name.split()))
        summary = next((s for s in self.summaries() if s.number == filed.number), None)
        former = _former(summary, wanted) if summary is not None else None
        if former is None or wanted in _called(summary):
            return ""
        what = REFERENCE_WORDS[former.what].lower()
        if not former.now:
            return f"The {what} {former.text} was withdrawn from this record ({summary.id})."
        return f"The {what} {former.text} was amended: it is {former.now} now ({summary.id})."

    def _only(self, found: list[Summary], name: str) -> Filed:
        if len(found) > 1:
            ids = ", ".join(s.id for s in found[-5:])
            raise NoSuchRecord(
                f"{len(found)} records are called {name!r}: name one by its id: {ids}."
            )
        return self._ledger.records[found[0].number]

    def in_bay(self, bay: int) -> Filed:
        """The record that stands in a bay: the open one, or the last. Raises NoSuchRecord."""
        check_bay(bay)
        filed = self.ledger.last_in(bay)
        if filed is None:
            raise NoSuchRecord(f"There is no record for bay {bay} yet.")
        return filed

    def search(self, words: str) -> list[Summary]:
        """The records that hold every one of the words, the newest last."""
        wanted = for_comparing(words).split()
        return [
            s for s in self.summaries() if not s.empty and all(word in s.words for word in wanted)
        ]

    # --- stating ---

    def state(self, filed: Filed, make: Make) -> Told:
        """State something of a record. Raises NotStated, JournalTrouble."""
        number = filed.number

        def decide(reading: ClockReading) -> Iterable[Payload]:
            ledger = self.ledger
            if number not in ledger.records:
                raise NotStated("That record is not there any more: name it again.")
            return make(number)

        events = self.journal.write(decide)
        return Told(number, filed.bay, events)

    def state_in_bay(self, bay: int, make: Make) -> Told:
        """State something of the record that is open in a bay; where none is, one is begun."""
        check_bay(bay)
        seen: dict[str, Any] = {}

        def decide(reading: ClockReading) -> Iterable[Payload]:
            filed = self.ledger.open_in(bay)
            if filed is not None:
                seen["number"] = filed.number
                return make(filed.number)
            seen["number"] = self.journal.last_id() + 1
            return [job.RecordBegun(bay=bay, source=self.source), *make(seen["number"])]

        events = self.journal.write(decide)
        began = isinstance(events[0].payload, job.RecordBegun)
        return Told(seen["number"], bay, events, began)

    def begin(self, bay: int) -> Told:
        """What happens in the bay from now on belongs to a new record."""
        check_bay(bay)
        events = self.journal.append(job.RecordBegun(bay=bay, source=self.source))
        return Told(events[0].id, bay, events, True)

    def close(self, filed: Filed) -> Told:
        """End a record. Raises NotStated where it is ended already."""

        def decide(reading: ClockReading) -> Iterable[Payload]:
            now = self.ledger.records[filed.number]
            if now.closed_by:
                raise NotStated("That record is closed already; amending it needs no opening.")
            return [job.RecordClosed(record=filed.number, source=self.source)]

        return Told(filed.number, filed.bay, self.journal.write(decide))

    def counting_line(self, filed: Filed, key: str):
        """The statement of that key (or its number alone). Raises NotStated for one that is
        not there, or does not count any more."""
        record = self.record(filed)
        whole = key if KEY.match(key) else f"{self.journal_id}-{key.lstrip('#')}"
        for name in LISTS:
            for line in getattr(record, name):
                if line.key == whole:
                    if not line.counts:
                        raise NotStated(f"Statement {key} was replaced or withdrawn before.")
                    return name, line
        raise NotStated(
            f"No statement {key} in this record: clampcall record show --history names them."
        )

    def last_statement(self, filed: Filed):
        """The newest statement that counts, as (list, line); None if there is none."""
        record = self.record(filed)
        lines = [(name, line) for name in LISTS for line in counting(getattr(record, name))]
        return max(lines, key=lambda pair: (pair[1].at, pair[1].key), default=None)


def _called(summary: Summary) -> tuple[str, ...]:
    """What a record is called now, without case."""
    return for_comparing(summary.repair_order), for_comparing(summary.vehicle)


def _former(summary: Summary, wanted: str) -> Former | None:
    """By which of its former names a record is meant."""
    return next((f for f in summary.former if for_comparing(f.text) == wanted), None)


def _summary(filed: Filed, record: JobRecord | None) -> dict:
    """As plain data for the snapshot."""
    if record is None:
        return {"id": "", "began": 0.0, "empty": True}
    people = [line.name for line in counting(record.people)]
    products = [material.name for material in record.materials]
    lots = [line.lot for line in counting(record.lots)]
    order, vehicle = record.reference("repair_order") or "", record.reference("vehicle") or ""
    former = {(r.what, r.text): None for r in record.references if not r.counts}
    for what, text in (("repair_order", order), ("vehicle", vehicle)):
        former.pop((what, text), None)  # called so again
    notes = [line.text for line in counting(record.notes)]
    notes += [line.text for line in counting(record.stated_deviations)]
    began = record.began.astimezone()
    words = [
        record.id, f"bay {record.bay}", order, vehicle, *people, *products, *lots, *notes,
        began.date().isoformat(), *(text for _, text in former),
    ]  # fmt: skip
    return {
        "id": record.id,
        "began": record.began.timestamp(),
        "order": order,
        "vehicle": vehicle,
        "former": list(former),
        "people": people,
        "products": products,
        "lots": lots,
        "deviations": len(record.deviations),
        "unaccepted": sum(not d.accepted for d in record.deviations),
        "words": for_comparing(" ".join(words)),
        "empty": record.empty,
    }


def _from_plain(filed: Filed) -> Summary:
    plain = filed.summary or {}
    now = {"repair_order": plain.get("order", ""), "vehicle": plain.get("vehicle", "")}
    return Summary(
        number=filed.number,
        id=plain["id"],
        bay=filed.bay,
        began=datetime.fromtimestamp(plain["began"]).astimezone(),
        closed=bool(filed.closed_by),
        imported=filed.imported,
        repair_order=plain.get("order", ""),
        vehicle=plain.get("vehicle", ""),
        people=tuple(plain.get("people", ())),
        products=tuple(plain.get("products", ())),
        lots=tuple(plain.get("lots", ())),
        deviations=plain.get("deviations", 0),
        open_deviations=plain.get("unaccepted", 0),
        words=plain.get("words", ""),
        former=tuple(Former(what, text, now[what]) for what, text in plain.get("former", ())),
        empty=plain.get("empty", False),
    )
