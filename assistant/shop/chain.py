"""The hash chain: each event carries the hash of the one before it.

Whoever changes, drops or inserts an event breaks the chain from there on. (It cannot tell
that events were cut off at the end, nor resist someone who rewrites everything after the
change; for that the last hash must be known from elsewhere, such as a printed report.)
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from assistant.shop.timekeeping import ClockReading

GENESIS = "0" * 64
"""What the first event carries in the place of a hash before it."""


class Row(NamedTuple):
    """One event as it is stored. hash: SHA-256 over the hash before it and all the rest."""

    id: int
    kind: str
    version: int
    wall: int
    uptime: int
    boot: str
    writer: str
    payload: str
    hash: str

    @property
    def reading(self) -> ClockReading:
        return ClockReading(self.wall, self.uptime, self.boot)


def digest(before: str, content: tuple) -> str:
    """Hash of a row without its hash, after the hash of the row before it."""
    text = json.dumps([before, *content], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def sealed(before: str, *content) -> Row:
    """A row with its hash."""
    return Row(*content, digest(before, content))


def to_line(row: Row) -> bytes:
    """One line of the copy."""
    return json.dumps(list(row), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def from_line(line: bytes) -> Row:
    """Raises ValueError for what is no whole line of a copy."""
    if not line.endswith(b"\n"):
        raise ValueError("a line without its end")
    fields = json.loads(line)
    kinds = (int, str, int, int, int, str, str, str, str)
    if not (isinstance(fields, list) and len(fields) == len(kinds)):
        raise ValueError("not a line of a journal")
    if not all(type(field) is kind for field, kind in zip(fields, kinds, strict=True)):
        raise ValueError("not a line of a journal")
    return Row(*fields)


class Broken(ValueError):
    """The chain does not hold at an event. after: how many events before it are whole."""

    def __init__(self, after: int, why: str):
        super().__init__(f"event {after + 1}: {why}")
        self.after = after


def checked(rows: Iterable[Row], before: str = GENESIS, count: int = 0) -> Iterator[Row]:
    """The rows, each checked as it passes: ids without a gap, hashes in a chain.

    before, count: hash and number of the row before the first. Raises Broken.
    """
    for row in rows:
        if row.id != count + 1:
            raise Broken(count, f"the next event has the number {row.id}: one is missing or added")
        if digest(before, tuple(row[:-1])) != row.hash:
            raise Broken(count, "it was changed, or one before it was")
        before, count = row.hash, row.id
        yield row
