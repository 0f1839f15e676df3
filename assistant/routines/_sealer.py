"""What the seam sealer routines share: slots, limits, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Slot
from assistant.exchange import Refusal
from assistant.products.materials import SealerCard
from assistant.routines._beads import in_shop_unit
from assistant.routines._materials import BARE_SIZE_UNIT, PAPERS_CAUTION, SKIN_CAUTION
from assistant.speaking.wording import spoken_length, written_length
from assistant.units import Q, Quantity

KIND = SealerCard.KIND

DEFAULT_BEAD = Q(0.25, "inch")
"""A usual seam bead, in either unit system (common practice, no source)."""

CAUTIONS = (
    PAPERS_CAUTION,
    SKIN_CAUTION,
    "Copy the factory's seam: bead, brushed or sprayed, as the vehicle maker shows it.",
)

BEAD_SLOT = Slot(
    name="bead",
    kind="length",
    ask="How wide is the bead?",
    required=False,
    default_unit=BARE_SIZE_UNIT,
    # beyond these a size was misheard rather than meant; our own bounds
    low=Q(1, "mm"),
    high=Q(2, "inch"),
)


def bead_size(
    slots: Mapping[str, Any], card: SealerCard, units: str
) -> tuple[Quantity, tuple[str, ...]]:
    """The bead's width and what is assumed; Refusal past the card's widest."""
    size = slots["bead"] if "bead" in slots else in_shop_unit(DEFAULT_BEAD, units)
    assumed = () if "bead" in slots else (f"bead size not given: {written_length(size)}",)
    if size > card.widest_bead:
        raise Refusal(
            f"No bead of {written_length(size)}: the widest for {card.name} is "
            f"{written_length(card.widest_bead, units)}. Lay several narrower ones.",
            f"No bead of {spoken_length(size)}: the widest for {card.spoken_name} is "
            f"{spoken_length(card.widest_bead, units)}. Lay several narrower ones.",
            (*CAUTIONS, *card.cautions),
        )
    return size, assumed
