"""What may be stated of a record, decided: words and values -> events, or why not.

Each function returns what ``Records.state`` takes. What is stated once more of a thing that
there is only one of (the repair order, the vehicle) replaces what was stated before, which
stays in the history.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from assistant.record.building import list_of
from assistant.record.document import JobRecord
from assistant.record.records import KEY, Make, NotStated, Records
from assistant.shop import job_events as job
from assistant.shop.events import Corrected, JobStarted, Material, Payload, TemperatureRead
from assistant.shop.job_events import Reference, Result, Role
from assistant.shop.orders import checked_temperature
from assistant.trade.air import AIR_RANGE


def reference(records: Records, what: Reference, text: str, **more: Any) -> Make:
    """The repair order or the vehicle, as the shop calls it."""

    def make(number: int) -> Iterable[Payload]:
        record = _record(records, number)
        before = [r for r in record.references if r.what == what and r.counts] if record else []
        replaces = before[-1].key if before else None
        return [
            _made(job.ReferenceStated, records, number, what=what, text=text,
                  **({"replaces": replaces} | more))
        ]  # fmt: skip

    return make


def person(records: Records, name: str, role: Role = "technician", **more: Any) -> Make:
    """Who worked on it."""
    return lambda number: [_made(job.PersonNamed, records, number, name=name, role=role, **more)]


def lot(
    records: Records,
    text: str,
    expiry: str | None = None,
    material: Material | None = None,
    **more: Any,
) -> Make:
    """The lot of a material: of the one named, or of what went on last."""
    checked_expiry(expiry)

    def make(number: int) -> Iterable[Payload]:
        record = _record(records, number)
        uses = [m for m in (record.materials if record else ()) if material in (None, m.material)]
        use = uses[-1] if uses else None
        match = KEY.match(use.key) if use else None
        ours = match is not None and match[1] == records.journal_id
        return [
            _made(job.LotStated, records, number, lot=text, expiry=expiry,
                  material=use.material if use else material,
                  product=use.name if use else None, job=int(match[2]) if ours else None, **more)
        ]  # fmt: skip

    return make


def checked_expiry(expiry: str | None) -> None:
    """Raises NotStated for what is no day or month."""
    if expiry is None:
        return
    try:
        date.fromisoformat(expiry if len(expiry) > len("2027-03") else f"{expiry}-01")
    except ValueError:
        raise NotStated(
            f"{expiry!r} is no date: write 2027-03-31, or 2027-03 where no day is printed."
        ) from None


def air(
    records: Records,
    celsius: float,
    humidity: float | None = None,
    metal: float | None = None,
    **more: Any,
) -> Make:
    """Temperature (Celsius) and humidity (0 to 1) of the air, and of the metal with it."""
    low, high = (bound.m_as("degC") for bound in AIR_RANGE)
    if not low <= celsius <= high:
        raise NotStated(
            f"Air of {low:.0f} to {high:.0f} °C ({low * 1.8 + 32:.0f} to {high * 1.8 + 32:.0f} °F) "
            f"is taken, not {celsius:.1f} °C: read it again."
        )
    if humidity is not None and not 0 < humidity <= 1:
        raise NotStated("Humidity of 1 to 100 percent is taken: read it again.")
    metal = None if metal is None else checked_temperature(metal)
    return lambda number: [
        _made(job.AirRead, records, number, celsius=round(celsius, 9), humidity=humidity,
              metal=metal, **more)
    ]  # fmt: skip


def coupon(
    records: Records,
    result: Result,
    button: float | None = None,
    sheet: float | None = None,
    note: str | None = None,
    **more: Any,
) -> Make:
    """A weld coupon was pulled apart; button and sheet in millimeters."""
    return lambda number: [
        _made(job.CouponTested, records, number, result=result, button=button, sheet=sheet,
              note=note, **more)
    ]  # fmt: skip


def deviation(records: Records, text: str, **more: Any) -> Make:
    """Something was done otherwise than it should have been."""
    return lambda number: [_made(job.DeviationNoted, records, number, text=text, **more)]


def acceptance(
    records: Records, keys: Sequence[str] | None = None, by: str | None = None, **more: Any
) -> Make:
    """Accept deviations by their keys; all that are not accepted, where none is named."""

    def make(number: int) -> Iterable[Payload]:
        record = _record(records, number)
        known = {d.key: d for d in (record.deviations if record else ())}
        chosen = [key for key, d in known.items() if not d.accepted] if keys is None else []
        for key in keys or ():
            whole = key if key in known else f"{records.journal_id}-{key.lstrip('#')}"
            if whole not in known:
                raise NotStated(f"There is no deviation {key!r} in this record.")
            chosen.append(whole)
        if not chosen:
            raise NotStated("There is no deviation that waits to be accepted.")
        return [
            _made(job.DeviationAccepted, records, number, deviation=key, by=by, **more)
            for key in chosen
        ]

    return make


def note(records: Records, text: str, heard: bool = False, **more: Any) -> Make:
    """A note in free words; heard: by ear."""
    return lambda number: [_made(job.NoteTaken, records, number, text=text, heard=heard, **more)]


def photo(records: Records, file: str, caption: str | None = None, **more: Any) -> Make:
    """A photo that lies elsewhere, with the hash of what the file holds now."""
    try:
        digest = hashlib.sha256(Path(file).expanduser().read_bytes()).hexdigest()
    except OSError:
        digest = None
    return lambda number: [
        _made(job.PhotoReferenced, records, number, file=file, sha256=digest, caption=caption,
              **more)
    ]  # fmt: skip


def replacing(records: Records, make: Make, key: str) -> Make:
    """The same statement in the place of an earlier one of its kind, which stays in the
    history."""

    def made(number: int) -> Iterable[Payload]:
        filed = records.ledger.records.get(number)
        if filed is None:
            raise NotStated("A record that begins now holds nothing that could be replaced.")
        name, line = records.counting_line(filed, key)
        payloads = list(make(number))
        if len(payloads) != 1 or list_of(payloads[0]) != name:
            raise NotStated(f"Statement {key} is of another kind: withdraw it instead.")
        return [payloads[0].model_copy(update={"replaces": line.key})]

    return made


def withdrawal(records: Records, key: str, **more: Any) -> Make:
    """A statement does not count any more."""

    def make(number: int) -> Iterable[Payload]:
        _, line = records.counting_line(records.ledger.records[number], key)
        return [_made(job.StatementWithdrawn, records, number, target=line.key, **more)]

    return make


def last_withdrawal(records: Records, **more: Any) -> Make:
    """The newest statement that counts does not count any more."""

    def make(number: int) -> Iterable[Payload]:
        found = records.last_statement(records.ledger.records[number])
        if found is None:
            raise NotStated("There is nothing in this record to strike.")
        return [_made(job.StatementWithdrawn, records, number, target=found[1].key, **more)]

    return make


def temperature(records: Records, key: str, celsius: float, **more: Any) -> Make:
    """A temperature of the metal was another than was told; the clocks are worked out anew."""
    celsius = checked_temperature(celsius)

    def make(number: int) -> Iterable[Payload]:
        filed = records.ledger.records[number]
        match = KEY.match(key) or KEY.match(f"{records.journal_id}-{key.lstrip('#')}")
        target = int(match[2]) if match and match[1] == records.journal_id else 0
        event = records.journal.event(target)
        mine = any(placed.id == target for placed in filed.events)
        if (
            event is None
            or not mine
            or not isinstance(event.payload, (TemperatureRead, JobStarted))
        ):
            raise NotStated(
                f"{key!r} is no temperature that was read in this record: clampcall record show "
                "--history names them."
            )
        return [
            Corrected(bay=event.payload.bay, target=target, celsius=celsius, source=records.source)
        ]

    return make


def _record(records: Records, number: int) -> JobRecord | None:
    """The record as it is now; None for one that is begun in this very step."""
    filed = records.ledger.records.get(number)
    return None if filed is None else records.record(filed)


def _made(kind: type[job.Statement], records: Records, number: int, **fields: Any) -> Payload:
    """Raises NotStated for a value that the record does not take."""
    try:
        return kind(record=number, source=records.source, **fields)
    except ValidationError as trouble:
        first = trouble.errors()[0]
        where = ".".join(str(part) for part in first["loc"]).replace("_", " ")
        match first["type"]:
            case "string_too_long":
                why = f"it may have up to {first['ctx']['max_length']} characters"
            case "string_unicode":
                why = "it holds what is no text in UTF-8"
            case _:
                why = first["msg"].replace("Input should be", "it must be")
        raise NotStated(f"That is no {where}: {why}.") from None
