"""Which recogniser a command listens with, from its options."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from assistant.commands.shared import BadInput, complain
from assistant.hearing.encoder import DEFAULT_ENCODER


class Engine(StrEnum):
    bundled = "bundled"
    vosk = "vosk"


EngineOption = Annotated[Engine, typer.Option(help="Which recogniser listens.")]
ModelOption = Annotated[
    Path | None,
    typer.Option(help="Folder of a Vosk model, for --engine vosk.", show_default=False),
]

ENCODER_HELP = (
    "Encoder of the bundled recogniser: hardened for a shop's noise, bundled as its wheel carries "
    "it, or the path of an ONNX file"
)
EncoderOption = Annotated[str, typer.Option(help=f"{ENCODER_HELP}.")]


class Loading:
    """A recogniser that is loaded on a thread of its own, while the grammar is read. Raises
    BadInput at once for options that do not go together."""

    def __init__(
        self,
        engine: Engine = Engine.bundled,
        model: Path | None = None,
        encoder: str = DEFAULT_ENCODER,
    ):
        if engine is Engine.vosk and encoder != DEFAULT_ENCODER:
            raise BadInput("--encoder goes with the bundled recogniser, not with --engine vosk")
        if engine is Engine.vosk and model is None:
            raise BadInput("--engine vosk needs --model and the folder of a Vosk model")
        if engine is Engine.bundled and model is not None:
            raise BadInput("--model goes with --engine vosk")
        self._model, self._encoder = model, encoder
        self._made: Any = None
        self._trouble: Exception | None = None
        self._thread: threading.Thread | None = None
        if engine is Engine.bundled:
            self._thread = threading.Thread(target=self._load, name="loading")
            self._thread.start()

    def _load(self) -> None:
        try:
            from assistant.hearing.recogniser import BundledRecogniser
            from assistant.hearing.speech_model import SpeechModel

            made = BundledRecogniser(SpeechModel(encoder=self._encoder))
            made.habits.get_ready(made.settings)
            self._made = made
        except Exception as trouble:  # told by whoever waits for the recogniser
            self._trouble = trouble

    def done(self, graphs: Sequence) -> Any:
        """The recogniser, ready to hear along these graphs.

        Words that a Vosk model lacks are named on stderr. Raises BadInput with one line.
        """
        if self._thread is None:
            return _vosk(self._model, graphs)
        from assistant.hearing.speech_model import ModelMissing

        self._thread.join()
        if isinstance(self._trouble, ModelMissing):
            raise BadInput(str(self._trouble))
        if self._trouble is not None:
            raise self._trouble
        return self._made


def _vosk(model: Path | None, graphs: Sequence) -> Any:
    from assistant.hearing.vosk_engine import VoskError, VoskRecogniser

    assert model is not None
    try:
        recogniser = VoskRecogniser(model)
        lacking = recogniser.prepare(graphs)
    except VoskError as trouble:
        raise BadInput(str(trouble)) from None
    if lacking:
        complain(lacking)
    return recogniser
