"""Whether a lot is still good: shelf life from the date of manufacture."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from assistant.declaration import Routine, Slot, Workplace
from assistant.exchange import Answer, Refusal
from assistant.products.card import AdhesiveCard
from assistant.routines._adhesive import (
    CAUTIONS,
    KIND,
    PRODUCT_SLOT,
    assumed_product,
    full_stop,
    said_assumptions,
)
from assistant.speaking.wording import (
    spoken_count,
    spoken_date,
    written_count,
    written_date,
)
from assistant.trade.shelf_life import days_left, last_good_day

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_ORDINALS = (
    *("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth"),
    *("tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth"),
    *("seventeenth", "eighteenth", "nineteenth", "twentieth"),
)
DAYS = (
    *_ORDINALS,
    *(f"twenty {ordinal}" for ordinal in _ORDINALS[:9]),
    "thirtieth",
    "thirty first",
)
_UNITS = ("", " one", " two", " three", " four", " five", " six", " seven", " eight", " nine")
_FIRST_YEAR = 2020
YEARS = {
    f"{century} {tens}{unit}": str(_FIRST_YEAR + 10 * t + u)
    for century in ("twenty", "two thousand", "two thousand and")
    for t, tens in enumerate(("twenty", "thirty"))
    for u, unit in enumerate(_UNITS)
}

LOT_CAUTION = (
    "A date printed on the cartridge comes first; so does the data sheet on storage. Do not use "
    "a cartridge whose sides have swollen, set or parted."
)

SLOTS = (
    Slot(
        name="month",
        kind="choice",
        ask="In which month was it made?",
        choices={name: name for name in MONTHS},
    ),
    Slot(
        name="day",
        kind="choice",
        ask="On which day?",
        required=False,
        choices={words: str(i) for i, words in enumerate(DAYS, start=1)},
    ),
    Slot(name="year", kind="choice", ask="In which year?", required=False, choices=YEARS),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Last good day and the days left; Refusal for a day that is not, or not yet."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    units = workplace.units
    today = workplace.now().date()
    if card.shelf_life is None:
        raise Refusal(
            f"The card of {card.name} states no shelf life: go by the date on the cartridge.",
            f"The card of {card.spoken_name} states no shelf life. Go by the date on the "
            "cartridge.",
            (LOT_CAUTION,),
        )
    made = _made(slots, today)
    last = last_good_day(made, card.shelf_life)
    left = days_left(made, card.shelf_life, today)
    assumptions = ["cartridge closed and stored as the data sheet says"]
    if "day" not in slots:
        assumptions.append("day not given: the first of the month")
    if "year" not in slots:
        assumptions.append(f"year not given: {made.year}, the last such date")
    assumptions.extend(assumed_product(card, "product" in slots))
    life_told = written_count(card.shelf_life, "month")
    life_said = spoken_count(card.shelf_life, "month")
    if left >= 0:
        told = f"good through {written_date(last, units)}, {written_count(left, 'day')} more"
        said = f"good through {spoken_date(last)}, {spoken_count(left, 'day')} more"
    else:
        told = f"past since {written_date(last, units)}, do not use it"
        said = f"past since {spoken_date(last)}. Do not use it"
    taken = ["the first of the month"] if "day" not in slots else []
    return Answer(
        sentence=(
            f"Made {written_date(made, units)}, shelf life {life_told} ({card.name}): "
            f"{full_stop(told)}"
        ),
        spoken=(
            f"Made {spoken_date(made)}, with a shelf life of {life_said} for "
            f"{card.spoken_name}: {full_stop(said)} "
            f"{said_assumptions(card, 'product' in slots, taken)}"
        ).strip(),
        figures={
            "made": made.isoformat(),
            "shelf_life_months": card.shelf_life,
            "last_good_day": last.isoformat(),
            "days_left": left,
            "good": "yes" if left >= 0 else "no",
            "product": card.key,
        },
        assumptions=tuple(assumptions),
        cautions=(LOT_CAUTION, *CAUTIONS),
        basis="calendar months from the date of manufacture; shelf life from the product card",
    )


def _made(slots: Mapping[str, Any], today: date) -> date:
    """The date said; without a year the last such date up to today."""
    month = MONTHS.index(slots["month"]) + 1
    day = int(slots.get("day", 1))
    years = [int(slots["year"])] if "year" in slots else range(today.year, today.year - 9, -1)
    for year in years:
        try:
            made = date(year, month, day)
        except ValueError:  # February 29 is found in the last leap year
            continue
        if made <= today:
            return made
    said = " ".join(str(slots[name]) for name in ("month", "day", "year") if name in slots)
    raise Refusal(
        f"{said.capitalize()} is no day up to today: say the date of manufacture again.",
        "That is no day up to today. Say the date of manufacture again.",
        (LOT_CAUTION,),
    )


ROUTINE = Routine(
    name="lot_good",
    grammar="plan",
    about="whether a lot is still good",
    slots=SLOTS,
    examples=(
        "is a cartridge made in march twenty twenty six still good",
        "when does a lot made on june third expire",
    ),
    answer=answer,
)
