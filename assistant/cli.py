"""The command line: ``clampcall ask``, ``hear``, ``products``, ``checkup``.

Exit codes: 0 answered (a refusal with its limit is an answer); 3 asks back; 4 not
understood or not addressed; 2 wrong usage or bad input, with one line on stderr. With
several files, ``hear`` exits with the highest code of any of them, but 2 if any was bad.
"""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant import __version__

ANSWERED, BAD_INPUT, ASKS_BACK, NOT_UNDERSTOOD = 0, 2, 3, 4

UNITS_VARIABLE = "CLAMPCALL_UNITS"

app = typer.Typer(
    help="A hands-free bench partner for panel bonding: ask, and it does the sum.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
products_app = typer.Typer(
    help="Product cards: list, show, check.", no_args_is_help=True, rich_markup_mode=None
)
app.add_typer(products_app, name="products")


class Units(StrEnum):
    us = "us"
    metric = "metric"


class VoiceName(StrEnum):
    auto = "auto"
    system = "system"
    bundled = "bundled"
    none = "none"


class Engine(StrEnum):
    bundled = "bundled"


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


# --- ask --------------------------------------------------------------------------------


@app.command()
def ask(
    text: Annotated[list[str], typer.Argument(help="The question, in words or figures.")],
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
    voice: VoiceOption = None,
    save: SaveOption = None,
) -> None:
    """Answer a typed question."""
    question = " ".join(text)
    if not question.strip():
        raise BadInput('no question: write one, as in clampcall ask "how much for forty inches"')
    bench = _bench(units)
    outcome = bench.exchange(bench.read(question))
    _print(outcome, as_json)
    _speak(outcome.spoken, voice, save)
    raise typer.Exit(_exit_code(outcome))


# --- hear -------------------------------------------------------------------------------


@app.command()
def hear(
    files: Annotated[list[Path], typer.Argument(help="WAV files with one question each.")],
    as_json: JsonOption = False,
    grammar: Annotated[
        Path | None,
        typer.Option(help="Only recognise, along this JSGF file, whatever it is about."),
    ] = None,
    engine: Annotated[Engine, typer.Option(help="Which recogniser listens.")] = Engine.bundled,
    units: UnitsOption = Units.us,
    voice: VoiceOption = None,
    save: SaveOption = None,
) -> None:
    """Answer spoken questions from WAV files."""
    from assistant.hearing.sources import SoundError, read_wav

    if save is not None and len(files) > 1:
        raise BadInput("--save takes the answer to one file: name one WAV file")
    if grammar is not None and save is not None:
        raise BadInput("--save needs an answer; with --grammar there is none to speak")
    listener = _GrammarListener(grammar) if grammar is not None else _BenchListener(units)
    worst, bad = ANSWERED, False
    for file in files:
        try:
            utterance = read_wav(file)
        except SoundError as trouble:
            bad = True
            _complain(str(trouble))
            if as_json:
                _print_json({"file": str(file), "error": str(trouble)})
            continue
        code, spoken = listener.listen(file, utterance, as_json, show_file=len(files) > 1)
        worst = max(worst, code)
        if grammar is None:
            _speak(spoken, voice, save)
    raise typer.Exit(BAD_INPUT if bad else worst)


class _BenchListener:
    def __init__(self, units: Units):
        self._bench = _bench(units)

    def listen(self, file: Path, utterance, as_json: bool, show_file: bool) -> tuple[int, str]:
        outcome = self._bench.exchange(self._bench.hear(utterance))
        if show_file and not as_json:
            print(f"{file}:")
        if not as_json and outcome.heard.best:
            print(f'Heard: "{outcome.heard.best.text}"')
        _print(outcome, as_json, {"file": str(file)})
        return _exit_code(outcome), outcome.spoken


class _GrammarListener:
    def __init__(self, path: Path):
        from assistant.bench import grammar_folder
        from assistant.hearing import jsgf
        from assistant.hearing.graph import Graph
        from assistant.hearing.recogniser import BundledRecogniser
        from assistant.hearing.speech_model import ModelMissing, SpeechModel

        try:
            fetch = jsgf.folder_fetcher(path.parent, grammar_folder())
            self._graph = Graph(jsgf.link([jsgf.read_file(path)], fetch))
            self._recogniser = BundledRecogniser(SpeechModel())
        except (jsgf.GrammarError, ModelMissing) as trouble:
            raise BadInput(str(trouble)) from None

    def listen(self, file: Path, utterance, as_json: bool, show_file: bool) -> tuple[int, str]:
        from assistant.understanding.requests import Limits, said_in_figures

        heard = self._recogniser.hear(utterance, self._graph, said_in_figures)
        accepted = heard.best is not None and not Limits().is_strange(heard)
        best = heard.best
        result = {
            "file": str(file),
            "text": best.text if best else "",
            "tags": best.tag_map() if best else {},
            "rule": best.rule if best else None,
            "score": _number(best.score) if best else None,
            "margin": _number(heard.margin),
            "free_margin": _number(heard.free_margin),
            "free_text": heard.free_text,
            "accepted": accepted,
            "alternatives": [
                {"text": other.text, "tags": other.tag_map(), "score": _number(other.score)}
                for other in heard.alternatives[:3]
            ],
        }
        if as_json:
            _print_json(result)
        else:
            lead = f"{file}: " if show_file else ""
            tags = "".join(f"  {name}={value}" for name, value in result["tags"].items())
            print(
                f"{lead}{result['text'] or '(nothing of the grammar)'}{tags}"
                f"{'' if accepted else '  [not accepted]'}"
            )
        return (ANSWERED if accepted else NOT_UNDERSTOOD), ""


# --- products ---------------------------------------------------------------------------


@products_app.command("list")
def products_list(as_json: JsonOption = False) -> None:
    """List the cards at hand."""
    shelf = _shelf()
    if as_json:
        _print_json(
            [
                {
                    "key": card.key,
                    "kind": card.kind,
                    "name": card.name,
                    "spoken": list(card.spoken),
                    "own": card.key in shelf.own,
                }
                for card in shelf.cards
            ]
        )
    else:
        for card in shelf.cards:
            origin = "own" if card.key in shelf.own else "demonstration, invented"
            print(f'{card.key:24} {card.kind:10} say "{card.spoken_name}"  ({origin})  {card.name}')
    for problem in shelf.problems:
        _complain(problem)
    raise typer.Exit(BAD_INPUT if shelf.problems else ANSWERED)


@products_app.command("show")
def products_show(
    key: Annotated[str, typer.Argument(help="A card's key or spoken name.")],
    as_json: JsonOption = False,
) -> None:
    """Show one card."""
    shelf = _shelf()
    for card in shelf.cards:
        if key in (card.key, *card.spoken):
            data = card.model_dump(mode="json")
            if as_json:
                _print_json(data)
            else:
                _print_card(data)
            return
    have = ", ".join(card.key for card in shelf.cards) or "none"
    raise BadInput(f"no card is called {key!r}; cards here: {have}")


@products_app.command("check")
def products_check(
    files: Annotated[list[Path], typer.Argument(help="Product cards (TOML).")],
) -> None:
    """Check cards and explain each fault with its line."""
    from assistant.products.card import CardError, read_card

    bad = False
    for file in files:
        try:
            card = read_card(file)
        except CardError as trouble:
            bad = True
            for line in str(trouble).splitlines():
                _complain(line)
        else:
            print(f"{file}: good ({card.name})")
    raise typer.Exit(BAD_INPUT if bad else ANSWERED)


def _print_card(data: Mapping[str, Any], indent: str = "") -> None:
    for name, value in data.items():
        if isinstance(value, Mapping):
            print(f"{indent}{name}:")
            _print_card(value, indent + "  ")
        elif isinstance(value, list) and value and isinstance(value[0], Mapping):
            for number, item in enumerate(value, start=1):
                print(f"{indent}{name} {number}:")
                _print_card(item, indent + "  ")
        elif isinstance(value, list):
            print(f"{indent}{name}: {', '.join(map(str, value))}")
        elif value is not None:
            print(f"{indent}{name}: {value}")


# --- checkup ----------------------------------------------------------------------------


@app.command()
def checkup(as_json: JsonOption = False) -> None:
    """Say what works here, and how to mend what does not."""
    from assistant.checks import run_checks

    rows = run_checks()
    if as_json:
        _print_json([row._asdict() for row in rows])
    else:
        for row in rows:
            print(f"{'works  ' if row.ok else 'MISSING'}  {row.name}: {row.note}")
    raise typer.Exit(ANSWERED if all(row.ok or not row.needed for row in rows) else BAD_INPUT)


# --- measure ----------------------------------------------------------------------------


@app.command()
def measure(
    folder: Annotated[
        Path, typer.Argument(help="Folder with a manifest.json of spoken questions.")
    ] = Path("audio_fixtures"),
    snr: Annotated[
        list[float] | None,
        typer.Option(help="Also in pink noise at this ratio in dB; may be given more than once."),
    ] = None,
    rounds: Annotated[int, typer.Option(min=1, help="Noise seeds for each ratio.")] = 1,
    seed: Annotated[int, typer.Option(help="First noise seed.")] = 0,
    units: UnitsOption = Units.us,
    as_json: JsonOption = False,
) -> None:
    """Measure accuracy and speed on spoken questions, beside free decoding in the same run."""
    from assistant.measuring import ManifestError, measure_folder

    try:
        rows = measure_folder(_bench(units), folder, [None, *(snr or [])], rounds, seed)
        for row in rows:
            if as_json:
                _print_json(row.as_dict())
            else:
                print(row.as_text(), flush=True)
    except ManifestError as trouble:
        raise BadInput(str(trouble)) from None


# --- shared -----------------------------------------------------------------------------


def _bench(units: Units):
    from assistant.bench import Bench

    bench = Bench(units.value, shelf=_shelf())
    for problem in bench.shelf.problems:
        _complain(problem)
    return bench


def _shelf():
    from assistant.products.shelf import load_shelf

    return load_shelf()


def _exit_code(outcome) -> int:
    if outcome.clarify:
        return ASKS_BACK
    if outcome.not_for_me:
        return NOT_UNDERSTOOD
    return ANSWERED


def _print(outcome, as_json: bool, extra: Mapping[str, Any] | None = None) -> None:
    if as_json:
        _print_json(dict(extra or {}) | as_dict(outcome))
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
        "score": _number(heard.best.score) if heard.best else None,
        "margin": _number(heard.margin),
        "free_margin": _number(heard.free_margin),
        "confidence": heard.confidence,
        "outcome": ended,
        "routine": request.routine if request else (heard.best.rule if heard.best else None),
        "slots": {name: _plain(value) for name, value in outcome.request.slots.items()}
        if outcome.request
        else {},
        "tags": heard.best.tag_map() if heard.best else {},
        "figures": {name: _plain(value) for name, value in answer.figures.items()}
        if answer
        else {},
        "sentence": outcome.sentence,
        "spoken": outcome.spoken,
        "assumptions": list(answer.assumptions) if answer else [],
        "cautions": list(
            answer.cautions if answer else outcome.refusal.cautions if outcome.refusal else ()
        ),
        "basis": answer.basis if answer else "",
        "suggestions": list(outcome.not_for_me.suggestions) if outcome.not_for_me else [],
    }


def _plain(value: Any) -> Any:
    """Quantities as {value, unit} by pint's full unit name; the rest as JSON knows it, or text."""
    if hasattr(value, "magnitude"):
        return {"value": float(value.magnitude), "unit": format(value.units, "D")}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool | int | float | str) or value is None:
        return value
    return str(value)


def _number(value: float) -> float | None:
    return round(value, 3) if math.isfinite(value) else None


def _print_json(data: Any) -> None:
    print(json.dumps(data, ensure_ascii=False), flush=True)


def _complain(line: str) -> None:
    print(" ".join(line.split()), file=sys.stderr, flush=True)


def _speak(text: str, voice: VoiceName | None, save: Path | None) -> None:
    """Say the text and save it; trouble with sound is one notice, the text stands."""
    if voice is None:
        voice = VoiceName.auto if save else VoiceName.none
    if voice is VoiceName.none:
        if save is not None:
            raise BadInput("--save needs a voice: leave out --voice none")
        return
    from assistant.speaking.playback import NoSoundDevice, SoundError, play, save_wav
    from assistant.speaking.voices import choose_voice

    speaker = choose_voice(voice.value)
    samples, rate = speaker.synthesise(text)
    notice = speaker.take_notice()
    if notice:
        _complain(notice)
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
        play(samples, rate)
    except NoSoundDevice as trouble:
        _complain(str(trouble))
    except SoundError as trouble:
        _complain(str(trouble))


def _version(wanted: bool) -> None:
    if wanted:
        print(f"clampcall {__version__}")
        raise typer.Exit()


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Entry point: every failure becomes one line and a documented exit code."""
    try:
        code = app(standalone_mode=False)
    except typer.Exit as finished:
        code = finished.exit_code
    except (typer.Abort, KeyboardInterrupt):
        code = 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = ANSWERED
    except BadInput as trouble:
        _complain(str(trouble))
        code = BAD_INPUT
    except Exception as trouble:
        code = _last_resort(trouble)
    sys.exit(code or ANSWERED)


def _last_resort(trouble: Exception) -> int:
    if hasattr(trouble, "format_message"):  # click's own usage errors
        context = getattr(trouble, "ctx", None)
        command = context.command_path if context else "clampcall"
        _complain(f"{trouble.format_message()} Try: {command} --help")
        return BAD_INPUT
    if os.environ.get("CLAMPCALL_DEBUG"):
        raise trouble
    _complain(
        f"something went wrong inside ({type(trouble).__name__}: {trouble}); "
        "set CLAMPCALL_DEBUG=1 to see where, and run clampcall checkup"
    )
    return BAD_INPUT


if __name__ == "__main__":
    main()
