"""The words and rules of the bench view: a turn as lines, the head, the call, the ear."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from assistant.listening.conversation import Turn
from assistant.screens.desk import Ear, Exchanged
from assistant.screens.offers import Offers
from assistant.screens.standing import Standing, percent, summary, worded_seconds
from assistant.screens.wall import Line, Span, fitted
from assistant.shop.announcements import Announcement
from assistant.shop.announcements import words as announced
from assistant.shop.wording import (
    STAGE_NOUN,
    Said,
    bay_name,
    both,
    capital,
    full_stop,
    plain_length,
)
from assistant.speaking.wording import written, written_percent
from assistant.trade.rounding import leftover_down, material_up

LABEL_WIDTH = 9
"""Columns of the words before each part of an answer."""

EAR_WORDS: Mapping[str, str] = {
    "off": "microphone off",
    "starting": "microphone starts",
    "listening": "listening",
    "hearing": "somebody speaks",
    "thinking": "working it out",
    "speaking": "answering",
    "trouble": "microphone trouble",
    "key": "waits for key",
}

METER_WIDTH = 8


def heard_text(turn: Turn, text: str = "") -> str:
    """What was heard or typed, in words."""
    if turn.heard.best is not None:
        return turn.heard.best.text
    return text or turn.heard.free_text


def parts(exchanged: Exchanged, units: str) -> list[tuple[str, str]]:
    """An exchange as labelled lines: what was heard, the answer and all that belongs to it."""
    turn = exchanged.turn
    found = [("typed" if exchanged.typed else "heard", heard_text(turn, exchanged.text))]
    taken = turn.heard.typed and turn.heard.best is not None and turn.heard.confidence < 1.0
    if taken:
        sure = written_percent(turn.heard.confidence)
        found[0] = ("typed", exchanged.text)
        found.append(("taken as", f"{heard_text(turn)} ({sure} sure)"))
    if turn.kind == "silent":
        found.append(("", not_answered(turn, exchanged.typed)))
        return found
    label = {"asks back": "asks", "refusal": "no figure"}.get(turn.kind, "answer")
    found.append((label, turn.sentence))
    outcome = turn.outcome
    if outcome is None:
        return found
    if outcome.answer is not None:
        answer = outcome.answer
        for label, shown in (
            ("given", given(turn)),
            ("figures", figures(answer.figures, units)),
        ):
            if shown:
                found.append((label, ", ".join(shown)))
        found += _together("take care", answer.cautions)
        found += _together("assumed", answer.assumptions)
        if answer.basis:
            found.append(("from", answer.basis))
    elif outcome.refusal is not None:
        found += _together("take care", outcome.refusal.cautions)
    return found


def _together(label: str, lines: Sequence[str]) -> list[tuple[str, str]]:
    """Sentences one behind the other: they are read as one paragraph."""
    text = " ".join(full_stop(capital(line)) for line in lines)
    return [(label, text)] if text else []


def not_answered(turn: Turn, typed: bool) -> str:
    if not typed:
        return f"not answered: {turn.why_silent or 'not for this bench'}"
    return "That is no question of this bench. Below is what comes nearest; say what can i ask."


def given(turn: Turn) -> list[str]:
    """What the question was understood to say, in its own words."""
    best = turn.heard.best
    tags = best.tags if best is not None else ()
    return [f"{name.replace('_', ' ')} {words}" for name, words in tags]


STATED, SHARE, LEFT = "_stated", "_share", "_left"


def figures(found: Mapping[str, Any], units: str) -> list[str]:
    """The figures behind an answer that stand beside its sentence.

    A figure to act by is on the safe side or is not shown: times as they were stated, what is
    left of a clock as the wall says it, material up and what is left over down. An exact clamp
    time, shorter than the one that was said, has no place on a screen.
    """
    shown = []
    for name, value in found.items():
        words, called = "", name
        if name.endswith(STATED):
            words, called = written(value, units), name.removesuffix(STATED)
        elif name.endswith(SHARE):
            words, called = f"{percent(value)} %", name.removesuffix(SHARE) + " done"
        elif name.endswith(LEFT) and _is(value, "[time]"):
            noun = STAGE_NOUN.get(name.removesuffix(LEFT), "")  # type: ignore[call-overload]
            words = plain_length(worded_seconds(value.m_as("second"), "left", noun)).written
        elif _is(value, "[volume]"):
            rounded = leftover_down if "left" in name else material_up
            unit = "mL" if units == "metric" else "fluid_ounce"
            words = written(rounded(value, unit), units)
        elif isinstance(value, int) and not isinstance(value, bool) and value:
            words = "" if name in ("job", "timer", "undone") else str(value)
        if words:
            shown.append(f"{called.replace('_', ' ')} {words}")
    return shown


def _is(value: Any, dimension: str) -> bool:
    return hasattr(value, "check") and bool(value.check(dimension))


def wrapped(label: str, text: str, width: int) -> list[Line]:
    """A labelled text over as many lines as it takes."""
    room = max(10, width - LABEL_WIDTH - 1)
    rows = textwrap.wrap(text, room) or [""]
    strong = label in ("answer", "asks", "no figure")
    return [
        (
            Span(f"{label if not n else '':<{LABEL_WIDTH}} "),
            Span(row, "strong" if strong else ""),
        )
        for n, row in enumerate(rows)
    ]


def head(view: str, now: datetime, found: Sequence[Standing], width: int, note: str = "") -> Line:
    """View, time and day, and how many bays need hands. note: what else must be known."""
    clock = f"{now:%H:%M:%S}  {now:%a} {now.day} {now:%b}"
    name = f" {view.upper()}  {note + ': ' if note else ''}"
    room = width - len(name) - len(clock) - 1
    return (Span(name + fitted(summary(found).written, room) + clock + " ", "reversed"),)


def read_out(what: str, bay: int | None, found: Sequence[Standing]) -> Said:
    """What is said to something that was said to the screen: what it shows, in words.

    what: one of ``dialogue.SCREEN``'s. bay: which one, for "show bay".
    """
    match what:
        case "show bench":
            return both("The bench.")
        case "show bay" if bay is not None:
            one = next((one for one in found if one.bay == bay), None)
            if one is not None:
                return Said(one.written, one.spoken)
            name, nothing = bay_name(bay), "nothing runs there."
            return Said(f"{name.written}: {nothing}", f"{name.spoken}: {nothing}")
        case "read wall":
            whole = summary(found)
            return Said(
                " ".join([whole.written, *(one.written for one in found)]),
                " ".join([whole.spoken, *(one.spoken for one in found)]),
            )
    return summary(found)


def call(due: Sequence[Announcement], at: float, now: datetime, units: str, width: int) -> Line:
    """The most pressing announcement that nobody has acknowledged."""
    if not due:
        return (Span(fitted("", width)),)
    first = due[0]
    more = f"  (and {len(due) - 1} more)" if len(due) > 1 else ""
    text = f"CALL  {announced(first, at, now, units).written}"
    return (Span(fitted(text, width - len(more)) + more, "strong"),)


def ear_line(ear: Ear, width: int) -> str:
    """State and level of the microphone, in words and as a bar."""
    word = EAR_WORDS.get(ear.word, ear.word)
    if ear.word in ("off", "starting", "trouble"):
        return fitted(word, width)
    if ear.word == "key":
        word = f"{word} {ear.key}"
    full = round(ear.share * METER_WIDTH)
    meter = f"[{'█' * full}{'·' * (METER_WIDTH - full)}]"
    return fitted(f"{word} {meter} {ear.level_db:.0f} dB", width)


def offer_lines(
    offers: Offers, chosen: int | None, typed: str, width: int, height: int
) -> list[Line]:
    """What can be asked, as many lines as there is room for; the chosen one is marked."""
    if not typed.strip():
        title = "CAN BE ASKED NOW  (↑↓ and Enter take one)"
    elif not offers.exact:
        title = "NO QUESTION BEGINS LIKE THAT; NEAREST ARE"
    elif offers.whole:
        title = "WHOLE AS IT STANDS (Enter asks it)"
    else:
        title = "GOES ON LIKE"
    lines: list[Line] = [(Span(fitted(title, width), "strong"),)]
    if typed.strip() and offers.goes_on:
        lines.append((Span(fitted("next word: " + " | ".join(offers.goes_on), width)),))
    room = max(0, height - len(lines))
    rows = [
        (n, row)
        for n, question in enumerate(offers.questions)
        for row in textwrap.wrap(question, max(20, width - 2), subsequent_indent="  ")
    ]
    at = next((place for place, (n, _) in enumerate(rows) if n == chosen), 0)
    first = max(0, min(at - room // 2, len(rows) - room))
    for n, row in rows[first : first + room]:
        mark = "▶ " if n == chosen else "  "
        lines.append((Span(fitted(mark + row, width), "reversed" if n == chosen else ""),))
    return lines[:height]
