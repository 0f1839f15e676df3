"""A rehearsal as one recording: what the trainee said and what was answered, in turn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soxr

from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.speaking.playback import save_wav
from assistant.speaking.voices import FirstThatWorks

PAUSE_SECONDS = 0.4
"""Between two turns; our own choice."""


class DialogueRecording:
    """Turns of a conversation, kept as sound at SAMPLE_RATE."""

    def __init__(self, voice: FirstThatWorks):
        self._voice = voice
        self._turns: list[np.ndarray] = []

    def hear(self, utterance: Utterance) -> None:
        """A turn of the trainee, as recorded."""
        self._turns.append(utterance.samples)

    def say(self, text: str) -> None:
        """A turn of the program, spoken by its voice; silence where no voice works."""
        samples, rate = self._voice.synthesise(text)
        if len(samples):
            self._turns.append(soxr.resample(samples, rate, SAMPLE_RATE).astype(np.float32))

    @property
    def seconds(self) -> float:
        return sum(map(len, self._turns)) / SAMPLE_RATE

    def save(self, path: Path) -> None:
        """All turns with a pause between them as a WAV file. Raises SoundError."""
        pause = np.zeros(round(PAUSE_SECONDS * SAMPLE_RATE), np.float32)
        parts = [part for turn in self._turns for part in (turn, pause)]
        save_wav(path, np.concatenate(parts) if parts else pause, SAMPLE_RATE)
