"""Helpers of several test files."""

from pathlib import Path

from assistant.units import Q
from assistant.understanding.requests import _key

AUDIO = Path(__file__).parent.parent / "audio_fixtures"


def audio_path(entry) -> Path:
    """Where a manifest entry's WAV lies."""
    return AUDIO / entry["file"]


def expected_meaning(bench, entry):
    """The manifest's routine and slots in the form of Interpreter.meaning."""
    routine = bench.routines[entry["routine"]]
    slots = {}
    for name, stated in entry["slots"].items():
        slot = routine.slot(name)
        values = stated if isinstance(stated, list) else [stated]
        typed = tuple(_value(bench, slot, value) for value in values)
        slots[name] = _key(typed if slot.many else typed[0])
    return routine.name, frozenset(slots.items())


def _value(bench, slot, stated):
    if slot.kind == "product":
        return bench.interpreter.products[stated]
    if slot.kind == "temperature":
        magnitude, unit = stated.split()
        return Q(float(magnitude), unit)
    if slot.kind in ("length", "duration", "volume", "area", "mass"):
        return Q(stated)
    return stated
