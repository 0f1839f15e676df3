"""When cavity foam may be trimmed, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._foam import CAUTIONS, KIND
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="trim",
    safe_end="high",
    noun="time before trimming",
    advice="trim {name} after about {time}",
    warning="do not touch it before that",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time before trimming from the card, rounded up; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="foam_trim_time",
    grammar="sealer",
    about="when foam may be trimmed",
    slots=TIME_SLOTS,
    examples=("when can i trim the foam at seventy degrees",),
    answer=answer,
)
