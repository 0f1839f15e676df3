"""The report as PDF, with reportlab and the font that it brings."""

from __future__ import annotations

import io
from xml.sax.saxutils import escape

from reportlab import rl_config
from reportlab.lib.colors import Color
from reportlab.lib.pagesizes import letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import (
    Flowable,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
)
from reportlab.platypus import Table as PdfTable

from assistant.record.document import JobRecord
from assistant.record.plot import plot
from assistant.record.report import Report, Section, Table, report

MARGIN = 46.0
"""Points."""
FRAME_PADDING = 6.0
"""Of reportlab's own frame, in which text stands; tables are made as wide as the text."""
FONT, BOLD = "Vera", "VeraBd"
PALE = Color(0.93, 0.93, 0.93)
GRAY = Color(0.6, 0.6, 0.6)

NO_GLYPH = "?"
"""Stands for a character that the font does not have."""
LACKING = (
    f"Some characters are not in the font of this page and are shown as {NO_GLYPH}: the HTML "
    "report has them."
)

_BODY = ParagraphStyle("body", fontName=FONT, fontSize=8.5, leading=11.5)
_SMALL = ParagraphStyle("small", parent=_BODY, fontSize=7.2, leading=9.4)
_NAME = ParagraphStyle("name", parent=_BODY, fontName=BOLD, fontSize=8, leading=11)
_HEAD = ParagraphStyle("head", parent=_SMALL, fontName=BOLD)
_TITLE = ParagraphStyle("title", parent=_BODY, fontName=BOLD, fontSize=15, leading=19)
_SECTION = ParagraphStyle(
    "section",
    parent=_BODY,
    fontName=BOLD,
    fontSize=10.5,
    leading=14,
    spaceBefore=11,
    spaceAfter=4,
    keepWithNext=1,  # a heading never stands alone at the foot of a page
)


def fonts() -> None:
    """Register the fonts once."""
    known = pdfmetrics.getRegisteredFontNames()
    for name, file in ((FONT, "Vera.ttf"), (BOLD, "VeraBd.ttf")):
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, file))


def shown(text: str) -> str:
    """Text for a paragraph: its signs escaped, what the font lacks replaced."""
    text = text.replace(" °", "\u00a0°")  # a figure and its unit stay together
    return escape("".join(c if _has(c) else NO_GLYPH for c in text))


def _has(character: str) -> bool:
    return character.isspace() or ord(character) in pdfmetrics.getFont(FONT).face.charToGlyph


def pdf(record: JobRecord, head: str) -> bytes:
    """The report of a record. head: number and hash of the journal's last event."""
    fonts()
    told = report(record, head)
    out = io.BytesIO()
    page = SimpleDocTemplate(
        out,
        pagesize=letter,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN + 10,
        title=told.title,
        author="clampcall",
        subject="Job record; no certificate",
        invariant=True,
    )
    width = page.width - 2 * FRAME_PADDING
    story: list[Flowable] = [Paragraph(shown(told.title), _TITLE), Spacer(1, 4)]
    cautions = told.cautions
    if not all(map(_has, record.model_dump_json())):
        cautions += (LACKING,)
    story.append(_box([Paragraph(shown(line), _SMALL) for line in cautions], width))
    for section in told.sections:
        story += _section(told, section, width)
    footer = _Footer(told.head)
    page.build(story, onFirstPage=footer, onLaterPages=footer)
    return out.getvalue()


class _Footer:
    """On every page: which journal it is from, that it is no certificate, and the page."""

    def __init__(self, head: str):
        self._head = head

    def __call__(self, canvas, page) -> None:
        canvas.setFont(FONT, 6)
        canvas.drawString(MARGIN, 30, "No certificate. The vehicle maker's procedure and the "
                          "data sheet come first.")  # fmt: skip
        canvas.drawString(MARGIN, 21, self._head)
        canvas.drawRightString(page.pagesize[0] - MARGIN, 30, f"page {canvas.getPageNumber()}")


def _section(told: Report, section: Section, width: float) -> list[Flowable]:
    heading = Paragraph(shown(section.title), _SECTION)
    parts: list[Flowable] = [Paragraph(shown(line), _BODY) for line in section.text]
    if section.plot_of is not None:
        # before the facts: a table may go on on the next page, a plot may not
        parts += [plot(told.record, section.plot_of), Spacer(1, 6)]
    if section.facts:
        rows = [(Paragraph(shown(n), _NAME), Paragraph(shown(v), _BODY)) for n, v in section.facts]
        parts.append(
            PdfTable(rows, colWidths=[width * 0.24, width * 0.76], splitInRow=1, style=[
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("TOPPADDING", (0, 0), (-1, -1), 1.2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.2),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ])
        )  # fmt: skip
    if section.table is not None:
        parts.append(_table(section.table, width))
    return [heading, *parts]


def _table(table: Table, width: float) -> PdfTable:
    head = [Paragraph(shown(text), _HEAD) for text in table.head]
    rows = [[Paragraph(shown(text), _SMALL) for text in row] for row in table.rows]
    return PdfTable(
        [head, *rows],
        colWidths=[width * share for share in table.widths],
        repeatRows=1,
        splitInRow=1,
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("BACKGROUND", (0, 0), (-1, 0), PALE),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, GRAY),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ],
    )


def _box(parts: list[Flowable], width: float) -> PdfTable:
    return PdfTable(
        [[part] for part in parts],
        colWidths=[width],
        style=[
            ("BOX", (0, 0), (-1, -1), 0.8, GRAY),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ],
    )


# the same record gives the same bytes, but for what is in it
rl_config.invariant = 1
