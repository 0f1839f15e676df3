"""How long mixed primer can be sprayed, at a temperature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.declaration import Routine, Workplace
from assistant.exchange import Answer
from assistant.routines._coating import CAUTIONS, KIND
from assistant.routines._materials import TIME_SLOTS, StageQuestion, answer_time

QUESTION = StageQuestion(
    kind=KIND,
    stage="work",
    safe_end="low",
    noun="pot life",
    advice="pot life of {name} about {time} once mixed",
    warning="clean the gun before that",
    cautions=CAUTIONS,
)


def answer(slots: Mapping[str, Any], workplace: Workplace) -> Answer:
    """Pot life from the card, on the safe side; Refusal outside its limits."""
    return answer_time(QUESTION, slots, workplace)


ROUTINE = Routine(
    name="primer_pot_life",
    grammar="mixing",
    about="pot life of primer",
    slots=TIME_SLOTS,
    examples=("how long is the primer good at seventy degrees",),
    answer=answer,
)
