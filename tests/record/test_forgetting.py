"""A person is forgotten: in no byte of any file, and the chain still proves the rest."""

import multiprocessing
import random
import shutil
import signal
import time
import unicodedata

import pytest
from private_support import bytes_with

from assistant.record import exchanging, orders
from assistant.record.forgetting import NothingToForget, files_with, forget, pattern_of, without
from assistant.record.records import Records
from assistant.shop.journal import REMOVAL, Journal

ANN = "Ann Quillbexley"
FORMS = ("NFC", "NFD")


def test_a_whole_job_without_her(whole, records, journal, clock):
    records.summaries()  # a snapshot that holds the name
    assert bytes_with(journal.folder, ANN)
    rows = list(journal.rows())
    done = forget(journal, [ANN])
    assert done.texts >= 5 and done.stays == () and done.files == ()
    assert bytes_with(journal.folder, ANN) == []
    assert bytes_with(journal.folder, "Quillbexley") == []
    assert list(journal.rows())[: len(rows)] == rows
    journal.verify()
    for found in (records, Records(Journal(journal.folder, clock), "text")):
        record = found.record(found.in_bay(2))
        gone = f"[removed {done.event}]"
        assert [p.name for p in record.people] == [gone]
        assert record.notes[0].text == f"Old sealer on the flange, {gone} scraped it."
        assert record.coupons[0].note == f"{gone} peeled it"
        assert record.acceptances[0].by == gone
        assert ANN not in record.model_dump_json()
        assert found.search("quillbexley") == []
    # everything else is as it was
    assert record.reference("repair_order") == "RO-1042"
    assert record.materials == whole.materials


def test_she_is_forgotten_in_an_imported_record_too(whole, records, tmp_path):
    other = Records(Journal(tmp_path / "other"), "text")
    text = exchanging.to_json([whole])
    exchanging.take_in(other, exchanging.from_json(text))
    forget(other.journal, [ANN])
    assert bytes_with(other.journal.folder, "Quillbexley") == []
    record = other.record(other.find(whole.id))
    assert record.people[0].name == "[removed 2]"
    assert record.notes[0].text == "Old sealer on the flange, [removed 2] scraped it."
    assert record.materials == whole.materials
    other.journal.verify()


def test_parts_of_the_name_that_are_left_are_told(records, journal):
    records.state_in_bay(2, orders.person(records, "Ann Quillbexley"))
    records.state_in_bay(2, orders.note(records, "ann did it; Annual check; Bo helped"))
    done = forget(journal, [ANN])
    assert done.parts == (("Ann", 1),)
    forget(journal, ["Ann"])
    record = records.record(records.in_bay(2))
    assert record.notes[0].text == "[removed 5] did it; Annual check; Bo helped"


def test_several_forms_at_once(records, journal):
    records.state_in_bay(2, orders.note(records, "A. Quillbexley and ANN  QUILLBEXLEY's glove"))
    forget(journal, ["A. Quillbexley", ANN])
    note = records.record(records.in_bay(2)).notes[0].text
    assert note == "[removed 3] and [removed 3]'s glove"


COMPOSED, DECOMPOSED = (unicodedata.normalize(form, "Zoë Ångström-Dvořák") for form in FORMS)


@pytest.mark.parametrize(
    ("kept", "given"),
    [(COMPOSED, DECOMPOSED), (DECOMPOSED, COMPOSED), (DECOMPOSED, COMPOSED.upper())],
    ids=("decomposed", "composed", "capitals"),
)
def test_accents_may_be_written_in_either_form(records, journal, kept, given):
    """The two forms of UAX #15 look the same: nobody knows which one a keyboard sends. Both
    pass its definition of canonically equal."""
    assert COMPOSED != DECOMPOSED
    records.state_in_bay(2, orders.person(records, kept))
    records.state_in_bay(2, orders.note(records, f"{kept} cleaned it; Zoë helped"))
    assert [s.people for s in records.search(given)] == [(kept,)]
    done = forget(journal, [given])
    assert done.texts == 2 and done.files == () and ("Zoë".casefold(), 1) in {
        (part.casefold(), count) for part, count in done.parts
    }
    record = records.record(records.in_bay(2))
    assert record.people[0].name == "[removed 4]"
    assert record.notes[0].text.startswith("[removed 4] cleaned it; Zoë")
    for form in FORMS:
        assert bytes_with(journal.folder, unicodedata.normalize(form, "Ångström")) == []


def test_a_letter_with_an_accent_is_another_letter(records, journal):
    accented = unicodedata.normalize("NFD", "José did it; Max\u030c too")
    records.state_in_bay(2, orders.note(records, accented))
    for name in ("Jose", "Max"):
        with pytest.raises(NothingToForget):
            forget(journal, [name])
    assert records.record(records.in_bay(2)).notes[0].text == accented


def test_files_beside_the_journal_are_looked_through_in_either_form(tmp_path):
    (tmp_path / "trainees.json").write_text(f'{{"1": "{DECOMPOSED.upper()}"}}', encoding="utf-8")
    (tmp_path / "other").write_bytes(b"\xff\xfe Angstrom")
    assert files_with(tmp_path, [COMPOSED]) == ("trainees.json",)


def test_a_note_that_looks_like_a_file_hides_nobody(records, journal):
    note = '{"customer": "Ann Quillbexley", "Ann Quillbexley": ["ann quillbexley"]}'
    records.state_in_bay(2, orders.note(records, note))
    done = forget(journal, [ANN])
    assert done.files == () and bytes_with(journal.folder, "quillbexley") == []
    kept = records.record(records.in_bay(2)).notes[0].text
    assert kept == '{"customer": "[removed 3]", "[removed 3]": ["[removed 3]"]}'


@pytest.mark.parametrize("name", ["", " ", "x", "--"])
def test_what_is_no_name_is_refused(journal, records, name):
    records.state_in_bay(2, orders.note(records, "x -- y"))
    with pytest.raises(NothingToForget, match="too short"):
        forget(journal, [name])


def test_nobody_of_that_name(journal, records):
    records.state_in_bay(2, orders.note(records, "nothing"))
    with pytest.raises(NothingToForget, match="No text of the journal"):
        forget(journal, ["Zed Zebulon"])
    assert journal.last_id() == 2


def test_a_text_that_would_grow_past_its_bounds_goes_whole():
    pattern = pattern_of(["ab"])
    assert without("ab " * 60, pattern, 7) == "[removed 7]"
    assert without("ab cd", pattern, 7) == "[removed 7] cd"


def test_a_name_with_signs(records, journal):
    name = 'O"Neill (Jr.)\\'
    records.state_in_bay(2, orders.person(records, name))
    forget(journal, [name])
    assert records.record(records.in_bay(2)).people[0].name == "[removed 3]"


def test_a_summary_that_another_program_kept_is_gone(whole, records, journal, clock):
    other = Records(Journal(journal.folder, clock), "text")
    other.summaries()
    forget(journal, [ANN])
    other.ledger.keep(always=True)
    assert bytes_with(journal.folder, "quillbexley") == []
    assert other.search("quillbexley") == []


# --- killed -------------------------------------------------------------------------------


def _forget_in(folder: str) -> None:
    forget(Journal(folder), [ANN])


@pytest.mark.long
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_killed_at_random_moments(whole, records, journal, tmp_path):
    """The program is killed while it forgets; whoever opens the journal next finishes it, or
    finds everything as it was. Nothing that was acknowledged is lost."""
    journal.close()
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["assistant.record.forgetting", "assistant.record.records"])
    rng = random.Random(1)
    gone = 0
    for n in range(60):
        folder = shutil.copytree(journal.folder, tmp_path / str(n))
        process = context.Process(target=_forget_in, args=(str(folder),), daemon=True)
        process.start()
        wait = time.monotonic() + 30
        while not (folder / REMOVAL).exists() and process.is_alive() and time.monotonic() < wait:
            time.sleep(0.001)
        time.sleep(rng.uniform(0, 0.06))
        process.kill()
        process.join()
        again = Records(Journal(folder), "text")
        again.journal.verify()
        record = again.record(again.in_bay(2))
        name = record.people[0].name
        assert name == ANN or name.startswith("[removed ")
        assert bool(bytes_with(folder, "Quillbexley")) == (name == ANN)
        assert record.reference("repair_order") == "RO-1042"
        assert record.materials == whole.materials
        assert not (folder / REMOVAL).exists()
        gone += name != ANN
        again.journal.close()
        shutil.rmtree(folder)
    print(f"killed 60 times: forgotten {gone}, as it was {60 - gone}")
    assert gone > 0
