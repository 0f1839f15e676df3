"""What the primer and paint routines share: slots, cautions, mixing, film."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.declaration import Slot
from assistant.exchange import Refusal
from assistant.products.materials import PrimerCard
from assistant.routines._materials import PAPERS_CAUTION, SKIN_CAUTION
from assistant.speaking.wording import (
    US,
    join_words,
    spoken,
    spoken_count,
    spoken_percent,
    written,
    written_count,
    written_percent,
)
from assistant.trade.coating import cup_marks
from assistant.trade.rounding import share_nearest
from assistant.units import Q, Quantity

KIND = PrimerCard.KIND

CAUTIONS = (
    PAPERS_CAUTION,
    SKIN_CAUTION,
    "Spray only with the respirator the data sheet asks for; isocyanate needs supplied air.",
    "Vapor burns: no flame, spark or hot work near mixing and spraying.",
)

DEFAULT_TRANSFER = 0.5
"""Share of the spray that lands, when none is said: on the low side, so that there is enough.
Common practice, no source; rules for spray guns ask for 65 % and more (from memory)."""

SAME_FILM = 0.01
"""A film this near to a card's limit, relative to it, is at the limit: 2 mil are 51 microns
as they are said, and 50.8 in truth."""

DEFAULT_WASTE = 0.10
"""Left in cup and gun, when no card says (common practice, no source)."""

SMALLEST_MIX, LARGEST_MIX = Q(10, "mL"), Q(20, "liter")
"""Beyond these a volume was misheard rather than meant; our own bounds."""

RATIO_SLOT = Slot(name="ratio", kind="ratio", ask="At which ratio, part by part?")

COATS_SLOT = Slot(name="coats", kind="count", ask="How many coats?", required=False, low=1, high=10)
MILS_SLOT = Slot(
    name="mils",
    kind="number",
    ask="How many mils is one coat?",
    required=False,
    low=0.1,
    high=20.0,
)
MICRONS_SLOT = Slot(
    name="microns",
    kind="number",
    ask="How many microns is one coat?",
    required=False,
    low=2.0,
    high=500.0,
)
TRANSFER_SLOT = Slot(
    name="transfer",
    kind="percent",
    ask="What is the transfer efficiency, in percent?",
    required=False,
    low=0.1,
    high=1.0,
)
AREA_SLOT = Slot(
    name="area",
    kind="area",
    ask="How large is the area?",
    low=Q(10, "cm**2"),
    high=Q(100, "m**2"),
)


def volume_slot(name: str, ask: str) -> Slot:
    return Slot(name=name, kind="volume", ask=ask, low=SMALLEST_MIX, high=LARGEST_MIX)


def poured(volumes: Sequence[Quantity], units: str, say: Callable[[Any], str]) -> tuple[str, str]:
    """Each part, and the marks of the cup: "16 fl oz, 4 fl oz and 4 fl oz"."""
    unit = "fluid_ounce" if units == US else "mL"

    def told(amounts: Sequence[Quantity]) -> list[str]:
        return [say(share_nearest(amount, unit)) for amount in amounts]

    return join_words(told(volumes)), ", then ".join(told(cup_marks(volumes)))


def film_said(slots: Mapping[str, Any]) -> Quantity | None:
    """The dry film of one coat, if it was said."""
    if "mils" in slots:
        return Q(slots["mils"], "thou")
    if "microns" in slots:
        return Q(slots["microns"], "micrometer")
    return None


@dataclass(frozen=True)
class Coat:
    """What an answer about an area reckons with, and what of it was assumed.

    taken: the same for the ear, in a word or two each.
    """

    coats: int
    film: Quantity
    solids: float
    transfer: float
    waste: float
    assumptions: tuple[str, ...]
    taken: tuple[str, ...]

    def told(self, units: str, aloud: bool) -> str:
        """ "2 coats of 2 mil, 42 % solids, 50 % transfer"."""
        count, say, percent = (
            (spoken_count, spoken, spoken_percent)
            if aloud
            else (written_count, written, written_percent)
        )
        return (
            f"{count(self.coats, 'coat')} of {say(in_film_unit(self.film, units))}, "
            f"{percent(self.solids)} solids, {percent(self.transfer)} transfer"
        )


def in_film_unit(film: Quantity, units: str) -> Quantity:
    """Mils in a US shop, micrometers in a metric one."""
    return film.to("thou" if units == US else "micrometer")


def primer_coat(slots: Mapping[str, Any], card: PrimerCard, units: str) -> Coat:
    """Coats, film, solids and transfer of a primer. Refusal for a film outside the card's."""
    thin, thick = card.film_per_coat
    film = film_said(slots)
    assumptions, taken = [], []
    if "coats" not in slots:
        assumptions.append(f"coats not given: {card.coats}, from the card")
        taken.append("the number of coats")
    if film is None:
        film = thick
        assumptions.append("film not given: the thickest of the card, a coat")
        taken.append("the film")
    elif not thin * (1 - SAME_FILM) <= film <= thick * (1 + SAME_FILM):
        low, high = (in_film_unit(limit, units) for limit in (thin, thick))
        raise Refusal(
            f"No coat of {written(film)}: {card.name} goes on at {written(low)} to "
            f"{written(high)} a coat. Change the film or the number of coats.",
            f"No coat of {spoken(film)}: {card.spoken_name} goes on at {spoken(low)} to "
            f"{spoken(high)} a coat. Change the film or the number of coats.",
            (*CAUTIONS, *card.cautions),
        )
    transfer = _transfer(slots, assumptions, taken)
    assumptions.append(f"waste of {written_percent(card.package.waste)}, from the card")
    return Coat(
        slots.get("coats", card.coats),
        film,
        card.solids,
        transfer,
        card.package.waste,
        tuple(assumptions),
        tuple(taken),
    )


def paint_coat(slots: Mapping[str, Any], units: str) -> Coat:
    """The same for a paint without a card. Refusal when no film is said."""
    film = film_said(slots)
    if film is None:
        raise Refusal("Say how thick one coat is when dry, in mils or microns.")
    assumptions: list[str] = []
    taken: list[str] = []
    transfer = _transfer(slots, assumptions, taken)
    assumptions.append(f"waste of {written_percent(DEFAULT_WASTE)} in cup and gun")
    return Coat(
        slots["coats"],
        film,
        slots["solids"],
        transfer,
        DEFAULT_WASTE,
        tuple(assumptions),
        tuple(taken),
    )


def _transfer(slots: Mapping[str, Any], assumptions: list[str], taken: list[str]) -> float:
    if "transfer" in slots:
        return slots["transfer"]
    assumptions.append(f"transfer not given: {written_percent(DEFAULT_TRANSFER)}, on the low side")
    taken.append("the transfer")
    return DEFAULT_TRANSFER
