"""What the cavity foam routines share: cautions and the answer for a cavity."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Workplace
from assistant.exchange import Answer
from assistant.products.materials import FoamCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._materials import PAPERS_CAUTION, SKIN_CAUTION, both
from assistant.speaking.wording import (
    spoken,
    spoken_count,
    spoken_number,
    spoken_percent,
    written,
    written_count,
    written_number,
    written_percent,
)
from assistant.trade.foam import foam_needed
from assistant.trade.rounding import leftover_down
from assistant.units import Q, Quantity

KIND = FoamCard.KIND

CAUTIONS = (
    PAPERS_CAUTION,
    SKIN_CAUTION,
    "Uncured foam may give off isocyanate: breathe none of it, nor the smoke of foam that burns.",
    "Rising foam presses on thin panels and blocks drains: leave it a way out and fill in lifts.",
)

SMALLEST_CAVITY, LARGEST_CAVITY = Q(10, "mL"), Q(500, "liter")
"""Beyond these a cavity was misheard rather than meant; our own bounds."""


def cavity_answer(
    written_place: str,
    spoken_place: str,
    cavity: Quantity,
    slots: Mapping[str, Any],
    workplace: Workplace,
) -> Answer:
    """Liquid foam, cartridges and how far it may rise, for a cavity of a volume."""
    card: FoamCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    least, most = card.expansion
    waste = card.package.waste
    need = foam_needed(cavity, least, most, card.package.trade_package, waste)
    material = need.material
    left = leftover_down(material.left_over)
    cartridges, tips = material.cartridges, material.tips
    return Answer(
        sentence=(
            f"{capital(written_place)}: about {both(need.liquid, units, written)} of liquid foam "
            f"({card.name}) at a rise of {written_number(least)} times. With "
            f"{written_percent(waste)} waste, purge and tip hold-up: about "
            f"{both(material.needed, units, written)}. "
            f"{written_count(cartridges, 'cartridge')} of {written(card.package.cartridge)} and "
            f"{written_count(tips, 'tip')}, about {written(left)} left over. At its most it rises "
            f"to {both(need.rises_to, units, written)}: leave it a way out."
        ),
        spoken=(
            f"{capital(spoken_place)}: about {both(material.needed, units, spoken)} of "
            f"{card.spoken_name} with {spoken_percent(waste)} waste, purge and tip, at a rise of "
            f"{spoken_number(least)} times: {spoken_count(cartridges, 'cartridge')} and "
            f"{spoken_count(tips, 'tip')}. It may rise to {both(need.rises_to, units, spoken)}: "
            f"leave it a way out. {said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "cavity": cavity.to("mL"),
            "foam_liquid": need.liquid,
            "rises_to": need.rises_to,
            "expansion": least,
            "waste": waste,
            "material_needed": material.needed,
            "cartridges": cartridges,
            "tips": tips,
            "left_over": material.left_over,
            "product": card.key,
        },
        assumptions=(
            f"the least rise of the card's range, {written_number(least)} to "
            f"{written_number(most)} times, so that the cavity is full",
            f"waste of {written_percent(waste)}, from the card",
            "one new tip for each cartridge, no pause longer than the tip life",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*CAUTIONS, *card.cautions),
        basis="volume over expansion; expansion, purge, tip and cartridge from the product card",
    )
