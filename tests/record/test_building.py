"""What the journal tells of a job, and that nothing is filled in or overwritten."""

import psychrolib
import pytest
from shop_support import independent_end

from assistant.exchange import Refusal
from assistant.record import orders
from assistant.record.curve import clock_of
from assistant.record.findings import last_day
from assistant.record.records import NoSuchRecord, NotStated
from assistant.record.telling import MISSING, lines
from assistant.shop.events import JobStarted

ANN = "Ann Quillbexley"


def check(record, ending):
    (found,) = [c for c in record.checks if c.key.endswith(ending)]
    return found


def test_the_facts_of_a_whole_job(whole):
    assert whole.reference("repair_order") == "RO-1042"
    assert whole.reference("vehicle") == "blue wagon, stall two"
    assert [(p.name, p.role) for p in whole.people] == [(ANN, "technician")]
    adhesive, filler = whole.materials
    assert [(s.mark, s.early) for s in adhesive.steps] == [("closed", False), ("clamps_off", False)]
    (lot,) = whole.lots
    assert (lot.lot, lot.expiry, lot.material, lot.job) == (
        "AB12", "2028-03", "adhesive", adhesive.key,
    )  # fmt: skip
    assert filler.start_elapsed - adhesive.start_elapsed == pytest.approx(900 + 26 * 3600)
    assert [n.text for n in whole.notes] == [f"Old sealer on the flange, {ANN} scraped it."]
    assert whole.photos[0].sha256 is None
    assert whole.closed is None


def test_what_was_found_is_never_told_kinder_than_it_was(shop, records, clock, long_open):
    """29 s too late were told as "within 40 min", "after 40 min", not met; and a wait that was
    broken off half a minute early as if it had been kept."""
    shop.start(2, long_open, (70 - 32) / 1.8)
    clock.run(2400 + 29)
    shop.mark(2, "closed")
    clock.run(7200 - 30 - 2429)
    shop.mark(2, "clamps_off", early=True)
    record = records.record(records.in_bay(2))
    work, clamps = check(record, "/work"), check(record, "/clamp-clamps_off")
    assert work.required == "within 40 min" and work.actual.endswith("after 41 min")
    assert clamps.required == "not before 2 h" and clamps.actual == "after 1 h 59 min"
    assert work.verdict == clamps.verdict == "not met"


def test_what_was_replaced_and_corrected_stays_and_says_so(whole):
    first, second = whole.references[:2]
    assert (first.text, first.replaced_by, first.counts) == ("RO-1041", second.key, False)
    assert (second.replaces, second.reason, second.by) == (first.key, "misread", ANN)
    reading = whole.materials[0].readings[1]
    assert (reading.celsius, reading.was) == (18.0, 19.0)
    assert reading.corrected_by is not None
    struck = [line.text for line in whole.history if not line.counts]
    assert "repair order: RO-1041" in struck
    assert struck.count("closed and clamped (clamps on)") == 1  # undone, and said again
    assert len(whole.history) == len(whole.evidence)


def test_the_clocks_are_those_of_an_independent_integral(whole):
    # scipy's quad and brentq over the card's table (computed)
    for material in whole.materials:
        for stage in material.tables:
            clock = clock_of(material, stage)
            end = independent_end(clock, warmer=stage == "work")
            (told,) = [c for c in material.clocks if c.stage == stage]
            assert clock.end == pytest.approx(end, abs=0.01)
            assert told.required == pytest.approx(end - material.start_elapsed, abs=0.15)


def test_the_dew_point_is_psychrolibs(whole):
    (air,) = whole.air
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = psychrolib.GetTDewPointFromRelHum(21.0, 0.5)  # run here
    assert air.dew_point == pytest.approx(dew, abs=0.01)
    assert air.margin == pytest.approx(17.0 - dew, abs=0.01)
    assert check(whole, "/dew").verdict == "met"


def test_checks(whole):
    adhesive = whole.materials[0]
    assert check(whole, f"{adhesive.key}/work").verdict == "met"
    assert check(whole, f"{adhesive.key}/clamp-clamps_off").verdict == "met"
    assert check(whole, f"{adhesive.key}/sand-sanded").verdict == "not known"
    # 4 times the root of 1 mm is 4 mm (AWS D8.1, from memory); 5.1 passes
    assert check(whole, "/coupon").verdict == "met"
    assert check(whole, "/expiry").verdict == "met"


@pytest.mark.parametrize(
    ("result", "button", "sheet", "verdict", "required"),
    [
        ("passed", 5.0, None, "met", "passed"),
        ("passed", None, None, "met", "passed"),
        # 4 times the root of 0.7 mm is 3.347 mm, told as 3.35 (AWS D8.1, from memory; computed)
        ("passed", 3.35, 0.7, "met", "button of 3.35 mm or more (4·√t, t = 0.7 mm)"),
        ("passed", 3.34, 0.7, "not met", "button of 3.35 mm or more (4·√t, t = 0.7 mm)"),
        ("passed", None, 0.7, "not known", "button of 3.35 mm or more (4·√t, t = 0.7 mm)"),
        ("failed", None, 0.7, "not met", "button of 3.35 mm or more (4·√t, t = 0.7 mm)"),
        ("failed", 5.0, None, "not met", "passed"),
    ],
)
def test_a_coupon_is_not_met_by_what_was_not_said(
    records, result, button, sheet, verdict, required
):
    records.state_in_bay(2, orders.coupon(records, result, button, sheet))
    record = records.record(records.in_bay(2))
    found = check(record, "/coupon")
    assert (found.verdict, found.required) == (verdict, required)
    (shown,) = (line for line in lines(record) if line.endswith(f"[{record.coupons[0].key}]"))
    assert ("button" in shown, "sheet" in shown) == (button is not None, sheet is not None)


def test_deviations_and_who_accepted_them(whole):
    (deviation,) = whole.deviations
    assert not deviation.found and deviation.text.startswith("One clamp")
    (accepted,) = deviation.accepted
    assert (accepted.by, accepted.reason) == (ANN, "dry fit was good")


def test_missing_facts_are_missing(whole):
    assert "lot and expiry of the filler (Light filler)" in whole.missing or any(
        line.startswith("lot and expiry of the filler") for line in whole.missing
    )
    assert not any("repair order" in line for line in whole.missing)
    assert not any("acceptance" in line for line in whole.missing)


def test_an_empty_record_misses_everything_and_says_so(records):
    records.begin(3)
    record = records.record(records.in_bay(3))
    assert set(record.missing) >= {"repair order", "vehicle", "who did the work"}
    text = "\n".join(lines(record))
    assert f"Repair order: {MISSING}" in text and f"People: {MISSING}" in text
    assert record.empty


def test_early_clamps_and_a_late_closing_are_deviations(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)
    clock.run(1.5 * 3600)
    shop.mark(4, "closed")
    shop.mark(4, "clamps_off", early=True)
    record = records.record(records.in_bay(4))
    assert check(record, "/work").verdict == "not met"
    assert check(record, "/clamp-clamps_off").verdict == "not met"
    found = [d for d in record.deviations if d.found]
    assert len(found) == 2 and not any(d.accepted for d in found)
    records.state(records.in_bay(4), orders.acceptance(records, [found[0].key], "Bo"))
    again = records.record(records.in_bay(4))
    assert [bool(d.accepted) for d in again.deviations] == [True, False]


def test_what_was_told_as_early_stays_so_whatever_is_corrected_later(
    shop, records, clock, long_open
):
    shop.start(4, long_open, 15.0)
    clock.run(60)
    shop.mark(4, "closed")
    clock.run(2 * 3600)
    shop.mark(4, "clamps_off", early=True)
    shop.correct(4, celsius=30.0)
    found = check(records.record(records.in_bay(4)), "/clamp-clamps_off")
    assert found.verdict == "not met"


def test_metal_too_near_the_dew_point(records):
    # 21 °C and 50 %: dew point 10.18 °C by psychrolib 2.5.0 (reproduced); 3 K is enough
    for metal, verdict in ((13.1, "not met"), (13.3, "met"), (9.0, "not met")):
        records.begin(3)
        records.state_in_bay(3, orders.air(records, 21.0, 0.5, metal))
        record = records.record(records.in_bay(3))
        assert check(record, "/dew").verdict == verdict, metal


def test_a_reading_that_was_undone_moves_no_clock(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)
    clock.run(60)
    shop.read_temperature(4, 12.0)
    shop.undo(4)
    record = records.record(records.in_bay(4))
    (material,) = record.materials
    assert [r.celsius for r in material.readings] == [20.0]
    assert [line.counts for line in record.history] == [True, False, True]


def test_metal_past_the_cards_limits(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)
    clock.run(600)
    shop.read_temperature(4, 45.0)
    clock.run(60)
    shop.mark(4, "closed")
    record = records.record(records.in_bay(4))
    assert check(record, "/limits").verdict == "not met"
    assert check(record, "/work").verdict == "not known"


def test_a_later_colder_reading_is_told(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)
    clock.run(60)
    shop.mark(4, "closed")
    end = records.record(records.in_bay(4)).materials[0].clocks[1].required
    clock.run(end)
    shop.mark(4, "clamps_off")
    assert check(records.record(records.in_bay(4)), "/clamp-clamps_off").verdict == "met"
    clock.run(60)
    shop.read_temperature(4, 12.0)
    found = check(records.record(records.in_bay(4)), "/clamp-clamps_off")
    assert found.verdict == "not met" and "a later one was colder" in found.actual


@pytest.mark.parametrize(
    ("expiry", "last"), [("2027-03-31", "2027-03-31"), ("2027-03", "2027-02-28")]
)
def test_a_month_without_a_day_ends_before_its_first(expiry, last):
    # common practice, no source: the safe side
    assert last_day(expiry).isoformat() == last


def test_a_lot_past_its_day_is_a_deviation(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)  # on 2027-03-01
    records.state_in_bay(4, orders.lot(records, "A1", "2027-03"))
    record = records.record(records.in_bay(4))
    assert check(record, "/expiry").verdict == "not met"


def test_a_temperature_is_amended_afterwards_and_the_clocks_follow(whole, records, shop):
    material = whole.materials[0]
    key = material.readings[0].key
    records.state(records.in_bay(2), orders.temperature(records, key, 12.0))
    again = records.record(records.in_bay(2)).materials[0]
    assert (again.readings[0].celsius, again.readings[0].was) == (12.0, 16.7)
    assert again.clocks[1].required > material.clocks[1].required
    events = [e for e in records.journal.events() if isinstance(e.payload, JobStarted)]
    assert events[0].payload.celsius == 16.7  # what was said stands as it was said


def test_a_metal_reading_that_is_too_old_gives_no_margin(shop, records, clock, long_open):
    shop.start(4, long_open, 20.0)
    clock.run(1801)
    records.state_in_bay(4, orders.air(records, 21.0, 0.5))
    (air,) = records.record(records.in_bay(4)).air
    assert air.metal is None and air.margin is None


@pytest.mark.parametrize(
    ("order", "told"),
    [
        (lambda r: orders.lot(r, "A1", "2027-13"), "no date"),
        (lambda r: orders.lot(r, "A1?", None), "no lot"),
        (lambda r: orders.lot(r, "", None), "no lot"),
        (lambda r: orders.air(r, 21.0, 1.5), "1 to 100 percent"),
        (lambda r: orders.air(r, 70.0, 0.5), "0 to 50 °C"),
        (lambda r: orders.air(r, 21.0, 0.5, 900.0), "no temperature of a panel"),
        (lambda r: orders.coupon(r, "passed", -1.0), "no button"),
        (lambda r: orders.note(r, "  "), "no text"),
        (lambda r: orders.note(r, "x" * 2001), "no text"),
        (lambda r: orders.withdrawal(r, "#999"), "No statement"),
        (lambda r: orders.acceptance(r, ["#999"], "Bo"), "no deviation"),
        (lambda r: orders.acceptance(r, None, "Bo"), "no deviation"),
        (lambda r: orders.temperature(r, "#1", 20.0), "no temperature that was read"),
    ],
)
def test_what_does_not_fit_is_refused_and_not_written(records, order, told):
    records.begin(3)
    with pytest.raises(Refusal, match=told) as refusal:
        records.state(records.in_bay(3), order(records))
    assert "\n" not in str(refusal.value)
    assert records.journal.last_id() == 1


def test_a_withdrawn_statement_cannot_be_withdrawn_again(records):
    records.state_in_bay(3, orders.note(records, "one"))
    records.state_in_bay(3, orders.withdrawal(records, "#2"))
    with pytest.raises(NotStated, match="before"):
        records.state_in_bay(3, orders.withdrawal(records, "#2"))


def test_two_at_once_state_in_one_record(records, tmp_path, clock):
    """The record that another program has just begun is found under the lock."""
    from assistant.record.records import Records
    from assistant.shop.journal import Journal

    other = Records(Journal(records.journal.folder, clock), "text")
    records.state_in_bay(3, orders.note(records, "one"))
    told = other.state_in_bay(3, orders.note(other, "two"))
    assert not told.began and len(records.record(records.in_bay(3)).notes) == 2


def test_finding(whole, records):
    for name in (whole.id, whole.id[:8], "ro-1042", "Blue wagon, stall two", "bay 2", "BAY2"):
        assert records.find(name).number == 1
    assert records.find("ro-1041").number == 1, "what was replaced"
    with pytest.raises(NoSuchRecord, match="No record is called"):
        records.find("RO-104")
    with pytest.raises(NoSuchRecord, match="no record for bay 9"):
        records.find("bay 9")
    records.begin(5)
    records.state_in_bay(5, orders.reference(records, "repair_order", "RO-1042"))
    with pytest.raises(NoSuchRecord, match="2 records are called"):
        records.find("RO-1042")
