"""The one pint registry. Every quantity in the program is made from it.

Temperatures are offset units: write ``Q(55, "degF")`` for a reading and
``Q(18, "delta_degF")`` for a difference; pint refuses to mix them up.

Reading pint's thousand definitions takes longer than all else at the start (0.15 s of 0.6), so
pint's own cache of them is kept among the user's cached files, one for each release of pint and
Python. Where that cannot be written or read, the definitions are read as they are.
"""

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pint
import platformdirs

CACHE_VARIABLE = "CLAMPCALL_CACHE"
"""Names another folder for the cache."""


def _cache_folder() -> Path:
    named = os.environ.get(CACHE_VARIABLE)
    folder = Path(named) if named else Path(platformdirs.user_cache_dir("clampcall"))
    return folder / f"pint-{pint.__version__}-{sys.implementation.cache_tag}"


def _registry(cache: Path | None) -> pint.UnitRegistry:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=cache)


def made_registry(cache: Path) -> pint.UnitRegistry:
    """The registry, read from the cache; from the definitions, and into the cache, where there is
    none yet or it is damaged."""
    try:
        if cache.is_dir():
            return _registry(cache)
    except Exception:  # a damaged pickle may raise anything
        shutil.rmtree(cache, ignore_errors=True)
    made = None
    try:
        cache.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=cache.parent) as folder:
            begun = Path(folder) / cache.name
            made = _registry(begun)
            begun.rename(cache)  # whole or not at all: another program may be starting too
    except OSError:  # no room, no right to write, or the other one was first
        pass
    return made or _registry(None)


registry = made_registry(_cache_folder())
registry.formatter.default_format = "~P"

Quantity = registry.Quantity
"""The class, for annotations and ``isinstance``."""

Q = registry.Quantity
"""Short constructor: ``Q(40, "inch")``."""

DEGREES = {"us": "degF", "metric": "degC"}
"""The scale of a temperature that is said without one, by the shop's units."""
