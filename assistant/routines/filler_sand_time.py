"""When filler may be sanded, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._filler import CAUTIONS, KIND
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="sand",
    safe_end="high",
    noun="sanding time",
    advice="sand {name} after about {time}",
    warning="no sanding before that",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Sanding time from the card, rounded up; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="filler_sand_time",
    grammar="filler",
    about="sanding time of filler",
    slots=TIME_SLOTS,
    examples=("when can i sand the filler at seventy degrees",),
    answer=answer,
)
