"""What the filler routines share: slots, limits, the answer for a low spot."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assistant.declaration import Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.materials import FillerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._materials import (
    BARE_SIZE_UNIT,
    DUST_CAUTION,
    PAPERS_CAUTION,
    SKIN_CAUTION,
    both,
    shares,
)
from assistant.routines._metal import INCH_OR_MM
from assistant.speaking.wording import (
    spoken,
    spoken_count,
    spoken_length,
    spoken_percent,
    written,
    written_count,
    written_length,
    written_percent,
)
from assistant.trade.filler import FillerNeeded, filler_needed, hardener_mass, lifts
from assistant.trade.rounding import length_down, mass_up
from assistant.units import Q, Quantity

KIND = FillerCard.KIND

CAUTIONS = (
    PAPERS_CAUTION,
    SKIN_CAUTION,
    DUST_CAUTION,
    "Filler goes over a sound, clean joint: it closes no gap and carries no load.",
)

DEPTH_SLOT = Slot(
    name="depth",
    kind="length",
    ask="How deep is the low spot?",
    default_unit=BARE_SIZE_UNIT,
    # a film is no fill, and no card allows a fill of two inches; our own bounds
    low=Q(0.1, "mm"),
    high=Q(2, "inch"),
)


def low_spot_answer(
    spot: Callable[[Callable[..., str], str], str],
    area: Quantity,
    slots: Mapping[str, Any],
    workplace: Workplace,
) -> Answer:
    """Filler, hardener and lifts for a low spot; Refusal when it is too deep for the card.

    spot: words for the place, given how to say a length or an area and the word for "by".
    """
    card: FillerCard = workplace.product(slots.get("product"), KIND)
    depth: Quantity = slots["depth"]
    check_depth(depth, card, workplace.units)
    package = card.package
    need = filler_needed(
        area, depth, package.density, card.hardener_share, card.thickest_lift, package.waste
    )
    waste = package.waste
    thickest = length_down(card.thickest_lift, INCH_OR_MM[workplace.units])
    return Answer(
        sentence=(
            f"{capital(spot(written, '×'))}, {written_length(depth)} deep: about "
            f"{both(need.volume, workplace.units, written)} of {card.name} with "
            f"{written_percent(waste)} waste. {_weighed(need, card, workplace.units, written)}. "
            f"{written_count(need.lifts, 'lift')}."
        ),
        spoken=(
            f"{capital(spot(spoken, 'by'))}, {spoken_length(depth)} deep: about "
            f"{both(need.volume, workplace.units, spoken)} of {card.spoken_name} with "
            f"{spoken_percent(waste)} waste. {_weighed(need, card, workplace.units, spoken)}. "
            f"{capital(spoken_count(need.lifts, 'lift'))}. "
            f"{said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "area": area.to("mm**2"),
            "depth": depth.to("mm"),
            "filler_on_panel": need.on_panel,
            "filler_volume": need.volume,
            "filler_mass": need.mass,
            "hardener_mass": need.hardener,
            "waste": waste,
            "lifts": need.lifts,
            "product": card.key,
        },
        assumptions=(
            "the full depth everywhere: a spot that feathers out takes less",
            f"waste of {written_percent(waste)}, from the card",
            f"lifts of {written_length(thickest)} at most, from the "
            "card; each lift mixed on its own with its share of the hardener",
            *assumed_product(card, "product" in slots),
        ),
        cautions=(*CAUTIONS, *card.cautions),
        basis="geometry of the spot; density, hardener and lift from the product card",
    )


def _weighed(need: FillerNeeded, card: FillerCard, units: str, say: Callable[[Any], str]) -> str:
    """Weights; the hardener is that of the filler as it is said, so that the shares hold."""
    told = hardener_mass(mass_up(need.mass, "gram"), card.hardener_share)
    return f"By weight {weight(need.mass, units, say)} and {hardener(told, units, say)} of hardener"


def weight(mass: Quantity, units: str, say: Callable[[Any], str]) -> str:
    """Filler by weight, rounded up."""
    return both(mass, units, say, mass_up, "gram", "ounce")


def hardener(mass: Quantity, units: str, say: Callable[[Any], str]) -> str:
    """Hardener by weight, to the nearest."""
    return shares(mass, units, say, "gram", "ounce")


def check_depth(depth: Quantity, card: FillerCard, units: str) -> int:
    """The lifts for a depth, or a Refusal that names the card's limit."""
    if depth > card.deepest:
        deepest = length_down(card.deepest, INCH_OR_MM[units])
        raise Refusal(
            f"No filler {written_length(depth)} deep: the most for {card.name} is "
            f"{written_length(deepest)}. Work the metal closer first.",
            f"No filler {spoken_length(depth)} deep: the most for {card.spoken_name} is "
            f"{spoken_length(deepest)}. Work the metal closer first.",
            (*CAUTIONS, *card.cautions),
        )
    return lifts(depth, card.thickest_lift)
