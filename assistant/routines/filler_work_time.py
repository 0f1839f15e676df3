"""How long mixed filler can be spread, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._filler import CAUTIONS, KIND
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="work",
    safe_end="low",
    noun="work time",
    advice="work time of {name} about {time} from mixing",
    warning="stop when it drags",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Work time from the card, rounded down; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="filler_work_time",
    grammar="filler",
    about="work time of filler",
    slots=TIME_SLOTS,
    examples=("how long can i work the filler at seventy degrees",),
    answer=answer,
)
