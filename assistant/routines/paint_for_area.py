"""How much paint an area takes, from its solids: for a paint that has no card."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer
from assistant.routines._adhesive import capital
from assistant.routines._coating import (
    AREA_SLOT,
    CAUTIONS,
    MICRONS_SLOT,
    MILS_SLOT,
    TRANSFER_SLOT,
    paint_coat,
)
from assistant.routines._materials import both
from assistant.speaking.wording import join_words, spoken, written
from assistant.trade.coating import coating_volume

SLOTS = (
    AREA_SLOT,
    Slot(name="coats", kind="count", ask="How many coats?", low=1, high=10),
    Slot(
        name="solids",
        kind="percent",
        ask="How much solids by volume, in percent, as it is sprayed?",
        low=0.05,
        high=1.0,
    ),
    MILS_SLOT,
    MICRONS_SLOT,
    TRANSFER_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Paint as it is sprayed; Refusal when the film is not said."""
    area, units = slots["area"], workplace.units
    coat = paint_coat(slots, units)
    needed = coating_volume(area, coat.coats, coat.film, coat.solids, coat.transfer, coat.waste)
    assumed = f"I assumed {join_words(coat.taken)}." if coat.taken else ""
    return Answer(
        sentence=(
            f"{capital(written(area))} of paint: about {both(needed, units, written)} ready to "
            f"spray, for {coat.told(units, aloud=False)}."
        ),
        spoken=(
            f"{capital(spoken(area))} of paint: about {both(needed, units, spoken)} ready to "
            f"spray, for {coat.told(units, aloud=True)}. {assumed}"
        ).strip(),
        figures={
            "area": area.to("m**2"),
            "coats": coat.coats,
            "film_per_coat": coat.film.to("micrometer"),
            "solids": coat.solids,
            "transfer": coat.transfer,
            "waste": coat.waste,
            "material_needed": needed,
        },
        assumptions=("solids by volume, film when dry, of one coat", *coat.assumptions),
        cautions=CAUTIONS,
        basis="area times coats times film over solids and transfer",
    )


ROUTINE = Routine(
    name="paint_for_area",
    grammar="mixing",
    about="paint for an area",
    slots=SLOTS,
    examples=(
        "how much paint for twenty square feet in two coats at one point five mils with forty "
        "percent solids",
    ),
    answer=answer,
)
