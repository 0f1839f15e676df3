"""The events of the job record: what people state about a job besides its clocks.

A job record is what is written down of one repair in one bay. It begins with ``record_begun``,
or with the first material that goes on where no record is open, and its number is the number
of that event. Every statement names its record; none is ever overwritten: one that replaces
another says so, and both stay.

Whatever may name a person is a private text (``private``): names, references, notes, files.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from assistant.shop.events import (
    Bay,
    Celsius,
    EventId,
    Material,
    Payload,
    Source,
    Text,
    event_kind,
)
from assistant.shop.private import PRIVATE

LONGEST_NOTE = 2000
LONGEST_DOCUMENT = 4_000_000
"""Characters of an imported record; one with a thousand readings has some 400,000."""

PrivateLine = Annotated[Text, PRIVATE]
MaybePrivateLine = Annotated[Text | None, PRIVATE]
PrivateNote = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=LONGEST_NOTE),
    PRIVATE,
]
MaybePrivateNote = Annotated[
    Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=LONGEST_NOTE)]
    | None,
    PRIVATE,
]

Reference = Literal["repair_order", "vehicle"]
Role = Literal["technician", "helper", "inspector"]
Result = Literal["passed", "failed"]
Share = Annotated[float, Field(gt=0, le=1)]
Millimeters = Annotated[float, Field(gt=0, le=100)]
Lot = Annotated[
    str,
    StringConstraints(
        strip_whitespace=True, to_upper=True, min_length=1, max_length=40, pattern=r"^[\w\-./ ]+$"
    ),
]
Day = Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}(-\d{2})?$")]
"""A day, "2027-03-31", or a month where no day is stated, "2027-03"."""
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Key = Annotated[str, StringConstraints(min_length=1, max_length=80)]
"""Names an entry of a record across journals: "3fa94c20-14", event 14 of the journal whose
first event's hash begins so; a deviation that the program finds has its name behind it."""


class Statement(Payload):
    """What every statement has. record: number of the event that began the record. replaces:
    key of the statement that this one corrects. by: who states it, where it is said."""

    record: EventId
    replaces: Key | None = None
    by: MaybePrivateLine = None
    reason: MaybePrivateNote = None
    source: Source


@event_kind("record_begun")
class RecordBegun(Payload):
    """What happens in the bay from now on belongs to a new record."""

    bay: Bay
    source: Source


@event_kind("record_closed")
class RecordClosed(Payload):
    """What happens in the bay from now on does not belong to this record."""

    record: EventId
    source: Source


@event_kind("reference_stated")
class ReferenceStated(Statement):
    """The repair order, or the vehicle, as the shop calls it."""

    what: Reference
    text: PrivateLine


@event_kind("person_named")
class PersonNamed(Statement):
    """Who worked on it."""

    name: PrivateLine
    role: Role = "technician"


@event_kind("lot_stated")
class LotStated(Statement):
    """The lot of a material. job: the event that started the material, if it is one of a
    bay's clocks; expiry: as it is printed."""

    lot: Lot
    expiry: Day | None = None
    material: Material | None = None
    job: EventId | None = None
    product: Text | None = None


@event_kind("air_read")
class AirRead(Statement):
    """The air in the bay. humidity: a share, 0.5 for 50 %. metal: of the same moment."""

    celsius: Celsius
    humidity: Share | None = None
    metal: Celsius | None = None


@event_kind("coupon_tested")
class CouponTested(Statement):
    """A weld coupon was pulled apart. button, sheet: as measured."""

    result: Result
    button: Millimeters | None = None
    sheet: Millimeters | None = None
    note: MaybePrivateNote = None


@event_kind("deviation_noted")
class DeviationNoted(Statement):
    """Something was done otherwise than it should have been."""

    text: PrivateNote


@event_kind("deviation_accepted")
class DeviationAccepted(Statement):
    """A person has accepted a deviation, stated or found by the program. ``by`` is who."""

    deviation: Key


@event_kind("note_taken")
class NoteTaken(Statement):
    """A note in free words. heard: by ear, so that words in it may be wrong."""

    text: PrivateNote
    heard: bool = False


@event_kind("photo_referenced")
class PhotoReferenced(Statement):
    """A photo that lies elsewhere. sha256: of the file at that moment, if it could be read."""

    file: PrivateNote
    sha256: Digest | None = None
    caption: MaybePrivateNote = None


@event_kind("statement_withdrawn")
class StatementWithdrawn(Statement):
    """A statement does not count any more. target: its key."""

    target: Key


@event_kind("record_imported")
class RecordImported(Payload):
    """A record that was exported elsewhere, whole, as JSON. bay: where it was made."""

    bay: Bay
    document: Annotated[str, StringConstraints(max_length=LONGEST_DOCUMENT), PRIVATE]
    source: Source
