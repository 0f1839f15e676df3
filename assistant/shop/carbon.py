"""The carbon copy: every event once more, as a line of text beside the database.

A database can lose its last page to a bad disk. The copy is written and on the disk before
an event is acknowledged, so that what the one has lost the other still holds.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from assistant.shop.chain import Row, from_line, to_line

TAIL_BYTES = 64 * 1024
"""Where the last line is looked for; an event is far shorter."""


class Tail(NamedTuple):
    """How the copy ends. last: its last whole line, None if there is none. size: bytes up to
    there. torn: there is something behind it that is no whole line."""

    last: Row | None
    size: int
    torn: bool


class CarbonCopy:
    """The file of lines. Only the holder of the journal's lock may write to it."""

    def __init__(self, path: Path):
        self.path = path

    def tail(self) -> Tail:
        """Reads the end of the file only."""
        try:
            with self.path.open("rb") as file:
                size = file.seek(0, os.SEEK_END)
                start = max(0, size - TAIL_BYTES)
                file.seek(start)
                block = file.read()
        except FileNotFoundError:
            return Tail(None, 0, False)
        end = block.rfind(b"\n") + 1
        if not end:
            return Tail(None, 0, bool(block))
        begin = block.rfind(b"\n", 0, end - 1) + 1
        try:
            return Tail(from_line(block[begin:end]), start + end, start + end < size)
        except ValueError:
            return Tail(None, 0, True)

    def rows(self) -> Iterator[Row]:
        """The rows from the start, up to the first line that is not whole."""
        try:
            with self.path.open("rb") as file:
                for line in file:
                    try:
                        yield from_line(line)
                    except ValueError:
                        return
        except FileNotFoundError:
            return

    def lines(self) -> Iterator[bytes]:
        """The lines as they are, whole or not."""
        try:
            with self.path.open("rb") as file:
                yield from file
        except FileNotFoundError:
            return

    def append(self, rows: Iterable[Row], size: int) -> int:
        """Write behind the first ``size`` bytes, drop what else was there, and see it to the
        disk. Returns the new size."""
        return write_behind(self.path, map(to_line, rows), size)

    def cut_back(self, size: int) -> None:
        """Take back what was written behind ``size`` bytes."""
        if self.path.exists():
            cut_file(self.path, size)

    def holds_only(self, rows: Iterable[Row]) -> bool:
        """Whether these rows' lines are the whole file, and nothing else."""
        return self.path.exists() and self.path.stat().st_size == sum(
            len(to_line(row)) for row in rows
        )

    def ends_inside(self, rows: Iterable[Row]) -> bool:
        """Whether the whole file is the beginning of these rows' lines, the last cut short or
        not: then nothing in it is strange, it is only behind."""
        try:
            with self.path.open("rb") as file:
                for row in rows:
                    wanted = to_line(row)
                    found = file.read(len(wanted))
                    if found != wanted:
                        return wanted.startswith(found)
                return not file.read(1)
        except FileNotFoundError:
            return True


def write_behind(path: Path, lines: Iterable[bytes], size: int) -> int:
    """Write lines behind the first ``size`` bytes of a file, drop what else was there, and see
    it to the disk. Returns the new size."""
    new = not path.exists()
    with open(path, "wb" if new else "r+b") as file:
        file.seek(size)
        file.writelines(lines)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())
        end = file.tell()
    if new:
        sync_folder(path.parent)
    return end


def cut_file(path: Path, size: int) -> None:
    """Drop what a file holds behind ``size`` bytes, and see that to the disk."""
    with path.open("r+b") as file:
        file.truncate(size)
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """See a new name in a folder to the disk, where the system allows it."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
