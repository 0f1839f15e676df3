"""All routines: every file of this folder that is not private holds one.

A new question family is a new file here, its grammar and its test; nothing is listed.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterable
from dataclasses import replace
from importlib import import_module

import assistant.routines as folder
from assistant.declaration import Routine
from assistant.routines._grounds import GROUNDS


def discover() -> tuple[Routine, ...]:
    """Import every routine's file, by name, and return what each exports as ROUTINE.

    Raises TypeError for a file that exports none, and ValueError as ``check`` does.
    """
    found = []
    for module in sorted(m.name for m in pkgutil.iter_modules(folder.__path__)):
        if module.startswith("_") or module == __name__.rpartition(".")[2]:
            continue
        routine = getattr(import_module(f"{folder.__name__}.{module}"), "ROUTINE", None)
        if not isinstance(routine, Routine):
            raise TypeError(f"routines/{module}.py exports no ROUTINE")
        if routine.name != module:
            raise ValueError(f"routines/{module}.py names its routine {routine.name!r}")
        found.append(replace(routine, grounds=routine.grounds or GROUNDS.get(module, "")))
    check(found)
    return tuple(found)


def check(routines: Iterable[Routine]) -> None:
    """Raises ValueError for a name used twice, by routines or by one routine's slots."""
    names: set[str] = set()
    for routine in routines:
        if routine.name in names:
            raise ValueError(f"two routines are called {routine.name!r}")
        names.add(routine.name)
        slots = [slot.name for slot in routine.slots]
        for slot in slots:
            if slots.count(slot) > 1:
                raise ValueError(f"routine {routine.name!r} has two slots {slot!r}")


ROUTINES: tuple[Routine, ...] = discover()
