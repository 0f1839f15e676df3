"""The report as one HTML file: no script, nothing fetched, the plots inside as SVG."""

from __future__ import annotations

import re
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup
from reportlab.graphics import renderSVG

from assistant.record.document import JobRecord, MaterialUse
from assistant.record.plot import plot
from assistant.record.report import report
from assistant.record.report_pdf import fonts
from assistant.record.wording import MATERIAL_NAME


def html(record: JobRecord, head: str) -> str:
    """The report of a record. head: number and hash of the journal's last event."""
    told = report(record, head)

    def drawn(material: MaterialUse) -> Markup:
        return svg(record, material)

    return _template().render(report=told, plot=drawn)


def svg(record: JobRecord, material: MaterialUse) -> Markup:
    """The plot of a material as an element for a page."""
    fonts()
    text = renderSVG.drawToString(plot(record, material))
    text = re.sub(r"^.*?(?=<svg)", "", text, flags=re.DOTALL)
    text = re.sub(r"<(title|desc)>\.\.\.</\1>\s*", "", text)
    for part in ("clip", "group"):  # a page with two plots may have no name twice
        mine = f"{part}-{material.key}"
        text = text.replace(f'id="{part}"', f'id="{mine}"').replace(
            f"url(#{part})", f"url(#{mine})"
        )
    name = MATERIAL_NAME[material.material].lower()
    label = f"Temperature and share done of the {name} over time"
    text = text.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)
    return Markup(text.replace("font-family: Vera", "font-family: sans-serif"))


@cache
def _template() -> Template:
    loader = PackageLoader("assistant.record", "templates")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined,
                              trim_blocks=True, lstrip_blocks=True)  # fmt: skip
    return environment.get_template("report.html")
