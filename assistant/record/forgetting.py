"""To forget a person: the name out of every private text of the journal, in every file.

What is taken out is told by an event of its own, and "[removed 57]" stands where the name
stood; 57 is the number of that event, so that one removed person can be told from another
without a name. The chain stays whole (``shop.private``).
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from assistant.exchange import Refusal
from assistant.record.document import JobRecord
from assistant.record.wording import one_form
from assistant.shop.journal import Journal

SHORTEST_NAME = 2
LEAST_ROOM = 100
"""A text may grow by the removal up to so many characters, or to its own length; one that would
grow more is removed whole, so that it stays inside every field's bounds. Our own choice."""

_ACCENTS = "\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f"
"""Unicode's blocks of combining marks: a letter with one that has no sign of its own is not the
letter without it."""

_WORDED = frozenset(
    {"text", "name", "by", "reason", "note", "file", "caption", "required", "actual", "missing"}
)
"""Fields of an imported document that hold words of people; others are the format's own."""


class NothingToForget(Refusal):
    """No private text holds the name; the message says what to look for."""


@dataclass(frozen=True)
class Forgotten:
    """What was done. texts: changed. event: number of the event that tells of it. stays:
    events that hold the name outside private texts. parts: parts of the name that other texts
    still hold, with how many. deleted: damaged files that were set aside before. files: files
    of the journal's folder that hold the name still."""

    texts: int
    event: int
    stays: tuple[int, ...]
    parts: tuple[tuple[str, int], ...]
    deleted: tuple[str, ...]
    files: tuple[str, ...]


def forget(journal: Journal, names: Sequence[str]) -> Forgotten:
    """Take a person's name, in all its given forms, out of the journal.

    Whole words only, whatever their case and however their accents are written. Raises
    NothingToForget, JournalTrouble.
    """
    names = [one_form(" ".join(name.split())) for name in names]
    for name in names:
        if len(name) < SHORTEST_NAME or not re.search(r"\w", name):
            raise NothingToForget(f"{name!r} is too short for a name: it would match anywhere.")
    pattern = pattern_of(names)
    removal = journal.remove_text(lambda text, number: without(text, pattern, number))
    if not removal.texts and not removal.stays:
        raise NothingToForget(
            f"No text of the journal holds {' or '.join(map(repr, names))}: clampcall record "
            "search shows how the name was written down."
        )
    return Forgotten(
        texts=removal.texts,
        event=removal.events[0].id if removal.events else 0,
        stays=removal.stays,
        parts=_parts_left(journal, names),
        deleted=removal.deleted,
        files=files_with(journal.folder, names),
    )


def pattern_of(names: Iterable[str]) -> re.Pattern[str]:
    """The names as whole words, the longest first, also as JSON writes them; for texts in one
    form (``one_form``)."""
    forms = {form for name in names for form in (name, json.dumps(name, ensure_ascii=False)[1:-1])}
    either = "|".join(
        r"\s+".join(map(re.escape, form.split())) for form in sorted(forms, key=len, reverse=True)
    )
    return re.compile(rf"(?<!\w)(?:{either})(?![\w{_ACCENTS}])", re.IGNORECASE)


def without(text: str, pattern: re.Pattern[str], number: int) -> str:
    """A private text without the name; as it was, to the last sign, where it is not in it."""
    found, text = text, one_form(text)
    if not pattern.search(text):
        return found
    instead = f"[removed {number}]"
    if _is_document(text):  # only its words, so that it stays a document
        changed = _walk(json.loads(text), "", lambda words: pattern.sub(instead, words))
        return json.dumps(changed, ensure_ascii=False, separators=(",", ":"))
    left = pattern.sub(instead, text)
    return left if len(left) <= max(len(text), LEAST_ROOM) else instead


def _is_document(text: str) -> bool:
    """Whether a private text is an imported record. A note may look like JSON as well: every
    word of it is a person's."""
    try:
        JobRecord.model_validate_json(text)
    except ValidationError:
        return False
    return True


def _walk(data: Any, field: str, change: Callable[[str], str]) -> Any:
    if isinstance(data, dict):
        return {key: _walk(value, key, change) for key, value in data.items()}
    if isinstance(data, list):
        return [_walk(value, field, change) for value in data]
    if isinstance(data, str) and field in _WORDED:
        return change(data)
    return data


def _parts_left(journal: Journal, names: Sequence[str]) -> tuple[tuple[str, int], ...]:
    """First and last names by themselves, which may be the same person or another."""
    parts = dict.fromkeys(
        part for name in names for part in name.split() if len(part) > 2 and part not in names
    )
    found = []
    for part in parts:
        pattern = pattern_of([part])
        count = sum(bool(pattern.search(one_form(text))) for text in journal.private_texts())
        if count:
            found.append((part, count))
    return tuple(found)


def files_with(folder: Path, names: Sequence[str]) -> tuple[str, ...]:
    """Files of a folder with a name in them, whatever its case and its accents."""
    wanted = [one_form(name).lower() for name in names]
    found = []
    for path in sorted(folder.iterdir()):
        if path.is_file():
            content = one_form(path.read_bytes().decode(errors="replace")).lower()
            if any(name in content for name in wanted):
                found.append(path.name)
    return tuple(found)
