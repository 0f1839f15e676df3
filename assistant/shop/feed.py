"""The temperature feed: one reading per line, from a file that grows or a named pipe.

    2 61.5 F
    3 16.4 C        # bay, temperature, unit; what follows a # is not read

A sensor's script writes such lines; ``FeedFile`` reads what is new, ``Feed`` decides which of
them count. An absurd one is refused and the last good one goes on; one that is hardly another
is passed over, so that a sensor that speaks every second does not fill the journal.
"""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from assistant.shop.events import MOST_BAYS
from assistant.shop.orders import COLDEST, HOTTEST
from assistant.shop.state import State
from assistant.shop.wording import Said, at_least, bay_name, temperature
from assistant.trade.cure import SAME_READING

SAME_CELSIUS = SAME_READING.m_as("kelvin")
"""A reading this near to the last one that was kept is the same, as everywhere in the program."""

KEEP_EVERY = 600.0
"""Seconds after which the same reading is kept all the same: it shows that the sensor lives."""

FASTEST = 5.0 / 60.0
"""Kelvin a second. A panel in a shop warms and cools slower, heat lamp included (common
practice, no source); what is faster is a loose sensor until a second reading agrees."""

JUMP_ALLOWED = 3.0
"""Kelvin that are never too fast: two sensors, or one laid on again."""

AGREES = 2.0
"""Kelvin within which a second reading confirms a jump."""

SILENT_AFTER = 600.0
"""Seconds without a good reading after which the age of the last one is told."""

AGE_TOLD = 60.0
"""Seconds. A younger reading's age is not worth telling."""

LONGEST_LINE = 200


class FeedReading(NamedTuple):
    """One line that could be read."""

    bay: int
    celsius: float


class BadLine(ValueError):
    """A line that is no reading; ``str`` says what is wrong, in one line."""


_LINE = re.compile(r"\s*(\d{1,3})\s+([+-]?\d+(?:\.\d+)?)\s*°?\s*([FfCc])\s*")


def read_line(line: str) -> FeedReading | None:
    """A line's reading; None for an empty line or a remark. Raises BadLine."""
    text = line.split("#", 1)[0]
    if not text.strip():
        return None
    match = _LINE.fullmatch(text)
    if not match or len(line) > LONGEST_LINE:
        shown = " ".join(line.split())[:40]
        raise BadLine(f'{shown!r} is not a reading: expected bay, temperature, unit ("2 61.5 F")')
    bay, figure, unit = int(match[1]), float(match[2]), match[3].upper()
    if not 1 <= bay <= MOST_BAYS:
        raise BadLine(f"there is no bay {bay}: bays are numbered 1 to {MOST_BAYS}")
    return FeedReading(bay, round((figure - 32) / 1.8 if unit == "F" else figure, 9))


class FeedFile:
    """What is new in a file or a pipe. A file's lines from before the start are old, and are
    not read; one that is begun anew (cut, or replaced) is read from its beginning."""

    def __init__(self, path: Path):
        self.path = Path(path)
        self._handle: int | None = None
        self._inode = 0
        self._position = 0
        self._rest = b""
        self._first = True

    def lines(self) -> list[str]:
        """Whole lines that came since the last call. Raises OSError while it is not there."""
        found = os.stat(self.path)
        if stat.S_ISDIR(found.st_mode):
            raise IsADirectoryError(21, "it is a folder", str(self.path))
        pipe = stat.S_ISFIFO(found.st_mode)
        if self._handle is None or found.st_ino != self._inode:
            self._open(found, pipe)
        elif not pipe and found.st_size < self._position:
            self._position, self._rest = 0, b""
        return self._read(pipe)

    def _open(self, found: os.stat_result, pipe: bool) -> None:
        self.close()
        # a pipe is opened without waiting for somebody to write into it
        self._handle = os.open(self.path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        self._inode = found.st_ino
        self._position = found.st_size if self._first and not pipe else 0
        self._rest = b""
        self._first = False

    def _read(self, pipe: bool) -> list[str]:
        assert self._handle is not None
        if not pipe:
            os.lseek(self._handle, self._position, os.SEEK_SET)
        try:
            block = os.read(self._handle, 1 << 16)
        except BlockingIOError:
            return []
        self._position += len(block)
        *lines, self._rest = (self._rest + block).split(b"\n")
        if len(self._rest) > LONGEST_LINE:
            self._rest = b""
        return [line.decode("utf-8", errors="replace") for line in lines]

    def close(self) -> None:
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None


@dataclass
class _Sensor:
    """What is known of one bay's sensor. Times are shop time, seconds."""

    good: float
    good_at: float
    doubted: float | None = None
    told_silent: bool = False


class Verdict(NamedTuple):
    """keep: to be written down, or not. notice: what to tell, if anything."""

    keep: bool
    notice: Said | None = None


@dataclass
class Feed:
    """Decides about each reading. units: of the notices."""

    units: str = "us"
    _sensors: dict[int, _Sensor] = field(default_factory=dict)

    def take(self, reading: FeedReading, at: float, state: State) -> Verdict:
        """What to do with a reading at shop time ``at``."""
        bay, celsius = reading
        running = state.bay(bay).running
        if not running:
            self._sensors.pop(bay, None)
            return Verdict(False)
        sensor = self._sensors.get(bay)
        if sensor is None:
            # until a sensor has spoken, what a person said is the last good one
            last = running[-1].last_reading
            sensor = self._sensors[bay] = _Sensor(last.celsius, last.at)
        why = self._absurd(sensor, celsius, at)
        if why is not None:
            return Verdict(False, self._refused(bay, celsius, sensor, at, why))
        sensor.good, sensor.good_at = celsius, at
        sensor.doubted, sensor.told_silent = None, False
        last = running[-1].last_reading
        same = abs(celsius - last.celsius) < SAME_CELSIUS
        if same and at - last.at < KEEP_EVERY:
            return Verdict(False)
        return Verdict(True)

    def _absurd(self, sensor: _Sensor, celsius: float, at: float) -> str | None:
        if not COLDEST <= celsius <= HOTTEST:
            return "no panel has that temperature"
        if sensor.doubted is not None and abs(celsius - sensor.doubted) <= AGREES:
            return None
        allowed = JUMP_ALLOWED + FASTEST * max(0.0, at - sensor.good_at)
        if abs(celsius - sensor.good) > allowed:
            sensor.doubted = celsius
            return "no panel changes so fast"
        return None

    def _refused(self, bay: int, celsius: float, sensor: _Sensor, at: float, why: str) -> Said:
        name = bay_name(bay)
        refused = temperature(celsius, self.units)
        good, age = temperature(sensor.good, self.units), at_least(at - sensor.good_at)
        old = Said("", "")
        if at - sensor.good_at >= AGE_TOLD:
            old = Said(f", {age.written} old", f", {age.spoken} old")
        return Said(
            f"{name.written}: {refused.written} from the sensor is refused, {why}. It goes on with "
            f"{good.written}{old.written}.",
            f"{name.spoken}: {refused.spoken} from the sensor is refused, {why}. It goes on with "
            f"{good.spoken}{old.spoken}.",
        )

    def silent(self, at: float, state: State) -> list[Said]:
        """Sensors of running bays that have given nothing good for long, each told once."""
        found = []
        for bay, sensor in self._sensors.items():
            if sensor.told_silent or at - sensor.good_at < SILENT_AFTER:
                continue
            if not state.bay(bay).running:
                continue
            sensor.told_silent = True
            name, age = bay_name(bay), at_least(at - sensor.good_at)
            good = temperature(sensor.good, self.units)
            found.append(
                Said(
                    f"{name.written}: no good reading from the sensor for {age.written}. It goes "
                    f"on with {good.written}: look at the sensor.",
                    f"{name.spoken}: no good reading from the sensor for {age.spoken}. It goes "
                    f"on with {good.spoken}. Look at the sensor.",
                )
            )
        return found
