"""What a trainee has done so far: answers, and when each question comes again.

The truth is a row of answers; due dates are a fold over it by the library fsrs, so that a
better scheduler may be put in later and old answers still count. The rows lie in the shop's
journal, which is append-only, under a number that means nothing by itself; the name beside
the number is kept in a file of its own. To forget a trainee is to delete that name: what is
left in the journal belongs to nobody any more.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Protocol
from uuid import uuid4

from fsrs import Card as Memory
from fsrs import Rating, Scheduler
from pydantic import Field, StringConstraints

from assistant.exchange import Refusal
from assistant.shop.events import Payload, event_kind
from assistant.shop.journal import Journal

NAMES_FILE = "trainees.json"
LONGEST_NAME = 60

Word = Annotated[str, StringConstraints(min_length=1, max_length=120)]


class NamesUnreadable(Refusal):
    """The file of the trainees' names is damaged; the message names it."""


@event_kind("drill_answered")
class DrillAnswered(Payload):
    """One answer. rating: 1 wrong, 2 right with help or without its unit, 3 right."""

    trainee: Word
    item: Word
    rating: Annotated[int, Field(ge=1, le=4)]


@event_kind("recitation_judged")
class RecitationJudged(Payload):
    """One recitation: keys of the steps with each fault."""

    trainee: Word
    card: Word
    told: tuple[Word, ...] = ()
    missed: tuple[Word, ...] = ()
    out_of_order: tuple[Word, ...] = ()
    wrong: tuple[Word, ...] = ()


@event_kind("trainee_forgotten")
class TraineeForgotten(Payload):
    """Nothing under this number is read any more."""

    trainee: Word


@dataclass(frozen=True)
class Answered:
    """One answer to a drill item. when: UTC."""

    item: str
    rating: int
    when: datetime


class Progress(Protocol):
    """Where a trainee's answers are kept."""

    def answers(self, trainee: str) -> list[Answered]:
        """All answers, oldest first."""

    def recitations(self, trainee: str) -> list[RecitationJudged]:
        """All recitations, oldest first."""

    def answer(self, trainee: str, item: str, rating: int) -> None:
        """Keep one answer."""

    def recite(self, trainee: str, card: str, **found: tuple[str, ...]) -> None:
        """Keep one judged recitation; ``found`` as RecitationJudged has it."""

    def forget(self, trainee: str) -> bool:
        """Delete a trainee; False when there is none of that name."""

    def trainees(self) -> tuple[str, ...]:
        """The names that are kept."""


class JournalProgress:
    """Progress in the shop's journal, the names in a file beside it."""

    def __init__(self, journal: Journal):
        self._journal = journal
        self._names = Path(journal.folder) / NAMES_FILE

    def trainees(self) -> tuple[str, ...]:
        return tuple(sorted(self._read()))

    def answers(self, trainee: str) -> list[Answered]:
        return [
            Answered(event.payload.item, event.payload.rating, _moment(event))
            for event in self._events(trainee, DrillAnswered)
        ]

    def recitations(self, trainee: str) -> list[RecitationJudged]:
        return [event.payload for event in self._events(trainee, RecitationJudged)]

    def answer(self, trainee: str, item: str, rating: int) -> None:
        number = self._number(trainee)
        self._journal.append(DrillAnswered(trainee=number, item=item, rating=rating))

    def recite(self, trainee: str, card: str, **found: tuple[str, ...]) -> None:
        number = self._number(trainee)
        self._journal.append(RecitationJudged(trainee=number, card=card, **found))

    def forget(self, trainee: str) -> bool:
        names = self._read()
        number = names.pop(_tidy(trainee), None)
        if number is None:
            return False
        # the name goes first: were the power cut now, the journal would still say nothing
        self._write(names)
        self._journal.append(TraineeForgotten(trainee=number))
        return True

    def _events(self, trainee: str, kind: type[Payload]) -> Iterator:
        number = self._read().get(_tidy(trainee))
        if number is None:
            return
        for event in self._journal.events():
            if isinstance(event.payload, kind) and event.payload.trainee == number:
                yield event

    def _number(self, trainee: str) -> str:
        names = self._read()
        name = _tidy(trainee)
        if name not in names:
            names[name] = uuid4().hex
            self._write(names)
        return names[name]

    def _read(self) -> dict[str, str]:
        try:
            found = json.loads(self._names.read_text(encoding="utf-8"))
            return {str(name): str(number) for name, number in found.items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, AttributeError) as trouble:
            # to go on would write it anew, and everybody's progress would be nobody's
            raise NamesUnreadable(
                f"{self._names} cannot be read: it holds the trainees' names. Restore it from a "
                f"backup, or delete it and begin anew. ({trouble})"
            ) from None

    def _write(self, names: dict[str, str]) -> None:
        handle, path = tempfile.mkstemp(dir=self._names.parent, prefix=NAMES_FILE)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(names, file, ensure_ascii=False, indent=1)
                file.flush()
                os.fsync(file.fileno())
            os.replace(path, self._names)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(path)
            raise


@dataclass
class MemoryProgress:
    """Progress that ends with the program: for a trainee who gives no name, and for tests."""

    kept: dict[str, list[Answered]] = field(default_factory=dict)
    judged: dict[str, list[RecitationJudged]] = field(default_factory=dict)

    def trainees(self) -> tuple[str, ...]:
        return tuple(sorted({*self.kept, *self.judged}))

    def answers(self, trainee: str) -> list[Answered]:
        return list(self.kept.get(_tidy(trainee), ()))

    def recitations(self, trainee: str) -> list[RecitationJudged]:
        return list(self.judged.get(_tidy(trainee), ()))

    def answer(self, trainee: str, item: str, rating: int) -> None:
        row = Answered(item, rating, datetime.now(UTC))
        self.kept.setdefault(_tidy(trainee), []).append(row)

    def recite(self, trainee: str, card: str, **found: tuple[str, ...]) -> None:
        row = RecitationJudged(trainee="nobody", card=card, **found)
        self.judged.setdefault(_tidy(trainee), []).append(row)

    def forget(self, trainee: str) -> bool:
        name = _tidy(trainee)
        there = name in self.kept or name in self.judged
        self.kept.pop(name, None)
        self.judged.pop(name, None)
        return there


def _tidy(name: str) -> str:
    return " ".join(name.lower().split())[:LONGEST_NAME]


def _moment(event) -> datetime:
    return datetime.fromtimestamp(event.reading.wall / 1e6, UTC)


# --- when a question comes again ----------------------------------------------------------

# The times between repetitions are worked out anew at each start, so they must not be drawn.
SCHEDULER = Scheduler(enable_fuzzing=False)


def due_dates(answers: Iterable[Answered]) -> dict[str, datetime]:
    """Item -> when it is due again (UTC), by the answers so far. A wall clock that stepped
    back between two answers counts as standing still."""
    memories: dict[str, Memory] = {}
    seen: dict[str, datetime] = {}
    for answered in answers:
        memory = memories.get(answered.item) or Memory(card_id=1)
        when = max(answered.when, seen.get(answered.item, answered.when))
        memories[answered.item], _ = SCHEDULER.review_card(memory, Rating(answered.rating), when)
        seen[answered.item] = when
    return {item: memory.due for item, memory in memories.items()}


def chosen(items: Iterable[str], answers: Iterable[Answered], now: datetime, count: int):
    """The items to ask now: what is due, longest due first, then new ones in their order,
    then what is due soonest."""
    items = list(dict.fromkeys(items))
    due = due_dates(answers)
    late = sorted((item for item in items if item in due and due[item] <= now), key=due.get)
    new = [item for item in items if item not in due]
    early = sorted((item for item in items if item in due and due[item] > now), key=due.get)
    return [*late, *new, *early][:count]
