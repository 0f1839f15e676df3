"""The board as a page, driven in a real Chromium without a window; and the door of the page.

The page tests need playwright (extra "browser") and a Chromium of the system; where either is
missing they are skipped. The picture of the page is left in the folder that
CLAMPCALL_ARTEFACTS names, else in the test's own.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

import pyte
import pytest

from assistant.screens.browser import (
    OPEN_MEANS,
    SHORTEST_PASSWORD,
    TRIES,
    TRIES_SECONDS,
    BoardServer,
    Door,
)
from assistant.shop import events as kinds
from assistant.shop.journal import Journal

PATIENCE = 90.0
CHROMIUM = next((p for n in ("chromium", "chromium-browser") if (p := shutil.which(n))), None)
PASSWORD = "long bond line"


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return held.getsockname()[1]


def served_at(port: int) -> list[str]:
    return [sys.executable, "-m", "assistant", "board", "--browser", "--port", str(port)]


class Served:
    """The program with --browser, in a process of its own."""

    def __init__(self, folder: Path, config: str = ""):
        self.port = free_port()
        file = folder / "settings.toml"
        file.write_text(config, encoding="utf-8")
        self.process = subprocess.Popen(
            [*served_at(self.port), "--config", str(file)],
            env={**os.environ, "CLAMPCALL_DATA": str(folder / "data"), "TZ": "UTC"},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = self.process.stdout.readline()
        self.url = f"http://localhost:{self.port}/"

    def close(self) -> str:
        self.process.send_signal(signal.SIGINT)
        rest = self.process.stdout.read()
        code = self.process.wait(timeout=30)
        self.process.stdout.close()
        assert code == 0 and "Traceback" not in rest, rest
        return rest


@pytest.fixture
def served(tmp_path):
    page = Served(tmp_path)
    yield page
    if page.process.poll() is None:
        page.close()


def status(url: str, data: bytes | None = None, **headers) -> tuple[int, str]:
    request = urllib.request.Request(url, data=data, headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()


def test_on_this_computer_only_pages_of_ours_get_in(served):
    assert "on this computer" in served.said
    assert status(served.url)[0] == 200
    assert status(served.url, Host="a.shop.invalid")[0] == 403, "a name that points here"
    foreign = {"Origin": "http://a.shop.invalid", "Upgrade": "websocket", "Connection": "Upgrade"}
    assert status(served.url + "ws", **foreign)[0] == 403, "another page of the same browser"
    assert status(served.url + "ws")[0] == 403, "no page at all"
    refused = socket.socket()
    addresses = {
        found[4][0]
        for found in socket.getaddrinfo(socket.gethostname(), served.port, socket.AF_INET)
    }
    for address in addresses - {"127.0.0.1", "127.0.1.1"}:
        with pytest.raises(OSError):
            refused.connect((address, served.port))
    refused.close()


def test_a_network_asks_for_the_password_and_says_what_it_means(tmp_path):
    page = Served(tmp_path, f'[screen]\nnetwork = true\npassword = "{PASSWORD}"\n')
    try:
        code, text = status(page.url)
        assert code == 200 and "password" in text and "terminal" not in text
        assert status(page.url + "static/js/textual.js")[0] == 403
        assert status(page.url + "ws", Origin=page.url.rstrip("/"))[0] == 403
        wrong = urllib.parse.urlencode({"password": "guess"}).encode()
        assert status(page.url + "enter", wrong)[0] == 403
        right = urllib.parse.urlencode({"password": PASSWORD}).encode()
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        with opener.open(page.url + "enter", right, timeout=30) as answer:
            assert "terminal" in answer.read().decode()
        with opener.open(page.url + "static/js/textual.js", timeout=30) as answer:
            assert answer.status == 200
    finally:
        said = page.said + page.close()
    assert OPEN_MEANS in said


@pytest.mark.parametrize("password", ["", "short"])
def test_a_network_without_a_password_is_not_opened(tmp_path, password):
    with pytest.raises(ValueError, match=f"{SHORTEST_PASSWORD} characters"):
        BoardServer("true", 1, password, network=True)
    page = Served(tmp_path, f'[screen]\nnetwork = true\npassword = "{password}"\n')
    rest = page.process.stdout.read()
    assert page.process.wait(timeout=30) == 2 and "password" in page.said and rest == ""
    page.process.stdout.close()


def test_a_port_that_is_taken_is_one_line(tmp_path):
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        done = subprocess.run(served_at(held.getsockname()[1]), capture_output=True, text=True)
    assert done.returncode == 2 and done.stderr.count("\n") == 1 and "--port" in done.stderr


def test_the_door_shuts_after_a_few_wrong_passwords_and_opens_again():
    now = [0.0]
    door = Door(PASSWORD, clock=lambda: now[0])
    assert not door.knows(None) and not door.knows("made up")
    for _ in range(TRIES):
        assert door.let_in("guess") is None
    assert door.is_shut() and door.let_in(PASSWORD) is None, "even the right one has to wait"
    now[0] += TRIES_SECONDS + 1
    token = door.let_in(PASSWORD)
    assert token is not None and door.knows(token) and not door.knows(token + "x")


# --- in a real browser ------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium():
    sync_api = pytest.importorskip("playwright.sync_api", reason="the extra browser is missing")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this system")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


class Terminal:
    """A page, and the terminal in it: the page draws on a canvas, so what it is sent is kept
    in a second terminal, of the same size."""

    def __init__(self, chromium, **more):
        self.page = chromium.new_page(**more)
        self._screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self._screen)
        self.page.on("websocket", self._opened)

    def _opened(self, socket) -> None:
        query = urllib.parse.parse_qs(urllib.parse.urlsplit(socket.url).query)
        if "width" in query and "height" in query:
            self._screen.resize(int(query["height"][0]), int(query["width"][0]))
        socket.on("framesent", self._sent)
        socket.on("framereceived", self._received)

    def _sent(self, frame) -> None:
        if isinstance(frame, str) and frame.startswith('["resize"'):
            size = json.loads(frame)[1]
            self._screen.resize(size["height"], size["width"])

    def _received(self, frame) -> None:
        if isinstance(frame, bytes):
            self._stream.feed(frame)

    @property
    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self._screen.display)

    def sees(self, *words: str) -> None:
        ends = time.monotonic() + PATIENCE
        while not all(word in self.text for word in words):
            if time.monotonic() > ends:
                raise AssertionError(f"never came: {words}\n{self.text}")
            self.page.wait_for_timeout(100)


@pytest.mark.browser
def test_in_a_browser_a_question_is_answered_and_a_bay_started(served, chromium, tmp_path):
    terminal = Terminal(chromium, viewport={"width": 1280, "height": 800})
    page = terminal.page
    page.goto(served.url)
    terminal.sees("WALL", "No clock runs in any bay.")
    page.keyboard.press("Tab")
    terminal.sees("BENCH", "CAN BE ASKED NOW")
    page.keyboard.type("when can i unclamp at fifty five degrees")
    page.keyboard.press("Enter")
    terminal.sees("3 h 35 min", "take care")
    page.keyboard.type("bay two the bead is on with the long open at sixty two degrees")
    page.keyboard.press("Enter")
    terminal.sees("the bead clock runs")
    page.keyboard.press("Tab")
    terminal.sees("BAY 2", "WORK TIME")
    folder = Path(os.environ.get("CLAMPCALL_ARTEFACTS", tmp_path))
    folder.mkdir(parents=True, exist_ok=True)
    picture = folder / "board-in-chromium.png"
    page.screenshot(path=str(picture))
    assert picture.stat().st_size > 10_000
    page.close()
    journal = Journal(tmp_path / "data")
    started = [e.payload for e in journal.events() if isinstance(e.payload, kinds.JobStarted)]
    journal.close()
    assert [job.bay for job in started] == [2]


@pytest.mark.browser
def test_nothing_of_the_page_comes_from_elsewhere(served, chromium):
    terminal = Terminal(chromium)
    page = terminal.page
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(served.url)
    terminal.sees("WALL")
    served.close()  # with the page open: it ends as quietly
    page.close()
    own = re.compile(rf"(http|ws)://localhost:{served.port}/")
    assert asked and all(own.match(url) or url.startswith("data:") for url in asked), asked
