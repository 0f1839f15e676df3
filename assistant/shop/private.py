"""Texts about people, kept beside the chain so that they can be taken away again.

An event is never changed. So what may name a person does not stand in it: the event holds a
seal, SHA-256 over 32 random bytes and the text, and the opening (those bytes and the text)
lies in a table and a file of its own. Whoever has the opening can show that it is what was
sealed; without it nobody can find the text by trying names, because of the random bytes.

To forget a name is an event too (``events.TextsRemoved``): it names the old seals and the
seals of what stands there now, and the old openings are deleted. The chain stays as it was,
and still proves everything else.

Openings prove themselves, and removals stand in the chain. So after a crash the truth is:
every opening found in table or file that fits a seal of the chain and is not removed by it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from assistant.shop.carbon import cut_file, sync_folder, write_behind

SALT_BYTES = 32
"""As long as the hash: guessing the salt is no easier than breaking SHA-256."""

GONE = "[text is missing]"
"""Stands where an opening is lost; ``verify`` tells of it."""

_SEAL = re.compile(r'\{"seal":"([0-9a-f]{64})"\}')


class Private:
    """Marks a field of a payload (``Annotated[str, PRIVATE]``) as a text to be sealed."""


PRIVATE = Private()


class Opening(NamedTuple):
    """What a seal was made from. salt: hexadecimal."""

    seal: str
    salt: str
    text: str

    @property
    def fits(self) -> bool:
        try:
            return seal_of(bytes.fromhex(self.salt), self.text) == self.seal
        except ValueError:
            return False


def seal_of(salt: bytes, text: str) -> str:
    """SHA-256 over the salt, always of one length, and the text in UTF-8."""
    return hashlib.sha256(salt + text.encode()).hexdigest()


def sealed_text(text: str) -> Opening:
    """A text under a new seal."""
    salt = secrets.token_bytes(SALT_BYTES)
    return Opening(seal_of(salt, text), salt.hex(), text)


def conceal(payload: str, names: Iterable[str]) -> tuple[str, list[Opening]]:
    """The JSON text of a payload with seals in the place of the named fields."""
    data = json.loads(payload)
    openings = []
    for name in names:
        if isinstance(data.get(name), str):
            opening = sealed_text(data[name])
            data[name] = {"seal": opening.seal}
            openings.append(opening)
    if not openings:
        return payload, openings
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")), openings


def reveal(payload: str, find: Callable[[str], str]) -> str:
    """The JSON text of a payload with its texts again."""
    if '{"seal":"' not in payload:
        return payload
    return _SEAL.sub(lambda found: json.dumps(find(found[1]), ensure_ascii=False), payload)


def seals_in(payload: str) -> list[str]:
    """The seals that stand in a payload's JSON text."""
    return _SEAL.findall(payload)


def add_tables(database: sqlite3.Connection) -> None:
    """The schema: openings, what took the place of removed ones, and the size of the file."""
    for statement in (
        "CREATE TABLE private (seal TEXT PRIMARY KEY, salt TEXT NOT NULL, text TEXT NOT NULL)"
        " WITHOUT ROWID",
        "CREATE TABLE private_removed (seal TEXT PRIMARY KEY, now TEXT NOT NULL) WITHOUT ROWID",
        "CREATE TABLE private_copy (size INTEGER NOT NULL)",
        "INSERT INTO private_copy VALUES (0)",
    ):
        database.execute(statement)


def find_text(database: sqlite3.Connection, seal: str) -> str:
    """The text under a seal, or what stands in its place now."""
    for _ in range(MOST_REMOVALS):
        found = database.execute("SELECT text FROM private WHERE seal = ?", (seal,)).fetchone()
        if found is not None:
            return found[0]
        later = database.execute(
            "SELECT now FROM private_removed WHERE seal = ?", (seal,)
        ).fetchone()
        if later is None:
            break
        seal = later[0]
    return GONE


MOST_REMOVALS = 10_000
"""A text from which one name after another is taken; only a loop would be longer."""


class PrivateTexts:
    """The openings of one journal: the tables of its database, and a file of lines.

    All but reading needs the journal's lock. Methods that take a database write inside the
    caller's transaction.
    """

    def __init__(self, path: Path):
        self.path = path

    def agree(self, database: sqlite3.Connection) -> None:
        """Make table and file agree. Nearly always they do, which costs two short looks."""
        if self._recorded(database) != self._size():
            self.restore(database)

    def append(self, database: sqlite3.Connection, openings: Iterable[Opening]) -> None:
        """Keep new openings; they are on the disk as lines when this returns."""
        openings = list(openings)
        end = write_behind(self.path, map(_line, openings), self._recorded(database))
        database.executemany("INSERT INTO private VALUES (?, ?, ?)", openings)
        database.execute("UPDATE private_copy SET size = ?", (end,))

    def cut_back(self, database: sqlite3.Connection) -> None:
        """Take back lines that were written for a transaction that was not committed."""
        with contextlib.suppress(OSError):
            size = self._recorded(database)
            if self._size() > size:
                cut_file(self.path, size)

    def restore(self, database: sqlite3.Connection, more: Iterable[Opening] = ()) -> None:
        """Tables and file anew from everything that proves itself; in a transaction of its own.

        more: openings that were found elsewhere, such as in a damaged database.
        """
        wanted: set[str] = set()
        removed: dict[str, str] = {}
        for kind, payload in database.execute(
            "SELECT kind, payload FROM event "
            """WHERE payload LIKE '%"seal":"%' OR kind = 'texts_removed' ORDER BY id"""
        ):
            wanted.update(seals_in(payload))
            if kind == "texts_removed":
                removed.update(removals(payload))
        wanted |= set(removed.values())
        known = map(Opening._make, database.execute("SELECT seal, salt, text FROM private"))
        openings = {
            opening.seal: opening
            for opening in (*known, *self.lines(), *more)
            if opening.seal in wanted and opening.seal not in removed and opening.fits
        }
        database.execute("BEGIN IMMEDIATE")
        try:
            database.execute("DELETE FROM private")
            database.execute("DELETE FROM private_removed")
            database.executemany("INSERT INTO private VALUES (?, ?, ?)", openings.values())
            database.executemany("INSERT INTO private_removed VALUES (?, ?)", removed.items())
            self.rewrite(database)
            database.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                database.execute("ROLLBACK")
            raise

    def remove(self, database: sqlite3.Connection, now: Mapping[str, str]) -> None:
        """Delete the openings of the old seals, and note which seals stand there now."""
        database.executemany("DELETE FROM private WHERE seal = ?", ((seal,) for seal in now))
        database.executemany("INSERT INTO private_removed VALUES (?, ?)", now.items())

    def rewrite(self, database: sqlite3.Connection) -> None:
        """The file anew with what the table holds, and nothing else, in one step."""
        rows = database.execute("SELECT seal, salt, text FROM private ORDER BY seal")
        handle, name = tempfile.mkstemp(dir=self.path.parent, prefix=f"{self.path.name}.new-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.writelines(_line(Opening._make(row)) for row in rows)
                file.flush()
                os.fsync(file.fileno())
                size = file.tell()
            os.replace(name, self.path)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(name)
            raise
        sync_folder(self.path.parent)
        database.execute("UPDATE private_copy SET size = ?", (size,))

    def lines(self) -> Iterator[Opening]:
        """The whole lines of the file; what is none is passed over."""
        try:
            with self.path.open("rb") as file:
                for line in file:
                    with contextlib.suppress(ValueError, TypeError):
                        fields = json.loads(line)
                        if len(fields) == 3 and all(type(field) is str for field in fields):
                            yield Opening._make(fields)
        except FileNotFoundError:
            return

    def faults(
        self, database: sqlite3.Connection, wanted: Iterable[str], removed: Mapping[str, str]
    ) -> Iterator[str]:
        """What does not hold, one line each. wanted: every seal that stands in an event.
        removed: what the chain says of removals."""
        table = {
            row[0]: Opening._make(row)
            for row in database.execute("SELECT seal, salt, text FROM private")
        }
        needed = {*wanted, *removed.values()} - removed.keys()
        for opening in table.values():
            if not opening.fits:
                yield f"a private text was changed (seal {opening.seal[:12]})"
        if lost := sorted(needed - table.keys()):
            yield f"private texts are missing: {len(lost)} (the first has the seal {lost[0][:12]})"
        if stray := table.keys() - needed:
            yield f"private texts that no event names, or that were removed: {len(stray)}"
        if dict(database.execute("SELECT seal, now FROM private_removed")) != dict(removed):
            yield "what is said to be removed is not what the events say"
        lines = {line.seal: line for line in self.lines()}
        if lines != table or self._size() != self._recorded(database):
            yield f"the copy {self.path.name} does not hold the same as the journal"

    def _recorded(self, database: sqlite3.Connection) -> int:
        found = database.execute("SELECT size FROM private_copy").fetchone()
        return found[0] if found else 0

    def _size(self) -> int:
        try:
            return self.path.stat().st_size
        except FileNotFoundError:
            return 0


def removals(payload: str) -> dict[str, str]:
    """Old seals and what stands there now, from the JSON text of a ``texts_removed``."""
    return {old: now for old, now in json.loads(payload)["texts"]}


def openings_in(path: Path) -> list[Opening]:
    """What can still be read of the openings in a damaged database."""
    found: list[Opening] = []
    try:
        with contextlib.closing(sqlite3.connect(path)) as database:
            for row in database.execute("SELECT seal, salt, text FROM private"):
                found.append(Opening._make(row))
    except (sqlite3.Error, ValueError, TypeError):
        pass
    return found


def _line(opening: Opening) -> bytes:
    return json.dumps(list(opening), ensure_ascii=False).encode() + b"\n"
