"""What the adhesive routines share: how a card is named, and the usual cautions."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.declaration import Slot
from assistant.products.card import AdhesiveCard
from assistant.speaking.wording import join_words

KIND = AdhesiveCard.KIND

PRODUCT_SLOT = Slot(
    name="product", kind="product", ask="Which product, by its spoken name?", required=False
)

CAUTIONS = (
    "The vehicle maker's repair procedure and the product's data sheet come before this figure.",
    "Wear gloves and eye protection, and keep the air moving: uncured adhesive harms skin, "
    "eyes and lungs.",
)


def assumed_product(card: AdhesiveCard, named: bool) -> tuple[str, ...]:
    """What is taken for granted about the card, for an answer's assumptions."""
    lines = []
    if not named:
        lines.append(f"product not named: {card.name}, the default card")
    if card.invented:
        lines.append(f"{card.name} is an invented card: {card.note}")
    return tuple(lines)


def said_assumptions(card: AdhesiveCard, named: bool, others: Iterable[str] = ()) -> str:
    """The same for the ear: "I assumed the bead size and the product, an invented one."."""
    taken = list(others)
    if not named:
        taken.append("the product, an invented one" if card.invented else "the product")
    said = f"I assumed {join_words(taken)}." if taken else ""
    if named and card.invented:
        said += " That product is invented."
    return said.strip()


def capital(sentence: str) -> str:
    """The sentence with a capital first letter."""
    return sentence[:1].upper() + sentence[1:]


def full_stop(sentence: str) -> str:
    """The sentence with one full stop at its end: "until 3:10 p.m." has it already."""
    return sentence if sentence.endswith(".") else sentence + "."
