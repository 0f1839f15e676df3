"""Lists of sentences to speak, and how a grammar's words are written for a synthesiser."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

QUESTION_OPENERS = frozenset((
    "how", "what", "when", "which", "where", "who", "why", "can", "could", "do", "does",
    "did", "is", "are", "will", "would", "should", "may",
))

# single words and pairs of the grammar that a synthesiser reads wrongly in lower case
_PAIRS = {("a", "m"): "AM", ("p", "m"): "PM", ("c", "c"): "CC"}
_WORDS = {"i": "I", "f": "F", "c": "C", "v": "V", "i'm": "I'm", "i've": "I've"}


def spoken_form(words: str) -> str:
    """The words of a grammar as one writes a sentence: "I", "V notch", a closing mark."""
    source, written = words.split(), []
    position = 0
    while position < len(source):
        pair = tuple(source[position : position + 2])
        if pair in _PAIRS:
            written.append(_PAIRS[pair])
            position += 2
            continue
        written.append(_WORDS.get(source[position], source[position]))
        position += 1
    text = " ".join(written)
    mark = "?" if source and source[0] in QUESTION_OPENERS else "."
    return text[:1].upper() + text[1:] + mark


def read_sentences(path: Path) -> list[dict[str, Any]]:
    """Sentences from a file, each at least ``{"words": ...}``; other fields are kept.

    .toml: a list of tables called ``sentence``. .jsonl: one object a line. Anything else:
    one sentence of plain words a line; empty lines and lines starting with # are left out.
    Raises ValueError with the place of a fault.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise ValueError(f"{path}: not a text file in UTF-8") from None
    if path.suffix == ".toml":
        try:
            found = tomllib.loads(text).get("sentence", [])
        except tomllib.TOMLDecodeError as fault:
            raise ValueError(f"{path}: {fault}") from None
        rows = [(f"{path}: sentence {number}", row) for number, row in enumerate(found, 1)]
    else:
        rows = []
        for number, line in enumerate(text.splitlines(), 1):
            line = line.strip()
            if not line or line.startswith("#"):
                continue
            place = f"{path}: line {number}"
            if path.suffix == ".jsonl":
                try:
                    rows.append((place, json.loads(line)))
                except json.JSONDecodeError as fault:
                    raise ValueError(f"{place}: not JSON ({fault})") from None
            else:
                rows.append((place, {"words": line}))
    for place, row in rows:
        words = row.get("words") if isinstance(row, dict) else None
        if not isinstance(words, str) or not words.split():
            raise ValueError(f'{place}: needs "words", the sentence as plain words')
    if not rows:
        raise ValueError(f"{path}: no sentence in it")
    return [row for _, row in rows]
