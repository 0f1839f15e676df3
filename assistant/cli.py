"""The command line: ``clampcall ask``, ``hear``, ``products``, ``checkup``.

Exit codes: 0 answered (a refusal with its limit is an answer); 3 asks back; 4 not
understood or not addressed; 2 wrong usage or bad input, with one line on stderr. With
several files, ``hear`` exits with the highest code of any of them, but 2 if any was bad.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant import __version__
from assistant.commands import bays, board, listen, measure, record, rehearse
from assistant.commands.recogniser import (
    EncoderOption,
    Engine,
    EngineOption,
    Loading,
    ModelOption,
)
from assistant.commands.shared import (
    ANSWERED,
    BAD_INPUT,
    NOT_UNDERSTOOD,
    BadInput,
    JsonOption,
    SaveOption,
    Units,
    UnitsOption,
    VoiceName,
    VoiceOption,
    check_cards,
    complain,
    exit_code,
    keep_apart,
    number,
    open_bench,
    open_shelf,
    print_json,
    print_outcome,
    speak,
)
from assistant.hearing.encoder import DEFAULT_ENCODER

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
app.add_typer(bays.app, name="bays")
app.add_typer(record.app, name="record")
app.add_typer(rehearse.app, name="rehearse")
app.command()(listen.listen)
app.command()(board.board)
app.command()(measure.measure)


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
    keep_apart(("--save", save, "--voice none", voice is VoiceName.none))
    question = " ".join(text)
    if not question.strip():
        raise BadInput('no question: write one, as in clampcall ask "how much for forty inches"')
    bench = open_bench(units, "text")
    outcome = bench.exchange(bench.read(question))
    print_outcome(outcome, as_json)
    speak(outcome.spoken, voice, save)
    raise typer.Exit(exit_code(outcome))


# --- hear -------------------------------------------------------------------------------


@app.command()
def hear(
    files: Annotated[list[Path], typer.Argument(help="WAV files with one question each.")],
    as_json: JsonOption = False,
    grammar: Annotated[
        Path | None,
        typer.Option(help="Only recognise, along this JSGF file, whatever it is about."),
    ] = None,
    engine: EngineOption = Engine.bundled,
    model: ModelOption = None,
    encoder: EncoderOption = DEFAULT_ENCODER,
    units: UnitsOption = Units.us,
    voice: VoiceOption = None,
    save: SaveOption = None,
) -> None:
    """Answer spoken questions from WAV files."""
    from assistant.hearing import lost_cycles
    from assistant.hearing.sources import SoundError, read_wav

    keep_apart(("--save", save, "--voice none", voice is VoiceName.none))
    if save is not None and len(files) > 1:
        raise BadInput("--save takes the answer to one file: name one WAV file")
    for option, value in (("--save", save), ("--voice", voice)):
        if grammar is not None and value not in (None, VoiceName.none):
            raise BadInput(f"{option} needs an answer; with --grammar there is none to speak")
    loading = Loading(engine, model, encoder)
    if grammar is not None:
        listener = _GrammarListener(grammar, loading)
    else:
        listener = _BenchListener(units, loading)
    worst, bad = ANSWERED, False
    for file in files:
        try:
            utterance = read_wav(file)
        except SoundError as trouble:
            bad = True
            complain(str(trouble))
            if as_json:
                print_json({"file": str(file), "error": str(trouble)})
            continue
        code, spoken = listener.listen(file, utterance, as_json, show_file=len(files) > 1)
        worst = max(worst, code)
        if grammar is None:
            speak(spoken, voice, save)
        lost_cycles.search_if_due()
    raise typer.Exit(BAD_INPUT if bad else worst)


class _BenchListener:
    def __init__(self, units: Units, loading: Loading):
        self._bench = open_bench(units)
        self._bench.recogniser = loading.done((self._bench.graph,))

    def listen(self, file: Path, utterance, as_json: bool, show_file: bool) -> tuple[int, str]:
        outcome = self._bench.exchange(self._bench.hear(utterance))
        if show_file and not as_json:
            print(f"{file}:")
        if not as_json and outcome.heard.best:
            print(f'Heard: "{outcome.heard.best.text}"')
        print_outcome(outcome, as_json, {"file": str(file)})
        return exit_code(outcome), outcome.spoken


class _GrammarListener:
    def __init__(self, path: Path, loading: Loading):
        from assistant.bench import grammar_folder
        from assistant.hearing import jsgf
        from assistant.hearing.graph import Graph

        try:
            fetch = jsgf.folder_fetcher(path.parent, grammar_folder())
            self._graph = Graph(jsgf.link([jsgf.read_file(path)], fetch))
        except jsgf.GrammarError as trouble:
            raise BadInput(str(trouble)) from None
        self._recogniser = loading.done((self._graph,))

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
            "score": number(best.score) if best else None,
            "margin": number(heard.margin),
            "free_margin": number(heard.free_margin),
            "free_text": heard.free_text,
            "accepted": accepted,
            "alternatives": [
                {"text": other.text, "tags": other.tag_map(), "score": number(other.score)}
                for other in heard.alternatives[:3]
            ],
        }
        if as_json:
            print_json(result)
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
    shelf = open_shelf()
    if as_json:
        print_json(
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
        complain(problem)
    raise typer.Exit(BAD_INPUT if shelf.problems else ANSWERED)


@products_app.command("show")
def products_show(
    key: Annotated[str, typer.Argument(help="A card's key or spoken name.")],
    as_json: JsonOption = False,
) -> None:
    """Show one card."""
    shelf = open_shelf()
    for card in shelf.cards:
        if key in (card.key, *card.spoken):
            data = card.model_dump(mode="json")
            if as_json:
                print_json(data)
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
    from assistant.products.card import read_card

    check_cards(files, lambda file: read_card(file).name)


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
def checkup(
    as_json: JsonOption = False,
    write_config: Annotated[
        bool,
        typer.Option("--write-config", help="Write the configuration file, every key explained."),
    ] = False,
) -> None:
    """Say what works here, and how to mend what does not."""
    if write_config:
        listen.write_config()
    from assistant.checks import run_checks

    rows = run_checks()
    if as_json:
        print_json([row._asdict() for row in rows])
    else:
        for row in rows:
            print(f"{'works  ' if row.ok else 'MISSING'}  {row.name}: {row.note}")
    raise typer.Exit(ANSWERED if all(row.ok or not row.needed for row in rows) else BAD_INPUT)


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
        try:
            code = app(standalone_mode=False)
        except typer.Exit as finished:
            code = finished.exit_code
        sys.stdout.flush()  # what a buffer still holds may not be writable either
    except (typer.Abort, KeyboardInterrupt):
        code = 130
    except BrokenPipeError:
        _give_up_output()
        code = ANSWERED
    except BadInput as trouble:
        complain(str(trouble))
        code = BAD_INPUT
    except Exception as trouble:
        code = _last_resort(trouble)
    sys.exit(code or ANSWERED)


def _give_up_output() -> None:
    """Nothing more can be written to standard output, not even by the interpreter as it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


PLAIN_WORDS = (
    ("Value error, ", ""),
    ("Input should be a valid integer, unable to parse string as an integer", "give a number"),
    ("Input should be a valid number, unable to parse string as a number", "give a number"),
    ("Input should be ", "it must be "),
)
"""What the library of the command line says of a wrong value -> words for a person."""


def usage_error(trouble: Exception) -> str:
    """What is wrong with a command line, and where its help is."""
    said = trouble.format_message()  # type: ignore[attr-defined]
    for words, plain in PLAIN_WORDS:
        said = said.replace(words, plain)
    context = getattr(trouble, "ctx", None)
    command = context.command_path if context else "clampcall"
    return f"{said.rstrip('.')}. Try: {command} --help"


def _last_resort(trouble: Exception) -> int:
    if type(trouble).__name__ == "NoArgsIsHelpError":  # a page, not a line
        print(trouble.format_message())  # type: ignore[attr-defined]
        complain("no command was named: the page above has them")
        return BAD_INPUT
    if hasattr(trouble, "format_message"):  # click's own usage errors
        complain(usage_error(trouble))
        return BAD_INPUT
    if os.environ.get("CLAMPCALL_DEBUG"):
        raise trouble
    if isinstance(trouble, OSError) and trouble.errno in (errno.ENOSPC, errno.EDQUOT, errno.EIO):
        where = trouble.filename or "what should be written"
        if not trouble.filename:
            _give_up_output()
        complain(f"{where} was not written to its end: {trouble.strerror}")
        return BAD_INPUT
    if odd := [argument for argument in sys.argv if not _is_text(argument)]:
        complain(f"{odd[0]!r} is no text in UTF-8: type it again")
        return BAD_INPUT
    complain(
        f"something went wrong inside ({type(trouble).__name__}: {trouble}); "
        "set CLAMPCALL_DEBUG=1 to see where, and run clampcall checkup"
    )
    return BAD_INPUT


def _is_text(argument: str) -> bool:
    try:
        argument.encode()
    except UnicodeEncodeError:
        return False
    return True


if __name__ == "__main__":
    main()
