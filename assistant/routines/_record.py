"""What the routines of the job record share: its slots, and what was recorded as an answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from assistant.declaration import Workplace
from assistant.exchange import Answer
from assistant.record import orders
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


def strike(bay: int, workplace: Workplace) -> Answer:
    """The newest statement in a bay's record does not count any more."""
    records = records_of(workplace)
    filed = records.in_bay(bay)
    found = records.last_statement(filed)
    told = records.state(filed, orders.last_withdrawal(records))
    text = f"the last {'entry' if found is None else _NOUNS[found[0]]} is struck"
    return answer_of(told, workplace, text, text)


def last_of_record(bay: int, workplace: Workplace) -> tuple[int, bool]:
    """Number of the newest event of a bay's record that is no order of its clocks, 0 for none,
    and whether it is a statement that counts."""
    records = records_of(workplace)
    filed = records.ledger.last_in(bay)
    if filed is None:
        return 0, False
    found = records.last_statement(filed)
    statement = int(found[1].key.rpartition("-")[2]) if found else 0
    return max(statement, filed.number if filed.said else 0), statement > filed.number


_NOUNS = {
    "references": "reference",
    "people": "person",
    "lots": "lot",
    "air": "reading of the air",
    "coupons": "weld coupon",
    "stated_deviations": "deviation",
    "acceptances": "acceptance",
    "notes": "note",
    "photos": "photo",
}
