"""Records as JSON and CSV, and back.

JSON is the whole document (``document.Export``; its schema is ``schema.json`` beside this
file, and ``clampcall record schema`` prints it). CSV is one row for each entry of a record,
for a spreadsheet: it tells what was stated, but is not read back.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from assistant.record.building import LISTS
from assistant.record.curve import clock_of
from assistant.record.document import Export, JobRecord, MaterialUse, Stated
from assistant.record.ledger import Filed
from assistant.record.records import NotStated, Records
from assistant.shop import job_events as job
from assistant.shop.timekeeping import ClockReading

SCHEMA_FILE = Path(__file__).with_name("schema.json")

CSV_COLUMNS = (
    "record",
    "bay",
    "section",
    "key",
    "at",
    "elapsed",
    "name",
    "value",
    "source",
    "by",
    "reason",
    "replaces",
    "counts",
)
"""record: id. section: a list of the document, "materials", "readings", "steps", "clocks" or
"checks". at: UTC. elapsed: seconds since the record began. counts: no for what was replaced or
withdrawn. A value that is missing is an empty cell."""

FORMULA_BEGINS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins so is a formula to a spreadsheet: an apostrophe is put before it."""


def schema() -> dict[str, Any]:
    """The JSON schema of an exported file."""
    return Export.model_json_schema()


def schema_text() -> str:
    return json.dumps(schema(), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


def to_json(records: Iterable[JobRecord]) -> str:
    """A file of records."""
    return Export(records=tuple(records)).model_dump_json(indent=1) + "\n"


def from_json(text: str, name: str = "the file") -> Export:
    """Raises NotStated, with the first fault in one line."""
    try:
        export = Export.model_validate_json(text)
    except ValidationError as trouble:
        first = trouble.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "its beginning"
        raise NotStated(f"{name} holds no exported records: at {where}: {first['msg']}.") from None
    for record in export.records:
        for material in record.materials:
            _check_clocks(record, material, name)
    return export


def _check_clocks(record: JobRecord, material: MaterialUse, name: str) -> None:
    """Raises NotStated for times out of which no clock can be made."""
    times = [reading.elapsed for reading in material.readings]
    try:
        if times != sorted(times):
            raise ValueError("readings out of order")
        for stage in material.tables:
            clock_of(material, stage).end  # noqa: B018  (worked out as it is read)
    except (ValueError, ArithmeticError) as fault:
        raise NotStated(
            f"{name}: the times of {material.name} in record {record.id} are none: {fault}."
        ) from None


def take_in(records: Records, export: Export) -> int:
    """Keep exported records in this journal; all or none. Returns how many.

    Raises NotStated for one that is here already.
    """

    def decide(reading: ClockReading) -> list[job.RecordImported]:
        here = {summary.id for summary in records.summaries()}
        for record in export.records:
            if record.id in here:
                raise NotStated(f"The record {record.id} is here already; nothing was imported.")
            here.add(record.id)
        return [
            job.RecordImported(
                bay=record.bay, document=record.model_dump_json(), source=records.source
            )
            for record in export.records
        ]

    return len(records.journal.write(decide))


# --- CSV ----------------------------------------------------------------------------------


def to_csv(records: Iterable[JobRecord]) -> str:
    """One row for each entry, with CSV_COLUMNS (RFC 4180, from memory)."""
    out = io.StringIO()
    writer = csv.DictWriter(out, CSV_COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for record in records:
        for row in _rows(record):
            writer.writerow({name: _cell(value) for name, value in (_head(record) | row).items()})
    return out.getvalue()


def _head(record: JobRecord) -> dict[str, Any]:
    return {"record": record.id, "bay": record.bay}


def _rows(record: JobRecord) -> Iterable[dict[str, Any]]:
    for section in LISTS:
        for line in getattr(record, section):
            yield from _statement(section, line)
    for use in record.materials:
        stamp = {"key": use.key, "at": use.at.isoformat(), "elapsed": use.elapsed}
        on = {"at": use.start_at.isoformat(), "elapsed": use.start_elapsed}
        yield stamp | on | {
            "section": "materials", "name": use.material, "value": use.name,
            "source": use.source, "counts": "yes",
        }  # fmt: skip
        for reading in use.readings:
            yield {
                "section": "readings", "key": reading.key, "at": reading.at.isoformat(),
                "elapsed": reading.elapsed, "name": "metal_celsius", "value": reading.celsius,
                "source": reading.source, "counts": "yes",
            }  # fmt: skip
        for step in use.steps:
            yield {
                "section": "steps", "key": step.key, "at": step.at.isoformat(),
                "elapsed": step.elapsed, "name": step.mark, "counts": "yes",
                "value": "early" if step.early else "in time",
            }  # fmt: skip
        for clock in use.clocks:
            yield {
                "section": "clocks", "key": use.key, "name": f"{clock.stage}_required_seconds",
                "value": clock.required, "at": clock.at.isoformat() if clock.at else None,
            }  # fmt: skip
    for check in record.checks:
        told = f"{check.verdict}; required {check.required or ''}; found {check.actual or ''}"
        yield {"section": "checks", "key": check.key, "name": check.what, "value": told}


_COMMON = (*Stated.model_fields,)


def _statement(section: str, line: Stated) -> Iterable[dict[str, Any]]:
    row = {
        "section": section, "key": line.key, "at": line.at.isoformat(), "elapsed": line.elapsed,
        "source": line.source, "by": line.by, "reason": line.reason, "replaces": line.replaces,
        "counts": "yes" if line.counts else "no",
    }  # fmt: skip
    for name in type(line).model_fields:
        if name not in _COMMON:
            yield row | {"name": name, "value": getattr(line, name)}


def _cell(value: Any) -> Any:
    if isinstance(value, str) and value.startswith(FORMULA_BEGINS):
        return f"'{value}"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value


def documents(records: Records, filed: Sequence[Filed] | None = None) -> list[JobRecord]:
    """The documents of these records; None: of all that are not empty."""
    if filed is None:
        there = records.summaries()
        filed = [records.ledger.records[s.number] for s in there if not s.empty]
    found = [records.record(one) for one in filed]
    return [record for record in found if record is not None]
