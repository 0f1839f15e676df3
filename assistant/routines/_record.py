"""What the routines of the job record share: its slots, and what was recorded as an answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Workplace
from assistant.exchange import Answer
from assistant.record.records import Make, Records, Told
from assistant.routines._bays import BAY_SLOT as ANY_BAY
from assistant.shop.wording import bay_name

GRAMMAR = "record"

BAY_SLOT = replace(ANY_BAY, ask="For which bay?")

CAUTIONS = (
    "What is written down was told, not measured: look at it on the screen before you rely on it.",
)
BASIS = "the shop's journal"


def records_of(workplace: Workplace) -> Records:
    """The records of the shop, for what is stated here."""
    shop = workplace.shop
    return Records(shop.journal, shop.source)


def stated(
    slots: Mapping[str, Any],
    workplace: Workplace,
    make: Callable[[Records], Make],
    written: str,
    spoken: str,
) -> Answer:
    """State something in the slots' bay; written and spoken: what, for screen and ear."""
    records = records_of(workplace)
    told = records.state_in_bay(slots["bay"], make(records))
    return answer_of(told, workplace, written, spoken)


def answer_of(told: Told, workplace: Workplace, written: str, spoken: str) -> Answer:
    """What was recorded, with the bay first, and what the journal had to mend before it."""
    name = bay_name(told.bay)
    began = " A new record is begun." if told.began and "begun" not in written else ""
    notices = workplace.shop.journal.take_notices()
    mended = "".join(f"Note: {notice}. " for notice in notices)
    return Answer(
        sentence=f"{mended}{name.written}: {written}.{began}",
        spoken=f"{name.spoken}: {spoken}.{began}",
        cautions=CAUTIONS,
        basis=BASIS,
    )
