"""When seam sealer may be painted over, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time
from assistant.routines._sealer import CAUTIONS, KIND

QUESTION = StageQuestion(
    kind=KIND,
    stage="paint",
    safe_end="high",
    noun="time before painting",
    advice="paint {name} after about {time}",
    warning="no paint before that",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Time before painting from the card, rounded up; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="sealer_paint_time",
    grammar="sealer",
    about="when sealer may be painted",
    slots=TIME_SLOTS,
    examples=("when can i paint the seam sealer at seventy degrees",),
    answer=answer,
)
