"""The events of the journal: what kinds there are and what each must hold.

A kind is a pydantic model with the decorator ``event_kind``; any room of the program may add
its own:

    @event_kind("drill_finished")
    class DrillFinished(Payload):
        card: str
        correct: int

Everything is checked when it is written and when it is read. A kind that this program does
not know (written by a newer one) is kept, counted in the chain, and passed over.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, ClassVar, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from assistant.shop.private import PRIVATE, Private

MOST_BAYS = 60
"""Bays are numbered from one; more than a large shop has, so that a misheard number is caught."""

MOST_REMOVED = 200
"""Texts that one ``texts_removed`` names; a line of the copy stays far below carbon.TAIL_BYTES."""


class Payload(BaseModel):
    """What one event says. KIND and VERSION are set by ``event_kind``."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True
    )

    KIND: ClassVar[str] = ""
    VERSION: ClassVar[int] = 1

    @classmethod
    def upcast(cls, data: dict[str, Any], version: int) -> dict[str, Any]:
        """The data of an older version of this kind in today's form. Overridden when
        VERSION goes up."""
        raise ValueError(f"version {version} of {cls.KIND} is not known")

    def private_fields(self) -> tuple[str, ...]:
        """Names of the fields that may name a person: they are sealed (``private``), so that
        they can be taken away later. Only whole text fields."""
        return tuple(
            name
            for name, field in type(self).model_fields.items()
            if any(isinstance(mark, Private) for mark in field.metadata)
        )


KINDS: dict[str, type[Payload]] = {}

Model = TypeVar("Model", bound=type[Payload])


def event_kind(name: str, version: int = 1) -> Callable[[Model], Model]:
    """Register a model under its name in the journal. ValueError for a name taken."""

    def register(model: Model) -> Model:
        if name in KINDS:
            raise ValueError(f"two kinds of event are called {name!r}")
        model.KIND, model.VERSION = name, version
        KINDS[name] = model
        return model

    return register


class BadEvent(ValueError):
    """An event's data do not fit its kind; ``str`` is one line."""


def parse(kind: str, version: int, text: str) -> Payload | None:
    """The payload of a stored event; None for a kind or a version from a newer program.

    Raises BadEvent.
    """
    model = KINDS.get(kind)
    if model is None or version > model.VERSION:
        return None
    try:
        if version < model.VERSION:
            import json

            return model.model_validate(model.upcast(json.loads(text), version), strict=False)
        return model.model_validate_json(text)
    except (ValidationError, ValueError) as trouble:
        why = " ".join(str(trouble).split())
        raise BadEvent(f"an event of kind {kind} does not hold what it must: {why}") from None


# --- the shop's own kinds ---------------------------------------------------------------

Bay = Annotated[int, Field(ge=1, le=MOST_BAYS)]
Celsius = Annotated[float, Field(ge=-60, le=250)]
"""Wider than any reading that is taken; ``orders`` refuses far sooner."""
Seconds = Annotated[float, Field(ge=0, le=366 * 86400)]
EventId = Annotated[int, Field(ge=1)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]
Source = Literal["voice", "text", "command", "screen", "feed"]
Material = Literal["adhesive", "filler", "sealer", "foam", "primer"]
Stage = Literal["work", "clamp", "sand", "full_cure", "paint", "trim", "flash"]
Mark = Literal["closed", "clamps_off", "sanded", "painted", "trimmed", "done"]


class ClockTable(Payload):
    """The times of one stage as (Celsius, seconds), at their safe end, with the limits."""

    rows: Annotated[tuple[tuple[Celsius, Seconds], ...], Field(min_length=1)]
    lowest: Celsius
    highest: Celsius
    heated: tuple[tuple[Celsius, Seconds], ...] = ()
    heat_limit: Celsius | None = None


@event_kind("job_started")
class JobStarted(Payload):
    """A material went on in a bay. The card's times are written down with it: a card that is
    changed later does not change a running clock. ago: seconds since it went on."""

    bay: Bay
    material: Material
    product: Text
    name: Text
    spoken_name: Text
    invented: bool
    tables: Annotated[dict[Stage, ClockTable], Field(min_length=1)]
    celsius: Celsius
    ago: Seconds = 0.0
    source: Source


@event_kind("temperature_read")
class TemperatureRead(Payload):
    """The metal in a bay has this temperature now."""

    bay: Bay
    celsius: Celsius
    source: Source


@event_kind("stage_marked")
class StageMarked(Payload):
    """Hands have done a step. early: although its clock was still running."""

    bay: Bay
    job: EventId
    mark: Mark
    early: bool = False
    source: Source


@event_kind("timer_started")
class TimerStarted(Payload):
    """A plain timer. bay: absent for one of the whole shop."""

    bay: Bay | None = None
    seconds: Annotated[float, Field(gt=0, le=31 * 86400)]
    label: Annotated[Text | None, PRIVATE] = None
    source: Source


@event_kind("timer_paused")
class TimerPaused(Payload):
    bay: Bay | None = None
    timer: EventId
    source: Source


@event_kind("timer_resumed")
class TimerResumed(Payload):
    bay: Bay | None = None
    timer: EventId
    source: Source


@event_kind("cancelled")
class Cancelled(Payload):
    """A job or a timer is given up. target: the event that started it."""

    bay: Bay | None = None
    target: EventId
    source: Source


@event_kind("corrected")
class Corrected(Payload):
    """An earlier event said something wrong; it stays in the journal beside this one.

    target: the event that started a job, or a reading. What is absent stays as it was.
    """

    bay: Bay
    target: EventId
    celsius: Celsius | None = None
    started: JobStarted | None = None
    source: Source


@event_kind("undone")
class Undone(Payload):
    """An earlier event of this bay does not count any more."""

    bay: Bay | None = None
    target: EventId
    source: Source


@event_kind("acknowledged")
class Acknowledged(Payload):
    """A person has heard what was announced for a bay; absent: for all."""

    bay: Bay | None = None
    source: Source


Minute = Annotated[int, Field(ge=0, lt=24 * 60)]


@event_kind("quiet_hours_set")
class QuietHoursSet(Payload):
    """From and until when nothing but the urgent is spoken, minutes of the local day; both
    absent: no quiet hours."""

    start: Minute | None = None
    end: Minute | None = None
    source: Source


AnnouncementKey = Annotated[str, StringConstraints(min_length=1, max_length=80)]


@event_kind("announcement_begun")
class AnnouncementBegun(Payload):
    """About to be said. If nothing more is heard of it, it is said again and marked late."""

    key: AnnouncementKey


@event_kind("announcement_made")
class AnnouncementMade(Payload):
    """It was said. late: seconds after it was due. covers: keys that it made needless."""

    key: AnnouncementKey
    late: Annotated[float, Field(ge=0)]
    marked_late: bool
    text: Annotated[str, StringConstraints(max_length=1000), PRIVATE]
    covers: tuple[AnnouncementKey, ...] = ()

    def private_fields(self) -> tuple[str, ...]:
        """Only a timer's announcement says words that a person chose: its label."""
        return ("text",) if self.key.endswith("/timer") else ()


@event_kind("clock_noted")
class ClockNoted(Payload):
    """Written where the clocks must be pinned down: a start of the program, a clock step."""

    reason: Literal["start", "step", "restart"]


@event_kind("journal_mended")
class JournalMended(Payload):
    """The journal was damaged, and built anew from what could be read of it and its copy.
    aside: the name under which the damaged file still lies. events: how many came back."""

    why: Annotated[str, StringConstraints(max_length=200)]
    aside: str
    events: Annotated[int, Field(ge=0)]


Seal = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


@event_kind("texts_removed")
class TextsRemoved(Payload):
    """A name was taken out of private texts. texts: the seal of each, and the seal of what
    stands in its place now."""

    texts: Annotated[tuple[tuple[Seal, Seal], ...], Field(min_length=1, max_length=MOST_REMOVED)]
