"""What the routines about metal and joints share: the first caution, the shop's units."""

from __future__ import annotations

from assistant.speaking.wording import US

MAKER_FIRST = "The vehicle maker's repair procedure comes before this figure."
"""Said first by every routine about the body of a vehicle."""

INCH_OR_MM = {"us": "inch", "metric": "mm"}
"""A length of a joint as each shop marks it."""

DIFFERENCE = {"us": "delta_degF", "metric": "delta_degC"}


def both(us: str, metric: str, units: str) -> str:
    """The words for the shop's own unit system."""
    return us if units == US else metric
