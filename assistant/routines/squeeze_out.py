"""How much of a bead squeezes out, or how much of the flange it leaves dry."""

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
    said_assumptions,
)
from assistant.routines._beads import (
    BEAD_SLOT,
    BOND_LINE_SLOTS,
    FIT_CAUTION,
    WIDTH_SLOT,
    bond_line_of,
    shop_unit,
    spoken_size,
)
from assistant.speaking.wording import (
    spoken_length,
    spoken_percent,
    written_length,
    written_percent,
)
from assistant.trade.bead import bead_area
from assistant.trade.bond_line import bead_for_bond_line, pressed
from assistant.trade.rounding import bead_up, percent_down, percent_up
from assistant.units import Quantity

SLOTS = (
    replace(BEAD_SLOT, required=True),
    WIDTH_SLOT,
    *BOND_LINE_SLOTS,
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Share squeezed out; for a bead too small, the share covered and the bead that fills."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    size: Quantity = slots["bead"]
    width: Quantity = slots["width"]
    thickness, assumed = bond_line_of(slots, card, units)
    found = pressed(bead_area("round", size), width, thickness)
    filling = bead_for_bond_line(width, thickness)
    enough = bead_up(filling, shop_unit(units))

    if found.covered < 1:
        share = percent_down(found.covered)
        told = (
            f"it wets only about {written_percent(share)} of the flange; lay a "
            f"{written_length(enough)} bead or larger"
        )
        said = (
            f"it wets only about {spoken_percent(share)} of the flange. Lay a "
            f"{spoken_size(enough)} bead or larger"
        )
    else:
        share = percent_up(found.squeezed_out)
        told = f"about {written_percent(share)} of it squeezes out"
        said = f"about {spoken_percent(share)} of it squeezes out"
    taken = ["the bond line"] if assumed else []
    return Answer(
        sentence=(
            f"{written_length(size)} bead on a {written_length(width)} flange, pressed to "
            f"{written_length(thickness)}: {told} ({card.name})."
        ),
        spoken=(
            f"A {spoken_size(size)} bead on a {spoken_size(width)} flange, pressed to "
            f"{spoken_length(thickness)}: {said}. "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "bead_size": size.to("mm"),
            "width": width.to("mm"),
            "bond_line": thickness.to("mm"),
            "squeezed_out": found.squeezed_out,
            "covered": found.covered,
            "bead_that_fills": filling,
            "bead_that_fills_stated": enough.to("mm"),
            "product": card.key,
        },
        assumptions=(
            *([assumed] if assumed else []),
            "round bead along the middle of the flange, pressed down everywhere",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(FIT_CAUTION, *CAUTIONS),
        basis="geometry: what does not fit between flange width and bond line comes out",
    )


ROUTINE = Routine(
    name="squeeze_out",
    grammar="bond",
    about="how much squeezes out of a bead",
    slots=SLOTS,
    examples=(
        "how much squeezes out of a three eighths bead on a one inch flange",
        "how much squeeze out is there with a ten millimeter bead on a twenty millimeter flange "
        "with a one millimeter bond line",
    ),
    answer=answer,
)
