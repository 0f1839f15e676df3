"""English speech by actors, out of three games that Debian carries as free software.

Their Debian packages are drascula, flight-of-the-amazon-queen and beneath-a-steel-sky; install
them, or unpack them (``dpkg -x``) and name the folder that then holds ``usr`` in
HARDENING_ACTORS_ROOT. Nobody's words are needed: what the bundled model writes on the clean sound
is what the student learns to write in noise.

Layouts of the files, found by looking at them and by what is generally known of them:

* drascula: one file a sentence, ``*.ALS``, unsigned 8-bit samples, 11,025 a second.
* flight-of-the-amazon-queen: ``queen.1c`` begins with ``QTBL``, a version of six bytes, three
  bytes of flags of which the last tells the coding (1: MP3), and the number of entries; each has
  a name of twelve bytes, a byte, place and size (big-endian). Names in ``.SB`` are sentences.
* beneath-a-steel-sky: ``sky.dnr`` lists number, place and size in ``sky.dsk``; numbers from 50,000
  to 58,000 are sentences, packed by ``unpack``, with the samples of the first behind a header.
"""

from __future__ import annotations

import os
import random
import struct
from collections.abc import Callable, Iterator
from pathlib import Path

import miniaudio
import numpy as np
import soxr

from assistant.exchange import SAMPLE_RATE

ROOT = Path(os.environ.get("HARDENING_ACTORS_ROOT", "/"))
GAMES = ROOT / "usr/share/scummvm"
OLD_RATE = 11025
"""Samples a second of all but the MP3."""
INDEX_HEADER = struct.Struct(">4s6s3BH")
"""Mark, version, three flags of which the last tells the coding, number of entries."""
INDEX_ENTRY = struct.Struct(">12sBII")
"""Name, a byte, place, size."""
MP3 = 1
SKY_HEADER = 22
"""Bytes before the packed part of a file in sky.dsk."""
SKY_SENTENCES = range(50_000, 58_000)


KEPT_OUT_OF = 4
"""One in so many of drascula's sentences is kept out, as speech that is not for the program."""


def _loose_samples() -> list[bytes]:
    """Of drascula: samples."""
    paths = sorted((GAMES / "drascula/en").glob("*.ALS"))
    return [path.read_bytes() for number, path in enumerate(paths) if number % KEPT_OUT_OF]


def _indexed_mp3s() -> list[bytes]:
    """Of flight-of-the-amazon-queen: MP3."""
    path = GAMES / "flight-of-the-amazon-queen/queen.1c"
    if not path.exists():
        return []
    data = path.read_bytes()
    mark, _, _, _, coding, count = INDEX_HEADER.unpack_from(data)
    if mark != b"QTBL" or coding != MP3:
        raise ValueError(f"{path.name}: not the file that this reader knows")
    first = INDEX_HEADER.size
    entries = data[first : first + count * INDEX_ENTRY.size]
    return [
        data[start : start + size]
        for name, _, start, size in INDEX_ENTRY.iter_unpack(entries)
        if name.rstrip(b"\0").endswith(b".SB")
    ]


class _Bits:
    """Bits of 16-bit little-endian words, the lowest first; whole bytes stand between them."""

    def __init__(self, data: bytes, at: int):
        self._data, self._at = data, at
        self._bits, self._count = int.from_bytes(data[at : at + 2], "little"), 16

    def take(self, count: int) -> int:
        value = self._bits & ((1 << count) - 1)
        self._bits >>= count
        self._count -= count
        if self._count < 16:
            self._at += 2
            self._load()
        return value

    def take_code(self, table: dict[tuple[int, int], int]) -> int:
        """A number by its prefix code; beyond 1 the code tells only how many bits it has."""
        length = next(
            length for length in range(1, 17) if (length, self._bits & ((1 << length) - 1)) in table
        )
        value = table[length, self.take(length)]
        return value if value < 2 else 1 << (value - 1) | self.take(value - 1)

    def take_bytes(self, count: int) -> bytes:
        """Bytes that stand where the word loaded last was read."""
        taken = self._data[self._at : self._at + count]
        self._at += count
        self._count -= 16
        self._bits &= (1 << self._count) - 1
        self._load()
        return taken

    def _load(self) -> None:
        word = int.from_bytes(self._data[self._at : self._at + 2], "little")
        self._bits |= word << self._count
        self._count += 16

    def table(self) -> dict[tuple[int, int], int]:
        """A table of prefix codes, (length, bits) -> value, given as the lengths alone."""
        lengths = [self.take(4) for _ in range(self.take(5))]
        table, code = {}, 0
        for length in range(1, max(lengths, default=0) + 1):
            for value, own in enumerate(lengths):
                if own == length:
                    table[length, int(f"{code:0{length}b}"[::-1], 2)] = value
                    code += 1
            code <<= 1
        return table


PACKED_HEADER = struct.Struct(">4sIIHHBB")
"""Mark, sizes unpacked and packed, check sums, a reserve, number of chunks."""


def unpack(data: bytes) -> bytes:
    """Unpack what begins with ``RNC`` and 1: runs of bytes and copies of earlier ones, their
    lengths and distances in prefix codes. ValueError: not that, or not whole."""
    mark, size, _, check, _, _, chunks = PACKED_HEADER.unpack_from(data)
    if mark != b"RNC\x01":
        raise ValueError("not packed this way")
    bits, out = _Bits(data, PACKED_HEADER.size), bytearray()
    bits.take(2)
    for _ in range(chunks):
        runs, distances, lengths = bits.table(), bits.table(), bits.table()
        for left in range(bits.take(16) - 1, -1, -1):
            if run := bits.take_code(runs):
                out += bits.take_bytes(run)
            if left:
                start = len(out) - bits.take_code(distances) - 1
                for at in range(start, start + bits.take_code(lengths) + 2):
                    out.append(out[at])
    if len(out) != size or _check_sum(out) != check:
        raise ValueError("the packed bytes are damaged")
    return bytes(out)


def _sum_table() -> list[int]:
    table = []
    for value in range(256):
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
        table.append(value)
    return table


SUMS = _sum_table()


def _check_sum(data: bytes) -> int:
    """CRC-16/ARC."""
    value = 0
    for byte in data:
        value = value >> 8 ^ SUMS[(value ^ byte) & 0xFF]
    return value


def _packed_samples() -> list[bytes]:
    """Of beneath-a-steel-sky: packed samples."""
    folder = GAMES / "beneath-a-steel-sky"
    if not (folder / "sky.dsk").exists():
        return []
    index, data = (folder / "sky.dnr").read_bytes(), (folder / "sky.dsk").read_bytes()
    rows = []
    for at in range(4, 4 + 8 * struct.unpack_from("<I", index)[0], 8):
        number = int.from_bytes(index[at : at + 2], "little")
        place = int.from_bytes(index[at + 2 : at + 5], "little")
        size = int.from_bytes(index[at + 5 : at + 8], "little") & 0x3FFFFF
        if number in SKY_SENTENCES:
            start = (place & 0x7FFFFF) * (16 if place >> 23 else 1)
            rows.append(data[start + SKY_HEADER : start + size])
    return rows


def _eight_bit(data: bytes) -> np.ndarray:
    """Unsigned 8-bit samples at OLD_RATE as float32 at SAMPLE_RATE."""
    samples = np.frombuffer(data, np.uint8).astype(np.float32) / 128 - 1
    return soxr.resample(samples, OLD_RATE, SAMPLE_RATE)


def _mp3(data: bytes) -> np.ndarray:
    decoded = miniaudio.decode(data, miniaudio.SampleFormat.FLOAT32, 1, SAMPLE_RATE)
    return np.array(decoded.samples, np.float32)


def _sentences(rows: list[bytes], decode: Callable[[bytes], np.ndarray]) -> Iterator[np.ndarray]:
    for row in rows:
        sound = decode(row)
        if len(sound):
            yield sound


PARTS = 130
"""Files of some five minutes that the three games fill."""


def actors(seed: int, number: int) -> Iterator[tuple[np.ndarray, str]]:
    """The sentences of the games that belong in file ``number`` of PARTS, each in one file
    only; their words are not known."""
    if number >= PARTS:
        return
    for rows, decode in (
        (_indexed_mp3s(), _mp3),
        (_packed_samples(), lambda row: _eight_bit(unpack(row))),
        (_loose_samples(), _eight_bit),
    ):
        random.Random(f"actors{seed}").shuffle(rows)
        for sound in _sentences(rows[number::PARTS], decode):
            yield sound, ""
