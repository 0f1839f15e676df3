"""Private texts: sealed in the chain, kept beside it, and taken away without breaking it."""

import contextlib
import hashlib
import json
import os
import re
import shutil
import sqlite3

import pytest

from assistant.shop import journal as journal_module
from assistant.shop.events import AnnouncementMade, TextsRemoved, TimerStarted
from assistant.shop.journal import COPY, DATABASE, PRIVATE_COPY, REMOVAL, Journal, JournalTrouble
from assistant.shop.private import GONE, conceal, reveal, seal_of, sealed_text

NAME = "Quillon Bexley"


def timer(label: str) -> TimerStarted:
    return TimerStarted(bay=2, seconds=60.0, label=label, source="command")


def labels(journal) -> list[str]:
    return [e.payload.label for e in journal.events() if isinstance(e.payload, TimerStarted)]


def without(text: str, number: int) -> str:
    return re.sub(re.escape(NAME), f"[removed {number}]", text, flags=re.IGNORECASE)


def files_with(folder, text: str) -> list[str]:
    """Files that hold the text in any of its bytes."""
    return [
        path.name
        for path in sorted(folder.iterdir())
        if path.is_file() and text.lower().encode() in path.read_bytes().lower()
    ]


def sql(journal, statement, *arguments):
    with contextlib.closing(sqlite3.connect(journal.path)) as connection, connection:
        connection.execute(statement, arguments)


# --- seals --------------------------------------------------------------------------------


def test_a_seal_is_sha256_over_salt_and_text():
    # computed apart with hashlib over the documented bytes
    opening = sealed_text("ann")
    salt = bytes.fromhex(opening.salt)
    assert len(salt) == 32
    assert opening.seal == hashlib.sha256(salt + b"ann").hexdigest() == seal_of(salt, "ann")
    assert opening.fits and not opening._replace(text="anna").fits
    assert sealed_text("ann").seal != opening.seal


def test_what_is_concealed_is_revealed_again():
    text = '{"bay":2,"label":"für \\"Ann\\"","n":1}'
    hidden, (opening,) = conceal(text, ("label", "other"))
    assert "Ann" not in hidden and json.loads(hidden)["label"] == {"seal": opening.seal}
    assert json.loads(reveal(hidden, {opening.seal: opening.text}.get)) == json.loads(text)
    assert conceal(text, ()) == (text, [])


def test_a_text_that_looks_like_a_seal_is_a_text(journal):
    label = '{"seal":"' + "0" * 64 + '"}'
    journal.append(timer(label))
    assert labels(journal) == [label]
    assert journal.verify() == 1


def test_labels_stand_in_no_event_and_are_read_as_before(journal):
    (event,) = journal.append(timer(f"for {NAME}"))
    assert event.payload.label == f"for {NAME}"
    assert labels(Journal(journal.folder)) == [f"for {NAME}"]
    assert all(NAME not in row.payload for row in journal.rows())
    assert NAME.encode() not in (journal.folder / COPY).read_bytes()
    assert journal.verify() == 1


def test_what_a_timer_says_is_private_and_what_a_clock_says_is_not(journal):
    for key in ("1/timer", "1/work/2"):
        journal.append(AnnouncementMade(key=key, late=0.0, marked_late=False, text="paint booth"))
    first, second = (row.payload for row in journal.rows())
    assert "paint booth" not in first and "paint booth" in second


def test_an_event_from_before_private_texts_is_read(journal, monkeypatch):
    monkeypatch.setattr(TimerStarted, "private_fields", lambda self: ())
    journal.append(timer("paint booth"))
    assert "paint booth" in next(journal.rows()).payload
    assert labels(journal) == ["paint booth"]
    assert journal.verify() == 1


# --- verify -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE private SET text = text || '.'", "was changed"),
        ("UPDATE private SET salt = replace(salt, substr(salt, 1, 1), 'x')", "was changed"),
        ("DELETE FROM private", "missing"),
        ("UPDATE private SET seal = lower(hex(zeroblob(32)))", "was changed"),
        ("INSERT INTO private_removed SELECT seal, seal FROM private", "said to be removed"),
    ],
)
def test_verify_finds_what_was_done_to_the_table(journal, statement, told):
    journal.append(timer("one"))
    assert journal.verify() == 1
    sql(journal, statement)
    with pytest.raises(JournalTrouble, match=told):
        journal.verify()


def test_verify_finds_every_byte_changed_in_the_private_copy(journal):
    journal.append(timer("one"))
    copy = journal.folder / PRIVATE_COPY
    whole = copy.read_bytes()
    for at in range(len(whole)):
        changed = bytearray(whole)
        changed[at] ^= 1
        copy.write_bytes(bytes(changed))
        with pytest.raises(JournalTrouble, match="does not hold the same"):
            journal.verify()
    copy.write_bytes(whole)
    assert journal.verify() == 1


def test_verify_finds_a_change_in_the_middle_of_the_copy(journal):
    journal.append(timer("one"), timer("two"), timer("three"))
    copy = journal.folder / COPY
    copy.write_bytes(copy.read_bytes().replace(b":60.0,", b":61.0,", 1))
    with pytest.raises(JournalTrouble, match="changed at event 1"):
        Journal(journal.folder).verify()


# --- lost and damaged files ---------------------------------------------------------------


@pytest.mark.parametrize("lost", [DATABASE, PRIVATE_COPY])
def test_texts_come_back_from_the_other_file(journal, lost):
    journal.append(timer("one"), timer("two"))
    journal.close()
    (journal.folder / lost).unlink()
    again = Journal(journal.folder)
    assert labels(again) == ["one", "two"]
    again.verify()


def test_with_both_lost_the_event_stays_and_the_text_is_told_missing(journal):
    journal.append(timer("one"))
    sql(journal, "DELETE FROM private")
    journal.close()
    (journal.folder / PRIVATE_COPY).write_bytes(b"")
    again = Journal(journal.folder)
    assert labels(again) == [GONE]
    with pytest.raises(JournalTrouble, match="missing"):
        again.verify()


class Killed(BaseException):
    """Stands for the kill: nothing behind it runs, not even what tidies up."""


def killed_at(monkeypatch, step: int) -> list[str]:
    """Let the n-th sync or commit be the last thing that the program does."""
    done: list[str] = []
    real = os.fsync

    def count(name):
        done.append(name)
        if len(done) == step:
            raise Killed

    def sync(handle):
        count("sync")
        real(handle)

    monkeypatch.setattr(os, "fsync", sync)
    return done


def taken_away(folder, to):
    """The files as the kill leaves them, without the tidying that follows an exception."""
    shutil.copytree(folder, to, ignore=shutil.ignore_patterns("*.lock"))


@pytest.mark.parametrize("step", range(1, 4))
def test_killed_while_it_writes_a_private_text(journal, monkeypatch, tmp_path, step):
    journal.append(timer("one"))
    monkeypatch.setattr("assistant.shop.private.PrivateTexts.cut_back", lambda *_: None)
    monkeypatch.setattr("assistant.shop.carbon.CarbonCopy.cut_back", lambda *_: None)
    done = killed_at(monkeypatch, step)
    try:
        journal.append(timer("two"))
        acknowledged = True
    except Killed:
        acknowledged = False
    monkeypatch.undo()
    taken_away(journal.folder, tmp_path / "after")
    again = Journal(tmp_path / "after")
    assert labels(again) in (["one"], ["one", "two"])
    if acknowledged:
        assert labels(again) == ["one", "two"]
    assert step == 3 or len(done) == step
    again.append(timer("three"))
    assert labels(again)[-1] == "three"
    again.verify()


# --- forgetting ---------------------------------------------------------------------------


def test_a_name_is_in_no_byte_of_any_file_and_the_chain_stands(journal):
    journal.append(timer(f"call {NAME}"), timer("lunch"), timer(NAME.upper()))
    # a library may be built so that it clears what it frees; others leave it lying
    journal._database.execute("PRAGMA secure_delete = OFF")
    journal.keep_snapshot("some", 3, NAME.encode())
    journal.keep_snapshot("big", 3, NAME.encode() * 5_000)
    journal.keep_snapshot("big", 3, b"small")  # leaves free pages behind
    (journal.folder / f"{DATABASE}.set-aside-1").write_bytes(NAME.encode())
    assert len(files_with(journal.folder, NAME)) >= 3
    before = list(journal.rows())

    removal = journal.remove_text(without)

    assert removal.texts == 2 and removal.stays == ()
    assert removal.deleted == (f"{DATABASE}.set-aside-1",)
    assert files_with(journal.folder, NAME) == []
    assert labels(journal) == ["call [removed 4]", "lunch", "[removed 4]"]
    assert list(journal.rows())[:3] == before
    assert journal.verify() == 4
    assert labels(Journal(journal.folder)) == labels(journal)
    journal.append(timer("next"))
    assert journal.verify() == 5


def test_one_name_after_another(journal):
    journal.append(timer("ann and bob"))
    journal.remove_text(lambda text, n: text.replace("ann", f"[removed {n}]"))
    journal.remove_text(lambda text, n: text.replace("bob", f"[removed {n}]"))
    assert labels(journal) == ["[removed 2] and [removed 3]"]
    assert journal.verify() == 3
    # and both files come back with it from each other
    journal.close()
    (journal.folder / PRIVATE_COPY).unlink()
    assert labels(Journal(journal.folder)) == ["[removed 2] and [removed 3]"]


def test_nothing_to_remove_writes_no_event(journal):
    journal.append(timer("lunch"))
    assert journal.remove_text(without).texts == 0
    assert journal.last_id() == 1 and not (journal.folder / REMOVAL).exists()


def test_what_stands_in_the_chain_itself_is_told(journal, monkeypatch):
    monkeypatch.setattr(TimerStarted, "private_fields", lambda self: ())
    journal.append(timer(f"call {NAME}"))
    assert journal.remove_text(without).stays == (1,)


def test_many_texts(journal):
    journal.append(*(timer(f"{n} {NAME}") for n in range(450)))
    removal = journal.remove_text(without)
    assert removal.texts == 450
    assert [len(event.payload.texts) for event in removal.events] == [200, 200, 50]
    assert isinstance(removal.events[0].payload, TextsRemoved)
    assert files_with(journal.folder, NAME) == []
    assert journal.verify() == 453


def test_a_state_of_another_program_does_not_keep_it(journal):
    from assistant.shop.shop import Shop

    other = Shop(Journal(journal.folder))
    journal.append(timer(f"call {NAME}"))
    assert other.state.timers[0].label == f"call {NAME}"
    journal.remove_text(without)
    other.journal.keep_snapshot("late", 1, NAME.encode())  # folded before the removal
    assert files_with(journal.folder, NAME) == []
    assert other.state.timers[0].label == "call [removed 2]"


@pytest.mark.parametrize("step", range(1, 12))
def test_killed_while_it_forgets(journal, monkeypatch, tmp_path, step):
    """At every sync: afterwards the name is either there whole, or gone from every file."""
    journal.append(timer(f"call {NAME}"), timer("lunch"))
    monkeypatch.setattr("assistant.shop.private.PrivateTexts.cut_back", lambda *_: None)
    monkeypatch.setattr("assistant.shop.carbon.CarbonCopy.cut_back", lambda *_: None)
    killed_at(monkeypatch, step)
    try:
        journal.remove_text(without)
        acknowledged = True
    except Killed:
        acknowledged = False
    monkeypatch.undo()
    taken_away(journal.folder, tmp_path / "after")
    again = Journal(tmp_path / "after")
    again.verify()
    found = labels(again)
    assert found in ([f"call {NAME}", "lunch"], ["call [removed 3]", "lunch"])
    assert bool(files_with(again.folder, NAME)) == (found[0] == f"call {NAME}")
    if acknowledged:
        assert found[0] == "call [removed 3]"
    assert not (again.folder / REMOVAL).exists()


def test_a_reader_that_stays_is_told_and_the_next_start_goes_on(journal, monkeypatch):
    monkeypatch.setattr(journal_module, "PATIENCE_SECONDS", 0.02)
    journal._database.execute("PRAGMA busy_timeout = 20")
    journal.append(timer(f"call {NAME}"))
    reader = sqlite3.connect(journal.path)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM event").fetchone()
    journal.remove_text(without)
    assert any("another program reads" in notice for notice in journal.take_notices())
    assert (journal.folder / REMOVAL).exists()
    reader.close()
    again = Journal(journal.folder)
    assert files_with(journal.folder, NAME) == []
    assert again.verify() == 2 and not (journal.folder / REMOVAL).exists()
