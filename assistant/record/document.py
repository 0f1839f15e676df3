"""A job record as a document: the form in which it is shown, exported and imported.

The documented schema (``schema.json`` beside this file) is made from these models. Times are
UTC; ``elapsed`` is seconds of shop time since the record began, which a wall clock that was
set does not touch. Temperatures are Celsius, lengths millimeters, shares 0 to 1. What was not
stated is null, never a guess.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from assistant.shop.events import ClockTable, Mark, Material, Source, Stage
from assistant.shop.job_events import Reference, Result, Role

FORMAT = "clampcall-job-record/1"
"""Goes up when a document of before could not be read any more."""


class Part(BaseModel):
    """A part of the document: nothing may be added to it or changed in it."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


class Stamp(Part):
    """When something was recorded, and by which event."""

    key: Annotated[str, Field(description="Journal and number of the event: 3fa94c20-14.")]
    at: Annotated[datetime, Field(description="Wall clock, UTC.")]
    elapsed: Annotated[float, Field(description="Seconds of shop time since the record began.")]


class Stated(Stamp):
    """A statement of a person. It counts unless another replaces it or it was withdrawn."""

    source: Source
    by: Annotated[str | None, Field(description="Who states it; null where it was not said.")]
    reason: str | None = None
    replaces: Annotated[str | None, Field(description="Key of the statement it corrects.")] = None
    replaced_by: Annotated[str | None, Field(description="Key of the one that corrects it.")] = None
    withdrawn_by: str | None = None

    @property
    def counts(self) -> bool:
        return self.replaced_by is None and self.withdrawn_by is None


class ReferenceLine(Stated):
    """The repair order or the vehicle, as the shop calls it."""

    what: Reference
    text: str


class PersonLine(Stated):
    name: str
    role: Role


class LotLine(Stated):
    """A lot. expiry: "2027-03-31", or "2027-03" where no day is printed."""

    lot: str
    expiry: str | None
    material: Material | None
    product: str | None
    job: Annotated[str | None, Field(description="Key of the material's start.")]


class AirLine(Stated):
    """Air in the bay, and what follows for bare metal. metal: read with it, or the last
    reading of the bay before it (metal_key)."""

    celsius: float
    humidity: Annotated[float | None, Field(description="Relative, 0 to 1.")]
    metal: float | None
    metal_key: str | None = None
    dew_point: float | None = None
    margin: Annotated[float | None, Field(description="Metal over dew point, kelvin.")] = None


class CouponLine(Stated):
    result: Result
    button: Annotated[float | None, Field(description="Millimeters.")]
    sheet: Annotated[float | None, Field(description="Millimeters.")]
    note: str | None


class NoteLine(Stated):
    text: str
    heard: Annotated[bool, Field(description="By ear: words in it may be wrong.")]


class PhotoLine(Stated):
    file: str
    sha256: Annotated[str | None, Field(description="Of the file when it was named; null if it "
                                        "could not be read.")]  # fmt: skip
    caption: str | None


class DeviationLine(Stated):
    """A deviation that a person stated."""

    text: str


class Acceptance(Stated):
    """A person accepts a deviation. ``by`` is who; null: it was not said."""

    deviation: str


class Reading(Stamp):
    """A temperature of the metal. was: what was said first, where it was corrected."""

    celsius: float
    source: Source
    was: float | None = None
    corrected_by: str | None = None


class Step(Stamp):
    """A step that hands have done. early: its clock was still running."""

    mark: Mark
    early: bool


class Clock(Part):
    """One chemical clock. required: seconds from the start until it was, or would be, over at
    the temperatures that were read; null where it stands still. at: when that is, UTC."""

    stage: Stage
    required: float | None
    at: datetime | None
    past_limit: Annotated[str | None, Field(description="The card's limit that the last reading "
                                            "passes.")]  # fmt: skip


class MaterialUse(Stamp):
    """A material in the bay. at, elapsed: when it was told; start: when it went on."""

    material: Material
    product: Annotated[str, Field(description="Key of the product card.")]
    name: str
    spoken_name: str
    invented: Annotated[bool, Field(description="The card is a demonstration.")]
    source: Source
    start_at: datetime
    start_elapsed: float
    ended: Literal["", "done", "cancelled", "replaced"]
    tables: Annotated[
        dict[Stage, ClockTable], Field(description="The card's times as they were that day.")
    ]
    readings: Annotated[tuple[Reading, ...], Field(min_length=1)]
    steps: tuple[Step, ...]
    clocks: tuple[Clock, ...]
    was: Annotated[
        tuple[str, ...], Field(description="What was said first and corrected, in words.")
    ] = ()


Verdict = Literal["met", "not met", "not known"]


class Check(Part):
    """Something that was to be so, and whether it was."""

    key: str
    what: str
    required: str | None
    actual: str | None
    verdict: Verdict


class Deviation(Part):
    """Something that was done otherwise. found: by the program's own checks."""

    key: str
    text: str
    found: bool
    accepted: tuple[Acceptance, ...] = ()


class HistoryLine(Stamp):
    """One event, in words. counts: false for what was undone, replaced or withdrawn."""

    kind: str
    text: str
    source: Source | None
    counts: bool


class Evidence(Part):
    """An event of this record in the hash chain of its journal."""

    key: str
    kind: str
    hash: str


class JobRecord(Part):
    """Everything that is known of one job."""

    format: Literal["clampcall-job-record/1"] = FORMAT
    id: Annotated[str, Field(description="First 16 figures of the hash of the event that began "
                             "the record.")]  # fmt: skip
    bay: int
    began: datetime
    closed: datetime | None
    references: tuple[ReferenceLine, ...] = ()
    people: tuple[PersonLine, ...] = ()
    materials: tuple[MaterialUse, ...] = ()
    lots: tuple[LotLine, ...] = ()
    air: tuple[AirLine, ...] = ()
    coupons: tuple[CouponLine, ...] = ()
    stated_deviations: tuple[DeviationLine, ...] = ()
    acceptances: tuple[Acceptance, ...] = ()
    notes: tuple[NoteLine, ...] = ()
    photos: tuple[PhotoLine, ...] = ()
    checks: tuple[Check, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    missing: Annotated[tuple[str, ...], Field(description="Facts that nobody stated.")] = ()
    history: tuple[HistoryLine, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    def reference(self, what: Reference) -> str | None:
        """The reference that counts now; the newest where two do."""
        found = [line.text for line in self.references if line.what == what and line.counts]
        return found[-1] if found else None

    @property
    def empty(self) -> bool:
        """Nothing in it counts: its only material was undone."""
        lists = (self.references, self.people, self.lots, self.air, self.coupons, self.notes)
        more = (self.stated_deviations, self.photos)
        return not self.materials and not any(
            line.counts for lines in (*lists, *more) for line in lines
        )


class Export(Part):
    """A file of records."""

    format: Literal["clampcall-export/1"] = "clampcall-export/1"
    records: tuple[JobRecord, ...]
