"""``clampcall record``: what was done, written down, shown, exported, amended and checked."""

from __future__ import annotations

import sys
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.commands.bays import open_shop, read_temperature, tell_notices
from assistant.commands.shared import (
    BAD_INPUT,
    BadInput,
    JsonOption,
    Units,
    UnitsOption,
    complain,
    keep_apart,
    need_together,
    print_json,
)

app = typer.Typer(
    help="The job record: list, search, show, export, import, amend, verify, forget.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


class Form(StrEnum):
    json = "json"
    csv = "csv"
    html = "html"
    pdf = "pdf"


class What(StrEnum):
    technician = "technician"
    helper = "helper"
    inspector = "inspector"


class CouponResult(StrEnum):
    passed = "passed"
    failed = "failed"


class MaterialName(StrEnum):
    adhesive = "adhesive"
    filler = "filler"
    sealer = "sealer"
    foam = "foam"
    primer = "primer"


JobArgument = Annotated[
    str,
    typer.Argument(help='A record: its id, its repair order, its vehicle, or "bay 2".'),
]


def open_records(units: Units = Units.us):
    """The shop of this machine and its records."""
    from assistant.record.records import Records

    shop = open_shop(units)
    return shop, Records(shop.journal, "command")


def run(order: Callable[[], Any], shop) -> Any:
    """A refusal is one line and exit code 2."""
    from assistant.exchange import Refusal

    try:
        return order()
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None
    finally:
        tell_notices(shop)


def write_out(content: str | bytes, to: Path | None, what: str) -> None:
    """To a file, or to standard output."""
    if to is None:
        if isinstance(content, bytes):
            sys.stdout.buffer.write(content)
        else:
            sys.stdout.write(content)
        sys.stdout.flush()
        return
    try:
        if isinstance(content, bytes):
            to.write_bytes(content)
        else:
            to.write_text(content, encoding="utf-8", newline="")
    except OSError as trouble:
        raise BadInput(f"{to} cannot be written: {trouble.strerror or trouble}") from None
    print(f"{what} written to {to}")


# --- looking ------------------------------------------------------------------------------


@app.command("list")
def list_records(
    as_json: JsonOption = False,
    last: Annotated[
        int | None, typer.Option(help="Only so many, the newest.", min=1, metavar="N")
    ] = None,
) -> None:
    """List the records, the newest last."""
    shop, records = open_records()
    found = run(lambda: [s for s in records.summaries() if not s.empty], shop)
    _print_summaries(found[-last:] if last else found, as_json, "There is no record yet.")


@app.command()
def search(
    words: Annotated[list[str], typer.Argument(help="Words: all must be there.")],
    as_json: JsonOption = False,
) -> None:
    """Find records by repair order, vehicle, person, product, lot, note, bay or day."""
    shop, records = open_records()
    found = run(lambda: records.search(" ".join(words)), shop)
    _print_summaries(found, as_json, f"No record holds {' '.join(words)!r}.")


def _print_summaries(found, as_json: bool, none: str) -> None:
    if as_json:
        for s in found:
            print_json(
                {
                    "id": s.id,
                    "bay": s.bay,
                    "began": s.began.isoformat(),
                    "closed": s.closed,
                    "imported": s.imported,
                    "repair_order": s.repair_order or None,
                    "vehicle": s.vehicle or None,
                    "before": [former.text for former in s.former],
                    "people": list(s.people),
                    "products": list(s.products),
                    "lots": list(s.lots),
                    "deviations": s.deviations,
                    "deviations_not_accepted": s.open_deviations,
                }
            )
        return
    for s in found:
        state = "imported" if s.imported else "closed" if s.closed else "open"
        many = "" if s.open_deviations == 1 else "s"
        was = [former.text for former in s.former if former.what == "repair_order"]
        order = (s.repair_order or "(no repair order)") + (f" (was {', '.join(was)})" * bool(was))
        bad = f", {s.open_deviations} deviation{many} not accepted" if s.open_deviations else ""
        print(
            f"{s.id}  {s.began:%Y-%m-%d %H:%M}  bay {s.bay:<2} {state:8} "
            f"{order}  {s.vehicle}  {', '.join(s.products)}{bad}"
        )
    if not found:
        print(none)


@app.command()
def show(
    job: JobArgument,
    history: Annotated[
        bool, typer.Option("--history", help="With every event, corrections and all.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Show one record."""
    from assistant.record import telling

    shop, records = open_records()
    record = run(lambda: _document(records, job), shop)
    if as_json:
        print(record.model_dump_json())
        return
    for line in telling.lines(record, history):
        print(line)


def _found(records, job: str):
    """A record by its name; says where that is a name from before it was amended."""
    filed = records.find(job)
    if amended := records.amended(filed, job):
        complain(amended)
    return filed


def _document(records, job: str):
    record = records.record(_found(records, job))
    if record is None:
        raise BadInput(f"the text of {job!r} is lost: clampcall record verify tells more")
    return record


# --- out and in ---------------------------------------------------------------------------


@app.command()
def export(
    jobs: Annotated[
        list[str] | None, typer.Argument(help="Records; none: all (JSON and CSV).")
    ] = None,
    form: Annotated[Form, typer.Option("--as", help="The form.")] = Form.json,
    to: Annotated[
        Path | None, typer.Option("--to", help="The file; none: standard output.")
    ] = None,
) -> None:
    """Write records as JSON, CSV, HTML or PDF. HTML and PDF are a report of one record."""
    from assistant.record import exchanging

    shop, records = open_records()
    if form in (Form.html, Form.pdf):
        if not jobs or len(jobs) != 1:
            raise BadInput(f"a report as {form.value} is of one record: name one")
        if form is Form.pdf and to is None and sys.stdout.isatty():
            raise BadInput("a PDF goes to a file: name it with --to")
        content = run(lambda: _report(records, jobs[0], form), shop)
        write_out(content, to, "Report")
        return
    chosen = run(lambda: [_found(records, job) for job in jobs or ()], shop)
    found = run(lambda: exchanging.documents(records, chosen if jobs else None), shop)
    text = exchanging.to_json(found) if form is Form.json else exchanging.to_csv(found)
    write_out(text, to, f"{len(found)} record{'' if len(found) == 1 else 's'}")


def _report(records, job: str, form: Form) -> str | bytes:
    record = _document(records, job)
    head = records.journal_head()
    if form is Form.html:
        from assistant.record.report_html import html

        return html(record, head)
    from assistant.record.report_pdf import pdf

    return pdf(record, head)


@app.command("import")
def import_records(
    file: Annotated[Path, typer.Argument(help="A file that clampcall record export wrote.")],
) -> None:
    """Take in records that were exported elsewhere, with all their history."""
    from assistant.record import exchanging

    try:
        text = file.read_text(encoding="utf-8")
    except OSError as trouble:
        raise BadInput(f"{file} cannot be read: {trouble.strerror or trouble}") from None
    except UnicodeDecodeError:
        raise BadInput(f"{file} is no text: name a file of clampcall record export") from None
    shop, records = open_records()
    count = run(lambda: exchanging.take_in(records, exchanging.from_json(text, str(file))), shop)
    print(f"{count} record{'' if count == 1 else 's'} imported")


@app.command()
def schema() -> None:
    """Print the JSON schema of an exported file."""
    from assistant.record.exchanging import schema_text

    sys.stdout.write(schema_text())


# --- stating ------------------------------------------------------------------------------


@app.command()
def begin(bay: Annotated[int, typer.Argument(help="Number of the bay.")]) -> None:
    """What happens in the bay from now on belongs to a new record."""
    shop, records = open_records()
    told = run(lambda: records.begin(bay), shop)
    print(f"Bay {told.bay}: a new record is begun.")


@app.command()
def close(job: JobArgument) -> None:
    """End a record. It can still be amended."""
    shop, records = open_records()
    told = run(lambda: records.close(_found(records, job)), shop)
    print(f"Bay {told.bay}: the record is closed.")


@app.command()
def amend(
    job: JobArgument,
    repair_order: Annotated[str | None, typer.Option(help="As the shop states it.")] = None,
    vehicle: Annotated[str | None, typer.Option(help="As the shop states it.")] = None,
    person: Annotated[str | None, typer.Option(help="Who worked on it.")] = None,
    role: Annotated[What | None, typer.Option(help="Of that person; none: the technician.")] = None,
    lot: Annotated[str | None, typer.Option(help="A lot.")] = None,
    expiry: Annotated[str | None, typer.Option(help="Of the lot: 2027-03-31 or 2027-03.")] = None,
    material: Annotated[
        MaterialName | None, typer.Option(help="Of the lot; none: what went on last.")
    ] = None,
    air: Annotated[str | None, typer.Option(help='Temperature of the air: "70 F".')] = None,
    humidity: Annotated[
        float | None, typer.Option(help="Of the air, percent.", min=0, max=100)
    ] = None,
    metal: Annotated[str | None, typer.Option(help="Of the metal with it.")] = None,
    coupon: Annotated[CouponResult | None, typer.Option(help="Result of a weld coupon.")] = None,
    button: Annotated[float | None, typer.Option(help="Of the coupon, mm.", min=0)] = None,
    sheet: Annotated[float | None, typer.Option(help="The thinner one, mm.", min=0)] = None,
    deviation: Annotated[str | None, typer.Option(help="What was done otherwise.")] = None,
    accept: Annotated[
        list[str] | None, typer.Option(help='Key of a deviation, or "all"; with --by.')
    ] = None,
    note: Annotated[str | None, typer.Option(help="A note.")] = None,
    photo: Annotated[str | None, typer.Option(help="A photo's file.")] = None,
    caption: Annotated[str | None, typer.Option(help="Of the photo.")] = None,
    reading: Annotated[
        str | None, typer.Option(help="Key of a metal temperature that was told wrong.")
    ] = None,
    temperature: Annotated[str | None, typer.Option(help="What it should have been.")] = None,
    withdraw: Annotated[str | None, typer.Option(help="Key of a statement.")] = None,
    replaces: Annotated[
        str | None, typer.Option(help="Key of the statement that this one corrects.")
    ] = None,
    by: Annotated[str | None, typer.Option(help="Who states or accepts it.")] = None,
    reason: Annotated[str | None, typer.Option(help="Why.")] = None,
    units: UnitsOption = Units.us,
) -> None:
    """Add to a record, or correct it. Nothing is overwritten: what was said stays in the
    history. "bay 2" without an open record begins one."""
    from assistant.record import orders
    from assistant.record.building import event_words

    shop, records = open_records(units)
    said = {"by": by, "reason": reason}
    more = {name: value for name, value in said.items() if value is not None}

    def stated():
        if repair_order is not None:
            yield orders.reference(records, "repair_order", repair_order, **more)
        if vehicle is not None:
            yield orders.reference(records, "vehicle", vehicle, **more)
        if person is not None:
            yield orders.person(records, person, (role or What.technician).value, **more)
        if lot is not None:
            kind = material.value if material else None
            yield orders.lot(records, lot, expiry, kind, **more)
        if air is not None:
            at = None if metal is None else read_temperature(metal, units)
            share = None if humidity is None else humidity / 100
            yield orders.air(records, read_temperature(air, units), share, at, **more)
        if coupon is not None:
            yield orders.coupon(records, coupon.value, button, sheet, **more)
        if deviation is not None:
            yield orders.deviation(records, deviation, **more)
        if accept:
            keys = None if accept == ["all"] else accept
            yield orders.acceptance(records, keys, **more)
        if note is not None:
            yield orders.note(records, note, **more)
        if photo is not None:
            yield orders.photo(records, photo, caption, **more)
        if reading is not None and temperature is not None:
            yield orders.temperature(records, reading, read_temperature(temperature, units))
        if withdraw is not None:
            yield orders.withdrawal(records, withdraw, **more)

    need_together(
        ("--role", role, "--person", person),
        ("--expiry", expiry, "--lot", lot),
        ("--material", material, "--lot", lot),
        ("--humidity", humidity, "--air", air),
        ("--metal", metal, "--air", air),
        ("--button", button, "--coupon", coupon),
        ("--sheet", sheet, "--coupon", coupon),
        ("--caption", caption, "--photo", photo),
        ("--accept", accept, "--by", by),
        ("--reading", reading, "--temperature", temperature),
        ("--temperature", temperature, "--reading", reading),
    )
    keep_apart(  # the clocks are worked out anew: that has no name and no reason of its own
        ("--temperature", temperature, "--by", by),
        ("--temperature", temperature, "--reason", reason),
    )
    makes = run(lambda: list(stated()), shop)
    if not makes:
        raise BadInput("nothing to amend: clampcall record amend --help names what can be stated")
    if replaces is not None:
        if len(makes) > 1:
            raise BadInput("--replaces corrects one statement: state one thing with it")
        makes = [orders.replacing(records, makes[0], replaces)]
    told = run(lambda: _state(records, job, makes), shop)
    if told.began:
        print(f"Bay {told.bay}: a new record is begun.")
    for event in told.events:
        if event.kind != "record_begun":
            print(f"Recorded [{records.key(event.id)}]: {event_words(event.payload, records.key)}")


def _state(records, job: str, makes: list):
    """State everything, all or nothing, of the record that is named."""
    from assistant.record.records import bay_in

    def everything(number: int):
        return [payload for make in makes for payload in make(number)]

    bay = bay_in(job)
    if bay is not None:
        return records.state_in_bay(bay, everything)
    return records.state(_found(records, job), everything)


# --- care ---------------------------------------------------------------------------------


@app.command()
def verify(as_json: JsonOption = False) -> None:
    """Check every event of the journal, the chain of their hashes, the private texts and both
    copies. Any change is found; exit code 2 tells it."""
    from assistant.exchange import Refusal
    from assistant.shop.journal import READ_ONLY, Journal

    found: list[str] = []
    count, head = 0, ""
    try:
        journal = Journal()
        for notice in journal.take_notices():
            if notice.endswith(READ_ONLY):  # a backup may be so, and be whole
                complain(notice)
            else:
                found.append(f"{notice}.")
        count = journal.verify()
        head = journal.head()[1]
    except Refusal as trouble:
        found.append(str(trouble))
    if as_json:
        print_json({"events": count, "last_hash": head, "whole": not found, "found": found})
    elif not found:
        print(f"Whole: {count} events, each follows from the one before.")
        print(f"The last hash is {head}")
        print("Keep it elsewhere: it tells whether the end was cut off or all was written anew.")
    for line in found if not as_json else ():
        complain(line)
    raise typer.Exit(BAD_INPUT if found else 0)


@app.command()
def forget(
    names: Annotated[
        list[str], typer.Argument(help="The name, and other forms in which it was written.")
    ],
    as_json: JsonOption = False,
) -> None:
    """Take a person's name out of everything that was ever written down, and leave the chain
    provable. It cannot be undone."""
    from assistant.record.forgetting import forget as forget_names

    shop, _ = open_records()
    done = run(lambda: forget_names(shop.journal, names), shop)
    if as_json:
        print_json(
            {
                "texts": done.texts, "event": done.event or None, "stays": list(done.stays),
                "parts": dict(done.parts), "deleted": list(done.deleted),
                "files": list(done.files),
            }
        )  # fmt: skip
    else:
        print(
            f"Removed from {done.texts} text{'' if done.texts == 1 else 's'}; event {done.event} "
            f'tells of it, and "[removed {done.event}]" stands there now.'
        )
        if done.deleted:
            print(f"Deleted, because they might hold it: {', '.join(done.deleted)}")
    for part, count in done.parts:
        complain(
            f"{part!r} by itself still stands in {count} text{'' if count == 1 else 's'}: if that "
            f"is the same person, clampcall record forget {part!r}"
        )
    if done.stays:
        complain(
            "it stands in events of an older program, where nothing can be removed: "
            + ", ".join(map(str, done.stays[:10]))
        )
    for name in done.files:
        hint = ": clampcall rehearse forget" if name == "trainees.json" else ""
        complain(f"the file {name} still holds it{hint}")
    raise typer.Exit(BAD_INPUT if done.stays or done.files else 0)
