"""When primer may be sanded, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._coating import CAUTIONS, KIND
from assistant.routines._materials import DUST_CAUTION, TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="sand",
    safe_end="high",
    noun="sanding time",
    advice="sand {name} after about {time}",
    warning="no sanding before that",
    cautions=(*CAUTIONS, DUST_CAUTION),
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Sanding time from the card, on the safe side; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="primer_sand_time",
    grammar="mixing",
    about="sanding time of primer",
    slots=TIME_SLOTS,
    examples=("when can i sand the primer at seventy degrees",),
    answer=answer,
)
