"""Progress: kept in the journal, forgotten by name; due dates against the library fsrs."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from fsrs import Card, Rating

from assistant.rehearsal.progress import (
    NAMES_FILE,
    SCHEDULER,
    Answered,
    JournalProgress,
    MemoryProgress,
    chosen,
    due_dates,
)
from assistant.shop.journal import Journal

START = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)


@pytest.fixture(params=["memory", "journal"])
def progress(request, tmp_path):
    if request.param == "memory":
        yield MemoryProgress()
        return
    journal = Journal(tmp_path)
    yield JournalProgress(journal)
    journal.close()


def test_answers_and_recitations_are_kept_by_name(progress):
    progress.answer("Ann", "clamping:before:tool", 3)
    progress.answer("ann ", "clamping:before:look", 1)
    progress.answer("Bob", "routine:spots", 2)
    progress.recite("Ann", "clamping", told=("papers",), missed=("gloves",))
    assert [(a.item, a.rating) for a in progress.answers("ANN")] == [
        ("clamping:before:tool", 3),
        ("clamping:before:look", 1),
    ]
    assert [row.missed for row in progress.recitations("ann")] == [("gloves",)]
    assert progress.trainees() == ("ann", "bob")
    assert progress.answers("carol") == [] and progress.recitations("carol") == []


def test_who_is_forgotten_is_nobody(progress):
    progress.answer("Ann", "routine:spots", 3)
    progress.answer("Bob", "routine:spots", 3)
    assert progress.forget("ann") and not progress.forget("ann")
    assert progress.answers("Ann") == [] and progress.trainees() == ("bob",)
    assert len(progress.answers("Bob")) == 1
    progress.answer("Ann", "routine:lifts", 1)
    assert [a.item for a in progress.answers("Ann")] == ["routine:lifts"]


def test_the_journal_holds_no_name(tmp_path):
    journal = Journal(tmp_path)
    progress = JournalProgress(journal)
    progress.answer("Annabel", "routine:spots", 3)
    number = json.loads((tmp_path / NAMES_FILE).read_text())["annabel"]
    progress.forget("Annabel")
    journal.close()
    for path in tmp_path.iterdir():
        assert b"annabel" not in path.read_bytes().lower(), path
    again = Journal(tmp_path)
    assert again.verify() == 2
    kinds = [event.kind for event in again.events()]
    assert kinds == ["drill_answered", "trainee_forgotten"]
    assert next(again.events()).payload.trainee == number
    again.close()


def test_progress_outlives_the_program(tmp_path):
    journal = Journal(tmp_path)
    JournalProgress(journal).answer("Ann", "routine:spots", 2)
    journal.close()
    journal = Journal(tmp_path)
    assert [a.rating for a in JournalProgress(journal).answers("Ann")] == [2]
    journal.close()


def test_due_dates_are_those_of_the_library():
    # reproduced: the same reviews given to fsrs by hand
    answers = [
        Answered("a", 3, START),
        Answered("b", 1, START + timedelta(minutes=1)),
        Answered("a", 3, START + timedelta(days=2)),
    ]
    memory = Card(card_id=7)
    for answered in (answers[0], answers[2]):
        memory, _ = SCHEDULER.review_card(memory, Rating(answered.rating), answered.when)
    found = due_dates(answers)
    assert found["a"] == memory.due
    assert found["a"] > found["b"]
    assert due_dates(answers) == found


def test_a_clock_that_stepped_back_does_no_harm():
    back = [Answered("a", 3, START), Answered("a", 3, START - timedelta(days=400))]
    assert due_dates(back)["a"] >= START


def test_what_is_asked_first():
    now = START + timedelta(days=30)
    answers = [
        Answered("late", 1, START + timedelta(days=1)),
        Answered("later", 1, START + timedelta(days=2)),
        Answered("early", 3, now - timedelta(seconds=5)),
    ]
    items = ["new", "early", "later", "late", "newer"]
    assert chosen(items, answers, now, 9) == ["late", "later", "new", "newer", "early"]
    assert chosen(items, answers, now, 2) == ["late", "later"]
    assert chosen(["new", "new"], [], now, 5) == ["new"]
