"""How long to wait between coats of primer, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._coating import CAUTIONS, KIND
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="flash",
    safe_end="high",
    noun="flash time",
    advice="wait about {time} between coats of {name}",
    warning="no next coat before that",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Flash time from the card, on the safe side; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="primer_flash_time",
    grammar="mixing",
    about="flash time of primer",
    slots=TIME_SLOTS,
    examples=("how long between coats of primer at seventy degrees",),
    answer=answer,
)
