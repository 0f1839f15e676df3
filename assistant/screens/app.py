"""The wall screen as one Textual app with two views, Bench and Wall.

The app draws and takes keys; it never reads the disk, never listens, never works an answer
out. ``live`` brings the journal's news, ``desk`` takes lines and tells what came of them.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from datetime import datetime

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.theme import Theme
from textual.widget import Widget
from textual.widgets import ContentSwitcher, Input, Static

from assistant.screens.board import Board
from assistant.screens.desk import Ear, EarsTold, Exchanged, fault
from assistant.screens.live import News, unheard
from assistant.screens.offers import Offers
from assistant.screens.standing import Standing, standings
from assistant.screens.wall import Line, Span, fitted, text_of, wall
from assistant.screens.words import (
    call,
    ear_line,
    head,
    heard_text,
    offer_lines,
    parts,
    read_out,
    wrapped,
)
from assistant.shop.announcements import Announcement
from assistant.shop.shop import local_time
from assistant.shop.state import State
from assistant.shop.wording import Said, bay_name

WALL, BENCH = VIEWS = ("wall", "bench")

TICK_SECONDS = 1.0
"""How often the clocks are drawn."""

EAR_SECONDS = 0.2
"""How often the level of the microphone is drawn; only where it has changed."""

KEPT_TURNS = 30
"""Turns that the bench view remembers."""

WIDE = 110
"""Columns from which the bench view has two halves side by side. Our own choice."""

OFFER_LINES = 7
"""Lines for what can be asked, where it stands below the answer."""

LOOKS = {
    "": Style(),
    "strong": Style(bold=True),
    "reversed": Style(reverse=True, bold=True),
}

SHOP = Theme(
    name="shop",
    primary="ansi_default",
    foreground="ansi_default",
    background="ansi_default",
    surface="ansi_default",
    panel="ansi_default",
    boost="ansi_default",
    warning="ansi_default",
    error="ansi_default",
    success="ansi_default",
    accent="ansi_default",
    secondary="ansi_default",
    ansi=True,
    variables={
        "ansi-background": "ansi_default",
        "ansi-foreground": "ansi_default",
        "border-blurred": "ansi_default",
        "block-cursor-background": "ansi_default",
        "block-cursor-foreground": "ansi_default",
        "input-selection-background": "ansi_default",
        "input-selection-foreground": "ansi_default",
        "screen-selection-background": "ansi_default",
        "screen-selection-foreground": "ansi_default",
        "input-cursor-background": "ansi_default",
        "input-cursor-foreground": "ansi_default",
        "input-cursor-text-style": "reverse",
    },
)
"""The terminal's own two colours and no others."""


def strip_of(line: Line) -> Strip:
    """A line as Textual draws it."""
    return Strip([Segment(span.text, LOOKS[span.look]) for span in line])


class Sized(Message):
    """A part of the screen has another size, so its lines must be made anew."""


class Sheet(Widget):
    """Lines of text, of which only those that have changed are drawn anew."""

    def __init__(self, name: str):
        super().__init__(id=name)
        self.lines: tuple[Line, ...] = ()

    def show(self, lines: Sequence[Line]) -> None:
        before, self.lines = self.lines, tuple(lines)
        for row in range(max(len(before), len(self.lines))):
            old = before[row] if row < len(before) else None
            new = self.lines[row] if row < len(self.lines) else None
            if old != new:
                self.refresh(Region(0, row, self.size.width, 1))

    def on_resize(self, event: events.Resize) -> None:
        self.post_message(Sized())

    def render_line(self, y: int) -> Strip:
        if y >= len(self.lines):
            return Strip.blank(self.size.width)
        return strip_of(self.lines[y]).adjust_cell_length(self.size.width)

    @property
    def text(self) -> str:
        """What stands there, for tests and pictures."""
        return "\n".join(text_of(line).rstrip() for line in self.lines)


class WallSheet(Sheet):
    """The wall; a touch on a bay shows its course."""

    class Touched(Message):
        def __init__(self, bay: int):
            super().__init__()
            self.bay = bay

    def __init__(self, name: str):
        super().__init__(name)
        self.places: tuple[tuple[int, tuple[int, int, int, int]], ...] = ()

    def on_click(self, event: events.Click) -> None:
        for bay, (top, left, bottom, right) in self.places:
            if top <= event.y < bottom and left <= event.x < right:
                self.post_message(self.Touched(bay))


class Talk(ScrollView, can_focus=False):
    """The turns, the newest on top; it can be scrolled."""

    def __init__(self, name: str):
        super().__init__(id=name)
        self.lines: tuple[Line, ...] = ()

    def show(self, lines: Sequence[Line]) -> None:
        self.lines = tuple(lines)
        self.virtual_size = Size(self.size.width, len(self.lines))
        self.scroll_to(0, 0, animate=False)
        self.refresh()

    def on_resize(self, event: events.Resize) -> None:
        self.post_message(Sized())

    def render_line(self, y: int) -> Strip:
        row = y + self.scroll_offset.y
        if row >= len(self.lines):
            return Strip.blank(self.size.width)
        return strip_of(self.lines[row]).adjust_cell_length(self.size.width)

    @property
    def text(self) -> str:
        return "\n".join(text_of(line).rstrip() for line in self.lines)


class Keys(Static):
    """What keys there are; each can be touched as well."""


class BoardApp(App[None]):
    """Both views, over one board."""

    TITLE = "clampcall board"
    ENABLE_COMMAND_PALETTE = False
    CSS = """
    Screen { layout: vertical; background: ansi_default; color: ansi_default; }
    Sheet, Talk, Static, Input, Horizontal, Vertical, ContentSwitcher {
        background: ansi_default; color: ansi_default;
    }
    #head, #call, #keys { height: 1; }
    ContentSwitcher { height: 1fr; }
    #wall, #bench { height: 1fr; width: 1fr; }
    #talk { height: 1fr; width: 1fr; overflow-x: hidden; overflow-y: auto;
        scrollbar-size-vertical: 1; scrollbar-size-horizontal: 0;
        scrollbar-background: ansi_default; scrollbar-color: ansi_default; }
    #offers { height: 8; width: 1fr; }
    .wide #bench { layout: horizontal; }
    .wide #offers { height: 1fr; width: 2fr; }
    .wide #talk { width: 3fr; }
    #last { height: 2; }
    #line { height: 1; }
    #prompt { width: 7; }
    #ask, #ask:focus { border: none; height: 1; padding: 0; width: 1fr; background: ansi_default; }
    #ear { width: 38; height: 1; }
    .narrow #ear { width: 24; }
    Keys { link-color: ansi_default; link-style: none; link-background: ansi_default;
        link-color-hover: ansi_default; link-style-hover: reverse;
        link-background-hover: ansi_default; }
    """
    BINDINGS = [  # noqa: RUF012
        Binding("tab", "other_view", "wall or bench", priority=True),
        Binding("f2", "other_view", "wall or bench", priority=True),
        Binding("f4", "heard", "heard", priority=True),
        Binding("f6", "read_out", "read it out", priority=True),
        Binding("f8", "microphone", "microphone", priority=True),
        Binding("f9", "undo", "undo", priority=True),
        Binding("f10,ctrl+q", "quit", "leave", priority=True),
        Binding("up", "move(-1)", priority=True),
        Binding("down", "move(1)", priority=True),
        Binding("pageup", "page(-1)", priority=True),
        Binding("pagedown", "page(1)", priority=True),
        Binding("escape", "drop", priority=True),
    ]

    class NewsCame(Message):
        def __init__(self, news: News):
            super().__init__()
            self.news = news

    class DeskTold(Message):
        def __init__(self, happening: Exchanged | EarsTold):
            super().__init__()
            self.happening = happening

    class OffersCame(Message):
        def __init__(self, text: str, offers: Offers):
            super().__init__()
            self.text, self.offers = text, offers

    class ViewAsked(Message):
        """Somebody has said what to show. bay: which one to look at, None for no other."""

        def __init__(self, view: str, bay: int | None):
            super().__init__()
            self.view, self.bay = view, bay

    def __init__(self, board: Board, view: str = WALL, ticking: bool = True):
        super().__init__(ansi_color=True)
        self.register_theme(SHOP)
        self.theme = SHOP.name
        self.board = board
        self._ticking = ticking
        self._first_view = view
        self.news = News()
        self._news_come = False
        self.focus_bay: int | None = None
        self._skip = 0
        self._found: tuple[Standing, ...] = ()
        self._due: tuple[Announcement, ...] = ()
        self._turns: list[Exchanged] = []
        self._notice = ""
        self._offers, self.offered_for = Offers(), ""
        self._chosen: int | None = None
        self._ear = Ear()
        self.fault = ""
        """What went wrong, in one line, where that ended the screen."""

    def settled(self, with_turn: bool = False) -> bool:
        """Whether the first news and offers are there, and a turn where one is waited for."""
        begun = self._news_come and bool(self._offers.questions)
        return begun and (bool(self._turns) or not with_turn)

    # --- building ---

    def compose(self) -> ComposeResult:
        yield Sheet("head")
        yield Sheet("call")
        with ContentSwitcher(initial=self._first_view, id="views"):
            yield WallSheet("wall")
            with Vertical(id="bench"):
                yield Talk("talk")
                yield Sheet("offers")
        yield Sheet("last")
        with Horizontal(id="line"):
            yield Static(" Ask ›", id="prompt")
            yield Input(id="ask", compact=True, max_length=300)
            yield Sheet("ear")
        yield Keys(id="keys")

    def on_mount(self) -> None:
        self.query_one(Input).focus()
        self.board.open(
            on_news=lambda news: self.post_message(self.NewsCame(news)),
            on_told=lambda told: self.post_message(self.DeskTold(told)),
            on_screen=self._on_screen,
        )
        if self._ticking:
            self.set_interval(TICK_SECONDS, self.tick)
            self.set_interval(EAR_SECONDS, self._show_ear)
        self._show_keys()
        self._ask_offers()
        self.call_after_refresh(self.tick)

    def on_unmount(self) -> None:
        self.board.close()

    def on_resize(self, event: events.Resize) -> None:
        self.set_class(event.size.width >= WIDE, "wide")
        self.set_class(event.size.width < WIDE, "narrow")

    def on_sized(self) -> None:
        self._draw_all()

    def _fatal_error(self) -> None:
        """A fault of the program ends the screen with one line, not with a page of code."""
        error = sys.exc_info()[1]
        if os.environ.get("CLAMPCALL_DEBUG") or not isinstance(error, Exception):
            super()._fatal_error()
            return
        self.fault = fault(error)
        self._close_messages_no_wait()

    # --- what is shown ---

    @property
    def view(self) -> str:
        return self.query_one("#views", ContentSwitcher).current or WALL

    def tick(self) -> None:
        """A second has passed."""
        self._draw()

    def _now(self) -> tuple[float, datetime]:
        """Shop time and local time, without asking the disk."""
        reading = self.board.clock.read()
        return self.news.state.now(reading), local_time(reading)

    def _draw(self) -> None:
        at, now = self._now()
        units = self.board.units
        self._found = standings(self.news.state, at, now, units)
        self._due = unheard(self.news.state, at)
        width = self.size.width
        self.query_one("#head", Sheet).show(
            [head(self.view, now, self._found, width, self.board.note)]
        )
        trouble = self.news.trouble or self._notice
        line = call(self._due, at, now, units, width)
        if trouble:
            line = (Span(fitted(f"TROUBLE  {trouble}", width), "reversed"),)
        self.query_one("#call", Sheet).show([line])
        if self.view == WALL:
            self._draw_wall(at, now)

    def _draw_wall(self, at: float, now: datetime) -> None:
        sheet = self.query_one("#wall", WallSheet)
        size = sheet.size
        if not size.width or not size.height:
            return
        drawn = wall(
            self._found,
            self.focus_bay,
            size.width,
            size.height,
            at,
            now,
            self.board.units,
            self._skip,
        )
        sheet.places = drawn.places
        sheet.show(drawn.lines)

    def _draw_all(self) -> None:
        self._draw()
        self._draw_talk()
        self._draw_offers()
        self._show_ear()

    def _draw_talk(self) -> None:
        talk, width = self.query_one("#talk", Talk), self.query_one("#talk", Talk).size.width
        lines: list[Line] = []
        for n, turn in enumerate(reversed(self._turns)):
            if n:
                lines.append((Span("─" * max(0, width - 2)),))
            for label, text in parts(turn, self.board.units):
                lines += wrapped(label, text, width - 2)
        if not lines:
            lines = [(Span(""),), *self._welcome(width)]
        talk.show(lines)
        self._draw_last()

    def _welcome(self, width: int) -> list[Line]:
        text = (
            "Nothing has been asked yet. Say it, or type it below: what can be asked stands "
            "beside. The vehicle maker's repair procedure and the product's data sheet come "
            "before every figure."
        )
        return wrapped("", text, width - 2)

    def _draw_last(self) -> None:
        """The last turn in two lines, for the wall."""
        sheet = self.query_one("#last", Sheet)
        width = self.size.width
        if self.view == BENCH:
            sheet.display = False
            return
        sheet.display = True
        if not self._turns:
            hint = " Say it, or type it here: how are the bays, show me bay two, what can i ask"
            sheet.show([(Span(fitted("", width)),), (Span(fitted(hint, width)),)])
            return
        last = self._turns[-1]
        said = parts(last, self.board.units)
        heard = heard_text(last.turn, last.text)
        label, text = next(((a, b) for a, b in said[1:] if a != "taken as"), ("", ""))
        cautions = any(a == "take care" for a, _ in said)
        more = "  (Tab: all of it, with cautions)" if cautions else ""
        first = f" {said[0][0]} › {heard}"
        room = width - len(more) - 1
        second = f" {label or 'not'} › {text}" if label else f" {text}"
        sheet.show(
            [
                (Span(fitted(first, width)),),
                (Span(fitted(second, room), "strong"), Span(fitted(more, width - room))),
            ]
        )

    def _draw_offers(self) -> None:
        sheet = self.query_one("#offers", Sheet)
        sheet.show(
            offer_lines(
                self._offers, self._chosen, self.offered_for, sheet.size.width, sheet.size.height
            )
        )

    def _show_ear(self) -> None:
        self._ear = self.board.ear()
        sheet = self.query_one("#ear", Sheet)
        sheet.show([(Span(ear_line(self._ear, sheet.size.width)),)])

    def _show_keys(self) -> None:
        other = BENCH if self.view == WALL else WALL
        target = self._call_target()
        items = [
            ("other_view", f"Tab {other}"),
            ("heard", f"F4 heard {target}".rstrip()),
            ("read_out", "F6 read out"),
            ("microphone", "F8 talk" if self.board.talks_by_key else "F8 mic"),
            ("undo", "F9 undo"),
            ("quit", "F10 leave"),
        ]
        if self.view == WALL:
            items.insert(1, ("move(1)", "↑↓ bay"))
        text = "  ".join(f"[@click=app.{action}]{words}[/]" for action, words in items)
        self.query_one(Keys).update(f" {text}")

    def _call_target(self) -> str:
        if not self._due or not self._due[0].bay:
            return "all bays" if self._due else ""
        return bay_name(self._due[0].bay).inside.written

    # --- what comes in ---

    def on_board_app_news_came(self, message: NewsCame) -> None:
        self.news, self._news_come = message.news, True
        if message.news.notices:
            self._notice = message.news.notices[-1]
        self._draw()
        self._show_keys()

    def on_board_app_desk_told(self, message: DeskTold) -> None:
        match message.happening:
            case Exchanged() as exchanged:
                if exchanged.turn.kind != "silent" or exchanged.typed:
                    self._turns = [*self._turns, exchanged][-KEPT_TURNS:]
                    self._notice = ""
                self._ask_offers()
            case EarsTold(sentence, mended):
                self._notice = "" if mended else sentence
        self._draw_talk()
        self._draw()

    def on_board_app_offers_came(self, message: OffersCame) -> None:
        if message.text == self.query_one(Input).value:
            self._offers, self.offered_for = message.offers, message.text
            self._chosen = None
            self._draw_offers()

    def on_board_app_view_asked(self, message: ViewAsked) -> None:
        if message.bay is not None:
            self.focus_bay = message.bay
        self.show_view(message.view)

    def on_wall_sheet_touched(self, message: WallSheet.Touched) -> None:
        self.focus_bay = message.bay
        self._draw()

    def _on_screen(self, what: str, bay: str | None, state: State) -> Said:
        """What was said to the screen, done; called on the desk's thread. Gives what the
        screen shows in words: nothing on it is for the eye alone."""
        reading = self.board.clock.read()
        found = standings(state, state.now(reading), local_time(reading), self.board.units)
        number = int(bay) if bay is not None and bay.isdigit() else None
        if what != "read wall":
            view = BENCH if what == "show bench" else WALL
            self.post_message(self.ViewAsked(view, number if what == "show bay" else None))
        return read_out(what, number, found)

    # --- typing ---

    def on_input_changed(self, event: Input.Changed) -> None:
        self._ask_offers()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        if self._chosen is not None and self.view == BENCH:
            self._take_chosen()
            return
        text = event.value.strip()
        if not text:
            return
        event.input.value = ""
        self.board.submit(text)

    def _take_chosen(self) -> None:
        question = self._offers.questions[self._chosen or 0]
        self._chosen = None
        self.begin_line(question.replace("…", "").rstrip() + (" " if "…" in question else ""))

    def begin_line(self, text: str) -> None:
        """Write into the line; whoever stands there goes on or sends it."""
        line = self.query_one(Input)
        line.value = text
        line.cursor_position = len(text)

    def _ask_offers(self) -> None:
        text = self.query_one(Input).value
        self.run_worker(
            self._offering(text), thread=True, exclusive=True, group="offers", exit_on_error=False
        )

    def _offering(self, text: str) -> Callable[[], None]:
        def work() -> None:
            found = self.board.offers(text)
            self.post_message(self.OffersCame(text, found))

        return work

    # --- keys ---

    def show_view(self, view: str) -> None:
        """Bench or Wall."""
        self.query_one("#views", ContentSwitcher).current = view
        self._chosen = None
        self._show_keys()
        self._draw_all()

    def action_other_view(self) -> None:
        self.show_view(BENCH if self.view == WALL else WALL)

    def action_heard(self) -> None:
        target = self._call_target()
        self.board.submit(f"i heard {'all the bays' if target in ('', 'all bays') else target}")

    def action_read_out(self) -> None:
        if self.view == WALL and self.focus_bay is not None:
            self.board.submit(f"show bay {self.focus_bay}")
        else:
            self.board.submit("read the wall")

    def action_microphone(self) -> None:
        if not self.board.has_microphone:
            self._notice = "this screen has no microphone: type it"
            self._draw()
            return
        self.board.microphone_key()
        self._show_ear()

    def action_undo(self) -> None:
        """Writes the order into the line: taking back the wrong thing is worse than a key more."""
        bay = self.focus_bay if self.focus_bay is not None else self._last_bay()
        self.begin_line("undo" if not bay else f"undo bay {bay}")

    def _last_bay(self) -> int | None:
        for exchanged in reversed(self._turns):
            if exchanged.turn.bay and exchanged.turn.bay.isdigit():
                return int(exchanged.turn.bay)
        return None

    def action_move(self, step: int) -> None:
        """The next bay on the wall; the next question on the bench."""
        if self.view == WALL:
            bays = [one.bay for one in self._found]
            if bays:
                there = bays.index(self.focus_bay) + step if self.focus_bay in bays else 0
                self.focus_bay = bays[there % len(bays)]
                self._draw()
            return
        count = len(self._offers.questions)
        if not count:
            return
        if self._chosen is None:
            self._chosen = 0 if step > 0 else None
        else:
            there = self._chosen + step
            self._chosen = None if there < 0 else min(there, count - 1)
        self._draw_offers()

    def action_page(self, step: int) -> None:
        if self.view == BENCH:
            talk = self.query_one("#talk", Talk)
            talk.scroll_relative(y=step * max(1, talk.size.height - 2), animate=False)
            return
        page = max(1, self.query_one("#wall", WallSheet).size.height // 2)
        self._skip = max(0, min(self._skip + step * page, max(0, len(self._found) - 1)))
        self._draw()

    def action_drop(self) -> None:
        """Empty the line and be silent; on an empty line, look at the most pressing bay again."""
        line = self.query_one(Input)
        if not line.value and self._chosen is None:
            self.focus_bay, self._skip = None, 0
        line.value = ""
        self._chosen = None
        self.board.hush()
        self._draw_all()
