"""From the first of the bead to the last clamp: does the work time last that long?

The work time runs from the moment the mix leaves the tip. The panel must be closed and the
last clamp on before it ends, so laying the bead, changing cartridges, bringing the
panel into place and setting the clamps must all fit into it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assistant.units import Q, Quantity

USUAL_LAYING_SPEED = Q(10, "mm/s")
"""A steady bead from a hand-held gun (common practice, no source)."""

USUAL_POSITIONING = Q(2, "minute")
"""Lifting a panel on and lining it up (common practice, no source)."""

USUAL_PER_CLAMP = Q(20, "second")
"""Fetching, setting and checking one clamp (common practice, no source)."""


USUAL_CHANGE = Q(30, "second")
"""Taking a cartridge out, purging the next and fitting its tip (common practice, no source)."""


@dataclass(frozen=True)
class Assembly:
    """How long each part takes; ``total`` is their sum."""

    laying: Quantity
    changing: Quantity
    positioning: Quantity
    clamping: Quantity

    @property
    def total(self) -> Quantity:
        parts = (self.laying, self.changing, self.positioning, self.clamping)
        return Q(math.fsum(part.m_as("minute") for part in parts), "minute")


def assembly_time(
    length: Quantity,
    speed: Quantity,
    positioning: Quantity,
    clamps: int,
    per_clamp: Quantity,
    people: int = 1,
    changes: int = 0,
    per_change: Quantity = USUAL_CHANGE,
) -> Assembly:
    """Time from the first of the bead to the last clamp, in minutes.

    length: of all beads together, above zero. speed: a length per time, above zero.
    positioning: zero or more. clamps: 0 or more, ``per_clamp`` each, zero or more. people: 1
    or more; they share the clamps (whole clamps: the one with most of them counts), while
    bead and panel are one person's or everybody's and get no quicker. changes: of
    cartridge while the bead is laid, 0 or more, ``per_change`` each, zero or more.

    laying = length / speed; changing = changes * per_change; clamping = ceil(clamps / people) *
    per_clamp. Counting, no
    source. Raises ValueError outside these ranges.
    """
    laid = length.m_as("mm")
    pace = speed.m_as("mm/minute")
    if not (math.isfinite(laid) and laid > 0):
        raise ValueError(f"the bead length must be above zero, not {length}")
    if not (math.isfinite(pace) and pace > 0):
        raise ValueError(f"the laying speed must be above zero, not {speed}")
    if clamps < 0:
        raise ValueError(f"the number of clamps must be 0 or more, not {clamps}")
    if changes < 0:
        raise ValueError(f"the number of cartridge changes must be 0 or more, not {changes}")
    if people < 1:
        raise ValueError(f"the number of people must be 1 or more, not {people}")
    for name, time in (
        ("positioning", positioning),
        ("time for a clamp", per_clamp),
        ("time for a change", per_change),
    ):
        if not (math.isfinite(time.m_as("minute")) and time.m_as("minute") >= 0):
            raise ValueError(f"the {name} must be zero or more, not {time}")
    most = -(-clamps // people)
    return Assembly(
        laying=Q(laid / pace, "minute"),
        changing=Q(changes * per_change.m_as("minute"), "minute"),
        positioning=positioning.to("minute"),
        clamping=Q(most * per_clamp.m_as("minute"), "minute"),
    )
