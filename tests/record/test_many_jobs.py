"""Five thousand jobs: list, search and one report. Prints how long they take."""

import time

import pytest

from assistant.record.records import Records
from assistant.record.report_html import html
from assistant.record.report_pdf import pdf
from assistant.shop import job_events as job
from assistant.shop.events import StageMarked, TemperatureRead
from assistant.shop.journal import Journal
from assistant.shop.orders import job_started

JOBS = 5_000
AT_ONCE = 50
"""Jobs written in one step; it is reading that is measured."""
MOST_SECONDS = {"list from the kept fold": 5.0, "search": 5.0, "one report": 5.0}
"""On a quiet machine a tenth of it; a busy one is no failure."""


def write_jobs(journal, clock, card, count) -> None:
    done = 0
    while done < count:
        number, payloads = journal.last_id(), []
        for n in range(done, done + AT_ONCE):
            bay = n % 60 + 1
            record = number + len(payloads) + 1
            begun = record + 5
            payloads += [
                job.RecordBegun(bay=bay, source="voice"),
                job.ReferenceStated(
                    record=record, what="repair_order", text=f"RO-{n}", source="voice"
                ),
                job.ReferenceStated(record=record, what="vehicle", text=f"car {n}", source="voice"),
                job.PersonNamed(record=record, name=f"Person {n % 40}", source="voice"),
                job.AirRead(record=record, celsius=21.0, humidity=0.5, metal=18.0, source="voice"),
                job_started(bay, card, 18.0, "voice", 0.0),
                job.LotStated(record=record, lot=f"L{n % 300}", expiry="2028-03", job=begun,
                              material="adhesive", source="voice"),
                StageMarked(bay=bay, job=begun, mark="closed", source="voice"),
                TemperatureRead(bay=bay, celsius=19.0, source="voice"),
                StageMarked(bay=bay, job=begun, mark="clamps_off", early=True, source="voice"),
                job.NoteTaken(record=record, text=f"note of job {n}, flange dry", source="voice"),
                StageMarked(bay=bay, job=begun, mark="done", early=True, source="voice"),
            ]  # fmt: skip
        clock.run(1800)
        journal.append(*payloads)
        done += AT_ONCE


@pytest.mark.long
def test_five_thousand_jobs(journal, clock, long_open, capsys):
    write_jobs(journal, clock, long_open, JOBS)
    taken = {}

    def timed(name, act):
        begun = time.perf_counter()
        found = act()
        taken[name] = time.perf_counter() - begun
        return found

    first = Records(Journal(journal.folder, clock), "text")
    assert len(timed("list for the first time", first.summaries)) == JOBS
    again = Records(Journal(journal.folder, clock), "text")
    assert timed("list from the kept fold", again.summaries) == first.summaries()
    (found,) = timed("search", lambda: again.search("RO-4321 flange"))
    assert found.repair_order == "RO-4321"

    def report():
        record = again.record(again.find("RO-4321"))
        return record, pdf(record, again.journal_head()), html(record, again.journal_head())

    record, paper, _ = timed("one report", report)
    assert paper.startswith(b"%PDF") and len(record.evidence) == 12
    timed("verify", journal.verify)
    with capsys.disabled():
        size = sum(path.stat().st_size for path in journal.folder.iterdir()) / 1e6
        print(f"\n{JOBS} jobs, {journal.last_id()} events, {size:.0f} MB")
        for name, seconds in taken.items():
            print(f"  {name}: {seconds:.2f} s")
    for name, most in MOST_SECONDS.items():
        assert taken[name] < most, taken
