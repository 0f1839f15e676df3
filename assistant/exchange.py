"""The records that one exchange passes along, from sound to spoken answer.

    source -> Utterance -> Heard -> Request | Clarify | NotForMe -> Answer

Each is frozen: a stage returns a new record and never changes the one before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from assistant.units import Quantity

SAMPLE_RATE = 16_000
"""Samples per second of every Utterance; the speech model's own rate."""


@dataclass(frozen=True, eq=False)
class Utterance:
    """One stretch of sound: mono float32 samples in -1..1 at SAMPLE_RATE."""

    samples: np.ndarray
    source: str = ""
    started_at: float | None = None

    @property
    def seconds(self) -> float:
        return len(self.samples) / SAMPLE_RATE


@dataclass(frozen=True)
class Reading:
    """One sentence of the grammar that the sound (or the typing) may have been.

    ``score`` is a natural-log figure: only differences between readings of the
    same utterance mean anything.
    """

    text: str
    tags: tuple[tuple[str, str], ...]
    rule: str
    score: float = 0.0

    def tag_map(self) -> dict[str, str | list[str]]:
        """Tags as a mapping; a name that occurs more than once maps to a list."""
        found: dict[str, str | list[str]] = {}
        for name, value in self.tags:
            if name not in found:
                found[name] = value
            elif isinstance(found[name], list):
                found[name].append(value)
            else:
                found[name] = [found[name], value]
        return found


@dataclass(frozen=True)
class Heard:
    """What the recogniser (or the typed-text matcher) made of an utterance.

    best: the leading reading, or None if nothing of the grammar fits.
    margin: score of ``best`` less that of the best reading with other tags or
        another rule; ``inf`` when there is no such reading.
    free_margin: score of the model's free decoding less that of ``best``; small
        for speech that is in the grammar, large for speech that is not.
    free_text: what the model writes when no grammar binds it.
    alternatives: other readings, best first.
    confidence: 0..1, for typed text only: how close the typing was.
    guessed: for typed text only: a word that matters was left out of it or put into it to make
        a sentence of the grammar; in a phrase that goes on with a conversation ("and at
        sixty") also: one is spelt otherwise.
    loose: for typed text only: so much was left out of it that another question may be meant.
    snr_db: estimated signal-to-noise ratio of the sound in decibels; None if not known.
    confirmed: it was asked whether this was meant, and the reply was yes.
    """

    best: Reading | None
    margin: float = float("inf")
    free_margin: float = 0.0
    free_text: str = ""
    alternatives: tuple[Reading, ...] = ()
    confidence: float = 1.0
    guessed: bool = False
    loose: bool = False
    typed: bool = False
    snr_db: float | None = None
    confirmed: bool = False


@dataclass(frozen=True)
class Request:
    """A routine to run, with its slots filled by typed values."""

    routine: str
    slots: Mapping[str, Any]
    heard: Heard


@dataclass(frozen=True)
class Clarify:
    """The program asks back: a slot is missing, the hearing is doubtful, or what goes into a record
    is read back."""

    question: str
    spoken: str
    heard: Heard
    routine: str | None = None
    missing: str | None = None
    options: tuple[Reading, ...] = ()
    """The readings it is asked to choose between, best first; one: yes or no to it."""
    read_back: bool = False
    """Nothing is in doubt: what goes into a record is always asked about."""


@dataclass(frozen=True)
class NotForMe:
    """Speech that is not a question for this program, or that it cannot place."""

    reason: str
    heard: Heard
    suggestions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Answer:
    """An answer a person can act on.

    figures: name -> exact quantity (or count, or text) behind the sentence.
    sentence: for the screen. spoken: the same, worded for the ear.
    basis: where the number comes from (data-sheet table, fitted from the table,
        rule of thumb, geometry).
    """

    sentence: str
    spoken: str
    figures: Mapping[str, Quantity | int | float | str] = field(default_factory=dict)
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    basis: str = ""


class Refusal(Exception):
    """A routine will not give a number; the message says which limit and what to do.

    ``str(refusal)`` is for the screen, ``spoken`` for the ear (the same when not given).
    ``failed``: not a limit that is named, but something that did not work.
    """

    failed = False

    def __init__(self, message: str, spoken: str | None = None, cautions: tuple[str, ...] = ()):
        super().__init__(message)
        self.spoken = spoken or message
        self.cautions = cautions
