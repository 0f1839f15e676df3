"""JSON out and in, its schema, and CSV."""

import csv
import io
import json

import jsonschema
import pytest
from shop_support import HandClock

from assistant.record import exchanging, orders
from assistant.record.document import JobRecord
from assistant.record.records import NotStated, Records
from assistant.shop.journal import Journal


@pytest.fixture
def elsewhere(tmp_path):
    """The records of another machine, with another clock."""
    found = Records(Journal(tmp_path / "elsewhere", HandClock(wall=1_900_000_000)), "text")
    yield found
    found.journal.close()


def exported(records):
    return exchanging.to_json(exchanging.documents(records))


def test_there_and_back_again(whole, records, elsewhere, tmp_path):
    records.begin(5)
    records.state_in_bay(5, orders.note(records, 'quotes " and \\ and ünïcode'))
    text = exported(records)
    assert len(json.loads(text)["records"]) == 2
    assert exchanging.take_in(elsewhere, exchanging.from_json(text)) == 2
    assert exported(elsewhere) == text
    # and from there to a third
    third = Records(Journal(tmp_path / "third"), "text")
    exchanging.take_in(third, exchanging.from_json(exported(elsewhere)))
    assert exported(third) == text
    elsewhere.journal.verify()


def test_what_is_here_already_is_not_taken_in_twice_nor_half(whole, records, elsewhere):
    text = exported(records)
    with pytest.raises(NotStated, match="here already"):
        exchanging.take_in(records, exchanging.from_json(text))
    exchanging.take_in(elsewhere, exchanging.from_json(text))
    elsewhere.begin(5)
    elsewhere.state_in_bay(5, orders.note(elsewhere, "new"))
    before = elsewhere.journal.last_id()
    both = exported(elsewhere)
    with pytest.raises(NotStated, match="here already"):
        exchanging.take_in(elsewhere, exchanging.from_json(both))
    assert elsewhere.journal.last_id() == before


def test_an_imported_record_is_amended_and_keeps_what_it_was(whole, records, elsewhere):
    exchanging.take_in(elsewhere, exchanging.from_json(exported(records)))
    filed = elsewhere.find(whole.id)
    elsewhere.state(filed, orders.reference(elsewhere, "repair_order", "RO-1043"))
    elsewhere.state(filed, orders.note(elsewhere, "looked at again"))
    old = whole.notes[0].key
    elsewhere.state(filed, orders.withdrawal(elsewhere, old))
    record = elsewhere.record(filed)
    assert record.id == whole.id and record.reference("repair_order") == "RO-1043"
    assert [n.counts for n in record.notes] == [False, True]
    assert record.materials == whole.materials
    assert record.history[: len(whole.history)] == whole.history
    assert len(record.evidence) == len(whole.evidence) + 3
    assert elsewhere.find("RO-1043").number == filed.number
    # what was amended there goes on to the next, too
    assert exchanging.from_json(exported(elsewhere)).records == (record,)


def test_the_committed_schema_is_that_of_the_models():
    assert exchanging.SCHEMA_FILE.read_text(encoding="utf-8") == exchanging.schema_text(), (
        "python -m assistant record schema > assistant/record/schema.json"
    )


def test_an_export_keeps_to_the_schema_as_another_library_reads_it(whole):
    schema = json.loads(exchanging.SCHEMA_FILE.read_text(encoding="utf-8"))
    document = json.loads(exchanging.to_json([whole]))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)
    document["records"][0]["bay"] = "two"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema)


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "no json", '{"records": [{}]}', '{"format": "x", "records": []}']
)
def test_a_file_of_something_else_is_one_line(text):
    if text == "{}":
        text = '{"format": "clampcall-export/1"}'
    with pytest.raises(NotStated) as fault:
        exchanging.from_json(text, "jobs.json")
    assert str(fault.value).startswith("jobs.json holds no exported records")
    assert "\n" not in str(fault.value)


@pytest.mark.parametrize(
    "change",
    [
        lambda use: use["readings"].clear(),
        lambda use: use["readings"].reverse(),
        lambda use: use["tables"]["work"]["rows"].append(use["tables"]["work"]["rows"][0]),
        lambda use: use["tables"]["clamp"].update(lowest=90.0),
    ],
)
def test_times_that_are_none_are_told_as_it_is_read(whole, change):
    data = json.loads(exchanging.to_json([whole]))
    change(data["records"][0]["materials"][0])
    with pytest.raises(NotStated) as fault:
        exchanging.from_json(json.dumps(data), "jobs.json")
    assert "\n" not in str(fault.value)


def test_a_document_is_read_as_it_was_written(whole):
    assert JobRecord.model_validate_json(whole.model_dump_json()) == whole


def test_csv(whole):
    rows = list(csv.DictReader(io.StringIO(exchanging.to_csv([whole]))))
    assert tuple(rows[0]) == exchanging.CSV_COLUMNS
    assert {row["record"] for row in rows} == {whole.id}
    found = {(r["section"], r["name"], r["value"], r["counts"]) for r in rows}
    assert ("references", "text", "RO-1041", "no") in found
    assert ("references", "text", "RO-1042", "yes") in found
    assert ("lots", "expiry", "2028-03", "yes") in found
    assert ("photos", "sha256", "", "yes") in found  # missing is an empty cell
    assert ("readings", "metal_celsius", "18.0", "yes") in found
    sections = {row["section"] for row in rows}
    assert sections >= {"materials", "readings", "steps", "clocks", "checks", "notes", "people"}


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx"])
def test_csv_holds_no_formula(records, text):
    records.state_in_bay(3, orders.note(records, "x" + text))
    record = records.record(records.in_bay(3))
    note = record.notes[0].model_copy(update={"text": text})
    told = exchanging.to_csv([record.model_copy(update={"notes": (note,)})])
    values = [row["value"] for row in csv.DictReader(io.StringIO(told))]
    assert f"'{text}" in values and text not in values
