"""The board in a browser, for a tablet: textual-serve's server, with a door.

Each open page runs a board of its own on this computer, silent and without a microphone. It
listens on this computer alone, and answers only pages that it has made itself; opened to the
network it asks for the shop's password. The connection is not encrypted.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import aiohttp_jinja2
from aiohttp import web
from textual_serve.server import Server

PAGES = Path(__file__).parent / "page"

LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
"""Names under which a computer knows itself; a page of another name has no business here."""

COOKIE = "board"

SHORTEST_PASSWORD = 8
"""Characters. With TRIES it cannot be guessed in a lifetime. Our own choice."""

TRIES, TRIES_SECONDS = 5, 60.0
"""Wrong passwords that are taken in a while, from everybody together. Our own choice."""

MOST_PAGES = 8
"""Pages open at once; each is a process of some 150 MB. Our own choice."""

CLOSE_SECONDS = 3.0
"""How long open pages are waited for at the end. Our own choice."""

REAP_SECONDS = 0.3
"""How long the end of a page's process takes to be noticed. Our own choice."""

OPEN_MEANS = (
    "Open to the network: whoever is on it and knows the password can see the bays and give "
    "orders. The connection is not encrypted, so keep it to a network that is the shop's own."
)


@dataclass
class Door:
    """Who may come in. password: empty where only this computer can come at all. clock:
    seconds."""

    password: str = ""
    clock: Callable[[], float] = time.monotonic
    _known: set[str] = field(default_factory=set)
    _wrong: deque[float] = field(default_factory=deque)

    def knows(self, token: str | None) -> bool:
        """Whether this browser has been let in before."""
        return not self.password or token in self._known

    def is_shut(self) -> bool:
        """Whether too many wrong passwords came of late."""
        while self._wrong and self.clock() - self._wrong[0] > TRIES_SECONDS:
            self._wrong.popleft()
        return len(self._wrong) >= TRIES

    def let_in(self, password: str) -> str | None:
        """A token for the right password; None for a wrong one, or while it is shut."""
        if self.is_shut():
            return None
        if not hmac.compare_digest(password.encode(), self.password.encode()):
            self._wrong.append(self.clock())
            return None
        token = secrets.token_urlsafe(32)
        self._known.add(token)
        return token


class BoardServer(Server):
    """textual-serve's server with our own page and a door. command: starts one board. network:
    whether other computers may come."""

    def __init__(
        self,
        command: str,
        port: int,
        password: str = "",
        network: bool = False,
        tell: Callable[[str], None] = print,
    ):
        if network and len(password) < SHORTEST_PASSWORD:
            raise ValueError(
                f"a network needs a password of {SHORTEST_PASSWORD} characters or more"
            )
        super().__init__(
            command,
            host="0.0.0.0" if network else "127.0.0.1",
            port=port,
            title="clampcall board",
            templates_path=PAGES,
        )
        self.network, self.door, self._tell = network, Door(password), tell
        self._pages: set[asyncio.Task] = set()

    def initialize_logging(self) -> None:
        """What goes wrong with one page is that page's; nothing is printed of it."""
        logging.getLogger("textual-serve").addHandler(logging.NullHandler())
        logging.getLogger("textual-serve").propagate = False

    async def on_startup(self, app: web.Application) -> None:
        """Nothing yet: the port may be taken."""

    def serve(self, debug: bool = False) -> None:
        """Serve until interrupted. Raises OSError where the port cannot be used."""
        self.initialize_logging()
        web.run_app(
            self._make_app(),
            host=self.host,
            port=self.port,
            print=lambda *_: self._say_where(),  # called once it listens
            access_log=None,
            shutdown_timeout=CLOSE_SECONDS,
            loop=asyncio.new_event_loop(),
        )

    def _say_where(self) -> None:
        self._tell(
            f"The board is at http://localhost:{self.port} on this computer. Ctrl-C ends it."
        )
        if self.network:
            self._tell(OPEN_MEANS)

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guard())
        app.add_routes([web.post("/enter", self._enter)])
        return app

    # --- the door ---

    def _guard(self):
        @web.middleware
        async def guard(request: web.Request, handler) -> web.StreamResponse:
            refused = self.refused(request)
            if refused:
                raise web.HTTPForbidden(text=refused)
            if request.path != "/enter" and not self.door.knows(request.cookies.get(COOKIE)):
                if request.path != "/":
                    raise web.HTTPForbidden(text="Enter the password first.")
                response: web.StreamResponse = self._ask(request)
            else:
                response = await handler(request)
            if not response.prepared:
                response.headers["X-Frame-Options"] = "DENY"
                response.headers["Cache-Control"] = "no-store"
                response.headers["Referrer-Policy"] = "no-referrer"
            return response

        return guard

    def refused(self, request: web.Request) -> str:
        """Why a request is none of a page of ours; empty if it is one.

        A page of somebody else's, open in the same browser, can reach this computer's ports: it
        is told by its name for us, or by the page that it comes from.
        """
        name = request.host.rpartition(":")[0] if not request.host.endswith("]") else request.host
        if not self.network and (name or request.host) not in LOOPBACK:
            return "This board is for this computer alone."
        origin = request.headers.get("Origin")
        foreign = origin is not None and urlsplit(origin).netloc != request.host
        missing = origin is None and request.path == "/ws"
        if foreign or missing:
            return "That comes from another page."
        return ""

    def _ask(self, request: web.Request, said: str = "", status: int = 200) -> web.Response:
        words = said or "This board belongs to a shop."
        context = {"application": {"name": self.title}, "said": words}
        return aiohttp_jinja2.render_template("enter.html", request, context, status=status)

    async def _enter(self, request: web.Request) -> web.StreamResponse:
        if self.door.is_shut():
            return self._ask(request, "Too many wrong passwords: wait a minute.", 429)
        form = await request.post()
        token = self.door.let_in(str(form.get("password", "")))
        if token is None:
            await asyncio.sleep(1.0)
            return self._ask(request, "That is not the password.", 403)
        response = web.HTTPSeeOther("/")
        response.set_cookie(COOKIE, token, httponly=True, samesite="Strict", path="/")
        return response

    # --- the board ---

    @aiohttp_jinja2.template("app_index.html")
    async def handle_index(self, request: web.Request) -> dict[str, Any]:
        """Our page; its addresses are those by which the browser came."""
        size = request.query.get("fontsize", "16")
        return {
            "font_size": int(size) if size.isdecimal() and 6 <= int(size) <= 80 else 16,
            "app_websocket_url": f"ws://{request.host}/ws",
            "config": {"static": {"url": "/static/"}},
            "application": {"name": self.title},
        }

    async def handle_websocket(self, request: web.Request) -> web.StreamResponse:
        if len(self._pages) >= MOST_PAGES:
            raise web.HTTPServiceUnavailable(text=f"{MOST_PAGES} pages are open: close one.")
        page = asyncio.current_task()
        assert page is not None
        self._pages.add(page)
        try:
            return await super().handle_websocket(request)
        finally:
            self._pages.discard(page)

    async def on_shutdown(self, app: web.Application) -> None:
        """End the boards of open pages, and let their processes be seen to end."""
        pages = tuple(self._pages)
        for page in pages:
            page.cancel()
        if pages:
            await asyncio.wait(pages, timeout=CLOSE_SECONDS)
        await asyncio.sleep(REAP_SECONDS)
