"""How long the program takes from its start to its answer, cold and warm, and what memory.

    python -m audio_fixtures.starting                      # ten warm rounds
    python -m audio_fixtures.starting --cold 5             # and five cold ones (root, Linux)

Each round starts every command once, one after the other, in a process of its own, so that
what else the machine does falls on all of them alike; told are medians. The first command is
the peer: an interpreter that loads onnxruntime and ends, to which the others are given as a
ratio. "Cold" is the first start after the page cache was dropped, which slows down everything
else on the machine as well: nothing is dropped unless it is asked for.

Wall is what a person waits. Processor is user and system time together, which other programs on
the machine change little. Peak is the largest resident memory of the process.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path
from typing import NamedTuple

# Little is imported here, and nothing of the program: the memory of a process that starts
# another counts as the first of the other's.

DROP_CACHES = Path("/proc/sys/vm/drop_caches")
"""Linux: writing 3 there forgets what of files is in memory (kernel's admin-guide/sysctl/vm)."""

QUESTION = "how much adhesive for forty inches"
SOUND = Path(__file__).parent / "wav" / "how_much_adhesive_for_forty_inches-neural-woman.wav"
PROGRAM = ("-m", "assistant")

COMMANDS: dict[str, tuple[str, ...]] = {
    "peer: import onnxruntime": ("-c", "import onnxruntime"),
    "ask, a question": (*PROGRAM, "ask", QUESTION),
    "ask, how is bay two": (*PROGRAM, "ask", "how is bay two"),
    "hear, a recording": (*PROGRAM, "hear", str(SOUND)),
    "listen, until it listens": (*PROGRAM, "listen", "--voice", "none", "--from", "{silence}"),
}
PEER = next(iter(COMMANDS))
SILENCE_SECONDS, SAMPLE_RATE = 0.1, 16_000
"""A recording that is over as soon as it is listened to."""


class Run(NamedTuple):
    """One start. wall, processor: seconds. peak: megabytes."""

    wall: float
    processor: float
    peak: float


def started(arguments: tuple[str, ...], environment: dict[str, str]) -> Run:
    """Start one command with this Python and wait for its end; raises SystemExit if it fails."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *arguments],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - begun
    assert process.stderr is not None
    said = process.stderr.read().decode()
    if code := os.waitstatus_to_exitcode(status):
        raise SystemExit(f"{' '.join(arguments)} ended with {code}: {said.strip()}")
    kilobyte = 1024 if sys.platform != "darwin" else 1  # macOS counts bytes
    return Run(wall, used.ru_utime + used.ru_stime, used.ru_maxrss * kilobyte / 1e6)


def forget_files() -> None:
    """Drop the page cache; raises SystemExit where that is not allowed."""
    os.sync()
    try:
        DROP_CACHES.write_text("3\n", encoding="ascii")
    except OSError as trouble:
        raise SystemExit(
            f"the page cache cannot be dropped ({trouble.strerror}): leave out --cold"
        ) from None


def measured(rounds: int, cold: bool) -> dict[str, list[Run]]:
    """Every command, started ``rounds`` times."""
    found: dict[str, list[Run]] = {name: [] for name in COMMANDS}
    with tempfile.TemporaryDirectory(prefix="clampcall-starting-") as folder:
        environment = {**os.environ, "CLAMPCALL_DATA": folder}
        silence = Path(folder) / "silence.wav"
        with wave.open(str(silence), "wb") as file:
            file.setparams((1, 2, SAMPLE_RATE, 0, "NONE", ""))
            file.writeframes(bytes(2 * round(SILENCE_SECONDS * SAMPLE_RATE)))
        for _ in range(rounds):
            for name, arguments in COMMANDS.items():
                if cold:
                    forget_files()
                given = tuple(word.replace("{silence}", str(silence)) for word in arguments)
                found[name].append(started(given, environment))
    return found


def table(title: str, found: dict[str, list[Run]]) -> str:
    """Medians, and the ratio to the peer."""
    middle = {
        name: Run(*(statistics.median(column) for column in zip(*runs, strict=True)))
        for name, runs in found.items()
    }
    peer = middle[PEER]
    lines = [f"{title:32} {'wall':>7} {'ratio':>6} {'processor':>10} {'ratio':>6} {'peak':>8}"]
    for name, run in middle.items():
        lines.append(
            f"{name:32} {run.wall:5.2f} s {run.wall / peer.wall:6.1f} {run.processor:8.2f} s "
            f"{run.processor / peer.processor:6.1f} {run.peak:5.0f} MB"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--warm", type=int, default=10, help="warm rounds (default 10)")
    parser.add_argument("--cold", type=int, default=0, help="cold rounds, which drop the cache")
    rounds = parser.parse_args()
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} processors, load {load:.1f} before (1 minute)")
    if rounds.cold > 0:
        print(table(f"cold, median of {rounds.cold}", measured(rounds.cold, cold=True)))
    if rounds.warm > 0:
        measured(1, cold=False)  # so that the first is as warm as the last
        print(table(f"warm, median of {rounds.warm}", measured(rounds.warm, cold=False)))


if __name__ == "__main__":
    main()
