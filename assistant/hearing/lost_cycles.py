"""Python's search for lost cycles, kept out of the time in which somebody waits.

Walking a graph makes many objects that stay, which sets the search off, and it would look
through all of them before the answer comes. While something is heard it is put off; who calls
``Recogniser.hear`` gives it its time afterwards, when the answer has been given:

    heard = recogniser.hear(...)
    answer(heard)
    lost_cycles.search_if_due()
"""

from __future__ import annotations

import ctypes
import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

HEARINGS_A_SEARCH = 50
"""Hearings from one search to the next; a graph in use outgrows what is kept of it about as
often."""
HEARINGS_AT_MOST = 500
"""After so many the search is made within a hearing: else a program that never gives it its time
would keep every graph that it drops."""


class _Since:
    """Hearings since the last search; there is one collector in a process."""

    hearings = 0


@contextmanager
def put_off() -> Iterator[None]:
    """No search for lost cycles meanwhile.

    Freezing and thawing puts the new objects among the old ones, which are looked through seldom:
    else the search would come before the answer after all. That also sets back Python's count to
    the next search through the old ones, so that it would never come while hearings follow one
    another, and graphs that are dropped hold cycles. So hearings are counted here.
    """
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.freeze()
            gc.unfreeze()
            gc.enable()
            _Since.hearings += 1
            if _Since.hearings >= HEARINGS_AT_MOST:
                _search()


def search_if_due() -> bool:
    """Search for lost cycles if HEARINGS_A_SEARCH have gone by; whether that was done.

    Call it where nobody waits: it takes up to some tenths of a second.
    """
    if _Since.hearings < HEARINGS_A_SEARCH:
        return False
    _search()
    return True


def soon() -> None:
    """Much was dropped: the next ``search_if_due`` searches."""
    _Since.hearings = max(_Since.hearings, HEARINGS_A_SEARCH)


def _search() -> None:
    gc.collect()
    give_back()
    _Since.hearings = 0


def give_back() -> None:
    """Hand freed memory to the system, where it is the GNU library that keeps it (malloc_trim(3)):
    what a search frees lies scattered between what stays, and some 40 MB were kept for good."""
    trim = _malloc_trim()
    if trim is not None:
        trim(0)


@cache
def _malloc_trim():
    try:
        return ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError, TypeError):  # another library or system
        return None
