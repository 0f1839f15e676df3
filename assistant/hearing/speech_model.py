"""The bundled English speech model, run with onnxruntime.

The wheel ``moonshine-voice`` (MIT) carries it as three files; they are found without
importing that package. The encoder turns sound into a sequence of vectors; the decoder
gives, for each text so far, the log-odds of every next piece.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import onnxruntime as ort

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.encoder import DEFAULT_ENCODER, ENCODERS, HARDENED
from assistant.hearing.vocabulary import BEGIN, Vocabulary

LAYERS, HEADS, HEAD_SIZE = 6, 8, 36
MODEL_WHEEL = "moonshine_voice"
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
_SHORTEST = SAMPLE_RATE // 8
"""The encoder needs some frames; shorter sound is padded with silence."""


class ModelMissing(RuntimeError):
    """The model files are not installed; the message says what to do."""


def bundled_folder() -> Path:
    """The folder of the model files inside the installed wheel."""
    spec = importlib.util.find_spec(MODEL_WHEEL)
    places = spec.submodule_search_locations if spec else None
    folder = Path(next(iter(places))) / "assets" / "tiny-en" if places else None
    if folder is None or not all((folder / name).is_file() for name in _FILES):
        raise ModelMissing(
            "the English speech model is not installed: reinstall clampcall, which brings "
            "moonshine-voice 0.0.73 (later releases do not carry it)"
        )
    return folder


@dataclass(frozen=True, eq=False)
class Encoded:
    """What the decoder needs of one utterance."""

    hidden: np.ndarray
    mask: np.ndarray
    seconds: float


@dataclass(frozen=True, eq=False)
class Memory:
    """The decoder's keys and values: of the sound, and of each row's text so far."""

    sound: list[np.ndarray]
    text: list[np.ndarray]

    def rows(self, chosen: np.ndarray) -> Memory:
        """The same memory with its rows picked (and repeated) in this order."""
        return Memory(self.sound, [kept[chosen] for kept in self.text])


class SpeechModel:
    """Sound to log-odds. One instance serves one thread.

    encoder: one of ENCODERS, or the path of another ONNX file of the same inputs and outputs.
    Raises ModelMissing when a file is not there.
    """

    def __init__(
        self, folder: Path | None = None, threads: int = 2, encoder: str = DEFAULT_ENCODER
    ):
        self.folder = folder or bundled_folder()
        self._threads = threads
        self._begun: tuple[Encoded, tuple[np.ndarray, Memory]] | None = None
        self._encoder_file = {
            "bundled": self.folder / _FILES[0],
            "hardened": HARDENED,
        }.get(encoder, Path(encoder))
        if not self._encoder_file.is_file():
            raise ModelMissing(
                f"there is no encoder {encoder!r}: choose of {', '.join(ENCODERS)}, "
                "or name an ONNX file"
            )
        self.vocabulary = Vocabulary((self.folder / "tokenizer.bin").read_bytes())

    def _session(self, path: Path) -> ort.InferenceSession:
        options = ort.SessionOptions()
        options.intra_op_num_threads = self._threads
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        return ort.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])

    @cached_property
    def _encoder(self) -> ort.InferenceSession:
        return self._session(self._encoder_file)

    @cached_property
    def _decoder(self) -> ort.InferenceSession:
        return self._session(self.folder / _FILES[1])

    def load(self) -> None:
        """Read both networks now rather than at the first utterance."""
        _ = self._encoder, self._decoder

    def encode(self, samples: np.ndarray) -> Encoded:
        """Run the encoder over mono float32 samples at SAMPLE_RATE."""
        if len(samples) < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - len(samples)))
        sound = np.ascontiguousarray(samples, dtype=np.float32)[None]
        mask = np.ones(sound.shape, dtype=np.int64)
        # the hardened encoder takes no mask: it never sees padding
        given = {"input_values": sound, "attention_mask": mask}
        wanted = {node.name for node in self._encoder.get_inputs()}
        (hidden,) = self._encoder.run(None, {name: given[name] for name in wanted})
        return Encoded(hidden, mask, len(samples) / SAMPLE_RATE)

    def begin(self, encoded: Encoded) -> tuple[np.ndarray, Memory]:
        """Log-odds of the first piece [1, vocabulary], and the memory after BEGIN.

        That of the last utterance is kept: each graph, the wider search and the numbers on trial
        begin with it.
        """
        if self._begun is None or self._begun[0] is not encoded:
            self._begun = (encoded, self._begin(encoded))
        return self._begun[1]

    def _begin(self, encoded: Encoded) -> tuple[np.ndarray, Memory]:
        empty = [np.zeros((1, HEADS, 0, HEAD_SIZE), dtype=np.float32)] * (2 * LAYERS)
        outputs = self._decoder.run(
            _LOGITS + _TEXT_OUT + _SOUND_OUT,
            self._feed(encoded, np.array([[BEGIN]]), Memory(empty, empty), cached=False),
        )
        memory = Memory(outputs[1 + 2 * LAYERS :], outputs[1 : 1 + 2 * LAYERS])
        return outputs[0][:, -1], memory

    def advance(
        self, encoded: Encoded, memory: Memory, pieces: np.ndarray
    ) -> tuple[np.ndarray, Memory]:
        """Add one piece to each row; log-odds [rows, vocabulary] and the new memory.

        The sound is given once for all rows: the network broadcasts it, which saves
        copying it for each hypothesis.
        """
        outputs = self._decoder.run(
            _LOGITS + _TEXT_OUT, self._feed(encoded, pieces[:, None], memory, cached=True)
        )
        return outputs[0][:, -1], Memory(memory.sound, outputs[1:])

    def texts(
        self, encoded: Encoded, begun: tuple[np.ndarray, Memory], texts: list[list[int]]
    ) -> list[np.ndarray]:
        """Log-odds at every place of whole texts, in one call: [pieces + 1, vocabulary] each.

        begun: what ``begin`` gave for ``encoded``.
        """
        first, memory = begun
        ids = np.full((len(texts), max(map(len, texts))), BEGIN, dtype=np.int64)
        for row, pieces in enumerate(texts):
            ids[row, : len(pieces)] = pieces
        everyone = memory.rows(np.zeros(len(texts), dtype=np.int64))
        (logits,) = self._decoder.run(_LOGITS, self._feed(encoded, ids, everyone, cached=True))
        return [
            np.concatenate([first, logits[row, : len(pieces)]]) for row, pieces in enumerate(texts)
        ]

    @staticmethod
    def _feed(encoded: Encoded, ids: np.ndarray, memory: Memory, cached: bool) -> dict:
        feed = {
            "input_ids": ids.astype(np.int64),
            "encoder_hidden_states": encoded.hidden,
            "encoder_attention_mask": encoded.mask,
            "use_cache_branch": np.array([cached]),
        }
        feed.update(zip(_TEXT_IN, memory.text, strict=True))
        feed.update(zip(_SOUND_IN, memory.sound, strict=True))
        return feed


def _names(prefix: str, side: str) -> list[str]:
    return [f"{prefix}.{layer}.{side}.{part}" for layer in range(LAYERS) for part in _PARTS]


_PARTS = ("key", "value")
_LOGITS = ["logits"]
_TEXT_IN, _SOUND_IN = _names("past_key_values", "decoder"), _names("past_key_values", "encoder")
_TEXT_OUT, _SOUND_OUT = _names("present", "decoder"), _names("present", "encoder")
