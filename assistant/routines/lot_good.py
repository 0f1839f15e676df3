"""Whether a lot is still good: from the day it was made or opened, or by its use-by date."""

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

MADE, OPENED, USE_BY = "made", "opened", "use_by"
_LIVES = {MADE: "shelf_life", OPENED: "opened_life"}
_FIGURES = {MADE: "made", OPENED: "opened", USE_BY: "use_by"}

LOT_CAUTION = (
    "A date printed on the cartridge comes first; so does the data sheet on storage. Do not use "
    "a cartridge whose sides have swollen, set or parted."
)

MONTH_SLOT = Slot(
    name="month",
    kind="choice",
    ask="Which month is on it?",
    choices={name: name for name in MONTHS},
)
DAY_SLOT = Slot(
    name="day",
    kind="choice",
    ask="On which day?",
    required=False,
    choices={words: str(i) for i, words in enumerate(DAYS, start=1)},
)
YEAR_SLOT = Slot(name="year", kind="choice", ask="In which year?", required=False, choices=YEARS)

SLOTS = (
    MONTH_SLOT,
    DAY_SLOT,
    YEAR_SLOT,
    Slot(
        name="dated",
        kind="choice",
        ask="Is that when it was made, opened, or the date to use it by?",
        required=False,
        choices={name: name for name in (MADE, OPENED, USE_BY)},
    ),
    PRODUCT_SLOT,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Last good day and the days left; Refusal for a day that is not, or not yet."""
    card: AdhesiveCard = workplace.product(slots.get("product"), KIND)
    today = workplace.now().date()
    dated = slots.get("dated", MADE)
    day = _use_by(slots) if dated == USE_BY else _past_date(slots, today)
    life = _life(card, dated)
    if life is None:
        last, left = day, (day - today).days
    else:
        last, left = last_good_day(day, life), days_left(day, life, today)
    assumptions = [f"stored as the data sheet says, {'capped' if dated == OPENED else 'closed'}"]
    if dated == OPENED:
        assumptions.append("only if the date printed on it is no earlier")
    if "day" not in slots:
        assumptions.append("day not given: the first of the month")
    if "year" not in slots:
        assumptions.append(f"year not given: {day.year}, the last such date")
    from_card = dated != USE_BY
    if from_card:
        assumptions.extend(assumed_product(card, "product" in slots))
    units = workplace.units
    if left >= 0:
        told = f"good through {written_date(last, units)}, {written_count(left, 'day')} more"
        said = f"good through {spoken_date(last)}, {spoken_count(left, 'day')} more"
    else:
        told = f"past since {written_date(last, units)}, do not use it"
        said = f"past since {spoken_date(last)}. Do not use it"
    taken = ["the first of the month"] if "day" not in slots else []
    lead = _lead(dated, f" ({card.name})", life, written_date(day, units), written_count)
    said_lead = _lead(dated, f" for {card.spoken_name}", life, spoken_date(day), spoken_count)
    assumed = said_assumptions(card, "product" in slots, taken) if from_card else ""
    return Answer(
        sentence=f"{lead}: {full_stop(told)}",
        spoken=f"{said_lead}: {full_stop(said)} {assumed}".strip(),
        figures={
            _FIGURES[dated]: day.isoformat(),
            **({} if life is None else {f"{_LIVES[dated]}_months": life, "product": card.key}),
            "last_good_day": last.isoformat(),
            "days_left": left,
            "good": "yes" if left >= 0 else "no",
        },
        assumptions=tuple(assumptions),
        cautions=(LOT_CAUTION, *CAUTIONS),
        basis="the date printed on it"
        if life is None
        else "calendar months; the life from the product card",
    )


def _life(card: AdhesiveCard, dated: str) -> int | None:
    """Months that the card gives from that date; None where the date itself is the end."""
    if dated == USE_BY:
        return None
    months = getattr(card, _LIVES[dated])
    if months is None:
        noun = "life once opened" if dated == OPENED else "shelf life"
        raise Refusal(
            f"The card of {card.name} states no {noun}: go by the data sheet and the date on the "
            "cartridge.",
            f"The card of {card.spoken_name} states no {noun}. Go by the data sheet and the date "
            "on the cartridge.",
            (LOT_CAUTION,),
        )
    return months


def _lead(dated: str, of: str, life: int | None, day: str, count: Any) -> str:
    """What was understood: "Made April 1, 2026, shelf life 12 months (Long-open)"."""
    if life is None:
        return f"To use by {day}"
    verb, noun = ("Opened", "once opened it keeps") if dated == OPENED else ("Made", "shelf life")
    return f"{verb} {day}, {noun} {count(life, 'month')}{of}"


def _use_by(slots: Mapping[str, Any]) -> date:
    """The date printed; a Refusal without its year, for it may lie behind or ahead."""
    if "year" not in slots:
        raise Refusal(
            "A use-by date needs its year: say it again with the year.",
            "A use-by date needs its year. Say it again with the year.",
            (LOT_CAUTION,),
        )
    try:
        return date(int(slots["year"]), MONTHS.index(slots["month"]) + 1, int(slots.get("day", 1)))
    except ValueError:
        raise Refusal("That is no day of the calendar: say the date again.") from None


def _past_date(slots: Mapping[str, Any], today: date) -> date:
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
        f"{said.capitalize()} is no day up to today: say the date again.",
        "That is no day up to today. Say the date again.",
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
        "until when is a cartridge opened on june third good",
    ),
    answer=answer,
)
