"""What every command shares: exit codes, options, and how an outcome is printed and spoken."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

ANSWERED, BAD_INPUT, ASKS_BACK, NOT_UNDERSTOOD = 0, 2, 3, 4

UNITS_VARIABLE = "CLAMPCALL_UNITS"


class Units(StrEnum):
    us = "us"
    metric = "metric"


class VoiceName(StrEnum):
    auto = "auto"
    system = "system"
    bundled = "bundled"
    none = "none"


class BadInput(Exception):
    """One line for the person; exit code 2."""


JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object a line.")]
UnitsOption = Annotated[
    Units,
    typer.Option(envvar=UNITS_VARIABLE, help="Units of answers and of bare numbers."),
]
VoiceOption = Annotated[
    VoiceName | None,
    typer.Option(
        help="Speak the answer with the system's voice, the bundled one, whichever works "
        "(auto), or not at all. Default: auto with --save, else none."
    ),
]
SaveOption = Annotated[Path | None, typer.Option(help="Save the spoken answer as a WAV file.")]


def need_together(*pairs: tuple[str, Any, str, Any]) -> None:
    """Raises BadInput for an option without the one it goes with."""
    for option, value, needed, other in pairs:
        if _given(value) and not _given(other):
            raise BadInput(f"{option} goes with {needed}: give both")


def keep_apart(*pairs: tuple[str, Any, str, Any]) -> None:
    """Raises BadInput for two options of which one would do nothing."""
    for option, value, foreign, other in pairs:
        if _given(value) and _given(other):
            raise BadInput(f"{option} and {foreign} do not go together: leave one out")


def _given(value: Any) -> bool:
    """Whether an option was given: nought is a value, an empty list is none."""
    return value is not None and value is not False and value != []


def open_bench(units: Units, source: str = "voice"):
    """source: who gives orders, for the journal: "voice" or "text"."""
    from assistant.bench import Bench

    bench = Bench(units.value, shelf=open_shelf(), source=source)
    for problem in bench.shelf.problems:
        complain(problem)
    return bench


def open_shelf():
    from assistant.products.shelf import load_shelf

    return load_shelf()


def check_cards(files: list[Path], read: Callable[[Path], str]) -> NoReturn:
    """Explain each fault of each card file with its line; leaves with the exit code.

    read: checks one file, raising CardError, and gives what is said of a good one.
    """
    from assistant.products.card import CardError

    bad = False
    for file in files:
        try:
            said = read(file)
        except CardError as trouble:
            bad = True
            for line in str(trouble).splitlines():
                complain(line)
        else:
            print(f"{file}: good ({said})")
    raise typer.Exit(BAD_INPUT if bad else ANSWERED)


def exit_code(outcome) -> int:
    if outcome.clarify:
        return ASKS_BACK
    if outcome.not_for_me:
        return NOT_UNDERSTOOD
    if outcome.refusal and outcome.refusal.failed:
        return BAD_INPUT
    return ANSWERED


def print_outcome(outcome, as_json: bool, extra: Mapping[str, Any] | None = None) -> None:
    if as_json:
        print_json(dict(extra or {}) | as_dict(outcome))
        return
    heard = outcome.heard
    if heard.typed and heard.best and heard.confidence < 1.0:
        print(f'Taken as: "{heard.best.text}" ({heard.confidence:.0%} sure)')
    print(outcome.sentence)
    if outcome.answer:
        for label, lines in (
            ("Assumed", outcome.answer.assumptions),
            ("Basis", (outcome.answer.basis,) if outcome.answer.basis else ()),
            ("Caution", outcome.answer.cautions),
        ):
            for line in lines:
                print(f"  {label}: {line}")
    elif outcome.refusal:
        for line in outcome.refusal.cautions:
            print(f"  Caution: {line}")


def as_dict(outcome) -> dict[str, Any]:
    """The JSON form of an exchange; keys are documented in DEVELOPERS.md."""
    heard, answer = outcome.heard, outcome.answer
    request = outcome.request or outcome.clarify
    ended = (
        "answered"
        if answer
        else "asks_back"
        if outcome.clarify
        else "refused"
        if outcome.refusal
        else "not_understood"
    )
    return {
        "heard": heard.best.text if heard.best else heard.free_text,
        "score": number(heard.best.score) if heard.best else None,
        "margin": number(heard.margin),
        "free_margin": number(heard.free_margin),
        "confidence": heard.confidence,
        "outcome": ended,
        "routine": request.routine if request else (heard.best.rule if heard.best else None),
        "slots": {name: plain(value) for name, value in outcome.request.slots.items()}
        if outcome.request
        else {},
        "tags": heard.best.tag_map() if heard.best else {},
        "figures": {name: plain(value) for name, value in answer.figures.items()} if answer else {},
        "sentence": outcome.sentence,
        "spoken": outcome.spoken,
        "assumptions": list(answer.assumptions) if answer else [],
        "cautions": list(
            answer.cautions if answer else outcome.refusal.cautions if outcome.refusal else ()
        ),
        "basis": answer.basis if answer else "",
        "suggestions": list(outcome.not_for_me.suggestions) if outcome.not_for_me else [],
    }


def plain(value: Any) -> Any:
    """Quantities as {value, unit} by pint's full unit name, dates and times of day as ISO text;
    the rest as JSON knows it, or text."""
    if hasattr(value, "magnitude"):
        return {"value": float(value.magnitude), "unit": format(value.units, "D")}
    if hasattr(value, "isoformat"):
        return value.isoformat()
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    if isinstance(value, bool | int | float | str) or value is None:
        return value
    return str(value)


def number(value: float) -> float | None:
    return round(value, 3) if math.isfinite(value) else None


def print_json(data: Any) -> None:
    print(json.dumps(data, ensure_ascii=False), flush=True)


def complain(line: str) -> None:
    print(" ".join(line.split()), file=sys.stderr, flush=True)


def speak(text: str, voice: VoiceName | None, save: Path | None) -> None:
    """Say the text and save it; trouble with sound is one notice, the text stands."""
    if voice is None:
        voice = VoiceName.auto if save else VoiceName.none
    if voice is VoiceName.none:
        return
    from assistant.speaking.playback import NoSoundDevice, SoundError, play, save_wav
    from assistant.speaking.turn import turn
    from assistant.speaking.voices import choose_voice

    speaker = choose_voice(voice.value)
    samples, rate = speaker.synthesise(text)
    notice = speaker.take_notice()
    if notice:
        complain(notice)
    if not len(samples):
        if save is not None:
            raise BadInput(f"{save} was not written: no voice works here")
        return
    if save is not None:
        try:
            save_wav(save, samples, rate)
        except SoundError as trouble:
            raise BadInput(str(trouble)) from None
        return
    try:
        with turn():  # not over the bays' announcements
            play(samples, rate)
    except NoSoundDevice as trouble:
        complain(str(trouble))
    except SoundError as trouble:
        complain(str(trouble))
