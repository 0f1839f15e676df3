"""One voice at a time: programs of this machine take turns at the loudspeaker.

A program holds the turn while it speaks, and may hold it while a person speaks, so that
nobody is talked over. The system gives the turn back when a program dies.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from filelock import FileLock, Timeout

LONGEST_WAIT = 20.0
"""Seconds. Longer than anything that is said; after it, two voices are better than silence."""

POLL_SECONDS = 0.05


def turn_file() -> Path:
    """One for each user: another user's lock file could not be opened."""
    user = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    return Path(tempfile.gettempdir()) / f"clampcall-voice-{user}.lock"


@contextlib.contextmanager
def turn(wait: float = LONGEST_WAIT) -> Iterator[bool]:
    """Wait for the turn and hold it. Gives whether it is held; never raises for that."""
    lock = FileLock(turn_file(), thread_local=False)
    try:
        lock.acquire(timeout=wait, poll_interval=POLL_SECONDS)
    except (Timeout, OSError):
        yield False
        return
    try:
        yield True
    finally:
        lock.release()


def taken_by_another() -> bool:
    """Whether another program has the turn now. Do not ask while holding it oneself."""
    lock = FileLock(turn_file(), thread_local=False)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    except OSError:
        return False
    lock.release()
    return False
