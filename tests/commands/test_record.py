"""clampcall record: what each command prints, and one line for every fault."""

import contextlib
import json
import sqlite3

import pypdfium2
import pytest
from private_support import bytes_with

ANN = "Ann Quillbexley"


@pytest.fixture
def record(clampcall):
    return lambda *arguments: clampcall("record", *arguments)


@pytest.fixture
def job(clampcall, record):
    """A job in bay 2; the id of its record."""
    code, out, _ = record(
        "amend", "bay 2", "--repair-order", "RO-7", "--vehicle", "blue wagon", "--person", ANN,
        "--air", "70F", "--humidity", 50, "--metal", "62F",
    )  # fmt: skip
    assert code == 0 and out.startswith("Bay 2: a new record is begun.\n")
    assert clampcall("bays", "start", 2, "-t", "62F", "--product", "long open")[0] == 0
    assert record("amend", "bay 2", "--lot", "AB12", "--expiry", "2030-03")[0] == 0
    assert clampcall("bays", "stage", 2, "clamped")[0] == 0
    return json.loads(record("list", "--json")[1])["id"]


def test_list_search_show(record, job):
    code, out, _ = record("list")
    assert code == 0 and out.startswith(job) and "RO-7" in out and "blue wagon" in out
    assert record("search", "WAGON", "ab12")[1] == out
    assert record("search", "green")[1] == "No record holds 'green'.\n"
    code, out, _ = record("show", "RO-7")
    assert code == 0 and "Lot and expiry: AB12, expiry 2030-03" in out
    assert "Clamps off: not stated" in out and "Missing: " in out and "History" not in out
    assert "adhesive on: Long-open" in record("show", "bay 2", "--history")[1]
    document = json.loads(record("show", job[:8], "--json")[1])
    assert document["id"] == job and document["people"][0]["name"] == ANN


def test_an_empty_shop(record):
    assert record("list") == (0, "There is no record yet.\n", "")
    code, _, err = record("show", "bay 2")
    assert (code, err) == (2, "There is no record for bay 2 yet.\n")


def test_amending_tells_what_it_wrote_and_keeps_what_was(record, job):
    code, out, _ = record(
        "amend", "RO-7", "--repair-order", "RO-8", "--by", "Bo", "--reason", "misread",
        "--coupon", "passed", "--button", 5.1, "--sheet", 1, "--note", "dry fit",
        "--photo", "no/such/file.jpg", "--caption", "flange", "--deviation", "one clamp off",
    )  # fmt: skip
    assert code == 0 and out.count("Recorded [") == 5
    history = record("show", "RO-8", "--history")[1]
    assert "repair order: RO-7, typed  (does not count any more)" in history
    assert "(reason: misread)" in history and "the file could not be read" in history
    code, out, _ = record("amend", "RO-8", "--accept", "all", "--by", ANN)
    assert code == 0 and f"accepted by {ANN}" in out
    key = json.loads(record("show", "RO-8", "--json")[1])["notes"][0]["key"]
    assert record("amend", "RO-8", "--withdraw", key.split("-")[1])[0] == 0
    assert "dry fit" not in record("show", "RO-8")[1]
    assert "dry fit" in record("show", "RO-8", "--history")[1]


def test_a_lot_is_replaced(record, job):
    lot = json.loads(record("show", job, "--json")[1])["lots"][0]
    code, out, _ = record("amend", job, "--lot", "AB13", "--replaces", lot["key"])
    assert code == 0 and f"(in place of {lot['key']})" in out
    first, second = json.loads(record("show", job, "--json")[1])["lots"]
    assert (first["replaced_by"], second["replaces"]) == (second["key"], first["key"])
    assert "Lot and expiry: AB13, expiry not stated" in record("show", job)[1]


def test_a_reading_is_amended(record, job):
    before = json.loads(record("show", job, "--json")[1])["materials"][0]
    key = before["readings"][0]["key"]
    code, out, _ = record("amend", job, "--reading", key, "--temperature", "52 F")
    assert code == 0 and "correction of" in out
    after = json.loads(record("show", job, "--json")[1])["materials"][0]
    assert after["readings"][0]["was"] == pytest.approx(16.667, abs=0.001)
    assert after["clocks"][1]["required"] > before["clocks"][1]["required"]


def test_a_record_is_found_by_what_it_was_called_before(record, job):
    """The paper on the car still bears the old number."""
    assert record("amend", "RO-7", "--repair-order", "RO-8", "--reason", "misread")[0] == 0
    code, out, err = record("show", "ro-7")
    assert code == 0 and out.startswith(f"Job record {job}, repair order RO-8")
    assert err == f"The repair order RO-7 was amended: it is RO-8 now ({job}).\n"
    assert json.loads(record("show", "RO-7", "--json")[1])["id"] == job
    assert "amended" in record("export", "RO-7")[2] and "RO-8 (was RO-7)" in record("list")[1]
    assert json.loads(record("list", "--json")[1])["before"] == ["RO-7"]
    assert record("search", "ro-7")[1] == record("list")[1]
    code, _, err = record("amend", "RO-7", "--note", "dry fit")
    assert code == 0 and "amended" in err
    # one that is called so now comes before all that were
    assert record("amend", "bay 3", "--repair-order", "RO-7")[0] == 0
    code, out, err = record("show", "RO-7")
    assert code == 0 and job not in out and err == ""
    # called so again, it is no former name any more
    assert record("amend", job, "--repair-order", "RO-9")[0] == 0
    assert record("amend", job, "--repair-order", "RO-8")[0] == 0
    assert record("show", "RO-8")[2] == ""
    assert "RO-9 was amended: it is RO-8" in record("show", "RO-9")[2]


def test_a_record_is_found_by_what_was_withdrawn_of_it(record, job):
    key = next(
        line.split("[")[-1].rstrip("]\n")
        for line in record("show", "bay 2", "--history")[1].splitlines()
        if "vehicle: blue wagon" in line
    )
    assert record("amend", "bay 2", "--withdraw", key)[0] == 0
    code, _, err = record("show", "blue wagon")
    assert code == 0 and err == f"The vehicle blue wagon was withdrawn from this record ({job}).\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("amend", "bay 2"), "nothing to amend"),
        (("amend", "bay 2", "--expiry", "2027-03"), "--lot"),
        (("amend", "bay 2", "--humidity", "50"), "--air"),
        (("amend", "bay 2", "--button", "5"), "--coupon"),
        (("amend", "bay 2", "--reading", "3"), "--temperature"),
        (("amend", "bay 2", "--caption", "x"), "--photo"),
        (("amend", "bay 2", "--note", "x1", "--person", "Bo", "--replaces", "7"), "one thing"),
        (("amend", "bay 2", "--note", "x1", "--replaces", "7"), "another kind"),
        (("amend", "bay 2", "--lot", "A2", "--replaces", "99"), "No statement"),
        (("amend", "bay 2", "--accept", "all"), "--by"),
        (("amend", "bay 2", "--note", "x1", "--role", "helper"), "--role goes with --person"),
        (
            ("amend", "bay 2", "--reading", "3", "--temperature", "60F", "--by", "Bo"),
            "--temperature and --by",
        ),
        (("amend", "bay 2", "--lot", "A!", "--expiry", "2027-03"), "no lot"),
        (("amend", "bay 2", "--lot", "A1", "--expiry", "march"), "no date"),
        (("amend", "bay 2", "--air", "warm"), "not a temperature"),
        (("amend", "bay 99", "--note", "x1"), "no bay 99"),
        (("amend", "nothing", "--note", "x1"), "No record is called"),
        (("show", "bay 99"), "no bay 99"),
        (("export", "--as", "pdf"), "name one"),
        (("export", "bay 2", "--to", "/no/such/folder/x.json"), "cannot be written"),
        (("import", "no-such-file.json"), "cannot be read"),
        (("begin", "0"), "no bay 0"),
        (("forget", "Zed Zebulon"), "No text of the journal"),
        (("forget", "z"), "too short"),
    ],
)
def test_one_line_for_every_fault(record, job, arguments, told):
    code, out, err = record(*arguments)
    assert code == 2 and told in err and err.count("\n") == 1 and out == ""


def test_there_and_back(record, job, tmp_path, monkeypatch):
    file = tmp_path / "jobs.json"
    code, out, _ = record("export", "--to", file)
    assert code == 0 and out == f"1 record written to {file}\n"
    code, _, err = record("import", file)
    assert code == 2 and "here already" in err
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path / "elsewhere"))
    assert record("import", file) == (0, "1 record imported\n", "")
    assert record("export")[1] == file.read_text(encoding="utf-8")
    assert "imported" in record("list")[1]
    csv = record("export", "--as", "csv")[1]
    assert csv.startswith("record,bay,section,key,") and "AB12" in csv
    file.write_bytes(b"\xff\xfe\x00")
    assert "is no text" in record("import", file)[2]


def test_reports(record, job, tmp_path):
    page = tmp_path / "report.html"
    assert record("export", job, "--as", "html", "--to", page)[0] == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    paper = tmp_path / "report.pdf"
    assert record("export", "bay 2", "--as", "pdf", "--to", paper)[0] == 0
    first = pypdfium2.PdfDocument(paper)[0].get_textpage().get_text_range()
    assert "RO-7" in first and "no certificate" in first


def test_the_schema(record):
    assert json.loads(record("schema")[1])["title"] == "Export"


def test_begin_and_close(record, job):
    assert record("close", "RO-7")[1] == "Bay 2: the record is closed.\n"
    assert "closed already" in record("close", "RO-7")[2]
    assert record("begin", 2)[1] == "Bay 2: a new record is begun.\n"
    assert record("amend", "RO-7", "--note", "later")[0] == 0


def test_verify(record, job, tmp_path):
    code, out, _ = record("verify")
    assert code == 0 and out.startswith("Whole: ")
    told = json.loads(record("verify", "--json")[1])
    assert told["whole"] and len(told["last_hash"]) == 64
    path = tmp_path / "data" / "journal.db"
    with contextlib.closing(sqlite3.connect(path)) as database, database:
        database.execute("DROP TRIGGER event_is_not_changed")
        database.execute("UPDATE event SET wall = wall + 1 WHERE id = 3")
    code, out, err = record("verify")
    assert code == 2 and "event 3: it was changed" in err and out == ""
    code, out, _ = record("verify", "--json")
    assert code == 2 and not json.loads(out)["whole"]


def test_forget(record, job, tmp_path):
    record("amend", job, "--note", f"{ANN} says: Ann did it")
    code, out, err = record("forget", ANN)
    assert code == 0 and out.startswith("Removed from 2 texts; event ")
    assert "'Ann' by itself still stands in 1 text" in err
    assert bytes_with(tmp_path / "data", "Quillbexley") == []
    assert record("verify")[0] == 0
    shown = record("show", job)[1]
    assert "[removed " in shown and ANN not in shown
    told = json.loads(record("forget", "Ann", "--json")[1])
    assert told["texts"] == 1 and told["files"] == []


def test_a_name_elsewhere_in_the_folder_is_told(record, job, tmp_path):
    (tmp_path / "data" / "trainees.json").write_text(json.dumps({ANN: "1"}))
    code, _, err = record("forget", ANN)
    assert code == 2 and "trainees.json still holds it: clampcall rehearse forget" in err


def test_what_is_typed_is_not_by_ear(clampcall, record):
    assert clampcall("ask", "note for bay two: lower flange had old sealer")[0] == 0
    assert clampcall("ask", "add to bay two lot alfa bravo one two")[0] == 0
    document = json.loads(record("show", "bay 2", "--json")[1])
    (note,) = document["notes"]
    assert (note["text"], note["heard"], note["source"]) == (
        "lower flange had old sealer",
        False,
        "text",
    )
    assert document["lots"][0]["lot"] == "AB12"
