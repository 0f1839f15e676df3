"""The clocks of a document once more: what share of a stage was done when."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.record.document import MaterialUse
from assistant.shop.events import Stage
from assistant.shop.stage_clock import StageClock


def clock_of(material: MaterialUse, stage: Stage, upto: float | None = None) -> StageClock:
    """The clock of a stage from the document's table and readings. Times are ``elapsed``.

    upto: only readings up to that moment, as they were known then.
    """
    first, *later = material.readings
    kept = [r for r in later if upto is None or r.elapsed <= upto]
    times = (material.start_elapsed, *(r.elapsed for r in kept))
    celsius = (first.celsius, *(r.celsius for r in kept))
    return StageClock(stage, material.tables[stage], times, celsius)


def shares(
    material: MaterialUse, stage: Stage, moments: Iterable[float]
) -> list[tuple[float, float]]:
    """(elapsed, share done), the share at most 1."""
    clock = clock_of(material, stage)
    return [(at, min(1.0, clock.share(at))) for at in moments]


def last_moment(material: MaterialUse) -> float:
    """Elapsed time of the last thing that is known of a material."""
    known = [r.elapsed for r in material.readings] + [s.elapsed for s in material.steps]
    return max([material.start_elapsed, *known])
