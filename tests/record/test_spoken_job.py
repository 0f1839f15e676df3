"""An invented job said aloud, heard by the real recogniser, from start to report."""

from itertools import pairwise

import pypdfium2
import pytest

from assistant.record.report_html import html
from assistant.record.report_pdf import pdf
from assistant.shop.journal import Journal
from audio_fixtures import demo_job


@pytest.fixture(scope="module")
def told(bench, tmp_path_factory):
    """What was said and answered, and the folder of the journal."""
    folder = tmp_path_factory.mktemp("demo")
    return list(demo_job.talk(folder, bench.recogniser)), folder


def test_every_line_is_answered(told):
    exchanges, _ = told
    assert [one.said for one in exchanges if one.kind not in ("answer", "asks back")] == []
    assert exchanges[-1].kind == "answer"


def test_what_is_spelled_is_read_back_and_confirmed(told):
    exchanges, _ = told
    for one, after in pairwise(exchanges):
        if one.said.startswith(("write down", "add to", "accept")):
            assert one.kind == "asks back"
            assert after.kind in ("answer", "asks back")


def test_the_record_holds_what_was_said(told):
    record, _ = demo_job.document(told[1])
    assert record.reference("repair_order") == "1042"
    assert record.reference("vehicle") == "B73"
    assert [(p.name, p.role) for p in record.people] == [("ANN", "technician")]
    assert [(lot.lot, lot.expiry) for lot in record.lots] == [("AB12", "2028-03")]
    (air,) = record.air
    assert (air.humidity, air.metal) == (0.5, pytest.approx(17.222, abs=0.001))
    (adhesive,) = record.materials
    assert adhesive.product == "long-open"
    assert [(s.mark, s.early) for s in adhesive.steps] == [("closed", False), ("clamps_off", True)]
    assert [(round(r.celsius, 1), r.was and round(r.was, 1)) for r in adhesive.readings] == [
        (16.7, None), (15.0, 14.4), (20.0, None),
    ]  # fmt: skip
    (note,) = record.notes
    assert note.heard and "flange had old sealer" in note.text
    (coupon,) = record.coupons
    assert (coupon.result, coupon.button) == ("passed", 5.0)
    (deviation,) = record.deviations
    assert deviation.found and [one.by for one in deviation.accepted] == ["BO"]
    assert record.missing == ()
    journal = Journal(told[1])
    assert journal.verify() == len(record.evidence)


def test_and_the_report_shows_it(told):
    record, head = demo_job.document(told[1])
    pages = pypdfium2.PdfDocument(pdf(record, head))
    text = " ".join(page.get_textpage().get_text_range() for page in pages)
    for words in ("1042", "B73", "ANN (technician)", "AB12", "NOT MET", "accepted by BO"):
        assert words in text and words in html(record, head)
    # the page is drawn: neither blank nor black
    picture = pages[0].render(scale=0.5).to_pil().convert("L")
    dark = sum(picture.histogram()[:128]) / (picture.width * picture.height)
    assert 0.01 < dark < 0.25
