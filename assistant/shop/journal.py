"""The journal: one append-only log of events, from which every state is computed.

SQLite in WAL mode with a full sync, and a carbon copy in text beside it (``carbon``). An
event is acknowledged when both are on the disk. Any number of programs may use it at once:
one file lock orders the writers, readers wait for nobody.

    journal = Journal(folder)
    journal.write(lambda reading: [TemperatureRead(bay=2, celsius=16.7, source="text")])
    for event in journal.events(after=last_seen): ...

Texts that may name a person are sealed: the events hold their seals, and the texts lie in a
table and a file of their own (``private``), from which ``remove_text`` takes a name.

What is found damaged is set aside under another name, never deleted; what the copy holds is
restored, and ``take_notices`` says what was done.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from filelock import FileLock, Timeout
from platformdirs import user_data_path

from assistant.exchange import Refusal
from assistant.shop.carbon import CarbonCopy, Tail, sync_folder
from assistant.shop.chain import GENESIS, Broken, Row, checked, digest, sealed, to_line
from assistant.shop.events import MOST_REMOVED, JournalMended, Payload, TextsRemoved, parse
from assistant.shop.private import (
    GONE,
    Opening,
    PrivateTexts,
    add_tables,
    conceal,
    find_text,
    openings_in,
    removals,
    reveal,
    sealed_text,
    seals_in,
)
from assistant.shop.timekeeping import Clock, ClockReading, SystemClock

FOLDER_VARIABLE = "CLAMPCALL_DATA"
"""Environment variable that names the folder of the journal."""

DATABASE, COPY, LOCK = "journal.db", "journal-copy.jsonl", "journal.lock"
PRIVATE_COPY = "journal-private.jsonl"
"""Private texts once more, as the copy has the events once more."""
READ_ONLY = "may only be read: nothing new can be recorded"
REMOVAL = "journal.removal"
"""Stands while a name is being taken out of the files: whoever opens the journal goes on."""

APPLICATION_ID = 0x636C6D70
"""Marks the file as ours; "clmp" in ASCII."""

PATIENCE_SECONDS = 15.0
"""How long a writer waits for the others; each takes milliseconds. Our own choice."""

LOCK_POLL_SECONDS = 0.003

Migration = Callable[[sqlite3.Connection], None]


def _first_schema(database: sqlite3.Connection) -> None:
    for statement in (
        """CREATE TABLE event (
            id INTEGER PRIMARY KEY,
            kind TEXT NOT NULL,
            version INTEGER NOT NULL,
            wall INTEGER NOT NULL,
            uptime INTEGER NOT NULL,
            boot TEXT NOT NULL,
            writer TEXT NOT NULL,
            payload TEXT NOT NULL,
            hash TEXT NOT NULL CHECK (length(hash) = 64)
        )""",
        """CREATE TRIGGER event_is_not_changed BEFORE UPDATE ON event
            BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""",
        """CREATE TRIGGER event_is_not_deleted BEFORE DELETE ON event
            BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END""",
        # what a fold came to, to start from; may be dropped at any time
        """CREATE TABLE snapshot (
            name TEXT PRIMARY KEY,
            event INTEGER NOT NULL,
            hash TEXT NOT NULL,
            state BLOB NOT NULL
        )""",
    ):
        database.execute(statement)


MIGRATIONS: tuple[Migration, ...] = (_first_schema, add_tables)
"""Step n takes a database of schema version n to n + 1. Steps are added, never changed."""


class JournalTrouble(Refusal):
    """The journal cannot be used, or an event was not recorded; what to do is said."""

    failed = True


@dataclass(frozen=True, slots=True)
class Event:
    """One acknowledged event. payload: None for a kind this program does not know."""

    id: int
    kind: str
    reading: ClockReading
    writer: str
    payload: Payload | None
    hash: str


Result = TypeVar("Result")


@dataclass(frozen=True)
class Removal:
    """What ``remove_text`` did. texts: how many were changed. stays: numbers of events that
    hold it outside their private texts, where nothing can be removed. deleted: files."""

    texts: int
    events: tuple[Event, ...]
    stays: tuple[int, ...]
    deleted: tuple[str, ...]


def data_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Where the shop's journal lies: CLAMPCALL_DATA, or the user's data folder."""
    named = environment.get(FOLDER_VARIABLE, "").strip()
    return Path(named).expanduser() if named else user_data_path("clampcall")


def event_of(row: Row, find: Callable[[str], str] = lambda seal: GONE) -> Event:
    """A stored row with its payload read. find: seal -> private text. Raises BadEvent."""
    payload = parse(row.kind, row.version, reveal(row.payload, find))
    return Event(row.id, row.kind, row.reading, row.writer, payload, row.hash)


class Journal:
    """Opens, or begins, the journal of a folder.

    writer: names the program in each event. Raises JournalTrouble. A folder that may only be
    read is opened for reading. May be used from several threads.
    """

    def __init__(
        self,
        folder: Path | None = None,
        clock: Clock | None = None,
        writer: str | None = None,
        migrations: Sequence[Migration] = MIGRATIONS,
    ):
        self.folder = data_folder() if folder is None else Path(folder)
        self.path = self.folder / DATABASE
        self.clock = clock or SystemClock()
        self.writer = writer or f"{Path(sys.argv[0]).name or 'program'}:{os.getpid()}"
        self.read_only = False
        self.generation = 0
        self._migrations = tuple(migrations)
        self._copy = CarbonCopy(self.folder / COPY)
        self._private = PrivateTexts(self.folder / PRIVATE_COPY)
        self._notices: list[str] = []
        self._guard = threading.RLock()
        self._lock = FileLock(self.folder / LOCK, thread_local=False)
        self._database: sqlite3.Connection | None = None
        self._inode: int | None = None
        self._scratch: tempfile.TemporaryDirectory | None = None
        self._open()

    # --- reading ---

    def last_id(self) -> int:
        """Number of the newest event, 0 when there is none. Cheap: made for polling."""
        with self._reading() as database:
            return _last(database)[0]

    def head(self) -> tuple[int, str]:
        """Number and hash of the newest event."""
        with self._reading() as database:
            return _last(database)

    def events(self, after: int = 0, upto: int | None = None) -> Iterator[Event]:
        """The events behind ``after``, oldest first. Raises BadEvent, JournalTrouble."""
        return (event_of(row, self.text_of) for row in self.rows(after, upto))

    def event(self, number: int) -> Event | None:
        """One event by its number."""
        return next(self.events(after=number - 1, upto=number), None) if number > 0 else None

    def text_of(self, seal: str) -> str:
        """The private text under a seal, or what stands in its place now."""
        with self._reading() as database:
            try:
                return find_text(database, seal)
            except sqlite3.OperationalError:  # an old journal that may only be read
                return GONE

    def private_texts(self) -> list[str]:
        """Every private text there is, in no order."""
        with self._reading() as database:
            return [row[0] for row in database.execute("SELECT text FROM private")]

    def rows(self, after: int = 0, upto: int | None = None) -> Iterator[Row]:
        """The same as they are stored; read in pieces, so that nothing grows with them.

        Each is checked against the chain as it passes. At one that does not hold, the journal
        is mended from its copy, as when it cannot be read at all.
        """
        mended = False
        while True:
            try:
                with self._reading():
                    piece = list(self._checked_piece(after, upto))
            except Broken as broken:
                if self.read_only or mended:
                    raise JournalTrouble(
                        f"The journal {self.path} was changed. {broken}."
                    ) from None
                with self._locked():
                    self._follow_the_file()
                    self._mend(str(broken))
                mended = True
                continue
            if not piece:
                return
            yield from piece
            after = piece[-1].id

    def _checked_piece(self, after: int, upto: int | None) -> Iterator[Row]:
        before = self._hash_of(after)
        rows = self._connection.execute(
            f"SELECT {_COLUMNS} FROM event WHERE id > ? AND id <= ? ORDER BY id LIMIT ?",
            (after, _LARGEST_ID if upto is None else upto, _PIECE),
        )
        return checked(map(Row._make, rows.fetchall()), before, after)

    def tail(
        self,
        after: int,
        stop: Callable[[], bool],
        poll_seconds: float = 0.25,
        sleep: Callable[[float], None] = time.sleep,
    ) -> Iterator[Event]:
        """The events behind ``after``, and those that any program adds, until ``stop()``."""
        while not stop():
            for event in self.events(after):
                after = event.id
                yield event
            sleep(poll_seconds)

    # --- writing ---

    def write(
        self,
        decide: Callable[[ClockReading], Iterable[Payload]],
    ) -> tuple[Event, ...]:
        """Append what ``decide`` returns, all of it or nothing, and acknowledge it.

        ``decide`` is called while no other program can write, with the clocks at that moment:
        what it reads of this journal is the newest there is. It may raise, and nothing is
        written then. Returns when the events are on the disk, twice. Raises JournalTrouble.
        """
        with self._guard:
            if self.read_only:
                raise _not_recorded(f"{self.folder} may only be read: make it writable")
            with self._locked():
                self._follow_the_file()
                try:
                    return self._write(decide)
                except sqlite3.DatabaseError as trouble:
                    if not _is_damage(trouble):
                        raise _not_recorded(_why(trouble, self.folder)) from None
                self._mend("it could not be read")
                try:
                    return self._write(decide)
                except sqlite3.DatabaseError as trouble:
                    raise _not_recorded(_why(trouble, self.folder)) from None

    def append(self, *payloads: Payload) -> tuple[Event, ...]:
        """Append these, all or nothing. As ``write``."""
        return self.write(lambda reading: payloads)

    def _write(
        self,
        decide: Callable[[ClockReading], Iterable[Payload]],
        openings: Sequence[Opening] = (),
    ) -> tuple[Event, ...]:
        """openings: of seals that the payloads name themselves."""
        size = self._agree()
        database = self._connection
        database.execute("BEGIN IMMEDIATE")
        try:
            reading = self.clock.read()
            payloads = list(decide(reading))
            number, before = _last(database)
            rows, openings = [], list(openings)
            for payload in payloads:
                number += 1
                text = payload.model_dump_json(exclude_none=True)
                parse(payload.KIND, payload.VERSION, text)  # what cannot be read is not written
                text, sealed_now = conceal(text, payload.private_fields())
                openings += sealed_now
                row = sealed(
                    before, number, payload.KIND, payload.VERSION,
                    reading.wall, reading.uptime, reading.boot, self.writer, text,
                )  # fmt: skip
                before = row.hash
                rows.append(row)
            database.executemany(f"INSERT INTO event ({_COLUMNS}) VALUES ({_MARKS})", rows)
            if openings:
                self._private.append(database, openings)
            for payload in payloads:
                if isinstance(payload, TextsRemoved):
                    self._private.remove(database, dict(payload.texts))
            if rows:
                self._copy.append(rows, size)
            database.execute("COMMIT")
        except BaseException as trouble:
            with contextlib.suppress(sqlite3.Error):
                database.execute("ROLLBACK")
            # were this to fail too, the next writer would take the event up from the copy
            with contextlib.suppress(OSError):
                self._copy.cut_back(size)
            with contextlib.suppress(sqlite3.Error):
                self._private.cut_back(database)
            if isinstance(trouble, OSError):
                raise _not_recorded(_why_os(trouble, self.folder)) from None
            raise
        return tuple(
            Event(row.id, row.kind, reading, row.writer, payload, row.hash)
            for row, payload in zip(rows, payloads, strict=True)
        )

    # --- forgetting ---

    def remove_text(self, rewrite: Callable[[str, int], str]) -> Removal:
        """Take something out of every private text, and out of every file of this folder.

        rewrite: a text and the number of the event that is about to tell of the removal ->
        the text without it. Each changed text is sealed anew; the events stay as they are.
        When this returns, the old texts are in no page and no file of the journal; killed
        in between, the next program that opens it goes on. Raises JournalTrouble.
        """
        with self._guard:
            if self.read_only:
                raise _not_recorded(f"{self.folder} may only be read: make it writable")
            with self._locked():
                self._follow_the_file()
                try:
                    return self._remove_text(rewrite)
                except sqlite3.DatabaseError as trouble:
                    raise _not_recorded(_why(trouble, self.folder)) from None
                except OSError as trouble:
                    raise _not_recorded(_why_os(trouble, self.folder)) from None

    def _remove_text(self, rewrite: Callable[[str, int], str]) -> Removal:
        self._agree()
        database = self._connection
        number = _last(database)[0] + 1
        found: list[tuple[str, Opening]] = []
        for seal, text in database.execute("SELECT seal, text FROM private").fetchall():
            if (left := rewrite(text, number)) != text:
                found.append((seal, sealed_text(left)))
        stays = tuple(
            row.id for row in self._all_rows() if rewrite(row.payload, number) != row.payload
        )
        events: tuple[Event, ...] = ()
        marker = self.folder / REMOVAL
        with marker.open("wb") as file:
            os.fsync(file.fileno())
        sync_folder(self.folder)
        if found:
            pairs = [(seal, opening.seal) for seal, opening in found]
            payloads = [
                TextsRemoved(texts=tuple(pairs[start : start + MOST_REMOVED]))
                for start in range(0, len(pairs), MOST_REMOVED)
            ]
            events = self._write(lambda _: payloads, [opening for _, opening in found])
        return Removal(len(found), events, stays, self._purge())

    def _purge(self) -> tuple[str, ...]:
        """Leave of the private texts what the table holds, and nothing in free pages, in the
        write-ahead log, in snapshots or in damaged files that were set aside. Returns the
        names of the files that were deleted."""
        database = self._connection
        self._private.restore(database)
        database.execute("PRAGMA secure_delete = ON")
        database.execute("DELETE FROM snapshot")
        database.execute("VACUUM")
        deleted = []
        for pattern in (f"{DATABASE}*.set-aside-*", f"{PRIVATE_COPY}.*"):
            for path in sorted(self.folder.glob(pattern)):
                path.unlink()
                deleted.append(path.name)
        ends = time.monotonic() + PATIENCE_SECONDS
        while database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
            if time.monotonic() > ends:
                self._notices.append(
                    "another program reads the journal, so that its old pages are still in the "
                    f"file {DATABASE}: end it, and open the journal once more"
                )
                return tuple(deleted)
            time.sleep(LOCK_POLL_SECONDS)
        (self.folder / REMOVAL).unlink(missing_ok=True)
        sync_folder(self.folder)
        return tuple(deleted)

    # --- snapshots ---

    def snapshot(self, name: str) -> tuple[int, bytes] | None:
        """The newest stored state of that name and the event it follows, if the journal still
        holds that very event."""
        with self._reading() as database:
            found = database.execute(
                "SELECT snapshot.event, snapshot.state FROM snapshot JOIN event "
                "ON event.id = snapshot.event AND event.hash = snapshot.hash "
                "WHERE snapshot.name = ?",
                (name,),
            ).fetchone()
        return None if found is None else (found[0], bytes(found[1]))

    def keep_snapshot(self, name: str, event: int, state: bytes) -> None:
        """Store a state that follows an event. A help, never needed: trouble is ignored."""
        if self.read_only:
            return
        with self._guard, contextlib.suppress(sqlite3.Error):
            self._connection.execute(
                "INSERT OR REPLACE INTO snapshot SELECT ?, id, hash, ? FROM event WHERE id = ? "
                # a state from before a removal may hold what was removed
                "AND NOT EXISTS (SELECT 1 FROM event WHERE id > ? AND kind = 'texts_removed')",
                (name, state, event, event),
            )

    # --- care ---

    def verify(self) -> int:
        """Check the database's own structure, every event, the chain, the private texts, and
        both copies, byte for byte.

        Returns the number of events. Raises JournalTrouble that says what does not hold.
        """
        try:
            with self._reading() as database:
                found = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if found != "ok":
                raise JournalTrouble(f"The journal {self.path} is damaged: {found}.")
            last, wanted, removed = None, [], {}
            copy, differs = self._copy.lines(), 0
            for last in checked(self._all_rows()):
                event_of(last)
                wanted += seals_in(last.payload)
                if last.kind == TextsRemoved.KIND:
                    removed |= removals(last.payload)
                if not differs and next(copy, b"") not in (to_line(last), b""):
                    differs = last.id
            if differs:
                raise JournalTrouble(
                    f"The copy {self._copy.path} was changed at event {differs}: the journal "
                    "itself is whole. Set the copy aside; the next event that is recorded writes "
                    "it anew."
                )
        except Broken as broken:
            raise JournalTrouble(
                f"The journal {self.path} was changed. {broken}. Keep a copy of the file to find "
                "out why; the next program that reads it sets it aside and restores what its "
                "copy holds."
            ) from None
        except ValueError as trouble:
            raise JournalTrouble(f"The journal {self.path}: {trouble}.") from None
        count = last.id if last else 0
        upto = self._copy.tail().last
        if self.read_only:
            return count
        with self._reading() as database:
            for fault in self._private.faults(database, wanted, removed):
                raise JournalTrouble(f"The journal {self.path}: {fault}.")
        if last is not None and (upto is None or (upto.id, upto.hash) != (last.id, last.hash)):
            # another program may have written since
            newest = next(iter(self.rows(after=count)), None)
            if newest is None:
                raise JournalTrouble(
                    f"The copy {self._copy.path} ends at event {upto.id if upto else 0}, the "
                    f"journal at {count}: the next event that is recorded mends it."
                )
        return count

    def take_notices(self) -> tuple[str, ...]:
        """What was mended since the last call, one line each."""
        with self._guard:
            notices, self._notices = tuple(self._notices), []
        return notices

    def close(self) -> None:
        with self._guard:
            if self._database is not None:
                self._database.close()
                self._database = None
            if self._scratch is not None:
                self._scratch.cleanup()
                self._scratch = None

    # --- opening ---

    @property
    def _connection(self) -> sqlite3.Connection:
        if self._database is None:
            raise JournalTrouble("The journal is closed.")
        return self._database

    def _open(self) -> None:
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            with self._locked():
                self._open_or_mend()
        except OSError as trouble:
            if self.path.exists() and trouble.errno in _NOT_ALLOWED:
                self._open_for_reading()
                return
            raise JournalTrouble(_no_journal(_why_os(trouble, self.folder))) from None
        except sqlite3.DatabaseError as trouble:
            raise JournalTrouble(_no_journal(_why(trouble, self.folder))) from None

    def _open_or_mend(self) -> None:
        known = self.path.exists()
        try:
            self._connect()
            if self._is_cut_off():
                self._mend("its file was cut off")
            self._agree()
            if (self.folder / REMOVAL).exists():
                self._purge()
        except sqlite3.DatabaseError as trouble:
            if not (known and _is_damage(trouble)):
                raise
            self._mend("it could not be read")

    def _is_cut_off(self) -> bool:
        """Whether the file ends inside a page. SQLite itself would read zeros there."""
        page = self._connection.execute("PRAGMA page_size").fetchone()[0]
        return self.path.stat().st_size % page != 0

    def _connect(self) -> None:
        new = not self.path.exists()
        if not new and self.path.stat().st_size == 0:
            new = True
        # the lock, not SQLite's own waiting, orders the writers
        database = sqlite3.connect(
            self.path, timeout=PATIENCE_SECONDS, isolation_level=None, check_same_thread=False
        )
        try:
            database.execute("PRAGMA journal_mode = WAL")
            database.execute("PRAGMA synchronous = FULL")
            database.execute("PRAGMA fullfsync = ON")  # macOS: past the disk's own cache
            self._migrate(database)
        except BaseException:
            database.close()
            raise
        if self._database is not None:
            self._database.close()
        self._database = database
        self._inode = self.path.stat().st_ino
        if new:
            sync_folder(self.folder)

    def _migrate(self, database: sqlite3.Connection) -> None:
        version = database.execute("PRAGMA user_version").fetchone()[0]
        mark = database.execute("PRAGMA application_id").fetchone()[0]
        tables = database.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if tables and mark != APPLICATION_ID:
            raise JournalTrouble(
                f"{self.path} is not a journal of this program: move it away, or name another "
                f"folder with {FOLDER_VARIABLE}."
            )
        if version > len(self._migrations):
            raise JournalTrouble(
                f"{self.path} was written by a newer program (schema {version}, this one knows "
                f"{len(self._migrations)}): bring the program up to date."
            )
        for number in range(version, len(self._migrations)):
            database.execute("BEGIN IMMEDIATE")
            try:
                self._migrations[number](database)
                database.execute(f"PRAGMA user_version = {number + 1}")
                database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                database.execute("COMMIT")
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    database.execute("ROLLBACK")
                raise

    def _open_for_reading(self) -> None:
        """A folder that cannot be written: SQLite needs files beside a WAL database even to
        read it, so what is there is read from a copy elsewhere."""
        self._scratch = tempfile.TemporaryDirectory(prefix="clampcall-")
        for name in (DATABASE, f"{DATABASE}-wal"):
            with contextlib.suppress(FileNotFoundError):
                shutil.copyfile(self.folder / name, Path(self._scratch.name) / name)
        self._database = sqlite3.connect(
            Path(self._scratch.name) / DATABASE, isolation_level=None, check_same_thread=False
        )
        self.read_only = True
        self._inode = self.path.stat().st_ino
        self._notices.append(f"{self.folder} {READ_ONLY}")
        try:
            _last(self._database)
        except sqlite3.DatabaseError as trouble:
            raise JournalTrouble(_no_journal(_why(trouble, self.folder))) from None

    def _follow_the_file(self) -> None:
        """Another program may have set the database aside and begun a new one."""
        try:
            same = self.path.stat().st_ino == self._inode
        except FileNotFoundError:
            same = False
        if not same and not self.read_only:
            self.generation += 1
            self._open_or_mend()

    @contextlib.contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with self._guard:
            try:
                if not self.read_only and not self._same_file():
                    with self._locked():
                        self._follow_the_file()
                yield self._connection
            except sqlite3.DatabaseError as trouble:
                if _is_damage(trouble) and not self.read_only:
                    with self._locked():
                        self._mend("it could not be read")
                    raise JournalTrouble(
                        "The journal was damaged and has been mended: say it again."
                    ) from None
                raise JournalTrouble(_no_journal(_why(trouble, self.folder))) from None

    def _same_file(self) -> bool:
        try:
            return self.path.stat().st_ino == self._inode
        except OSError:
            return False

    @contextlib.contextmanager
    def _locked(self) -> Iterator[None]:
        """The one writer. Held by one program at a time, and one thread of it; taken again
        by its holder at will. The system frees it if the program dies."""
        with self._guard:
            try:
                self._lock.acquire(timeout=PATIENCE_SECONDS, poll_interval=LOCK_POLL_SECONDS)
            except Timeout:
                raise _not_recorded(
                    f"another program has held the journal for {PATIENCE_SECONDS:.0f} seconds: "
                    "end it, and say it again"
                ) from None
            try:
                yield
            finally:
                self._lock.release()

    # --- mending ---

    def _agree(self) -> int:
        """Make database, copy and private texts agree; returns the size of the copy."""
        size = self._reconcile()
        self._private.agree(self._connection)
        return size

    def _reconcile(self) -> int:
        """Make database and copy agree; returns the size of the copy.

        Nearly always they do, which costs two short reads. A program that was killed between
        the two leaves one of them an event behind, or a line half written.
        """
        number, newest = _last(self._connection)
        tail = self._copy.tail()
        upto, ends = (tail.last.id, tail.last.hash) if tail.last else (0, GENESIS)
        readable = tail.last is not None or not tail.torn
        if readable and (upto, ends) == (number, newest):
            if tail.torn:
                self._copy.cut_back(tail.size)
            return tail.size
        if readable and upto < number and self._hash_of(upto) == ends:
            return self._copy.append(self.rows(after=upto), tail.size)
        if readable and upto == number + 1 and digest(newest, tuple(tail.last[:-1])) == ends:
            self._insert([tail.last])
            if tail.torn:
                self._copy.cut_back(tail.size)
            return tail.size
        self._reconcile_all(number, tail)
        return self._copy.tail().size

    def _reconcile_all(self, number: int, tail: Tail) -> None:
        try:
            database_rows = list(checked(self._all_rows()))
        except Broken as broken:
            self._mend(str(broken))
            return
        copy_rows = _whole(self._copy.rows())
        if copy_rows[: len(database_rows)] == database_rows:
            missing = copy_rows[len(database_rows) :]
            if missing:
                self._insert(missing)
                self._notices.append(
                    f"events that the journal had lost and its copy gave back: {len(missing)}"
                )
            if self._copy.holds_only(copy_rows):
                return
        elif self._copy.ends_inside(database_rows):
            self._copy.append(database_rows, 0)
            return
        aside = self._set_aside(self._copy.path)
        self._copy.append(self._all_rows(), 0)
        self._notices.append(
            f"the copy of the journal did not agree with it: it was set aside as {aside.name} "
            "and written anew"
        )

    def _mend(self, why: str) -> None:
        """Set the database aside and build it anew from whichever holds more: it or the copy."""
        rows = _whole(self._copy.rows())
        salvaged, openings = self._salvaged(), openings_in(self.path)
        if len(salvaged) > len(rows):
            rows = salvaged
        self.generation += 1
        if self._database is not None:
            self._database.close()
            self._database = None
        aside = self._set_aside(self.path)
        self._connect()
        self._insert(rows)
        self._private.restore(self._connection, openings)
        self._notices.append(
            f"the journal was damaged ({why}): it was set aside as {aside.name}; "
            f"events restored: {len(rows)}"
            + ("" if rows else ", so all bays stand empty: start them again")
        )
        # the record must show it, too
        self._write(lambda _: [JournalMended(why=why[:200], aside=aside.name, events=len(rows))])

    def _salvaged(self) -> list[Row]:
        """What can still be read of a damaged database, up to the first fault."""
        found: list[Row] = []
        try:
            with contextlib.closing(sqlite3.connect(self.path)) as database:
                cursor = database.execute(f"SELECT {_COLUMNS} FROM event ORDER BY id")
                for row in checked(map(Row._make, cursor)):
                    found.append(row)
        except (sqlite3.Error, ValueError, TypeError):
            pass
        return found

    def _hash_of(self, number: int) -> str:
        """Hash of an event, that of the beginning for 0, empty if there is no such event."""
        if number == 0:
            return GENESIS
        found = self._connection.execute(
            "SELECT hash FROM event WHERE id = ?", (number,)
        ).fetchone()
        return found[0] if found else ""

    def _all_rows(self) -> Iterator[Row]:
        cursor = self._connection.execute(f"SELECT {_COLUMNS} FROM event ORDER BY id")
        return map(Row._make, cursor)

    def _insert(self, rows: Sequence[Row]) -> None:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            self._connection.executemany(f"INSERT INTO event ({_COLUMNS}) VALUES ({_MARKS})", rows)
            self._connection.execute("COMMIT")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            raise

    def _set_aside(self, path: Path) -> Path:
        """Rename a file (a database with its side files) to a name that is free."""
        stamp = time.strftime("%Y%m%dT%H%M%SZ", time.gmtime(self.clock.read().wall / 1e6))
        aside, number = path.with_name(f"{path.name}.set-aside-{stamp}"), 1
        while aside.exists():
            number += 1
            aside = path.with_name(f"{path.name}.set-aside-{stamp}-{number}")
        if path.exists():
            path.rename(aside)
        for side in ("-wal", "-shm"):
            beside = path.with_name(path.name + side)
            if beside.exists():
                beside.rename(aside.with_name(aside.name + side))
        return aside


_COLUMNS = "id, kind, version, wall, uptime, boot, writer, payload, hash"
_MARKS = ", ".join("?" * len(Row._fields))
_LARGEST_ID = 2**63 - 1
_PIECE = 2_000
_NOT_ALLOWED = (errno.EACCES, errno.EPERM, errno.EROFS)


def _last(database: sqlite3.Connection) -> tuple[int, str]:
    """Number and hash of the newest event."""
    found = database.execute("SELECT id, hash FROM event ORDER BY id DESC LIMIT 1").fetchone()
    return (0, GENESIS) if found is None else (found[0], found[1])


def _whole(rows: Iterable[Row]) -> list[Row]:
    """The rows up to the first that breaks the chain."""
    found: list[Row] = []
    try:
        for row in checked(rows):
            found.append(row)
    except Broken:
        pass
    return found


def _is_damage(trouble: sqlite3.DatabaseError) -> bool:
    name = getattr(trouble, "sqlite_errorname", "") or ""
    if name:
        return name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))
    # raised by the module itself: text that is not UTF-8, a table that is not there
    return not isinstance(trouble, sqlite3.OperationalError) or "no such" in str(trouble)


def _why(trouble: sqlite3.Error, folder: Path) -> str:
    name = getattr(trouble, "sqlite_errorname", "") or ""
    if name == "SQLITE_FULL":
        return f"the disk of {folder} is full: free some space"
    if name.startswith(("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH", "SQLITE_CANTOPEN")):
        return f"{folder} cannot be written: make it writable, or name another folder with " + (
            FOLDER_VARIABLE
        )
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return "another program holds the journal: end it, and say it again"
    if name.startswith("SQLITE_IOERR"):
        return f"the disk of {folder} does not take what is written (full, or failing): look at it"
    return f"{trouble} (in {folder})"


def _why_os(trouble: OSError, folder: Path) -> str:
    if trouble.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return f"the disk of {folder} is full: free some space"
    if trouble.errno in _NOT_ALLOWED:
        return f"{folder} cannot be written: make it writable, or name another folder with " + (
            FOLDER_VARIABLE
        )
    if trouble.errno in (errno.ENOTDIR, errno.EEXIST):
        return f"{folder} is not a folder: name another with {FOLDER_VARIABLE}"
    return f"{folder}: {trouble.strerror or trouble}"


def _not_recorded(why: str) -> JournalTrouble:
    return JournalTrouble(f"NOT recorded: {why}.", f"Not recorded! {_spoken(why)}.")


def _no_journal(why: str) -> str:
    return f"The journal cannot be opened: {why}."


def _spoken(why: str) -> str:
    """Without the path, which nobody wants to hear."""
    return " ".join("its folder" if "/" in word or "\\" in word else word for word in why.split())
