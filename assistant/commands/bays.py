"""``clampcall bays``: the bays and their clocks from the command line."""

from __future__ import annotations

import math
import queue
import re
import shlex
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.commands.shared import (
    ANSWERED,
    BAD_INPUT,
    BadInput,
    JsonOption,
    Units,
    UnitsOption,
    VoiceName,
    complain,
    keep_apart,
    open_shelf,
    plain,
    print_json,
)

app = typer.Typer(
    help="Bays: clocks that follow the temperature, timers, and the voice that speaks up.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

MARKS = {
    "clamped": "closed",
    "closed": "closed",
    "clamps-off": "clamps_off",
    "sanded": "sanded",
    "painted": "painted",
    "trimmed": "trimmed",
    "done": "done",
}
"""Words for the steps -> how events call them."""

MATERIALS = ("adhesive", "filler", "sealer", "foam", "primer")

BayArgument = Annotated[int, typer.Argument(help="Number of the bay.", metavar="BAY")]
MaybeBay = Annotated[
    int | None, typer.Argument(help="Number of the bay; none: the whole shop.", metavar="[BAY]")
]
TemperatureOption = Annotated[
    str, typer.Option("--temperature", "-t", help='Of the metal: "62 F", "16.5 C", "62".')
]
AgoOption = Annotated[str | None, typer.Option(help='How long ago it went on: "5 min".')]
ProductOption = Annotated[
    str | None, typer.Option(help="A card's key or spoken name; none: the default card.")
]


def open_shop(units: Units, source: str = "command"):
    """The shop of this machine; says on stderr what the journal had to mend."""
    from assistant.shop.journal import Journal, JournalTrouble
    from assistant.shop.shop import Shop

    try:
        shop = Shop(Journal(), units.value, source)
    except JournalTrouble as trouble:
        raise BadInput(str(trouble)) from None
    tell_notices(shop)
    return shop


def tell_notices(shop) -> None:
    for notice in shop.journal.take_notices():
        complain(notice)


def done(order: Callable[[], Any], shop, as_json: bool) -> None:
    """Run an order and print its effect; a refusal is one line and exit code 2."""
    from assistant.exchange import Refusal

    try:
        effect = order()
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None
    finally:
        tell_notices(shop)
    if as_json:
        print_json(
            {
                "events": [event.id for event in effect.events],
                "sentence": effect.said.written,
                "spoken": effect.said.spoken,
                "figures": {name: plain(value) for name, value in effect.figures.items()},
                "cautions": list(effect.cautions),
            }
        )
        return
    print(effect.said.written)
    for line in effect.cautions:
        print(f"  Caution: {line}")


# --- what a person types ----------------------------------------------------------------------


def read_temperature(text: str, units: Units) -> float:
    """Celsius. A bare figure is in the shop's units. Raises BadInput."""
    from assistant.understanding import quantities, typed
    from assistant.units import DEGREES

    words = " ".join(typed.in_words(typed.tidy(text)))
    try:
        reading = quantities.temperature(words, DEGREES[units.value])
    except quantities.NotAQuantity:
        raise BadInput(f'{text!r} is not a temperature: write "62 F", "16.5 C" or "62"') from None
    return reading.m_as("degC")


def read_duration(text: str) -> float:
    """Seconds. A bare figure counts minutes. Raises BadInput."""
    from assistant.understanding import quantities, typed

    words = " ".join(typed.in_words(typed.tidy(text)))
    try:
        seconds = quantities.quantity(words, "duration", "minute").m_as("second")
    except quantities.NotAQuantity:
        seconds = math.nan
    if not seconds >= 0:
        raise BadInput(f'{text!r} is not a time: write "10 min", "1 h 30 min" or "90 s"')
    return seconds


def find_card(name: str | None, material: str):
    """A card by key or spoken name, or the default of the material. Raises BadInput."""
    from assistant.exchange import Refusal

    shelf = open_shelf()
    try:
        if name is None:
            return shelf.default(material)
        for card in shelf.cards:
            if name == card.key:
                return card
        for card in shelf.cards:
            if name.lower() in card.spoken:
                return card
        return shelf.product(name, material)
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None


def read_clock_time(text: str) -> int:
    """Minutes of the day from "22:00". Raises BadInput."""
    match = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", text.strip())
    if not match:
        raise BadInput(f'{text!r} is not a time of day: write "22:00"')
    return int(match[1]) * 60 + int(match[2])


# --- commands ---------------------------------------------------------------------------------


@app.command("list")
def list_bays(
    bay: MaybeBay = None, as_json: JsonOption = False, units: UnitsOption = Units.us
) -> None:
    """Say how each bay stands. Writes nothing."""
    from assistant.exchange import Refusal
    from assistant.shop.orders import check_bay

    shop = open_shop(units)
    try:
        if bay is not None:
            check_bay(bay)
        if as_json:
            for row in rows(shop, bay):
                print_json(row)
            return
        at, _ = shop.read_clock()
        numbers = [bay] if bay is not None else sorted(shop.state.bays)
        told = [shop.status(n) for n in numbers if bay is not None or _stands(shop, n, at)]
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None
    finally:
        tell_notices(shop)
    for effect in told:
        print(effect.said.written)
    if not told:
        print("No clock runs in any bay.")


def _stands(shop, number: int, at: float) -> bool:
    there = shop.state.bay(number)
    return bool(there.running) or any(t.paused or t.due > at for t in there.timers)


def rows(shop, bay: int | None = None) -> list[dict[str, Any]]:
    """The running jobs and timers as plain data, for --json: times in seconds, Celsius."""
    at, _ = shop.read_clock()
    found: list[dict[str, Any]] = []
    for job in shop.state.running:
        if bay is not None and job.bay != bay:
            continue
        clocks = {}
        for stage, clock in job.clocks.items():
            clocks[stage] = {
                "share": round(clock.share(at), 6),
                "seconds_left": round(max(0.0, clock.end - at), 1)
                if math.isfinite(clock.end)
                else None,
                "over": clock.over(at),
                "past_limit": str(clock.limit) if clock.limit else None,
            }
        found.append(
            {
                "bay": job.bay,
                "job": job.id,
                "material": job.material,
                "product": job.started.product,
                "invented": job.started.invented,
                "celsius": job.last_reading.celsius,
                "reading_age_seconds": round(at - job.last_reading.at, 1),
                "running_seconds": round(at - job.start_at, 1),
                "steps": [marked.mark for marked in job.marks],
                "closed": job.closed,
                "clocks": clocks,
            }
        )
    for timer in shop.state.timers:
        if bay is not None and timer.bay != bay:
            continue
        if timer.paused or timer.due > at:
            found.append(
                {
                    "bay": timer.bay or None,
                    "timer": timer.id,
                    "label": timer.label,
                    "paused": timer.paused,
                    "seconds_left": round(timer.left if timer.paused else timer.due - at, 1),
                }
            )
    return found


@app.command()
def start(
    bay: BayArgument,
    temperature: TemperatureOption,
    product: ProductOption = None,
    material: Annotated[
        str, typer.Option(help="What went on: adhesive, filler, sealer, foam or primer.")
    ] = "adhesive",
    ago: AgoOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """A material went on: start its clocks."""
    if material not in MATERIALS:
        raise BadInput(f"--material takes {', '.join(MATERIALS)}, not {material!r}")
    celsius = read_temperature(temperature, units)
    since = 0.0 if ago is None else read_duration(ago)
    card = find_card(product, material)
    shop = open_shop(units)
    done(lambda: shop.start(bay, card, celsius, since), shop, as_json)


@app.command()
def reading(
    bay: BayArgument,
    temperature: Annotated[list[str], typer.Argument(help='Of the metal: "50 F".')],
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """The metal has another temperature now: every clock of the bay follows it."""
    celsius = read_temperature(" ".join(temperature), units)
    shop = open_shop(units)
    done(lambda: shop.read_temperature(bay, celsius), shop, as_json)


@app.command()
def stage(
    bay: BayArgument,
    step: Annotated[str, typer.Argument(help=f"What was done: {', '.join(MARKS)}.")],
    early: Annotated[
        bool, typer.Option("--early", help="It was done, although its time was not over.")
    ] = False,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """A step was done: clamped, clamps off, sanded, painted, trimmed, done."""
    mark = MARKS.get(step.lower().replace("_", "-").replace(" ", "-"))
    if mark is None:
        raise BadInput(f"no step is called {step!r}; steps: {', '.join(MARKS)}")
    shop = open_shop(units)
    done(lambda: shop.mark(bay, mark, early), shop, as_json)


@app.command()
def timer(
    duration: Annotated[str, typer.Argument(help='How long: "10 min".')],
    bay: MaybeBay = None,
    name: Annotated[str | None, typer.Option(help="What for: paint booth.")] = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Set a plain timer, of a bay or of the whole shop."""
    seconds = read_duration(duration)
    label = " ".join(name.split()) if name and name.strip() else None
    if label is not None and len(label) > 60:
        raise BadInput("--name takes up to 60 characters")
    shop = open_shop(units)
    done(lambda: shop.start_timer(seconds, bay, label), shop, as_json)


NameOption = Annotated[str | None, typer.Option(help="The timer's name; none: the newest.")]


@app.command()
def pause(
    bay: MaybeBay = None,
    name: NameOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Stop a plain timer for a while. The clock of a material has no pause."""
    shop = open_shop(units)
    done(lambda: shop.pause_timer(bay, name), shop, as_json)


@app.command()
def resume(
    bay: MaybeBay = None,
    name: NameOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Let a paused timer go on."""
    shop = open_shop(units)
    done(lambda: shop.resume_timer(bay, name), shop, as_json)


@app.command()
def cancel(
    bay: MaybeBay = None,
    timer: Annotated[bool, typer.Option("--timer", help="A timer, not a material.")] = False,
    name: NameOption = None,
    material: Annotated[str | None, typer.Option(help="Which, where several run.")] = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Give up the job of a bay, or a timer."""
    if material is not None and material not in MATERIALS:
        raise BadInput(f"--material takes {', '.join(MATERIALS)}, not {material!r}")
    keep_apart(("--timer", timer, "--material", material), ("--name", name, "--material", material))
    if bay is None and not (timer or name):
        raise BadInput("say which bay, or --timer for a timer of the whole shop")
    shop = open_shop(units)
    if timer or name:
        done(lambda: shop.cancel_timer(bay, name), shop, as_json)
    else:
        done(lambda: shop.cancel(bay, material), shop, as_json)


@app.command()
def correct(
    bay: BayArgument,
    temperature: Annotated[
        str | None, typer.Option("--temperature", "-t", help="What it should have been.")
    ] = None,
    product: ProductOption = None,
    ago: AgoOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Set right what was said of the running job; the history stays."""
    celsius = None if temperature is None else read_temperature(temperature, units)
    card = None if product is None else find_card(product, "adhesive")
    since = None if ago is None else read_duration(ago)
    shop = open_shop(units)
    done(lambda: shop.correct(bay, celsius, card, since), shop, as_json)


@app.command()
def undo(bay: MaybeBay = None, as_json: JsonOption = False, units: UnitsOption = Units.us) -> None:
    """Take back the last thing that was said of a bay."""
    shop = open_shop(units)
    done(lambda: shop.undo(bay), shop, as_json)


@app.command()
def heard(bay: MaybeBay = None, as_json: JsonOption = False, units: UnitsOption = Units.us) -> None:
    """You have heard it: what is repeated for the bay (or for all) falls silent."""
    shop = open_shop(units)
    done(lambda: shop.acknowledge(bay), shop, as_json)


@app.command()
def quiet(
    start: Annotated[str, typer.Argument(help='From: "22:00"; or "off".')],
    end: Annotated[str | None, typer.Argument(help='Until: "6:00".')] = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Quiet hours: nothing but the urgent is spoken."""
    if start.lower() == "off":
        if end is not None:
            raise BadInput("quiet hours are off for good: clampcall bays quiet off")
        hours = None
    elif end is None:
        raise BadInput("quiet hours need a beginning and an end: clampcall bays quiet 22:00 6:00")
    else:
        hours = (read_clock_time(start), read_clock_time(end))
    shop = open_shop(units)
    done(lambda: shop.set_quiet_hours(hours), shop, as_json)


@app.command()
def batch() -> None:
    """Take orders from standard input, one a line, as they stand behind "clampcall bays":
    reading 2 50 F. What follows a # is not read. Ends with 2 if any was refused."""
    refused = False
    for line in sys.stdin:
        try:
            arguments = shlex.split(line, comments=True)
            if not arguments:
                continue
            if arguments[0] in ("batch", "watch"):
                raise BadInput(f"{arguments[0]} cannot stand in a batch")
            code = app(arguments, standalone_mode=False)
            refused = refused or bool(code)
        except ValueError as trouble:  # a quote that is not closed
            refused = True
            complain(f"{line.strip()!r}: {trouble}")
        except BadInput as trouble:
            refused = True
            complain(str(trouble))
        except Exception as trouble:
            if not hasattr(trouble, "format_message"):  # not one of the command line's own
                raise
            refused = True
            complain(f"{line.strip()!r}: {trouble.format_message()}")
    raise typer.Exit(BAD_INPUT if refused else ANSWERED)


# --- watch ------------------------------------------------------------------------------------

POLL_SECONDS = 0.2
"""How often the watch looks: an announcement is at most this late, and what it takes to say."""


@app.command()
def watch(
    feed: Annotated[
        Path | None,
        typer.Option(help='Sensor readings, one a line ("2 61.5 F"): a file or a named pipe.'),
    ] = None,
    voice: Annotated[
        VoiceName,
        typer.Option(help="Who speaks; none: only the screen."),
    ] = VoiceName.auto,
    seconds: Annotated[
        float | None, typer.Option("--for", help="End after so many seconds.", min=0)
    ] = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Speak up when a clock needs hands. Enter: you have heard it; a number and Enter: that
    bay only. Ctrl-C ends it; what falls due meanwhile is said late, at the next start."""
    from assistant.shop.announcer import Announcer, SilentSpeaker, VoiceSpeaker

    shop = open_shop(units)
    if shop.journal.read_only:
        raise BadInput(
            f"{shop.journal.folder} may only be read: the watch could not write down what it said"
        )
    speaker: SilentSpeaker | VoiceSpeaker = SilentSpeaker()
    if voice is not VoiceName.none:
        from assistant.speaking.voices import choose_voice

        speaker = VoiceSpeaker(choose_voice(voice.value), complain)
    announcer = Announcer(shop, speaker, _teller(as_json))
    watcher = _Watcher(shop, announcer, feed, units)
    ends = None if seconds is None else time.monotonic() + seconds
    try:
        while ends is None or time.monotonic() < ends:
            if not watcher.turn():
                time.sleep(POLL_SECONDS)
    except KeyboardInterrupt:
        pass
    finally:
        announcer.close()


def _teller(as_json: bool):
    def tell(one, said, now) -> None:
        if as_json:
            print_json(
                {
                    "at": now.isoformat(timespec="milliseconds"),
                    "key": one.key if one else None,
                    "bay": (one.bay or None) if one else None,
                    "priority": one.priority.name.lower() if one else "low",
                    "sentence": said.written,
                    "spoken": said.spoken,
                }
            )
        else:
            print(f"{now:%H:%M:%S}  {said.written}", flush=True)

    return tell


class _Watcher:
    """The watch's loop: announcements, the feed, the keys of whoever stands before it."""

    def __init__(self, shop, announcer, feed: Path | None, units: Units):
        from assistant.shop.feed import Feed, FeedFile

        self._shop = shop
        self._announcer = announcer
        self._file = None if feed is None else FeedFile(feed)
        self._feed = Feed(units.value)
        self._complained: dict[str, float] = {}
        self._keys = _keys() if sys.stdin is not None and sys.stdin.isatty() else None
        self._waits = False

    def turn(self) -> bool:
        """True while there is more to do at once."""
        from assistant.exchange import Refusal

        try:
            self._take_keys()
            self._take_readings()
            more = self._announcer.step()
        except Refusal as trouble:  # a full disk, a journal that is held: go on and try again
            self._complain(str(trouble))
            more = False
        tell_notices(self._shop)
        if not self._announcer.speaks and not self._waits:
            complain("another watch of this shop speaks already; this one takes over when it ends")
        self._waits = not self._announcer.speaks
        return more

    def _complain(self, line: str) -> None:
        """The same line at most once a minute."""
        now = time.monotonic()
        if now - self._complained.get(line, -math.inf) >= 60:
            self._complained[line] = now
            complain(line)

    def _take_keys(self) -> None:
        while self._keys is not None and not self._keys.empty():
            typed = self._keys.get().strip()
            if typed and not typed.isdecimal():
                complain("press Enter for all bays, or a bay's number and Enter")
                continue
            effect = self._shop.acknowledge(int(typed) if typed else None)
            print(effect.said.written, flush=True)

    def _take_readings(self) -> None:
        if self._file is None or not self._announcer.speaks:
            return
        from assistant.shop.events import TemperatureRead
        from assistant.shop.feed import BadLine, read_line

        try:
            lines = self._file.lines()
        except OSError as trouble:
            self._complain(f"{self._file.path}: {trouble.strerror or trouble}; looking again")
            lines = []
        at = self._shop.read_clock()[0]
        for line in lines:
            try:
                found = read_line(line)
            except BadLine as bad:
                self._complain(f"{self._file.path.name}: {bad}")
                continue
            if found is None:
                continue
            verdict = self._feed.take(found, at, self._shop.state)
            if verdict.keep:
                self._shop.journal.append(
                    TemperatureRead(bay=found.bay, celsius=found.celsius, source="feed")
                )
            if verdict.notice:
                self._announcer.notice(verdict.notice)
        for notice in self._feed.silent(at, self._shop.state):
            self._announcer.notice(notice)


def _keys() -> queue.Queue[str]:
    """Lines typed at the terminal, read beside the loop."""
    typed: queue.Queue[str] = queue.Queue()

    def read() -> None:
        for line in sys.stdin:
            typed.put(line)

    threading.Thread(target=read, daemon=True).start()
    return typed
