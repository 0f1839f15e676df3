"""Which recogniser a command listens with, from its options."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

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


def open_recogniser(
    engine: Engine, model: Path | None, graph: Sequence, encoder: str = DEFAULT_ENCODER
):
    """The recogniser asked for, ready to hear along these graphs.

    Words that a Vosk model lacks are named on stderr. Raises BadInput with one line.
    """
    if engine is Engine.vosk:
        from assistant.hearing.vosk_engine import VoskError, VoskRecogniser

        if encoder != DEFAULT_ENCODER:
            raise BadInput("--encoder goes with the bundled recogniser, not with --engine vosk")
        if model is None:
            raise BadInput("--engine vosk needs --model and the folder of a Vosk model")
        try:
            recogniser = VoskRecogniser(model)
            lacking = recogniser.prepare(graph)
        except VoskError as trouble:
            raise BadInput(str(trouble)) from None
        if lacking:
            complain(lacking)
        return recogniser
    if model is not None:
        raise BadInput("--model goes with --engine vosk")
    from assistant.hearing.recogniser import BundledRecogniser
    from assistant.hearing.speech_model import ModelMissing, SpeechModel

    try:
        return BundledRecogniser(SpeechModel(encoder=encoder))
    except ModelMissing as trouble:
        raise BadInput(str(trouble)) from None
