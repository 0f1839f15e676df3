"""Events to document: one record, with its corrections and their history."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from assistant.record import document as doc
from assistant.record.findings import with_findings
from assistant.record.ledger import wall
from assistant.record.wording import (
    MATERIAL_NAME,
    REFERENCE_WORDS,
    coupon_words,
    degrees,
    length,
    percent,
    step_words,
)
from assistant.shop import events as kinds
from assistant.shop import job_events as job
from assistant.shop.journal import Event
from assistant.shop.state import Bay, Entry, Job
from assistant.trade.air import surface_check
from assistant.units import Q

READING_GOOD_FOR = 30 * 60.0
"""Seconds. A metal temperature older than this says nothing about dew now. Our own choice."""

Keys = Callable[[int], str]


@dataclass(frozen=True)
class Item:
    """An event of the record with its place in shop time."""

    event: Event
    at: float


def built(
    items: Sequence[Item], keys: Keys, closed: datetime | None = None
) -> doc.JobRecord | None:
    """The record that these events tell of, oldest first.

    keys: number of an event -> its key. closed: when the record was ended. None for an
    imported record whose text is lost.
    """
    first = items[0]
    if isinstance(first.event.payload, job.RecordImported):
        return _imported(items, keys)
    payload = first.event.payload
    record = doc.JobRecord(
        id=first.event.hash[:16],
        bay=payload.bay,
        began=wall(first.event.reading),
        closed=closed,
    )
    clocks = _Clocks(items, keys)
    record = record.model_copy(update={"materials": clocks.materials()})
    record = _with_statements(record, items, keys, clocks.metal_at)
    return with_findings(
        record.model_copy(
            update={"history": _history(record, items, keys), "evidence": _evidence(items, keys)}
        )
    )


def _imported(items: Sequence[Item], keys: Keys) -> doc.JobRecord | None:
    try:
        record = doc.JobRecord.model_validate_json(items[0].event.payload.document)
    except ValueError:
        return None
    if len(items) == 1:
        return record
    more = items[1:]
    record = _with_statements(record, more, keys, lambda at: (None, None), items[0].at)
    history = (*record.history, *_history(record, more, keys, items[0].at))
    evidence = (*record.evidence, *_evidence(more, keys))
    return with_findings(record.model_copy(update={"history": history, "evidence": evidence}))


def _evidence(items: Sequence[Item], keys: Keys) -> tuple[doc.Evidence, ...]:
    return tuple(
        doc.Evidence(key=keys(i.event.id), kind=i.event.kind, hash=i.event.hash) for i in items
    )


# --- statements ---------------------------------------------------------------------------

_LISTS: Mapping[type, tuple[str, type[doc.Stated], tuple[str, ...]]] = {
    job.ReferenceStated: ("references", doc.ReferenceLine, ("what", "text")),
    job.PersonNamed: ("people", doc.PersonLine, ("name", "role")),
    job.LotStated: ("lots", doc.LotLine, ("lot", "expiry", "material", "product")),
    job.AirRead: ("air", doc.AirLine, ("celsius", "humidity", "metal")),
    job.CouponTested: ("coupons", doc.CouponLine, ("result", "button", "sheet", "note")),
    job.DeviationNoted: ("stated_deviations", doc.DeviationLine, ("text",)),
    job.DeviationAccepted: ("acceptances", doc.Acceptance, ("deviation",)),
    job.NoteTaken: ("notes", doc.NoteLine, ("text", "heard")),
    job.PhotoReferenced: ("photos", doc.PhotoLine, ("file", "sha256", "caption")),
}
"""Kind of event -> its list in the document, the form of a line, the fields that are the same."""

LISTS = tuple(name for name, _, _ in _LISTS.values())


def list_of(payload: kinds.Payload) -> str | None:
    """The document's list in which a statement stands; None for what is none."""
    found = _LISTS.get(type(payload))
    return found[0] if found else None


MetalAt = Callable[[float], tuple[float | None, str | None]]


def _with_statements(
    record: doc.JobRecord,
    items: Sequence[Item],
    keys: Keys,
    metal_at: MetalAt,
    zero: float | None = None,
) -> doc.JobRecord:
    zero = items[0].at if zero is None else zero
    lists = {name: list(getattr(record, name)) for name in LISTS}
    replaced: dict[str, str] = {}
    withdrawn: dict[str, str] = {}
    for item in items:
        payload = item.event.payload
        key = keys(item.event.id)
        if isinstance(payload, job.StatementWithdrawn):
            withdrawn[payload.target] = key
            continue
        if type(payload) not in _LISTS:
            continue
        name, form, same = _LISTS[type(payload)]
        fields = {field: getattr(payload, field) for field in same}
        if isinstance(payload, job.LotStated):
            fields["job"] = None if payload.job is None else keys(payload.job)
        if isinstance(payload, job.AirRead):
            fields |= _dew(payload, *metal_at(item.at))
        if payload.replaces is not None:
            replaced[payload.replaces] = key
        lists[name].append(
            form(
                key=key, at=wall(item.event.reading), elapsed=_tenth(item.at - zero),
                source=payload.source, by=payload.by, reason=payload.reason,
                replaces=payload.replaces, **fields,
            )
        )  # fmt: skip

    def settled(line: doc.Stated) -> doc.Stated:
        return line.model_copy(
            update={
                "replaced_by": replaced.get(line.key, line.replaced_by),
                "withdrawn_by": withdrawn.get(line.key, line.withdrawn_by),
            }
        )

    return record.model_copy(
        update={name: tuple(map(settled, lines)) for name, lines in lists.items()}
    )


def _dew(payload: job.AirRead, metal: float | None, key: str | None) -> dict:
    """Metal, dew point and margin: what was read with it, or just before it."""
    found: dict = {"metal": payload.metal, "metal_key": None}
    if payload.metal is None and metal is not None:
        found = {"metal": metal, "metal_key": key}
    if found["metal"] is None or payload.humidity is None:
        return found
    try:
        check = surface_check(
            Q(found["metal"], "degC"), Q(payload.celsius, "degC"), payload.humidity
        )
    except ValueError:  # outside what the formula holds for: the margin stays missing
        return found
    return found | {
        "dew_point": round(check.dew_point.m_as("degC"), 2),
        "margin": round(check.margin.m_as("delta_degC"), 2),
    }


# --- the clocks ---------------------------------------------------------------------------


class _Clocks:
    """Materials, readings and steps, through the fold of the shop's own state."""

    def __init__(self, items: Sequence[Item], keys: Keys):
        self._items, self._keys = items, keys
        self._zero = items[0].at
        self._by_id = {item.event.id: item for item in items}
        entries: list[Entry] = []
        for item in items:
            payload = item.event.payload
            if isinstance(payload, kinds.Undone):
                entries = [entry for entry in entries if entry.id != payload.target]
            elif isinstance(payload, (kinds.JobStarted, kinds.TemperatureRead, kinds.StageMarked,
                                      kinds.Cancelled, kinds.Corrected)):  # fmt: skip
                entries.append(Entry(item.event.id, item.at, payload))
        self._entries = tuple(entries)
        self._jobs = Bay(0, self._entries).jobs

    def materials(self) -> tuple[doc.MaterialUse, ...]:
        return tuple(map(self._material, self._jobs))

    def metal_at(self, at: float) -> tuple[float | None, str | None]:
        """The last temperature of the metal before a moment, if it is not too old."""
        readings = {r.id: r for found in self._jobs for r in found.readings}.values()
        near = [r for r in readings if at - READING_GOOD_FOR <= r.at <= at]
        if not near:
            return None, None
        last = max(near, key=lambda reading: (reading.at, reading.id))
        return last.celsius, self._keys(last.id)

    def _wall(self, at: float) -> datetime:
        """The wall clock at a moment of shop time, by the last event before it."""
        base = max((i for i in self._items if i.at <= at), key=lambda i: i.at, default=None)
        base = base or self._items[0]
        return _to_tenth(wall(base.event.reading) + timedelta(seconds=at - base.at))

    def _stamp(self, number: int, at: float) -> dict:
        item = self._by_id[number]
        return {
            "key": self._keys(number),
            "at": wall(item.event.reading),
            "elapsed": _tenth(at - self._zero),
        }

    def _material(self, found: Job) -> doc.MaterialUse:
        started = found.started
        first = self._by_id[found.id].event.payload
        was = []
        if first.product != started.product:
            was.append(f"product said first: {first.name}")
        if first.ago != started.ago:
            was.append(f"said first to have gone on {length(first.ago)} before it was told")
        steps = tuple(
            doc.Step(**self._stamp(m.id, m.at), mark=m.mark, early=m.early) for m in found.marks
        )
        last = steps[-1].elapsed + self._zero if found.ended == "done" and steps else math.inf
        readings = tuple(self._reading(r) for r in found.readings if r.at <= last)
        return doc.MaterialUse(
            **self._stamp(found.id, found.said_at),
            material=found.material,
            product=started.product,
            name=started.name,
            spoken_name=started.spoken_name,
            invented=started.invented,
            source=started.source,
            start_at=self._wall(found.start_at),
            start_elapsed=_tenth(found.start_at - self._zero),
            ended=found.ended,
            tables=started.tables,
            readings=readings,
            steps=steps,
            clocks=tuple(self._clock(found, stage) for stage in found.clocks),
            was=tuple(was),
        )

    def _reading(self, reading) -> doc.Reading:
        first = self._by_id[reading.id].event.payload.celsius
        corrected = [
            item.event.id
            for item in self._items
            if isinstance(item.event.payload, kinds.Corrected)
            and item.event.payload.target == reading.id
            and item.event.payload.celsius is not None
        ]
        changed = first != reading.celsius
        return doc.Reading(
            # the first one is of when it went on, which may be before it was told
            **(self._stamp(reading.id, reading.at) | {"at": self._wall(reading.at)}),
            celsius=reading.celsius,
            source=reading.source,
            was=first if changed else None,
            corrected_by=self._keys(corrected[-1]) if changed and corrected else None,
        )

    def _clock(self, found: Job, stage) -> doc.Clock:
        clock = found.clocks[stage]
        ends = clock.end
        never = not math.isfinite(ends)
        return doc.Clock(
            stage=stage,
            required=None if never else _tenth(ends - found.start_at),
            at=None if never else self._wall(ends),
            past_limit=None if clock.limit is None else str(clock.limit),
        )


# --- history ------------------------------------------------------------------------------


def _history(
    record: doc.JobRecord, items: Sequence[Item], keys: Keys, zero: float | None = None
) -> tuple[doc.HistoryLine, ...]:
    zero = items[0].at if zero is None else zero
    gone = {i.event.payload.target for i in items if isinstance(i.event.payload, kinds.Undone)}
    stated = {line.key: line for name in LISTS for line in getattr(record, name)}
    lines = []
    for item in items:
        event, key = item.event, keys(item.event.id)
        counts = event.id not in gone and (key not in stated or stated[key].counts)
        lines.append(
            doc.HistoryLine(
                key=key,
                at=wall(event.reading),
                elapsed=_tenth(item.at - zero),
                kind=event.kind,
                text=event_words(event.payload, keys),
                source=getattr(event.payload, "source", None),
                counts=counts,
            )
        )
    return tuple(lines)


def event_words(payload: kinds.Payload | None, keys: Keys) -> str:
    """One event in words."""
    text = _plain_words(payload, keys)
    if isinstance(payload, job.Statement):
        if payload.replaces is not None:
            text += f" (in place of {payload.replaces})"
        if payload.by is not None and not isinstance(payload, job.DeviationAccepted):
            text += f" (stated by {payload.by})"
        if payload.reason is not None:
            text += f" (reason: {payload.reason})"
    return text


def _plain_words(payload: kinds.Payload | None, keys: Keys) -> str:
    match payload:
        case job.RecordBegun():
            return "record begun"
        case job.RecordClosed():
            return "record closed"
        case kinds.JobStarted():
            ago = f", {length(payload.ago)} before it was told" if payload.ago >= 1 else ""
            name = MATERIAL_NAME[payload.material].lower()
            return f"{name} on: {payload.name}, metal at {degrees(payload.celsius)}{ago}"
        case kinds.TemperatureRead():
            return f"metal at {degrees(payload.celsius)}"
        case kinds.StageMarked():
            early = ", early: its time was not over" if payload.early else ""
            return f"{step_words('adhesive', payload.mark)}{early}"
        case kinds.Cancelled():
            return f"given up: {keys(payload.target)}"
        case kinds.Corrected():
            said = []
            if payload.celsius is not None:
                said.append(f"metal at {degrees(payload.celsius)}")
            if payload.started is not None:
                said.append(f"{payload.started.name}, on for {length(payload.started.ago)} "
                            "when it was told")  # fmt: skip
            return f"correction of {keys(payload.target)}: {'; '.join(said)}"
        case kinds.Undone():
            return f"taken back: {keys(payload.target)}"
        case job.ReferenceStated():
            return f"{REFERENCE_WORDS[payload.what].lower()}: {payload.text}"
        case job.PersonNamed():
            return f"{payload.role}: {payload.name}"
        case job.LotStated():
            expiry = f", expiry {payload.expiry}" if payload.expiry else ""
            of = f" of the {payload.material}" if payload.material else ""
            return f"lot{of}: {payload.lot}{expiry}"
        case job.AirRead():
            humidity = "" if payload.humidity is None else f", {percent(payload.humidity)} humidity"
            metal = "" if payload.metal is None else f", metal at {degrees(payload.metal)}"
            return f"air at {degrees(payload.celsius)}{humidity}{metal}"
        case job.CouponTested():
            told = coupon_words(payload.result, payload.button, payload.sheet, payload.note)
            return f"weld coupon {told}"
        case job.DeviationNoted():
            return f"deviation: {payload.text}"
        case job.DeviationAccepted():
            who = payload.by or "somebody who was not named"
            return f"deviation {payload.deviation} accepted by {who}"
        case job.NoteTaken():
            return f"note{' (by ear)' if payload.heard else ''}: {payload.text}"
        case job.PhotoReferenced():
            caption = f" ({payload.caption})" if payload.caption else ""
            unread = "" if payload.sha256 else " (the file could not be read)"
            return f"photo: {payload.file}{caption}{unread}"
        case job.StatementWithdrawn():
            return f"withdrawn: {payload.target}"
        case job.RecordImported():
            return "record imported"
    return "an entry that this program does not know"


def _tenth(seconds: float) -> float:
    return round(seconds, 1) + 0.0


def _to_tenth(moment: datetime) -> datetime:
    """Figures that are worked out are not finer than what they are worked out from."""
    return datetime.fromtimestamp(round(moment.timestamp(), 1), UTC)
