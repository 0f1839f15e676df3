"""The folder of recordings: its manifest, and what each recording means.

An entry names its ``file``, ``words``, ``voice`` and ``group``, and its meaning in one of two
ways: ``routine`` and ``slots`` (values as pint reads them), as people write them, or ``rule``
and ``tags``, as a grammar gives them. With ``grammar``, a JSGF file beside the manifest, it is
of another domain than this program's own.
"""

from __future__ import annotations

import json
from collections.abc import Hashable, Mapping
from pathlib import Path
from typing import Any

from assistant.bench import Bench
from assistant.exchange import Reading, Utterance
from assistant.hearing.sources import SoundError, read_wav
from assistant.understanding.quantities import clock, ratio
from assistant.understanding.requests import QUANTITY_KINDS, comparable
from assistant.units import Q

MAIN_GROUPS = ("neural", "flite")
"""Voices that count; the others are reported apart: espeak-ng is robotic, and kept-out voices
have a line of their own."""


class ManifestError(ValueError):
    """The folder of spoken questions cannot be used; one line."""


def read_manifest(folder: Path) -> list[dict[str, Any]]:
    """The entries of ``folder/manifest.json``; raises ManifestError."""
    path = folder / "manifest.json"
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise ManifestError(f"{path} cannot be read: name a folder of spoken questions") from None
    except ValueError:
        raise ManifestError(f"{path} is not JSON") from None
    entries = data.get("files") if isinstance(data, dict) else data
    if not entries:
        raise ManifestError(f"{path} lists no files")
    for number, entry in enumerate(entries, start=1):
        lacking = [name for name in ("file", "words", "voice", "group") if name not in entry]
        if lacking or not ("routine" in entry or "rule" in entry):
            what = ", ".join(lacking) or "routine or rule"
            raise ManifestError(f"{path}: entry {number} lacks {what}")
    return list(entries)


def read_recording(folder: Path, entry: Mapping[str, Any]) -> Utterance:
    """The sound of an entry; raises ManifestError."""
    try:
        return read_wav(folder / entry["file"])
    except SoundError as trouble:
        raise ManifestError(str(trouble)) from None


def stated_reading(entry: Mapping[str, Any]) -> Reading:
    """The reading of an entry that states its rule and tags."""
    tags = tuple((str(name), str(value)) for name, value in entry.get("tags", ()))
    return Reading(entry["words"], tags, entry["rule"])


def expected_meaning(bench: Bench, entry: Mapping[str, Any]) -> Hashable:
    """What an entry of this trade means, in the form of Interpreter.meaning."""
    if "routine" not in entry:
        return bench.interpreter.meaning(stated_reading(entry))
    routine = bench.routines[entry["routine"]]
    slots = {}
    for name, stated in entry["slots"].items():
        slot = routine.slot(name)
        values = stated if isinstance(stated, list) else [stated]
        typed = tuple(_value(bench, slot.kind, value) for value in values)
        slots[name] = comparable(typed if slot.many else typed[0])
    return routine.name, frozenset(slots.items())


def _value(bench: Bench, kind: str, stated: Any) -> Any:
    if kind == "product":
        return bench.interpreter.products.get(stated, stated)
    if kind in ("temperature", "temperature_difference"):
        magnitude, unit = stated.split()
        return Q(float(magnitude), unit)
    if kind in QUANTITY_KINDS:
        return Q(stated)
    if kind == "clock":
        return clock(stated)
    if kind == "ratio":
        return ratio(stated)
    return stated
