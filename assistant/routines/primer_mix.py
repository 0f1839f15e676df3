"""How much of each part makes a volume of a primer, at its card's ratio."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.materials import PrimerCard
from assistant.routines._adhesive import assumed_product, capital, said_assumptions
from assistant.routines._coating import CAUTIONS, KIND, poured, volume_slot
from assistant.routines._materials import PRODUCT_SLOT
from assistant.speaking.wording import spoken, spoken_ratio, written, written_ratio
from assistant.trade.coating import mix_for_total

SLOTS = (volume_slot("total", "How much primer in all?"), PRODUCT_SLOT)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Volume of each part, and the marks on the cup; Refusal for a ready-mixed primer."""
    card: PrimerCard = workplace.product(slots.get("product"), KIND)
    total, ratio = slots["total"], card.package.mix_ratio
    cautions = (*CAUTIONS, *card.cautions)
    if ratio is None:
        raise Refusal(
            f"Nothing is mixed into {card.name}: its card states no ratio. Stir it and spray.",
            f"Nothing is mixed into {card.spoken_name}: its card states no ratio. Stir it and "
            "spray.",
            cautions,
        )
    parts = mix_for_total(ratio, total)
    told, marks = poured(parts, workplace.units, written)
    said, aloud = poured(parts, workplace.units, spoken)
    return Answer(
        sentence=(
            f"{card.name}, {written_ratio(ratio)} for {written(total)}: {told}. Fill to {marks}."
        ),
        spoken=(
            f"{capital(card.spoken_name)}, {spoken_ratio(ratio)} for {spoken(total)}: {said}. "
            f"Fill to {aloud}. {said_assumptions(card, 'product' in slots)}"
        ).strip(),
        figures={
            "total": total,
            "product": card.key,
            **{f"part_{number}": part for number, part in enumerate(parts, start=1)},
        },
        assumptions=(
            "parts by volume, primer first",
            "each to the nearest mark",
            *assumed_product(card, "product" in slots),
        ),
        cautions=cautions,
        basis="mixing ratio by volume from the product card",
    )


ROUTINE = Routine(
    name="primer_mix",
    grammar="mixing",
    about="mixing primer",
    slots=SLOTS,
    examples=("how do i mix twelve ounces of primer",),
    answer=answer,
)
