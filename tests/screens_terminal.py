"""The program in a terminal of its own, for tests: a pseudo-terminal, and what it was sent."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import signal
import struct
import sys
import termios
import threading
import time

import pyte

PATIENCE = 90.0
ESCAPES = re.compile(rb"\x1b\[[0-9;?]*[a-zA-Z]|\x1b[=>]")


class Terminal:
    """Runs ``clampcall`` with these arguments at a terminal of columns x lines."""

    def __init__(self, arguments, size=(80, 24), environment=None):
        self.size = size
        self.pid, self._master = pty.fork()
        if self.pid == 0:
            env = {**os.environ, "TERM": "xterm-256color", "TZ": "UTC", **(environment or {})}
            os.execve(sys.executable, [sys.executable, "-m", "assistant", *arguments], env)
        lines = struct.pack("HHHH", size[1], size[0], 0, 0)
        fcntl.ioctl(self._master, termios.TIOCSWINSZ, lines)
        self.raw = bytearray()
        self._grown = threading.Condition()
        self.status: int | None = None
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                more = os.read(self._master, 65536)
            except OSError:
                more = b""
            with self._grown:
                self.raw += more
                self._grown.notify_all()
            if not more:
                return

    def press(self, keys: str) -> None:
        os.write(self._master, keys.encode())

    def waits(self, found, patience: float = PATIENCE) -> float:
        """Waits until ``found(everything sent so far)`` and gives the moment it came."""
        ends = time.monotonic() + patience
        with self._grown:
            while not found(self.raw):
                left = ends - time.monotonic()
                if left <= 0:
                    raise AssertionError(f"never came\n{self.text()}")
                self._grown.wait(left)
            return time.monotonic()

    def sees(self, *words: str) -> None:
        """Waits until all of it has been sent, whatever has been drawn over it since."""
        self.waits(lambda raw: all(word.encode() in ESCAPES.sub(b"", bytes(raw)) for word in words))

    def text(self) -> str:
        """What stands on the terminal now."""
        screen = pyte.Screen(*self.size)
        pyte.ByteStream(screen).feed(bytes(self.raw))
        return "\n".join(line.rstrip() for line in screen.display)

    def ended(self, patience: float = PATIENCE) -> int:
        """Waits for the program's end; its exit code, or minus the signal that ended it."""
        ends = time.monotonic() + patience
        while self.status is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.status = os.waitstatus_to_exitcode(status)
            elif time.monotonic() > ends:
                raise AssertionError(f"it does not end\n{self.text()}")
            else:
                time.sleep(0.02)
        return self.status

    def kill(self) -> None:
        if self.status is None:
            os.kill(self.pid, signal.SIGKILL)
            self.ended()
        os.close(self._master)

    def processor_seconds(self) -> float:
        """Time on the processor that the program and its threads have had."""
        with open(f"/proc/{self.pid}/stat", encoding="ascii") as file:
            fields = file.read().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
