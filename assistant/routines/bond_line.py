"""How thick the bond line is: what the spacer beads in the adhesive set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    capital,
    said_assumptions,
)
from assistant.routines._beads import (
    BEAD_SLOT,
    BOND_LINE_SLOTS,
    FIT_CAUTION,
    WIDTH_SLOT,
    bond_line_of,
    in_shop_unit,
    spoken_size,
)
from assistant.speaking.wording import spoken_length, written_length
from assistant.trade.bead import bead_area
from assistant.trade.bond_line import spread_thickness
from assistant.units import Quantity

SLOTS = (BEAD_SLOT, replace(WIDTH_SLOT, required=False), *BOND_LINE_SLOTS, PRODUCT_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """The spacer beads' diameter; with a bead and a flange, whether the bead fills it."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    spacers, assumed = bond_line_of(slots, card, units)
    figures: dict[str, Any] = {"bond_line": spacers.to("mm"), "product": card.key}
    told, said = written_length(spacers), spoken_length(spacers)
    sentence = f"Clamped down, the bond line is {told}, as thick as the spacer beads"
    words = f"Clamped down, the bond line is {said}, as thick as the spacer beads"
    if "bead" in slots and "width" in slots:
        size: Quantity = slots["bead"]
        width: Quantity = slots["width"]
        spread = spread_thickness(bead_area("round", size), width)
        fills = spread.m_as("mm") >= spacers.m_as("mm")
        figures |= {
            "bead_size": size.to("mm"),
            "width": width.to("mm"),
            "spread_thickness": spread,
            "fills": "yes" if fills else "no",
        }
        shown = in_shop_unit(spread, units)
        sentence += (
            f". {capital(written_length(size))} bead on a {written_length(width)} flange makes "
            f"{written_length(shown)} before anything squeezes out: "
        ) + ("it fills the flange" if fills else "too little, part of the flange stays dry")
        words += (
            f". {capital(spoken_size(size))} bead on a {spoken_size(width)} flange makes "
            f"{spoken_length(shown)} before anything squeezes out: "
        ) + ("it fills the flange" if fills else "too little, part of the flange stays dry")
    taken = ["the spacer beads"] if assumed else []
    return Answer(
        sentence=f"{sentence} ({card.name}).",
        spoken=f"{words}. {said_assumptions(card, 'product' in slots, taken)}".strip(),
        figures=figures,
        assumptions=(
            *([assumed] if assumed else []),
            "the panel is pressed down onto the spacer beads everywhere",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(FIT_CAUTION, *CAUTIONS),
        basis="the spacer beads stop the panel; geometry of the bead",
    )


ROUTINE = Routine(
    name="bond_line",
    grammar="bond",
    about="how thick the bond line is",
    slots=SLOTS,
    examples=(
        "how thick is the bond line",
        "how thick will the bond line be with a three eighths bead on a one inch flange",
    ),
    answer=answer,
)
