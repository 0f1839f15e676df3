"""Any single byte changed in any event is found."""

import contextlib
import random
import shutil
import sqlite3
from pathlib import Path

import pytest
from shop_support import HandClock

from assistant.products.shelf import load_shelf
from assistant.record import orders
from assistant.record.records import Records
from assistant.shop.chain import GENESIS, Broken, checked, from_line, to_line
from assistant.shop.journal import COPY, DATABASE, PRIVATE_COPY, Journal, JournalTrouble
from assistant.shop.shop import Shop

EVENTS = 200


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The folder of a journal of 200 events of many kinds."""
    clock = HandClock()
    journal = Journal(tmp_path_factory.mktemp("written"), clock, writer="test")
    shop, records = Shop(journal, source="text"), Records(journal, "text")
    card = load_shelf(Path("no-such-folder")).product("long-open", "adhesive")
    n = 0
    while journal.last_id() < EVENTS:
        n += 1
        bay = n % 5 + 1
        records.begin(bay)
        shop.start(bay, card, 20.0)
        records.state_in_bay(bay, orders.reference(records, "repair_order", f"RO-{n}"))
        records.state_in_bay(bay, orders.note(records, f"note {n} of somebody"))
        clock.run(60)
        shop.read_temperature(bay, 20.0 + n % 7)
        shop.mark(bay, "closed")
        shop.cancel(bay)
        shop.start_timer(60.0, bay, f"timer {n}")
    journal.verify()
    journal.close()
    return journal.folder


@pytest.fixture
def folder(written, tmp_path):
    """A copy of it."""
    return shutil.copytree(written, tmp_path / "copy")


def found(lines: list[bytes], at: int, before: str) -> bool:
    """Whether a journal with this line in the place of line ``at`` is found to be changed; the
    lines before it are whole."""
    try:
        row = from_line(lines[at])
        for _ in checked([row], before, at):
            pass
    except (ValueError, Broken):
        return True
    return False


def test_every_byte_of_every_event(folder):
    """Each byte of each of the 200 events is changed, in two ways, one at a time. The chain
    is checked from the changed event on: what lies before it is unchanged."""
    rows = list(Journal(folder).rows())
    assert len(rows) >= EVENTS
    lines = [to_line(row) for row in rows]
    rng = random.Random(8)
    tried = 0
    for at, line in enumerate(lines):
        before = rows[at - 1].hash if at else GENESIS
        assert not found(lines, at, before)
        for place in range(len(line)):
            for flip in {1, rng.randrange(2, 256)}:
                changed = bytearray(line)
                changed[place] ^= flip
                lines[at] = bytes(changed)
                assert found(lines, at, before), (at, place, flip)
                tried += 1
        lines[at] = line
    assert tried > 1.9 * EVENTS * 300


COLUMNS = ("id", "kind", "version", "wall", "uptime", "boot", "writer", "payload", "hash")


def is_found(folder) -> bool:
    """As ``clampcall record verify`` finds it: as the journal is opened, or checked."""
    journal = Journal(folder)
    try:
        if journal.take_notices():
            return True
        journal.verify()
    except JournalTrouble:
        return True
    finally:
        journal.close()
    return False


@pytest.mark.parametrize("column", COLUMNS)
@pytest.mark.parametrize("at", [1, 77, EVENTS - 1, EVENTS])
def test_a_change_in_the_database_is_found_by_verify(folder, column, at):
    """Through the real file: one byte of one value."""
    rng = random.Random(f"{column} {at}")
    with contextlib.closing(sqlite3.connect(folder / DATABASE)) as connection, connection:
        connection.execute("DROP TRIGGER event_is_not_changed")
        (old,) = connection.execute(f"SELECT {column} FROM event WHERE id = ?", (at,)).fetchone()
        if isinstance(old, int):
            new = old + 1_000_000 if column == "id" else old ^ 1
        else:
            place = rng.randrange(len(old))
            new = old[:place] + chr(ord(old[place]) ^ 1) + old[place + 1 :]
        connection.execute(f"UPDATE event SET {column} = ? WHERE id = ?", (new, at))
    assert is_found(folder)


@pytest.mark.parametrize("name", [COPY, PRIVATE_COPY])
def test_a_change_in_a_copy_is_found_by_verify(written, tmp_path, name):
    whole = (written / name).read_bytes()
    rng = random.Random(name)
    for n in range(25):
        folder = shutil.copytree(written, tmp_path / str(n))
        changed = bytearray(whole)
        changed[rng.randrange(len(whole))] ^= rng.randrange(1, 256)
        (folder / name).write_bytes(bytes(changed))
        assert is_found(folder), n


def test_an_untouched_one_is_whole(folder):
    assert not is_found(folder)
