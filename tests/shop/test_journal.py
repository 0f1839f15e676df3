"""The journal: append, chain, copy, and what happens when its files are hurt."""

import errno
import os
import shutil
import sqlite3
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from assistant.shop import chain, events
from assistant.shop.chain import Broken, Row, checked, from_line, sealed, to_line
from assistant.shop.events import (
    BadEvent,
    ClockNoted,
    JournalMended,
    Payload,
    TemperatureRead,
    event_kind,
)
from assistant.shop.journal import (
    APPLICATION_ID,
    COPY,
    DATABASE,
    MIGRATIONS,
    Journal,
    JournalTrouble,
    data_folder,
)


def reading(celsius: float = 20.0, bay: int = 2) -> TemperatureRead:
    return TemperatureRead(bay=bay, celsius=celsius, source="text")


def values(journal) -> list[float]:
    payloads = [event.payload for event in journal.events()]
    return [p.celsius for p in payloads if not isinstance(p, JournalMended)]


def database(journal, statement, *arguments):
    with sqlite3.connect(journal.path) as connection:
        connection.execute("DROP TRIGGER event_is_not_changed")
        connection.execute("DROP TRIGGER event_is_not_deleted")
        connection.execute(statement, arguments)
    connection.close()


# --- append and read ------------------------------------------------------------------------


def test_what_is_written_is_read_again(journal, clock):
    (event,) = journal.append(reading(20.5))
    assert event.id == 1 and event.writer == "test"
    clock.run(10)
    journal.append(reading(21.5), ClockNoted(reason="start"))
    found = list(journal.events())
    assert [e.id for e in found] == [1, 2, 3]
    assert found[0] == event
    assert found[1].payload == reading(21.5)
    assert found[2].reading.uptime - found[0].reading.uptime == 10_000_000
    assert [e.id for e in journal.events(after=1, upto=2)] == [2]
    assert journal.last_id() == 3
    assert journal.verify() == 3


def test_another_program_sees_it(journal, tmp_path):
    other = Journal(tmp_path / "data")
    journal.append(reading(1.0))
    other.append(reading(2.0))
    journal.append(reading(3.0))
    assert values(other) == values(journal) == [1.0, 2.0, 3.0]


def test_all_or_nothing(journal):
    def decide(_):
        yield reading(1.0)
        raise RuntimeError("changed its mind")

    with pytest.raises(RuntimeError):
        journal.write(decide)
    assert journal.last_id() == 0
    journal.append(reading(2.0))
    assert values(journal) == [2.0]
    assert journal.verify() == 1


def test_a_decision_sees_the_newest(journal, tmp_path):
    other = Journal(tmp_path / "data")
    other.append(reading(1.0))
    seen = []
    journal.write(lambda _: seen.append(journal.last_id()) or [reading(2.0)])
    assert seen == [1]


def test_a_tail_follows_other_writers(journal, tmp_path):
    other = Journal(tmp_path / "data")
    journal.append(reading(1.0))
    pauses = []

    def sleep(_):
        pauses.append(1)
        other.append(reading(float(len(pauses) + 1)))

    tail = journal.tail(0, stop=lambda: len(pauses) >= 3, sleep=sleep)
    assert [event.payload.celsius for event in tail] == [1.0, 2.0, 3.0]


def test_an_event_from_elsewhere_is_seen_within_a_second(journal, tmp_path):
    done, seen = threading.Event(), []

    def follow():
        for event in Journal(tmp_path / "data").tail(0, done.is_set):
            seen.append(event.id)
            done.set()

    thread = threading.Thread(target=follow)
    thread.start()
    journal.append(reading())
    # generous for a busy machine; a tail polls four times a second
    assert done.wait(10)
    thread.join()
    assert seen == [1]


def test_nothing_in_the_journal_can_be_changed_by_hand(journal):
    journal.append(reading())
    for statement in ("UPDATE event SET kind = 'x'", "DELETE FROM event"):
        with (
            pytest.raises(sqlite3.IntegrityError, match="append-only"),
            sqlite3.connect(journal.path) as connection,
        ):
            connection.execute(statement)


# --- kinds of events ------------------------------------------------------------------------


def test_events_are_checked():
    with pytest.raises(ValidationError):
        TemperatureRead(bay=0, celsius=20.0, source="text")
    with pytest.raises(ValidationError):
        TemperatureRead(bay=1, celsius=float("nan"), source="text")
    with pytest.raises(ValidationError):
        TemperatureRead(bay=1, celsius=20.0, source="rumour")
    with pytest.raises(BadEvent, match="temperature_read"):
        events.parse("temperature_read", 1, '{"bay":1}')


def test_an_unchecked_event_is_not_written(journal):
    wrong = TemperatureRead.model_construct(bay=999, celsius=20.0, source="text")
    with pytest.raises(BadEvent):
        journal.append(wrong)
    assert journal.last_id() == 0
    assert journal.verify() == 0


def test_any_room_may_add_a_kind_and_bring_it_up_to_date(journal, monkeypatch):
    monkeypatch.setattr(events, "KINDS", dict(events.KINDS))

    @event_kind("drill_tried")
    class Tried(Payload):
        card: str

    journal.append(Tried(card="dry fit"))
    with pytest.raises(ValueError, match="two kinds"):
        event_kind("drill_tried")(Tried)
    del events.KINDS["drill_tried"]

    @event_kind("drill_tried", version=2)
    class TriedAgain(Payload):
        card: str
        correct: int

        @classmethod
        def upcast(cls, data, version):
            return data | {"correct": 0}

    assert [e.payload for e in journal.events()] == [TriedAgain(card="dry fit", correct=0)]
    del events.KINDS["drill_tried"]
    # a program that does not know the kind passes over it, and counts it
    (event,) = journal.events()
    assert event.payload is None and event.kind == "drill_tried"
    assert journal.verify() == 1


# --- the chain ------------------------------------------------------------------------------


def test_the_hash_is_sha256_over_the_hash_before_and_the_rest():
    # computed apart with hashlib over the documented text
    import hashlib

    row = sealed(chain.GENESIS, 1, "k", 1, 2, 3, "b", "w", "{}")
    text = f'["{"0" * 64}",1,"k",1,2,3,"b","w","{{}}"]'
    assert row.hash == hashlib.sha256(text.encode()).hexdigest()
    assert from_line(to_line(row)) == row


@given(st.binary(max_size=200))
@settings(max_examples=50)
def test_no_line_is_taken_for_an_event_by_mistake(noise):
    with pytest.raises(ValueError):
        from_line(noise)


@pytest.mark.parametrize("column", [name for name in Row._fields if name != "hash"])
def test_any_change_breaks_the_chain(journal, column):
    journal.append(reading(1.0), reading(2.0), reading(3.0))
    rows = list(journal.rows())
    old = getattr(rows[1], column)
    rows[1] = rows[1]._replace(**{column: old + (1 if isinstance(old, int) else " ")})
    with pytest.raises(Broken) as broken:
        list(checked(rows))
    assert broken.value.after == 1


def test_a_dropped_event_breaks_the_chain(journal):
    journal.append(reading(1.0), reading(2.0), reading(3.0))
    rows = list(journal.rows())
    with pytest.raises(Broken, match="event 2"):
        list(checked([rows[0], rows[2]]))


def test_verify_tells_an_event_changed_in_the_file(journal):
    journal.append(reading(1.0), reading(2.0), reading(3.0))
    database(journal, "UPDATE event SET payload = replace(payload, '2.0', '9.0') WHERE id = 2")
    with pytest.raises(JournalTrouble, match="event 2: it was changed"):
        Journal(journal.folder).verify()
    # whoever reads it next gets what was written, from the copy, and is told
    again = Journal(journal.folder)
    assert values(again) == [1.0, 2.0, 3.0]
    assert "event 2: it was changed" in again.take_notices()[0]
    assert len(list(journal.folder.glob(f"{DATABASE}.set-aside-*"))) >= 1


def test_a_change_in_both_files_is_told_and_the_rest_kept(journal):
    journal.append(reading(1.0), reading(2.0), reading(3.0))
    database(journal, "UPDATE event SET payload = replace(payload, '2.0', '9.0') WHERE id = 2")
    copy = journal.folder / COPY
    copy.write_bytes(copy.read_bytes().replace(b"2.0", b"9.0"))
    again = Journal(journal.folder)
    with pytest.raises(JournalTrouble, match="event 2: it was changed"):
        again.verify()
    assert values(again) == [1.0]
    assert "events restored: 1" in again.take_notices()[0]
    assert again.verify() == 2


# --- opening --------------------------------------------------------------------------------


def test_the_folder_comes_from_the_environment(tmp_path):
    assert data_folder({"CLAMPCALL_DATA": str(tmp_path)}) == tmp_path
    assert data_folder({}).name == "clampcall"


def test_a_journal_of_a_newer_program_is_left_alone(journal):
    journal.append(reading())
    with sqlite3.connect(journal.path) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalTrouble, match="newer program"):
        Journal(journal.folder)
    assert journal.path.exists()


def test_a_database_of_something_else_is_left_alone(tmp_path):
    path = tmp_path / DATABASE
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    with pytest.raises(JournalTrouble, match="not a journal of this program"):
        Journal(tmp_path)
    assert not list(tmp_path.glob("*.set-aside*"))


def test_a_migration_brings_an_old_journal_up_to_date_or_leaves_it(journal):
    journal.append(reading())

    def failing(connection):
        connection.execute("CREATE TABLE half_done (a)")
        raise sqlite3.OperationalError("out of ideas")

    with pytest.raises(JournalTrouble):
        Journal(journal.folder, migrations=(*MIGRATIONS, failing))
    with sqlite3.connect(journal.path) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS),)
        assert not connection.execute(
            "SELECT 1 FROM sqlite_master WHERE name = 'half_done'"
        ).fetchall()

    def good(connection):
        connection.execute("CREATE TABLE note (text TEXT)")

    newer = Journal(journal.folder, migrations=(*MIGRATIONS, good))
    newer.append(reading())
    assert newer.verify() == 2
    with sqlite3.connect(journal.path) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS) + 1,)
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)


def test_it_writes_ahead_and_syncs_fully(journal):
    assert journal._database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert journal._database.execute("PRAGMA synchronous").fetchone() == (2,)  # 2: FULL


def test_the_copy_is_on_the_disk_before_the_event_is_committed(journal, monkeypatch):
    journal.append(reading(1.0))
    order = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda handle: order.append("sync") or real(handle))
    journal._database.set_trace_callback(order.append)
    journal.append(reading(2.0))
    journal._database.set_trace_callback(None)
    assert order.index("sync") < order.index("COMMIT")
    assert any("INSERT INTO event" in step for step in order[: order.index("sync")])


@pytest.mark.parametrize("place", ["file", "under a file"])
def test_a_folder_that_is_none_is_one_line(tmp_path, place):
    blocker = tmp_path / "blocker"
    blocker.write_text("not a folder")
    folder = blocker if place == "file" else blocker / "deeper"
    with pytest.raises(JournalTrouble) as trouble:
        Journal(folder)
    assert "not a folder" in str(trouble.value) and "\n" not in str(trouble.value)


# --- hurt files -----------------------------------------------------------------------------


def hurt(journal, tmp_path) -> Journal:
    journal.close()
    return Journal(journal.folder, journal.clock)


def test_rubbish_in_place_of_the_journal_is_set_aside_and_all_comes_back(journal, tmp_path):
    journal.append(*map(reading, (1.0, 2.0, 3.0)))
    journal.close()
    journal.path.write_bytes(b"this is no database" * 1000)
    for side in ("-wal", "-shm"):
        journal.path.with_name(DATABASE + side).unlink(missing_ok=True)
    again = hurt(journal, tmp_path)
    assert values(again) == [1.0, 2.0, 3.0]
    (notice,) = again.take_notices()
    assert "set aside" in notice and "events restored: 3" in notice
    (aside,) = journal.folder.glob("*.set-aside-*")
    assert aside.read_bytes().startswith(b"this is no database")
    assert again.take_notices() == ()
    again.append(reading(4.0))
    assert again.verify() == 5
    assert [e.payload.events for e in again.events() if e.kind == "journal_mended"] == [3]


@pytest.mark.parametrize("lost", ["database", "copy"])
def test_a_lost_file_comes_back_from_the_other(journal, tmp_path, lost):
    journal.append(*map(reading, (1.0, 2.0, 3.0)))
    journal.close()
    (journal.folder / (DATABASE if lost == "database" else COPY)).unlink()
    again = hurt(journal, tmp_path)
    assert values(again) == [1.0, 2.0, 3.0]
    assert again.verify() == 3
    assert (journal.folder / COPY).read_bytes().count(b"\n") == 3


def test_without_a_copy_what_is_whole_of_the_journal_is_kept(journal, tmp_path):
    journal.append(*map(reading, (1.0, 2.0, 3.0)))
    database(journal, "UPDATE event SET payload = replace(payload, '3.0', '9.0') WHERE id = 3")
    journal.close()
    (journal.folder / COPY).unlink()
    again = hurt(journal, tmp_path)
    assert values(again) == [1.0, 2.0]
    assert "events restored: 2" in again.take_notices()[0]
    assert again.verify() == 3


def test_a_file_cut_inside_a_page_is_noticed_as_it_is_opened(journal, tmp_path):
    journal.append(*map(reading, (1.0, 2.0, 3.0)))
    journal._database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    journal.close()
    os.truncate(journal.path, journal.path.stat().st_size - 7)
    again = hurt(journal, tmp_path)
    assert "cut off" in again.take_notices()[0]
    assert values(again) == [1.0, 2.0, 3.0]


def test_a_program_that_holds_the_journal_too_long_is_told(journal, monkeypatch):
    monkeypatch.setattr("assistant.shop.journal.PATIENCE_SECONDS", 0.05)
    journal.append(reading(1.0))
    other = Journal(journal.folder, journal.clock)
    with journal._locked(), pytest.raises(JournalTrouble, match="another program has held"):
        other.append(reading(2.0))
    other.append(reading(2.0))
    assert values(journal) == [1.0, 2.0]


def test_threads_of_one_program_take_turns(journal):
    def write(first):
        for n in range(10):
            journal.append(reading(float(first + n)))

    threads = [threading.Thread(target=write, args=(first,)) for first in (0, 10, 20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(values(journal)) == [float(n) for n in range(30)]
    assert journal.verify() == 30


def test_a_copy_of_another_journal_is_set_aside(journal, tmp_path):
    journal.append(*map(reading, (1.0, 2.0, 3.0)))
    other = Journal(tmp_path / "other", journal.clock)
    other.append(*map(reading, (7.0, 8.0, 9.0, 10.0)))
    journal.close()
    shutil.copy(tmp_path / "other" / COPY, journal.folder / COPY)
    again = hurt(journal, tmp_path)
    assert values(again) == [1.0, 2.0, 3.0]
    assert any("copy" in notice and "set aside" in notice for notice in again.take_notices())
    assert len(list(journal.folder.glob(f"{COPY}.set-aside-*"))) == 1
    assert again.verify() == 3


def test_a_program_killed_between_copy_and_commit(journal, tmp_path):
    """The copy is an event ahead, as if the program had died before the commit."""
    journal.append(reading(1.0))
    before = journal.path.read_bytes()
    wal = journal.path.with_name(DATABASE + "-wal").read_bytes()
    journal.append(reading(2.0))
    copy = (journal.folder / COPY).read_bytes()
    journal.close()
    journal.path.write_bytes(before)
    journal.path.with_name(DATABASE + "-wal").write_bytes(wal)
    again = hurt(journal, tmp_path)
    assert values(again) == [1.0, 2.0]
    assert (journal.folder / COPY).read_bytes() == copy
    again.append(reading(3.0))
    assert again.verify() == 3


@pytest.mark.parametrize("extra", [b"[4,", b"\xff\xfe", b"x" * 70_000])
def test_a_torn_line_at_the_end_of_the_copy(journal, tmp_path, extra):
    journal.append(*map(reading, (1.0, 2.0)))
    copy = journal.folder / COPY
    whole = copy.read_bytes()
    copy.write_bytes(whole + extra)
    journal.append(reading(3.0))
    assert values(journal) == [1.0, 2.0, 3.0]
    assert copy.read_bytes().startswith(whole)
    assert copy.read_bytes().count(b"\n") == 3
    assert journal.verify() == 3


def test_another_program_goes_on_after_the_journal_was_set_aside(journal, tmp_path):
    journal.append(reading(1.0))
    other = Journal(journal.folder, journal.clock)
    assert other.last_id() == 1
    # another program finds the file gone bad, sets it aside, and begins a new one
    with journal._locked():
        journal._mend("a test")
    journal.append(reading(2.0))
    assert values(other) == [1.0, 2.0]
    other.append(reading(3.0))
    assert values(journal) == [1.0, 2.0, 3.0]
    assert other.generation == 1


def fresh_copy(source, target):
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(source, target)


def cuts(size: int, page: int, step: int):
    """Lengths of a file cut inside its last page, always the first, the last and the middle."""
    low = max(0, size - page)
    return sorted({*range(low, size, step), low, low + 1, size - 1})


@pytest.mark.parametrize("step", [1021, pytest.param(1, marks=pytest.mark.long)])
@pytest.mark.parametrize("cut", [DATABASE, f"{DATABASE}-wal", COPY])
def test_cut_inside_the_last_page_nothing_acknowledged_is_lost(journal, tmp_path, cut, step):
    """Every byte of the last page in the long run; every 1021st in the short one."""
    wanted = [float(n) for n in range(60)]
    for value in wanted[:59]:
        journal.append(reading(value))
    folder = tmp_path / "whole"
    if cut == DATABASE:
        journal.append(reading(wanted[59]))
        journal._database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        journal.close()
    else:
        journal.append(reading(wanted[59]))
    fresh_copy(journal.folder, folder)  # as a power cut leaves it: the side files are there
    journal.close()
    size = (folder / cut).stat().st_size
    assert size > 0
    lost = 0
    for length in cuts(size, 4096, step):
        trial = tmp_path / "trial"
        fresh_copy(folder, trial)
        (trial / f"{DATABASE}-shm").unlink(missing_ok=True)
        os.truncate(trial / cut, length)
        opened = Journal(trial, journal.clock)
        found = values(opened)
        assert found == wanted, f"cut to {length} bytes"
        opened.append(reading(99.0))
        assert values(opened) == [*wanted, 99.0]
        opened.verify()
        lost += bool(opened.take_notices())
        opened.close()
    if cut == DATABASE:
        assert lost  # the cut was noticed and told


# --- no room, no permission -----------------------------------------------------------------


def test_a_full_disk_is_told_and_loses_nothing(journal):
    journal.append(reading(1.0))
    pages = journal._database.execute("PRAGMA page_count").fetchone()[0]
    journal._database.execute(f"PRAGMA max_page_count = {pages}")
    written = 1
    with pytest.raises(JournalTrouble) as trouble:
        for _ in range(500):
            journal.append(reading(1.0))
            written += 1
    assert "NOT recorded" in str(trouble.value) and "full" in str(trouble.value)
    assert str(journal.folder) not in trouble.value.spoken
    assert journal.last_id() == written
    journal._database.execute("PRAGMA max_page_count = 1000000")
    journal.append(reading(2.0))
    assert journal.verify() == written + 1


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_copy_that_does_not_fit_takes_the_event_back(journal, monkeypatch, number):
    journal.append(reading(1.0))

    def no_room(rows, size):
        with open(journal.folder / COPY, "ab") as file:
            file.write(b'[2,"half')
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patch:
        patch.setattr(journal._copy, "append", no_room)
        with pytest.raises(JournalTrouble, match="NOT recorded"):
            journal.append(reading(2.0))
    assert values(journal) == [1.0]
    journal.append(reading(3.0))
    assert values(journal) == [1.0, 3.0]
    assert journal.verify() == 2


def test_a_commit_that_fails_takes_the_copy_back_too(journal, monkeypatch):
    """What was told as not recorded must not turn up later, out of the copy."""
    journal.append(reading(1.0))
    append = journal._copy.append

    def written_and_then_lost(rows, size):
        append(rows, size)
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patch:
        patch.setattr(journal._copy, "append", written_and_then_lost)
        with pytest.raises(JournalTrouble, match="NOT recorded"):
            journal.append(reading(2.0))
    assert values(Journal(journal.folder)) == [1.0]
    journal.append(reading(3.0))
    assert values(journal) == [1.0, 3.0]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_folder_that_may_only_be_read(tmp_path_factory, clock):
    """As another user than the owner, because root may write anywhere."""
    import tempfile

    folder = tempfile.mkdtemp(prefix="clampcall-test-")
    try:
        os.chmod(folder, 0o755)
        journal = Journal(folder, clock)
        journal.append(reading(1.0), reading(2.0))
        for name in os.listdir(folder):
            os.chmod(os.path.join(folder, name), 0o444)
        os.chmod(folder, 0o555)
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                if os.geteuid() == 0:
                    os.setgid(65534)
                    os.setuid(65534)
                found = Journal(folder, clock)
                told = [*found.take_notices(), str(values(found)), str(found.verify())]
                try:
                    found.append(reading(3.0))
                except JournalTrouble as trouble:
                    told.append(str(trouble))
                os.write(write_end, "\n".join(told).encode())
            except BaseException as trouble:
                os.write(write_end, repr(trouble).encode())
            finally:
                os._exit(0)
        os.close(write_end)
        with os.fdopen(read_end) as pipe:
            lines = pipe.read().splitlines()
        os.waitpid(child, 0)
        assert lines[0].endswith("may only be read: nothing new can be recorded")
        assert lines[1:3] == ["[1.0, 2.0]", "2"]
        assert "NOT recorded" in lines[3] and "make it writable" in lines[3]
        journal.close()
    finally:
        os.chmod(folder, 0o755)
        shutil.rmtree(folder)
