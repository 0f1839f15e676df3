"""The report: everything in it, as text of the pages and of the HTML."""

import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import pypdfium2
import pytest

from assistant.record import orders, telling
from assistant.record.plot import plot, span
from assistant.record.report_html import html, svg
from assistant.record.report_pdf import LACKING, NO_GLYPH, pdf

HEAD = "journal 3fa94c20, 12 events, last hash " + "ab" * 32
ANN = "Ann Quillbexley"


def pages(content: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(content)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


class Text(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found, self.tags = [], []

    def handle_data(self, data):
        self.found.append(data)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))


def text_of(page: str) -> str:
    parser = Text()
    parser.feed(page)
    return " ".join(" ".join(parser.found).split())


def in_both(record) -> list[str]:
    return [" ".join(pages(pdf(record, HEAD))), text_of(html(record, HEAD))]


def squeezed(text: str) -> str:
    """Without spaces: a page breaks lines where it likes."""
    return re.sub(r"\s", "", text)


def test_everything_that_counts_is_in_both_forms(whole):
    wanted = [
        whole.id, "RO-1042", "blue wagon, stall two", ANN, "AB12", "2028-03",
        "Long-open panel adhesive", "One clamp was two inches off the line.", "dry fit was good",
        "Old sealer on the flange", "photos/flange.jpg", "button 5.1 mm", "said first: 66.2 °F",
        "RO-1041", "misread", telling.AMENDING, telling.NO_CERTIFICATE, telling.INVENTED,
        *telling.CAUTIONS, *telling.BASIS, HEAD, "64.4 °F (18.0 °C)", "not known",
        "by ear: words may be wrong", *(e.hash[:16] for e in whole.evidence),
    ]  # fmt: skip
    for text in in_both(whole):
        for words in wanted:
            assert squeezed(words) in squeezed(text), words


def test_missing_facts_are_shown_as_missing(records, shop, long_open):
    shop.start(3, long_open, 20.0)
    record = records.record(records.in_bay(3))
    for text in in_both(record):
        for words in ("Repair order not stated", "Vehicle not stated", "People not stated",
                      "Lot and expiry not stated", "Clamps off not stated",
                      "who did the work"):  # fmt: skip
            assert squeezed(words) in squeezed(text), words


def test_every_page_says_that_it_is_no_certificate(whole):
    found = pages(pdf(whole, HEAD))
    assert len(found) >= 3
    for number, page in enumerate(found, 1):
        assert "No certificate." in page and f"page {number}" in page


def test_the_same_record_gives_the_same_bytes(whole):
    assert pdf(whole, HEAD) == pdf(whole, HEAD)


def test_what_people_wrote_is_text_and_not_markup(records):
    evil = '<script>alert("1")</script> & <b>bold</b> {{ 7*7 }}'
    records.state_in_bay(3, orders.note(records, evil))
    record = records.record(records.in_bay(3))
    page = html(record, HEAD)
    assert "<script" not in page and "&lt;script&gt;" in page and "{{ 7*7 }}" in page
    for text in in_both(record):
        assert squeezed(evil) in squeezed(text)


def test_a_character_that_the_font_lacks_is_told_apart(records):
    records.state_in_bay(3, orders.person(records, "Жанна Šimun 李"))
    record = records.record(records.in_bay(3))
    (on_paper, on_screen) = in_both(record)
    assert "Šimun" in on_paper and f"{NO_GLYPH * 5} Šimun {NO_GLYPH}" in on_paper
    assert LACKING in on_paper
    assert "Жанна Šimun 李" in on_screen


def test_the_html_stands_by_itself(whole):
    parser = Text()
    parser.feed(html(whole, HEAD))
    tags = [tag for tag, _ in parser.tags]
    assert not {"script", "link", "img", "iframe"} & set(tags)
    assert tags.count("svg") == len(whole.materials)
    names = [attrs["id"] for _, attrs in parser.tags if "id" in attrs]
    assert len(names) == len(set(names)) > 0
    for _, attrs in parser.tags:
        for value in attrs.values():
            assert not (value or "").startswith(("http:", "https:", "//")) or "w3.org" in value


def test_a_very_long_note_and_many_readings_fit(records, shop, clock, long_open):
    shop.start(3, long_open, 20.0)
    for n in range(40):
        clock.run(60)
        shop.read_temperature(3, 20.0 + n % 5)
    records.state_in_bay(3, orders.note(records, "word " * 399 + "end"))
    records.state_in_bay(3, orders.photo(records, "x" * 1900, "y" * 500))
    for text in in_both(records.record(records.in_bay(3))):
        assert "wordend" in squeezed(text)


# --- the plot -----------------------------------------------------------------------------


def test_the_plot_is_well_formed_and_has_its_limits(whole):
    for material in whole.materials:
        drawn = svg(whole, material)
        root = ElementTree.fromstring(drawn)
        texts = {(t.text or "").strip() for t in root.iter("{http://www.w3.org/2000/svg}text")}
        assert {"card's highest", "card's lowest", "100 %", "°F", "°C", "work time"} <= texts
        assert root.get("role") == "img"


def test_the_plot_shows_from_the_start_to_what_is_waited_for(whole):
    material = whole.materials[0]
    start, end = span(material)
    assert start == material.start_elapsed
    clamp = next(c for c in material.clocks if c.stage == "clamp")
    assert end > start + clamp.required and end > material.steps[-1].elapsed


def shapes(drawing, kind):
    return [shape for shape in drawing.contents if type(shape).__name__ == kind]


def test_a_curve_ends_at_its_hundred_percent_where_the_clock_says(whole):
    material = whole.materials[0]
    drawing = plot(whole, material)
    start, end = span(material)
    left, width = 46.0, drawing.width - 92.0
    work = next(c for c in material.clocks if c.stage == "work")
    wanted = left + width * work.required / (end - start)
    curves = [line.points for line in shapes(drawing, "PolyLine")]
    ends = [points[-2] for points in curves]
    assert any(x == pytest.approx(wanted, abs=0.5) for x in ends)


def test_a_clock_that_stands_still_is_drawn(shop, records, clock, long_open):
    shop.start(3, long_open, 2.0)
    clock.run(600)
    record = records.record(records.in_bay(3))
    assert "stands still" in text_of(html(record, HEAD))
    assert pdf(record, HEAD).startswith(b"%PDF")
