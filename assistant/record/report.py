"""The report of one record: its sections, for any form in which it is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field

from assistant.record import document as doc
from assistant.record import telling
from assistant.record.findings import counting
from assistant.record.telling import MISSING
from assistant.record.wording import MATERIAL_NAME, SOURCE_WORDS, millimeters


@dataclass(frozen=True)
class Table:
    """head and rows of text; widths: shares of the page."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]


@dataclass(frozen=True)
class Section:
    """One part of the report. facts: name and value. plot_of: the material to be plotted."""

    title: str
    text: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    table: Table | None = None
    plot_of: doc.MaterialUse | None = None


@dataclass(frozen=True)
class Report:
    """cautions: first of all on the page. head: number and hash of the journal's last event."""

    title: str
    head: str
    record: doc.JobRecord
    cautions: tuple[str, ...]
    sections: tuple[Section, ...] = field(default_factory=tuple)


def report(record: doc.JobRecord, head: str) -> Report:
    """The report of a record. head: ``Records.journal_head``."""
    cautions = list(telling.CAUTIONS)
    if any(material.invented for material in record.materials):
        cautions.insert(1, telling.INVENTED)
    sections = [Section("The job", facts=tuple(telling.facts(record)))]
    if record.missing:
        sections.append(
            Section("Missing", text=("Nobody stated these; none is filled in.", *record.missing))
        )
    for material in record.materials:
        name = MATERIAL_NAME[material.material]
        facts = tuple(telling.material_facts(record, material))
        sections.append(Section(f"{name}: {material.name}", facts=facts, plot_of=material))
    if not record.materials:
        sections.append(Section("Materials", text=("Nothing was told to have gone on.",)))
    sections += [
        Section("Checks", table=_checks(record)),
        Section("Air and dew", table=_air(record)) if counting(record.air) else
        Section("Air and dew", text=(f"Air temperature and humidity: {MISSING}.",)),
        Section("Weld coupons", table=_coupons(record)) if counting(record.coupons) else
        Section("Weld coupons", text=(f"Result: {MISSING}.",)),
        Section("Deviations", table=_deviations(record)) if record.deviations else
        Section("Deviations", text=("None was stated or found.",)),
    ]  # fmt: skip
    if notes := counting(record.notes):
        sections.append(Section("Notes", table=_notes(notes)))
    if photos := counting(record.photos):
        sections.append(Section("Photos, by reference", table=_photos(photos)))
    sections += [
        Section("History", text=(telling.AMENDING,), table=_history(record)),
        Section("Calculation basis", text=telling.BASIS),
        Section(
            "Evidence",
            text=(
                "Each event carries the SHA-256 of the one before it; clampcall record verify "
                "finds any change. Here the first 16 figures of each.",
            ),
            table=Table(
                ("Event", "Kind", "Hash"),
                tuple((e.key, e.kind.replace("_", " "), e.hash[:16]) for e in record.evidence),
                (0.3, 0.4, 0.3),
            ),
        ),
    ]
    return Report(telling.title(record), head, record, tuple(cautions), tuple(sections))


def _checks(record: doc.JobRecord) -> Table:
    rows = [
        (
            check.verdict.upper() if check.verdict == "not met" else check.verdict,
            check.what,
            check.required or MISSING,
            check.actual or MISSING,
        )
        for check in record.checks
    ]
    return Table(
        ("Verdict", "What", "Required", "Found"),
        tuple(rows) or ((MISSING, "", "", ""),),
        (0.12, 0.36, 0.25, 0.27),
    )


def _air(record: doc.JobRecord) -> Table:
    rows = [(telling.clock(line.at), telling.air_words(line)) for line in counting(record.air)]
    return Table(("When", "Read, and what follows"), tuple(rows), (0.2, 0.8))


def _coupons(record: doc.JobRecord) -> Table:
    rows = [
        (
            telling.clock(line.at),
            line.result,
            millimeters(line.button) if line.button else MISSING,
            millimeters(line.sheet) if line.sheet else MISSING,
            line.note or "",
        )
        for line in counting(record.coupons)
    ]
    return Table(
        ("When", "Result", "Button", "Sheet", "Note"), tuple(rows), (0.2, 0.15, 0.15, 0.15, 0.35)
    )


def _deviations(record: doc.JobRecord) -> Table:
    rows = [
        (
            d.text,
            "found by the program" if d.found else "stated",
            telling.acceptance_words(d),
        )
        for d in record.deviations
    ]
    return Table(("Deviation", "By", "Accepted"), tuple(rows), (0.52, 0.16, 0.32))


def _notes(notes: list[doc.NoteLine]) -> Table:
    rows = [
        (telling.clock(n.at), "by ear: words may be wrong" if n.heard else "typed", n.text)
        for n in notes
    ]
    return Table(("When", "How", "Note"), tuple(rows), (0.2, 0.2, 0.6))


def _photos(photos: list[doc.PhotoLine]) -> Table:
    rows = [
        (p.file, p.caption or "", p.sha256[:16] if p.sha256 else "the file could not be read")
        for p in photos
    ]
    return Table(("File", "Caption", "SHA-256, first 16 figures"), tuple(rows), (0.4, 0.35, 0.25))


def _history(record: doc.JobRecord) -> Table:
    rows = [
        (
            telling.local(line.at),
            line.key,
            line.text + ("" if line.counts else " — does not count any more"),
            SOURCE_WORDS.get(line.source, "") if line.source else "",
        )
        for line in record.history
    ]
    return Table(("When", "Event", "What", "How"), tuple(rows), (0.22, 0.15, 0.5, 0.13))
