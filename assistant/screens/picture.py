"""A screen as an SVG picture: two colours, no window around it, no font that must be fetched."""

from __future__ import annotations

import re

from textual.app import App

FONTS = "DejaVu Sans Mono, Menlo, Consolas, monospace"
"""Fonts whose block characters meet without gaps; whichever the reader has."""


def picture(app: App) -> str:
    """What stands on the screen of a running app, as SVG."""
    drawn = app.export_screenshot()
    drawn = re.sub(r"<!--.*?-->", "", drawn, flags=re.DOTALL)
    drawn = re.sub(r"@font-face \{.*?\n    \}", "", drawn, flags=re.DOTALL)
    drawn = drawn.replace("Fira Code, monospace", FONTS)
    drawn = _without_window(drawn)
    return "\n".join(line.rstrip() for line in drawn.splitlines() if line.strip()) + "\n"


def _without_window(drawn: str) -> str:
    """The terminal's content alone: no frame, title or buttons, which belong to no program."""
    clip = re.search(
        r'<clipPath id="[\w-]+-clip-terminal">\s*<rect x="0" y="0" width="([\d.]+)" '
        r'height="([\d.]+)"',
        drawn,
    )
    if clip is None:
        return drawn
    width, height = float(clip.group(1)) + 16, float(clip.group(2)) + 16
    drawn = re.sub(
        r'viewBox="0 0 [\d.]+ [\d.]+"', f'viewBox="0 0 {width:g} {height:g}"', drawn, count=1
    )
    drawn = re.sub(
        r'<rect fill="([^"]+)" stroke="[^"]*" stroke-width="1" x="1" y="1" .*?</g>\s*(?=<g )',
        lambda found: f'<rect fill="{found.group(1)}" width="{width:g}" height="{height:g}"/>\n',
        drawn,
        count=1,
        flags=re.DOTALL,
    )
    return re.sub(
        r'<g transform="translate\([\d.]+, [\d.]+\)" clip-path=',
        '<g transform="translate(8, 8)" clip-path=',
        drawn,
        count=1,
    )
