"""Both views as pictures at three sizes, against the ones that are kept; a frozen clock, an
invented day. The README shows the same files.

After a change that is meant: CLAMPCALL_DRAW=1 pytest tests/screens/test_pictures.py, and look at
each of them."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from assistant.screens.demo import many_bays
from assistant.screens.drawing import draw

KEPT = Path(__file__).parent / "pictures"
SIZES = ((80, 24), (120, 40), (200, 60))


def nothing_runs(shop, clock) -> None:
    clock.run(3600.0)


CASES = [
    *(
        (view, size, None, f"{view}-{size[0]}x{size[1]}")
        for view in ("wall", "bench")
        for size in SIZES
    ),
    ("wall", (80, 24), nothing_runs, "wall-empty-80x24"),
    ("wall", (80, 24), many_bays, "wall-60-bays-80x24"),
    ("wall", (200, 60), many_bays, "wall-60-bays-200x60"),
]


@pytest.mark.parametrize(("view", "size", "happens", "name"), CASES, ids=[c[3] for c in CASES])
def test_picture(screen_bench, tmp_path, view, size, happens, name):
    more = {} if happens is None else {"happens": happens}
    drawn = draw(screen_bench, view, size, **more)
    kept = KEPT / f"{name}.svg"
    if os.environ.get("CLAMPCALL_DRAW"):
        KEPT.mkdir(exist_ok=True)
        kept.write_text(drawn, encoding="utf-8")
    if drawn != kept.read_text(encoding="utf-8"):
        other = tmp_path / f"{name}.svg"
        other.write_text(drawn, encoding="utf-8")
        raise AssertionError(f"the picture has changed: compare {other} with {kept.name}")


def texts(svg: str) -> list[str]:
    return [
        text.replace("&#160;", " ").replace("&amp;", "&")
        for text in re.findall(r"<text[^>]*>(.*?)</text>", svg)
    ]


@pytest.mark.parametrize("name", [case[3] for case in CASES])
def test_there_is_no_colour_and_nothing_to_fetch(name):
    """Two shades, and a third for where one types: monochrome."""
    svg = (KEPT / f"{name}.svg").read_text(encoding="utf-8")
    shades = {tuple(re.findall("..", found)) for found in re.findall(r"#([0-9a-f]{6})\b", svg)}
    for red, green, blue in shades:
        parts = [int(part, 16) for part in (red, green, blue)]
        assert max(parts) - min(parts) <= 12, f"#{red}{green}{blue} is a colour"
    assert len(shades) <= 3
    assert "url(http" not in svg and "https://" not in svg


def test_what_is_set_off_is_also_said_in_words():
    svg = (KEPT / "wall-120x40.svg").read_text(encoding="utf-8")
    said = " ".join(texts(svg))
    for words in ("LATE", "WORK TIME OVER", "BEAD STANDS STILL", "MAY BE SANDED", "since 9:53"):
        assert words in said
    assert "invented" in said, "a demonstration says that it is one"
