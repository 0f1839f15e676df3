"""``clampcall listen``: the conversation, at the microphone or over a recording."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.commands.recogniser import Loading
from assistant.commands.shared import (
    ANSWERED,
    BadInput,
    JsonOption,
    Units,
    VoiceName,
    as_dict,
    complain,
    keep_apart,
    need_together,
    number,
    open_bench,
    print_json,
)

ConfigOption = Annotated[
    Path | None,
    typer.Option("--config", help="The configuration file (default: see clampcall checkup)."),
]


def listen(
    source: Annotated[
        str | None,
        typer.Option(
            "--from",
            help="A WAV file, or - for a pipe (WAV, or raw 16-bit mono at 16 kHz), instead of "
            "the microphone.",
        ),
    ] = None,
    real_speed: Annotated[
        bool, typer.Option("--real-speed", help="Hear the file as slowly as it was spoken.")
    ] = False,
    typed: Annotated[
        bool, typer.Option("--typed", help="Read typed lines instead of sound.")
    ] = False,
    config: ConfigOption = None,
    units: Annotated[Units | None, typer.Option(help="Units, if not those configured.")] = None,
    voice: Annotated[
        VoiceName | None, typer.Option(help="Who speaks, if not the one configured.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Listen and answer, turn by turn, until interrupted or the recording ends."""
    keep_apart(
        ("--typed", typed, "--from", source),
        ("--typed", typed, "--real-speed", real_speed),
        ("--typed", typed, "--voice", voice if voice is not VoiceName.none else None),
        ("--from -", source == "-", "--real-speed", real_speed),
    )
    need_together(("--real-speed", real_speed, "--from", source))
    loading = None if typed else Loading()

    from assistant.listening.conversation import Conversation
    from assistant.settings import SettingsError, read_settings

    try:
        settings = read_settings(config)
    except SettingsError as trouble:
        raise BadInput(str(trouble)) from None
    bench = open_bench(units or Units(settings.shop.units), "text" if typed else "voice")
    wanted = settings.listening
    conversation = Conversation(
        bench,
        way=_way(wanted.way, source),
        bay=str(wanted.bay) if wanted.bay else None,
        context_seconds=wanted.context,
    )
    chosen_voice = voice.value if voice else settings.speaking.voice
    if typed:
        _typed(conversation, as_json)
    else:
        _spoken(conversation, loading, settings, source, real_speed, chosen_voice, as_json)
    raise typer.Exit(ANSWERED)


def write_config() -> None:
    """Write the configuration file with its comments, unless there is one already."""
    from assistant.settings import as_toml, settings_path

    path = settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(as_toml())
    except FileExistsError:
        raise BadInput(f"{path} is there already: edit it, or move it away first") from None
    except OSError as trouble:
        raise BadInput(f"{path} cannot be written: {trouble.strerror}") from None
    print(f"{path}: written, every key with what it means")
    raise typer.Exit(ANSWERED)


def _typed(conversation, as_json: bool) -> None:
    import time

    begun = time.monotonic()
    for line in sys.stdin:
        if line.strip():
            now = time.monotonic() - begun
            turn = conversation.take(conversation.read(line.strip(), now), now)
            _show(turn, as_json, {})


def _spoken(
    conversation, loading: Loading, settings, source, real_speed, voice: str, as_json: bool
) -> None:
    from assistant.hearing.sources import SoundError
    from assistant.hearing.speech_model import ModelMissing
    from assistant.listening.activity import SpeechActivity
    from assistant.listening.ends import Endpointer, EndSettings
    from assistant.listening.keys import BadKey
    from assistant.listening.loop import CutShort, Ears, Spoken, Told, listen

    wanted = settings.listening
    try:
        sound = _source(source, real_speed, wanted.microphone)
        mouth = _mouth(sound, source, real_speed, voice)
        ears = Ears(
            SpeechActivity(), Endpointer(EndSettings(pause=wanted.pause)), cut_in=wanted.cut_in
        )
        conversation.set_voice(settings.speaking.pace, settings.speaking.loudness)
        conversation.bench.recogniser = loading.done((conversation.questions,))
        if source is None and not as_json:
            print(f"{_how_to_talk(wanted)} Ctrl-C ends it.", flush=True)
        with _key(wanted, source) as key:
            warming = conversation.warming()
            for happening in listen(sound, ears, conversation, mouth, key, warming=warming):
                match happening:
                    case Spoken():
                        _show(happening.turn, as_json, _times(happening))
                    case Told(notice, at):
                        _tell(notice, at, as_json)
                    case CutShort(at) if as_json:
                        print_json({"at": number(at), "event": "cut short"})
                for line in mouth.take_notices():
                    complain(line)
    except (SoundError, ModelMissing, BadKey) as trouble:
        raise BadInput(str(trouble)) from None


def _source(source: str | None, real_speed: bool, microphone: str):
    from assistant.listening.sources import Microphone, PipeSource, WavSource

    if source is None:
        return Microphone(microphone)
    if source == "-":
        return PipeSource(sys.stdin.buffer)
    path = Path(source)
    if path.exists() and not path.is_file() and not path.is_dir():
        return PipeSource(path.open("rb"), source)
    return WavSource(path, real_speed)


def _mouth(sound, source: str | None, real_speed: bool, voice: str):
    from assistant.listening.mouth import Recorded, Silent, Speaker
    from assistant.speaking.voices import choose_voice

    if voice == "none":
        return Silent()
    if source is None or real_speed or source == "-":
        return Speaker(choose_voice(voice), sound.now)
    return Recorded()  # faster than anyone speaks: the answers take their time in the file's


@contextlib.contextmanager
def _key(wanted, source: str | None) -> Iterator[Any]:
    from assistant.listening.keys import opened_key
    from assistant.listening.loop import NoKey

    if wanted.way != "key" or source is not None:
        yield NoKey()
        return
    with opened_key(wanted.key, wanted.key_mode, wanted.key_device) as key:
        yield key


def _way(configured: str, source: str | None) -> str:
    """How the program is addressed: a recording has no key, so all of it is for the program."""
    from assistant.listening.conversation import KEY, OPEN

    return OPEN if configured == KEY and source is not None else configured


def _how_to_talk(wanted) -> str:
    if wanted.way != "key":
        return "Listening."
    if wanted.key_mode == "hold":
        return f"Hold the key {wanted.key} while you speak."
    return f"Press the key {wanted.key} before and after you speak."


def _times(spoken) -> dict[str, Any]:
    stages = spoken.stages
    return {
        "at": number(spoken.speech_ended),
        "seconds": {
            "pause": number(stages.pause),
            "hearing": number(stages.hearing),
            "answering": number(stages.answering),
            "voice": number(stages.voice),
        },
    }


_cautions_shown: set[str] = set()
"""Each caution stands on the screen once a session: told at every answer, none is read."""


def _show(turn, as_json: bool, extra: dict[str, Any]) -> None:
    from assistant.listening.conversation import NOT_UNDERSTOOD

    heard = turn.heard.best.text if turn.heard.best else turn.heard.free_text
    if as_json:
        common = extra | {"event": "turn", "kind": turn.kind, "bay": turn.bay}
        if turn.outcome:
            print_json(common | as_dict(turn.outcome))
        else:
            print_json(
                common
                | {
                    "heard": heard,
                    "sentence": turn.sentence,
                    "spoken": turn.spoken,
                    "act": turn.act,
                    "why_silent": turn.why_silent,
                }
            )
        return
    if turn.kind == "silent":
        if turn.heard.typed:  # who types looks for an answer
            print(f"> {turn.heard.free_text}\n  {NOT_UNDERSTOOD}", flush=True)
        return
    bay = f"[bay {turn.bay}] " if turn.bay else ""
    print(f"{bay}> {heard}", flush=True)
    if turn.sentence:
        print(f"{bay}  {turn.sentence}", flush=True)
    if turn.outcome and turn.outcome.answer:
        for line in turn.outcome.answer.cautions:
            if line not in _cautions_shown:
                _cautions_shown.add(line)
                print(f"{bay}  Caution: {line}", flush=True)


def _tell(notice, at: float, as_json: bool) -> None:
    if as_json:
        print_json(
            {
                "at": number(at),
                "event": "mended" if notice.mended else "trouble",
                "trouble": notice.kind,
                "sentence": notice.sentence,
            }
        )
    else:
        complain(notice.sentence)
