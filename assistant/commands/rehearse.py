"""``clampcall rehearse``: recitation, drill and reading along, typed or from recordings."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, nullcontext
from datetime import UTC, datetime
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.commands.shared import (
    ANSWERED,
    BAD_INPUT,
    NOT_UNDERSTOOD,
    BadInput,
    JsonOption,
    SaveOption,
    Units,
    UnitsOption,
    VoiceOption,
    check_cards,
    complain,
    open_bench,
    plain,
    print_json,
    speak,
)

app = typer.Typer(
    help="Rehearse a procedure: say its steps aloud, be asked, or have it read to you.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

CardArgument = Annotated[str, typer.Argument(help="A card's key or spoken name.")]
FromOption = Annotated[
    list[str] | None,
    typer.Option(
        "--from", help="Recordings (WAV), one utterance after another; - for typed lines."
    ),
]
TraineeOption = Annotated[
    str | None, typer.Option(help="Keep the result under this name; without it nothing is kept.")
]


# --- the cards ----------------------------------------------------------------------------


@app.command("list")
def list_cards(as_json: JsonOption = False) -> None:
    """List the procedure cards."""
    library = _library()
    for card in library.cards:
        own = card.key in library.own
        if as_json:
            print_json({"key": card.key, "name": card.name, "steps": len(card.steps), "own": own})
        else:
            origin = "own" if own else "invented shop"
            print(f"{card.key:22} {len(card.steps):2} steps  ({origin})  {card.name}")
    raise typer.Exit(BAD_INPUT if library.problems else ANSWERED)


@app.command("show")
def show_card(card: CardArgument, as_json: JsonOption = False) -> None:
    """Show a procedure card: steps, order, reasons."""
    found = _card(card)
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    print(f"{found.name}: {found.about}")
    if found.note:
        print(f"  {found.note}")
    for line in found.cautions:
        print(f"  Caution: {line}")
    for number, step in enumerate(found.steps, start=1):
        after = f" (after {', '.join(step.after)})" if step.after else ""
        optional = " (may be left out)" if step.optional else ""
        print(f"{number:2}. {step.say}  [{step.key}]{after}{optional}")
        for label, text in (
            ("Safety", step.hold),
            ("Why", step.why),
            ("Often forgotten", step.forgotten),
            ("Caution", step.caution),
        ):
            if text:
                print(f"      {label}: {text}")
        for figure in step.figures:
            print(f"      Figure, {figure.about}: {_figure_words(figure)}")


def _figure_words(figure) -> str:
    """What a figure must be, as the card has it."""
    if figure.question is not None:
        question = figure.question.replace("{temperature}", "...")
        return f'{figure.bound} the answer to "{question}"'
    ends = [("at least", figure.low), ("at most", figure.high)]
    return ", ".join(f"{bound} {end}" for bound, end in ends if end is not None)


@app.command("check")
def check_files(
    files: Annotated[list[Path], typer.Argument(help="Procedure cards (TOML).")],
) -> None:
    """Check procedure cards and explain each fault with its line."""
    from assistant.products.card import card_text
    from assistant.rehearsal.card import read_procedure, refuse
    from assistant.rehearsal.figures import unanswered

    @cache
    def answers():
        return _ask(open_bench(Units.us))  # only where a card asks it anything

    def read(file: Path) -> str:
        card = read_procedure(file)
        faults = unanswered(card, lambda question: answers()(question))
        refuse(faults, card_text(file, "procedure card"), file.name)
        return f"{card.name}, {len(card.steps)} steps"

    check_cards(files, read)


# --- recitation ---------------------------------------------------------------------------


@app.command()
def recite(
    card: CardArgument,
    text: Annotated[list[str] | None, typer.Argument(help="What the trainee says.")] = None,
    source: FromOption = None,
    trainee: TraineeOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
    voice: VoiceOption = None,
    save: SaveOption = None,
    dialogue: Annotated[
        Path | None,
        typer.Option(help="Save the whole rehearsal, both sides, as a WAV file."),
    ] = None,
) -> None:
    """Say the steps freely, step by step or all at once; hear what was missed or wrong.

    Typed lines may also be: hint, why [words of a step], so far, done. A step that was perhaps
    said is asked for at "done"; say it once more, then done again.
    """
    from assistant.rehearsal.recitation import Recitation
    from assistant.rehearsal.wording import spoken_verdict, verdict_lines
    from assistant.units import DEGREES

    trainee = _trainee(trainee)
    bench = open_bench(units)
    recitation = Recitation(_card(card), _ask(bench), DEGREES[units.value])
    if not text and not source:
        _invite("Say the steps, a line each; or: hint, why, so far, done.")
    doubts: list[tuple[str, str]] = []
    turns = _Turns(dialogue)
    words = (*recitation.vocabulary(), *ASIDE_WORDS)
    utterances = _utterances(text, source, bench, doubts, words, turns.hear)
    for reply in _replies(recitation, utterances, units):
        turns.say(reply)
        if not as_json:
            print(reply, flush=True)
    verdict = recitation.verdict()
    if not verdict.told and not verdict.unsure:
        complain(f"no step of {recitation.card.name.lower()} was heard in that")
        raise typer.Exit(NOT_UNDERSTOOD)
    if trainee:
        _keep(trainee, verdict)
    if as_json:
        print_json(_as_dict(verdict, doubts, units))
    else:
        for line in verdict_lines(verdict, units.value):
            print(line)
        for ours, theirs in doubts:
            print(f"Not sure of a figure: {ours} or {theirs}?")
    turns.say(spoken_verdict(verdict, units.value))
    turns.save()
    speak(spoken_verdict(verdict, units.value), voice, save)


def _keep(trainee: str, verdict) -> None:
    with _kept() as progress:
        progress.recite(
            trainee,
            verdict.card.key,
            told=verdict.told,
            missed=verdict.missed,
            out_of_order=tuple(later for later, _ in verdict.out_of_order),
            wrong=tuple(wrong.step for wrong in verdict.wrong),
        )


class _Turns:
    """Both sides of a rehearsal for a WAV file; nothing where none is wanted."""

    def __init__(self, path: Path | None):
        self._path = path
        self._recording = None
        if path is not None:
            from assistant.rehearsal.dialogue import DialogueRecording
            from assistant.speaking.voices import choose_voice

            self._recording = DialogueRecording(choose_voice("bundled"))

    def hear(self, utterance) -> None:
        if self._recording:
            self._recording.hear(utterance)

    def say(self, text: str) -> None:
        if self._recording:
            self._recording.say(text)

    def save(self) -> None:
        from assistant.speaking.playback import SoundError

        if self._recording:
            try:
                self._recording.save(self._path)
            except SoundError as trouble:
                raise BadInput(str(trouble)) from None


_DONE = "Well then."
ASIDE_WORDS = ("hint", "help", "why", "far", "miss", "did", "me")
"""Words of what is said aside from the steps; see ``_reply``."""


def _replies(recitation, utterances: Iterable[str], units: Units) -> Iterator[str]:
    """What is said to the utterances, up to "done". Steps that were perhaps told are asked for
    at the first "done"."""
    asked_again = False
    for utterance in utterances:
        reply = _reply(recitation, utterance, units)
        if reply == _DONE and not asked_again and (doubt := _doubt(recitation)):
            asked_again, reply = True, doubt
        if reply is not None:
            yield reply
        if reply == _DONE:
            return


def _reply(recitation, utterance: str, units: Units) -> str | None:
    """What is said to one utterance; None where the trainee just goes on."""
    plain_words = utterance.lower().strip(" .!?")
    if plain_words in ("done", "that is all", "that's all"):
        return _DONE
    if plain_words in ("hint", "give me a hint", "help"):
        return recitation.hint() or "Nothing is left to say."
    if plain_words.split()[:1] == ["why"]:
        found = recitation.why(plain_words[3:])
        return found[1] if found else "Say a step first."
    if plain_words in ("so far", "what did i miss"):
        from assistant.rehearsal.wording import spoken_verdict

        return spoken_verdict(recitation.verdict(), units.value)
    recitation.hear(utterance)
    return None


def _doubt(recitation) -> str:
    """The question about steps that were perhaps told; empty when there is none."""
    from assistant.rehearsal.wording import unsure_question

    verdict = recitation.verdict()
    return unsure_question(verdict) if verdict.unsure else ""


def _as_dict(verdict, doubts: Iterable[tuple[str, str]], units: Units) -> dict[str, Any]:
    from assistant.rehearsal.wording import spoken_verdict, verdict_lines

    return {
        "card": verdict.card.key,
        "told": list(verdict.told),
        "missed": list(verdict.missed),
        "missed_safety": list(verdict.missed_safety),
        "unsure": list(verdict.unsure),
        "out_of_order": [
            {"step": later, "must_come_after": earlier} for later, earlier in verdict.out_of_order
        ],
        "wrong_figures": [
            {
                "step": wrong.step,
                "about": wrong.figure.about,
                "said": plain(wrong.said),
                "limit": plain(wrong.limit),
                "side": wrong.side,
            }
            for wrong in verdict.wrong
        ],
        "doubtful_figures": [list(pair) for pair in doubts],
        "flawless": verdict.flawless,
        "lines": list(verdict_lines(verdict, units.value)),
        "spoken": spoken_verdict(verdict, units.value),
    }


# --- drill --------------------------------------------------------------------------------


@app.command()
def drill(
    cards: Annotated[
        list[str] | None, typer.Argument(help="Cards to be asked about; none: all of them.")
    ] = None,
    trainee: TraineeOption = None,
    count: Annotated[int, typer.Option(min=1, max=100, help="Questions.")] = 10,
    seed: Annotated[int | None, typer.Option(help="Of the fresh figures.")] = None,
    source: FromOption = None,
    sums: Annotated[bool, typer.Option(help="Also ask for sums with fresh figures.")] = True,
    as_json: JsonOption = False,
    units: UnitsOption = Units.us,
) -> None:
    """Be asked questions; what was wrong comes again sooner. Answers are typed, a line each,
    or recordings."""
    from assistant.rehearsal import drill as drilling
    from assistant.rehearsal.progress import MemoryProgress, chosen
    from assistant.units import DEGREES

    trainee = _trainee(trainee)
    bench = open_bench(units)
    chosen_cards = [_card(name) for name in cards] if cards else list(_library().cards)
    items = [item for card in chosen_cards for item in drilling.card_items(card)]
    if sums:
        items += drilling.routine_items()
    rng = random.Random(seed)
    rng.shuffle(items)
    with _kept() if trainee else nullcontext(MemoryProgress()) as progress:
        name = trainee or "nobody"
        asked = chosen(items, progress.answers(name), datetime.now(UTC), len(items))
        answers = _utterances(None, source, bench, [])
        right = total = 0
        if not source:
            _invite('Answer each question with a line; "skip" tells the answer.')
        found = drilling.questions(asked, chosen_cards, rng, _ask(bench), DEGREES[units.value])
        for question in islice(found, count):
            if not as_json:
                print(question.text, flush=True)
            answer = next(answers, None)
            if answer is None:
                break
            judged = question.judge(answer)
            total += 1
            right += judged.mark is drilling.Mark.right
            progress.answer(name, question.item, judged.rating)
            _tell_mark(question, answer, judged, as_json)
    if not as_json:
        print(f"{right} of {total} right.")


def _tell_mark(question, answer: str, judged, as_json: bool) -> None:
    if not as_json:
        print(f"  {judged.sentence}", flush=True)
        return
    print_json(
        {
            "item": question.item,
            "question": question.text,
            "answer": answer,
            "mark": judged.mark.value,
            "sentence": judged.sentence,
        }
    )


@app.command("progress")
def show_progress(
    trainee: Annotated[str, typer.Argument(help="Name of the trainee.")],
    as_json: JsonOption = False,
) -> None:
    """Show what a trainee has done and what comes again when."""
    from assistant.rehearsal.drill import label
    from assistant.rehearsal.progress import due_dates

    with _kept() as progress:
        answers = progress.answers(trainee)
        recitations = progress.recitations(trainee)
        if not answers and not recitations:
            names = ", ".join(progress.trainees()) or "none"
            raise BadInput(f"nothing is kept for {trainee!r}; names here: {names}")
    due = due_dates(answers)
    right = sum(answered.rating >= 3 for answered in answers)
    if as_json:
        print_json(
            {
                "answers": len(answers),
                "right": right,
                "recitations": [row.model_dump(mode="json") for row in recitations],
                "due": {item: moment.isoformat() for item, moment in due.items()},
            }
        )
        return
    print(f"{len(answers)} answers, {right} right; {len(recitations)} recitations.")
    for row in recitations:
        print(
            f"  {row.card}: {len(row.missed)} missed, {len(row.out_of_order)} out of order, "
            f"{len(row.wrong)} figures wrong"
        )
    cards = _library().cards if due else ()
    for item, moment in sorted(due.items(), key=lambda pair: pair[1]):
        print(f"  {moment.astimezone():%Y-%m-%d %H:%M}  {label(item, cards)}")


@app.command()
def forget(
    trainee: Annotated[str, typer.Argument(help="Name of the trainee.")],
) -> None:
    """Delete a trainee's progress: what the journal still holds belongs to nobody then."""
    with _kept() as progress:
        if not progress.forget(trainee):
            names = ", ".join(progress.trainees()) or "none"
            raise BadInput(f"nothing is kept for {trainee!r}; names here: {names}")
    print(f"{trainee} is forgotten.")


# --- reading along ------------------------------------------------------------------------


@app.command("read")
def read_along(
    card: CardArgument,
    source: FromOption = None,
    bay: Annotated[int | None, typer.Option(help="Start the clocks in this bay.")] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", "-t", help='Of the metal: "62 F", "16.5 C".')
    ] = None,
    units: UnitsOption = Units.us,
    voice: VoiceOption = None,
) -> None:
    """Have a procedure read step by step: next, back, again, where am i, why, confirmed, stop."""
    from assistant.rehearsal.reading import ReadingAlong, command_of

    found = _card(card)
    bench = open_bench(units)
    if not source:
        _invite("Say next, back, again, where am I, why, confirmed or stop.")
    with _clocks(bench, bay, temperature, units) as clocks:
        reading = ReadingAlong(found, clocks)
        _say(reading.begin(), voice)
        for said in _commands(source, bench):
            command = command_of(said)
            if command is None:
                _say("Say next, back, again, where am I, why, confirmed or stop.", voice)
                continue
            _say(reading.take(command), voice)
            if reading.place.ended:
                break


STRANGE_COMMAND = 6.0
"""Free decoding better than a command by more than this is talk. Measured: 28 commands of the
neural voice lie below 0, talk above 11; a question's own limit is wider, its sentences long."""


def _say(text: str, voice) -> None:
    print(text, flush=True)
    speak(text, voice, None)


def _commands(source: list[str] | None, bench) -> Iterator[str]:
    """Commands as words: typed lines, or recordings searched along grammars/rehearsal.jsgf.
    A command that is not heard for certain is none."""
    from assistant.bench import grammar_folder
    from assistant.hearing import jsgf
    from assistant.hearing.graph import Graph
    from assistant.understanding.requests import Limits

    files = [name for name in source or ["-"] if name != "-"]
    if files:
        folder = grammar_folder()
        rules = jsgf.link([jsgf.read_file(folder / "rehearsal.jsgf")], jsgf.folder_fetcher(folder))
        graph, limits = Graph(rules), Limits(strange=STRANGE_COMMAND)
        for name in files:
            heard = bench.recogniser.hear(_recording(name), graph, lambda reading: reading.rule)
            unsure = heard.best is None or limits.is_strange(heard) or heard.margin < limits.doubt
            yield "" if unsure else heard.best.text
    if "-" in (source or ["-"]):
        yield from _lines()


class ShopClocks:
    """The clocks of a bay: what a step names is started in the shop's journal."""

    def __init__(self, shop, bench, bay: int, celsius: float):
        self._shop, self._bench, self._bay, self._celsius = shop, bench, bay, celsius

    def start(self, kind: str, seconds: int | None, label: str) -> str:
        from assistant.exchange import Refusal

        try:
            if kind == "timer":
                effect = self._shop.start_timer(float(seconds or 0), self._bay, label)
            else:
                product = self._bench.product(None, kind)
                effect = self._shop.start(self._bay, product, self._celsius)
        except Refusal as refusal:
            return f"The clock was not started: {refusal}"
        return effect.said.written


@contextmanager
def _clocks(bench, bay: int | None, temperature: str | None, units: Units):
    from assistant.commands.bays import open_shop, read_temperature
    from assistant.exchange import Refusal
    from assistant.rehearsal.reading import NoClocks
    from assistant.shop.orders import check_bay, checked_temperature

    if bay is None:
        if temperature is not None:
            raise BadInput("--temperature goes with --bay: say in which bay the clocks run")
        yield NoClocks()
        return
    if temperature is None:
        raise BadInput('--bay needs the temperature of the metal beside it: --temperature "70 F"')
    try:
        check_bay(bay)
        celsius = checked_temperature(read_temperature(temperature, units))
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None
    shop = open_shop(units)
    try:
        yield ShopClocks(shop, bench, bay, celsius)
    finally:
        shop.close()


# --- shared -------------------------------------------------------------------------------


def _library():
    from assistant.rehearsal.library import load_library

    library = load_library()
    for problem in library.problems:
        complain(problem)
    return library


def _card(name: str):
    from assistant.exchange import Refusal

    try:
        return _library().card(name)
    except Refusal as refusal:
        raise BadInput(str(refusal)) from None


def _trainee(name: str | None) -> str | None:
    """The name under which progress is kept, None for none. Raises BadInput for a blank one."""
    if name is not None and not name.strip():
        raise BadInput("a trainee's name cannot be empty")
    return name


def _invite(words: str) -> None:
    """Tell somebody at a keyboard what may be typed."""
    if sys.stdin is not None and sys.stdin.isatty():
        print(words, file=sys.stderr, flush=True)


def _ask(bench):
    @cache
    def ask(question: str):
        outcome = bench.exchange(bench.read(question))
        return outcome.answer.figures if outcome.answer else {}

    return ask


@contextmanager
def _kept():
    """The progress in the shop's journal."""
    from assistant.commands.bays import open_shop
    from assistant.rehearsal.progress import JournalProgress, NamesUnreadable

    shop = open_shop(Units.us)
    try:
        yield JournalProgress(shop.journal)
    except NamesUnreadable as trouble:
        raise BadInput(str(trouble)) from None
    finally:
        shop.close()


def _lines() -> Iterator[str]:
    for line in sys.stdin:
        if line.strip():
            yield line.strip()


def _recording(name: str):
    from assistant.hearing.sources import SoundError, read_wav

    try:
        return read_wav(Path(name))
    except SoundError as trouble:
        raise BadInput(str(trouble)) from None


def _utterances(
    text: list[str] | None,
    source: list[str] | None,
    bench,
    doubts: list[tuple[str, str]],
    words: Sequence[str] = (),
    heard_sound: Callable[[Any], None] = lambda utterance: None,
) -> Iterator[str]:
    """What is said: the words given, else the recordings, else typed lines.

    words: what a recording may hold beside small words and figures. heard_sound: is given
    each recording.
    """
    if text and source:
        raise BadInput("give either the words or --from, not both")
    if text:
        yield " ".join(text)
        return
    hearing = None
    for name in source or ["-"]:
        if name == "-":
            yield from _lines()
            continue
        utterance = _recording(name)
        heard_sound(utterance)
        if hearing is None:
            from assistant.bench import grammar_folder
            from assistant.rehearsal.sound import SpeechHearing

            hearing = SpeechHearing(bench.recogniser, grammar_folder(), words)
        heard = hearing.hear(utterance)
        doubts += heard.doubtful
        yield heard.text
