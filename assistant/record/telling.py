"""A record in lines, and the words that every form of it shares."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from assistant.record import document as doc
from assistant.record.findings import closing, counting, lots_of
from assistant.record.wording import (
    MATERIAL_NAME,
    REFERENCE_WORDS,
    SOURCE_WORDS,
    coupon_words,
    degrees,
    difference,
    percent,
    stage_words,
    step_words,
)

MISSING = "not stated"

AMENDING = (
    "Amending adds and never overwrites: what was replaced, corrected or withdrawn stays in the "
    "history below."
)
NO_CERTIFICATE = (
    "This is a record of what was told to the program. It is no certificate, and says nothing of "
    "the strength or the safety of the repair."
)
CAUTIONS = (
    NO_CERTIFICATE,
    "The vehicle maker's repair procedure comes first, then the product's data sheet, then the "
    "figures on this page; local codes and licensed practice stand above all three.",
    "The clocks follow the metal temperatures that were read. Between two readings the metal may "
    "have been colder or warmer than either.",
    "Gloves, eye protection and moving air with uncured material; no fire and no sparks near it or "
    "near solvents.",
)
INVENTED = "A product of this record is an invented demonstration product: no figure of it is real."

BASIS = (
    "Times: the product card's table as it was when the material went on. A clock is the integral "
    "of dt / t(T) along the metal temperatures that were read (the form of ASTM C1074's "
    "equivalent age, from memory, with the card's table in the place of one activation energy); "
    "ln t is straight over 1/T between two rows of the table.",
    "Between two readings the work time counts the warmer one, every wait the colder one; the last "
    "reading holds until the next.",
    "Dew point: ASHRAE Fundamentals 2017, chapter 1, equations 5 and 6. Bare metal is dry at 3 °C "
    "(5.4 °F) or more above it: ISO 8502-4, from memory.",
    "Weld button: 4·√t at least, t the thinner sheet in millimeters: AWS D8.1 and ISO 14373, from "
    "memory.",
    "Shelf life: the date as it was read from the package; of a month without a day, the day "
    "before its first.",
)


def local(moment: datetime) -> str:
    """Day and time of the shop's clock, with its distance from UTC."""
    return f"{moment.astimezone():%Y-%m-%d %H:%M:%S %z}"


def clock(moment: datetime) -> str:
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def title(record: doc.JobRecord) -> str:
    order = record.reference("repair_order")
    return f"Job record {record.id}" + (f", repair order {order}" if order else "")


def facts(record: doc.JobRecord) -> list[tuple[str, str]]:
    """Name and value of what identifies the job; missing ones say so."""
    found = [
        (REFERENCE_WORDS[what], record.reference(what) or MISSING)
        for what in ("repair_order", "vehicle")
    ]
    found.append(("Bay", str(record.bay)))
    people = [f"{line.name} ({line.role})" for line in counting(record.people)]
    found.append(("People", ", ".join(people) or MISSING))
    found.append(("Begun", local(record.began)))
    found.append(("Closed", local(record.closed) if record.closed else "still open"))
    return found


def material_facts(record: doc.JobRecord, material: doc.MaterialUse) -> list[tuple[str, str]]:
    """What is known of one material, name and value."""
    lots = lots_of(record, material)
    told = [f"{lot.lot}, expiry {lot.expiry or MISSING}" for lot in lots] or [MISSING]
    found = [
        ("Product", material.name + (" (invented demonstration)" if material.invented else "")),
        ("Lot and expiry", "; ".join(told)),
        ("Went on", local(material.start_at)),
    ]
    done = {step.mark: step for step in material.steps}
    if closing(material) is None:
        found.append((step_words(material.material, "closed").capitalize(), MISSING))
    for step in done.values():
        early = " (early: its time was not over)" if step.early else ""
        words = step_words(material.material, step.mark).capitalize()
        found.append((words, local(step.at) + early))
    if material.material == "adhesive" and "clamps_off" not in done:
        found.append(("Clamps off", MISSING))
    for one in material.clocks:
        words = stage_words(one.stage).capitalize()
        over = "stands still: the metal is too cold" if one.at is None else local(one.at)
        found.append((f"{words} over", over))
    found.append(("Metal", "; ".join(_readings(material.readings))))
    if material.ended in ("cancelled", "replaced"):
        found.append(("Ended", material.ended))
    found += [("Corrected", line) for line in material.was]
    return found


MOST_READINGS = 12
"""Metal temperatures that are told one by one; of more, those that matter."""


def _readings(readings: tuple[doc.Reading, ...]) -> Iterator[str]:
    chosen = list(readings)
    if len(readings) > MOST_READINGS:
        low = min(readings, key=lambda r: r.celsius)
        high = max(readings, key=lambda r: r.celsius)
        corrected = [r for r in readings if r.was is not None]
        keep = {r.key for r in (readings[0], low, high, *corrected, readings[-1])}
        chosen = [r for r in readings if r.key in keep]
        yield f"{len(readings)} readings, all of them in the plot and in the exported file"
        yield f"lowest {degrees(low.celsius)}, highest {degrees(high.celsius)}"
    for r in chosen:
        first = f" (said first: {degrees(r.was)})" if r.was is not None else ""
        yield f"{clock(r.at)} {degrees(r.celsius)}{first}"


def air_words(line: doc.AirLine) -> str:
    """One reading of the air, with what follows from it."""
    humidity = MISSING if line.humidity is None else percent(line.humidity)
    metal = MISSING if line.metal is None else degrees(line.metal)
    margin = MISSING if line.margin is None else difference(line.margin)
    dew = MISSING if line.dew_point is None else degrees(line.dew_point)
    return (
        f"air {degrees(line.celsius)}, humidity {humidity}, dew point {dew}, metal {metal}, "
        f"margin {margin}"
    )


def acceptance_words(deviation: doc.Deviation) -> str:
    if not deviation.accepted:
        return "accepted by nobody yet"
    told = [
        f"accepted by {one.by or MISSING} at {clock(one.at)}"
        + (f" ({one.reason})" if one.reason else "")
        for one in deviation.accepted
    ]
    return "; ".join(told)


def lines(record: doc.JobRecord, history: bool = False) -> Iterator[str]:
    """The record for the screen."""
    yield title(record)
    for name, value in facts(record):
        yield f"  {name}: {value}"
    for material in record.materials:
        yield f"{MATERIAL_NAME[material.material]} [{material.key}]"
        for name, value in material_facts(record, material):
            yield f"  {name}: {value}"
    if record.air:
        yield "Air"
        for line in counting(record.air):
            yield f"  {clock(line.at)} {air_words(line)} [{line.key}]"
    if record.coupons:
        yield "Weld coupons"
        for line in counting(record.coupons):
            told = coupon_words(line.result, line.button, line.sheet, line.note)
            yield f"  {clock(line.at)} {told} [{line.key}]"
    if record.checks:
        yield "Checks"
        for check in record.checks:
            yield (
                f"  {check.verdict.upper():9} {check.what}: required {check.required or MISSING}, "
                f"found {check.actual or MISSING}"
            )
    if record.deviations:
        yield "Deviations"
        for deviation in record.deviations:
            yield f"  {deviation.text} {acceptance_words(deviation)} [{deviation.key}]"
    if notes := counting(record.notes):
        yield "Notes"
        for note in notes:
            heard = ", by ear: words may be wrong" if note.heard else ""
            yield f"  {clock(note.at)}{heard}: {note.text} [{note.key}]"
    if photos := counting(record.photos):
        yield "Photos"
        for photo in photos:
            kept = photo.sha256[:16] if photo.sha256 else "the file could not be read"
            yield f"  {photo.file} ({kept}) {photo.caption or ''} [{photo.key}]".replace(
                "  [", " ["
            )
    if record.missing:
        yield "Missing: " + "; ".join(record.missing)
    if history:
        yield "History. " + AMENDING
        for line in record.history:
            source = SOURCE_WORDS.get(line.source, "") if line.source else ""
            struck = "" if line.counts else "  (does not count any more)"
            source = f", {source}" if source else ""
            yield f"  {local(line.at)}  {line.text}{source}{struck} [{line.key}]"
    yield f"  {NO_CERTIFICATE}"
