"""What bead fills a bond line on a flange."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    said_assumptions,
)
from assistant.routines._beads import (
    BOND_LINE_SLOTS,
    FIT_CAUTION,
    WIDTH_SLOT,
    bond_line_of,
    shop_unit,
    spoken_size,
)
from assistant.speaking.wording import spoken_length, written_length
from assistant.trade.bond_line import bead_for_bond_line
from assistant.trade.rounding import bead_up
from assistant.units import Quantity

SLOTS = (WIDTH_SLOT, *BOND_LINE_SLOTS, PRODUCT_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Diameter of the round bead that just fills the flange, rounded up."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    width: Quantity = slots["width"]
    thickness, assumed = bond_line_of(slots, card, units)
    diameter = bead_for_bond_line(width, thickness)
    stated = bead_up(diameter, shop_unit(units))
    taken = ["the bond line"] if assumed else []
    assumptions = [
        *([assumed] if assumed else []),
        "one round bead along the middle of the flange",
        "no allowance for squeeze-out beyond the rounding",
        *assumed_product(card, "product" in slots),
    ]
    return Answer(
        sentence=(
            f"A {written_length(width)} flange with a {written_length(thickness)} bond line: "
            f"lay a {written_length(stated)} bead or larger ({card.name}); "
            f"{written_length(diameter.to(shop_unit(units)))} just fills it."
        ),
        spoken=(
            f"For a {spoken_size(width)} flange and a bond line of {spoken_length(thickness)}, "
            f"lay a {spoken_size(stated)} bead or larger. "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "width": width.to("mm"),
            "bond_line": thickness.to("mm"),
            "bead_size": diameter,
            "bead_size_stated": stated.to("mm"),
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(FIT_CAUTION, *CAUTIONS),
        basis="geometry: the bead's cross-section equals flange width times bond line",
    )


ROUTINE = Routine(
    name="bead_for_flange",
    grammar="bond",
    about="bead size for a flange and a bond line",
    slots=SLOTS,
    examples=(
        "what size bead do i need for a one inch flange with a thirty thousandths bond line",
        "how wide must the bead be for a twenty five millimeter flange",
    ),
    answer=answer,
)
