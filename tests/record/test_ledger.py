"""Which events belong to which record, and that the kept fold is the same as a new one."""

import pytest

from assistant.record import orders
from assistant.record.ledger import NAME, Ledger
from assistant.record.records import NotStated, Records
from assistant.shop.journal import Journal


def kinds(records, filed):
    return [records.journal.event(placed.id).kind for placed in filed.events]


def test_a_material_begins_a_record_by_itself(shop, records, long_open):
    shop.start(2, long_open, 20.0)
    (filed,) = records.ledger.filed
    assert (filed.number, filed.bay, filed.said, filed.closed_by) == (1, 2, False, 0)


def test_the_same_material_again_begins_the_next_and_another_does_not(
    shop, records, clock, long_open, filler
):
    shop.start(2, long_open, 20.0)
    shop.start(2, filler, 20.0)
    clock.run(30 * 86400)
    shop.start(2, long_open, 20.0)
    first, second = records.ledger.filed
    assert kinds(records, first) == ["job_started", "job_started"]
    assert first.closed_by == second.number == 3


def test_a_record_that_was_begun_by_word_goes_on(shop, records, clock, long_open):
    records.begin(2)
    shop.start(2, long_open, 20.0)
    clock.run(30 * 86400)
    shop.start(2, long_open, 20.0)
    (filed,) = records.ledger.filed
    assert len(records.record(filed).materials) == 2
    records.begin(2)
    assert [bool(f.closed_by) for f in records.ledger.filed] == [True, False]


def test_bays_do_not_mix(shop, records, long_open):
    shop.start(2, long_open, 20.0)
    shop.start(3, long_open, 21.0)
    shop.read_temperature(2, 22.0)
    shop.mark(3, "closed")
    two, three = records.ledger.filed
    assert kinds(records, two) == ["job_started", "temperature_read"]
    assert kinds(records, three) == ["job_started", "stage_marked"]


def test_what_is_undone_goes_to_the_record_it_was_in(shop, records, long_open):
    shop.start(2, long_open, 20.0)
    shop.undo(2)
    (filed,) = records.ledger.filed
    assert kinds(records, filed) == ["job_started", "undone"]
    record = records.record(filed)
    assert record.empty and record.materials == ()
    assert [line.counts for line in record.history] == [False, True]


def test_a_closed_record_still_takes_the_clocks_of_its_bay(shop, records, clock, long_open):
    shop.start(2, long_open, 20.0)
    told = records.close(records.in_bay(2))
    shop.read_temperature(2, 22.0)
    filed = records.ledger.records[told.record]
    assert kinds(records, filed) == ["job_started", "record_closed", "temperature_read"]
    assert records.record(filed).closed is not None
    with pytest.raises(NotStated, match="closed already"):
        records.close(filed)
    records.state(filed, orders.note(records, "amended later"))
    assert [n.text for n in records.record(filed).notes] == ["amended later"]


def test_timers_are_no_part_of_a_record(shop, records, long_open):
    shop.start(2, long_open, 20.0)
    shop.start_timer(60.0, 2, "lunch")
    shop.cancel_timer(2)
    (filed,) = records.ledger.filed
    assert kinds(records, filed) == ["job_started"]


def test_the_kept_fold_is_the_same_as_a_new_one(whole, records, journal, shop, clock, long_open):
    before = records.summaries()
    assert journal.snapshot(NAME) is not None
    again = Records(Journal(journal.folder, clock), "text")
    assert again.summaries() == before
    shop.start(7, long_open, 20.0)
    records.state_in_bay(2, orders.note(records, "one more"))
    grown = again.summaries()
    new = Ledger(Journal(journal.folder, clock))
    new._loaded = True  # from the beginning
    new.update()
    kept = again.ledger
    assert {n: f.events for n, f in kept.records.items()} == {
        n: f.events for n, f in new.records.items()
    }
    assert kept._open == new._open and kept._owner == new._owner
    assert len(grown) == 2 and "one more" in grown[0].words


@pytest.mark.parametrize("rubbish", [b"", b"{}", b"[]", b'{"last_id": 1}', b"\xff"])
def test_a_kept_fold_that_is_rubbish_is_passed_over(whole, records, journal, clock, rubbish):
    journal.keep_snapshot(NAME, journal.last_id(), rubbish)
    again = Records(Journal(journal.folder, clock), "text")
    assert again.summaries() == records.summaries()


def test_search(whole, records):
    for words in ("ro-1042", "WAGON stall", "quillbexley", "ab12", "sealer", "bay 2", "2027-03-01"):
        assert [s.id for s in records.search(words)] == [whole.id], words
    (found,) = records.search("RO-1041")  # what was replaced, and told as such
    assert [(one.text, one.now) for one in found.former] == [("RO-1041", "RO-1042")]
    assert records.search("RO-1040") == [] and records.search("wagon green") == []
