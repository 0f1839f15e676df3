"""Primer and paint: parts of a mixture by volume, and paint for an area.

A coat's dry film is the solids that landed: ``area * film = volume * solids * transfer``, all
volumes. From it, one US gallon of solids covers 231 in^3 / 0.001 in = 1604 ft^2 at one mil
(a thousandth of an inch), and one liter 1000 m^2 at one micrometer.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate

from assistant.units import Q, Quantity


def mix_for_total(parts: Sequence[float], total: Quantity) -> tuple[Quantity, ...]:
    """Volume of each part of a mixture: total * part / sum of parts, in mL.

    parts: two or more, each above zero, by volume ("four to one to one"). total: of the
    mixture, above zero; that volumes add up is assumed, as on a mixing cup. Raises
    ValueError otherwise.
    """
    shares = _parts(parts)
    whole = _positive("total", total, "mL")
    return tuple(Q(whole * share / math.fsum(shares), "mL") for share in shares)


def mix_from_first(parts: Sequence[float], first: Quantity) -> tuple[Quantity, ...]:
    """Volume of each part when that of the first is known: first * part / first part, in mL.

    Ranges and errors as for ``mix_for_total``.
    """
    shares = _parts(parts)
    measured = _positive("first part", first, "mL")
    return tuple(Q(measured * share / shares[0], "mL") for share in shares)


def cup_marks(volumes: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """How high the cup stands after each part is poured on the ones before: running sums."""
    return tuple(Q(mark, "mL") for mark in accumulate(volume.m_as("mL") for volume in volumes))


def coating_volume(
    area: Quantity, coats: int, film: Quantity, solids: float, transfer: float, waste: float = 0.0
) -> Quantity:
    """Paint as it is sprayed: area * coats * film / (solids * transfer) * (1 + waste), in mL.

    area: above zero. coats: 1 or more. film: dry thickness of one coat, above zero. solids:
    share of the sprayed volume that stays as film, above 0 to 1. transfer: share of what is
    sprayed that lands, above 0 to 1. waste: left in cup and gun, a fraction, 0 or more.
    Raises ValueError outside these ranges.
    """
    dry = _positive("area", area, "mm^2") * _coats(coats) * _positive("film", film, "mm")
    lands = _share("solids", solids) * _share("transfer", transfer)
    return Q(dry / lands * (1 + _waste(waste)), "mm**3").to("mL")


def coating_area(
    volume: Quantity, coats: int, film: Quantity, solids: float, transfer: float, waste: float = 0.0
) -> Quantity:
    """The area that a volume covers, in m^2: the inverse of ``coating_volume``, with its
    ranges; volume above zero."""
    wet = _positive("volume", volume, "mm^3") / (1 + _waste(waste))
    lands = _share("solids", solids) * _share("transfer", transfer)
    return Q(wet * lands / (_coats(coats) * _positive("film", film, "mm")), "mm**2").to("m**2")


def _parts(parts: Sequence[float]) -> list[float]:
    if len(parts) < 2 or not all(math.isfinite(part) and part > 0 for part in parts):
        raise ValueError(f"a ratio needs two parts or more, each above zero, not {parts}")
    return list(parts)


def _coats(coats: int) -> int:
    if coats < 1:
        raise ValueError(f"the number of coats must be 1 or more, not {coats}")
    return coats


def _share(name: str, value: float) -> float:
    if not 0 < value <= 1:
        raise ValueError(f"the share of {name} must be above 0 and at most 1, not {value}")
    return value


def _waste(value: float) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"the waste fraction must be 0 or more, not {value}")
    return value


def _positive(name: str, value: Quantity, unit: str) -> float:
    found = value.m_as(unit)
    if not (math.isfinite(found) and found > 0):
        raise ValueError(f"the {name} must be above zero, not {value}")
    return found
