"""One trial, counts of many, and how sure a share is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from math import sqrt
from typing import Any

from assistant.measuring.subjects import (
    ACCEPTED,
    ASKED_BACK,
    ASKED_FOR_VALUE,
    READ_BACK,
    TURNED_AWAY,
)
from assistant.understanding.quantities import canonical

NORMAL_975 = 1.959964
"""97.5 % point of the normal distribution: two sides of 2.5 % leave 95 %."""


@dataclass(frozen=True)
class Trial:
    """One recording under one condition, as one engine heard it."""

    engine: str
    group: str
    voice: str
    family: str
    condition: str
    snr_db: float | None
    words: str
    heard: str
    routine_right: bool
    sentence_right: bool
    slots_right: bool
    """Routine and every slot: what an answer hangs on."""
    verdict: str
    margin: float
    word_errors: int
    word_count: int
    sound_seconds: float
    seconds: float
    """From the sound's end to a reading; of free decoding, to its text, without matching."""

    @property
    def wrong_accepted(self) -> bool:
        return self.verdict == ACCEPTED and not self.slots_right

    def as_dict(self) -> dict[str, Any]:
        return asdict(self)


def word_errors(words: str, heard: str) -> tuple[int, int]:
    """Word errors (substituted, left out, put in) and words said, numbers as figures."""
    reference, hypothesis = canonical(words), canonical(heard)
    if not hypothesis:
        return len(reference.split()), len(reference.split())
    import jiwer  # an extra: only measuring needs it

    found = jiwer.process_words(reference, hypothesis)
    return found.substitutions + found.deletions + found.insertions, len(reference.split())


def wilson(hits: int, count: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927): what it may be where ``hits`` of ``count`` were.

    (0, 1) where nothing was counted. Trials of one voice or sentence are not independent, so
    it is a little too narrow where each is heard under many seeds.
    """
    if count == 0:
        return 0.0, 1.0
    share, z = hits / count, NORMAL_975
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * sqrt(share * (1 - share) / count + z * z / (4 * count**2))
    return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True)
class Row:
    """One line of figures: everything that one engine heard under one condition."""

    engine: str
    group: str
    family: str
    condition: str
    snr_db: float | None
    count: int
    sentence_right: int
    routine_right: int
    slots_right: int
    asked_back: int
    """For any reason."""
    turned_away: int
    wrong_accepted: int
    word_errors: int
    word_count: int
    sound_seconds: float
    seconds: float
    free_seconds: float | None = None
    """Free decoding on the same sound in the same run, where that was run."""
    peak_megabytes: float = 0.0
    """Most memory that the engine's process held, of the whole run."""
    ready_seconds: float = 0.0
    """From starting the engine's process to being ready to hear."""
    asked_for_value: int = 0
    """Of those asked back: a value was missing in what was heard."""
    read_back: int = 0
    """Of those asked back: nothing was in doubt, but it goes into a record."""

    @property
    def asked_in_doubt(self) -> int:
        """Of those asked back: because the hearing was in doubt."""
        return self.asked_back - self.asked_for_value - self.read_back

    @property
    def ratio_to_free(self) -> float | None:
        """Time over that of free decoding, the encoder counted in both."""
        return self.seconds / self.free_seconds if self.free_seconds else None

    @property
    def share_of_sound(self) -> float:
        """Seconds for each second of sound."""
        return self.seconds / self.sound_seconds

    @property
    def word_error_rate(self) -> float:
        return self.word_errors / self.word_count

    def as_dict(self) -> dict[str, Any]:
        """The row with its shares and intervals."""
        low, high = wilson(self.slots_right, self.count)
        wrong = wilson(self.wrong_accepted, self.count)
        ratio = self.ratio_to_free
        return asdict(self) | {
            "slots_right_share": round(self.slots_right / self.count, 4),
            "slots_right_low": round(low, 4),
            "slots_right_high": round(high, 4),
            "asked_in_doubt": self.asked_in_doubt,
            "asked_back_share": round(self.asked_back / self.count, 4),
            "asked_in_doubt_share": round(self.asked_in_doubt / self.count, 4),
            "wrong_accepted_share": round(self.wrong_accepted / self.count, 4),
            "wrong_accepted_low": round(wrong[0], 4),
            "wrong_accepted_high": round(wrong[1], 4),
            "word_error_rate": round(self.word_error_rate, 4),
            "ratio_to_free": None if ratio is None else round(ratio, 3),
            "share_of_sound": round(self.share_of_sound, 4),
        }


def by_voice(trial: Trial) -> Trial:
    """The trial with its voice in place of its group, to be counted voice by voice."""
    return replace(trial, group=trial.voice)


FREE = "free"


def is_free(engine: str) -> bool:
    """Whether an engine, as its rows name it, is free decoding."""
    return engine.split()[0] == FREE


def free_peer(engine: str) -> str:
    """Free decoding with the same encoder: "free (bundled)" for "bundled (bundled)"."""
    _, space, encoder = engine.partition(" ")
    return FREE + space + encoder


ALL = "all"
_ASKED = frozenset({ASKED_BACK, ASKED_FOR_VALUE, READ_BACK})
KEYS = ("engine", "group", "family", "condition", "snr_db")


def tally(
    trials: Iterable[Trial],
    by: Sequence[str] = KEYS,
    costs: dict[str, tuple[float, float]] | None = None,
) -> list[Row]:
    """Rows for each combination of ``by``, in the order of first appearance; the other keys
    read "all" (snr_db: None).

    costs: engine -> (peak megabytes, seconds until ready).
    """
    gathered: dict[tuple, list[Trial]] = {}
    for trial in trials:
        key = tuple(
            getattr(trial, name) if name in by else (None if name == "snr_db" else ALL)
            for name in KEYS
        )
        gathered.setdefault(key, []).append(trial)
    free = {key: found for key, found in gathered.items() if is_free(key[0])}
    rows = []
    for key, found in gathered.items():
        beside = free.get((free_peer(key[0]), *key[1:]))
        comparable = beside is not None and len(beside) == len(found)
        memory, ready = (costs or {}).get(key[0], (0.0, 0.0))
        rows.append(
            Row(
                *key,
                count=len(found),
                sentence_right=sum(trial.sentence_right for trial in found),
                routine_right=sum(trial.routine_right for trial in found),
                slots_right=sum(trial.slots_right for trial in found),
                asked_back=sum(trial.verdict in _ASKED for trial in found),
                turned_away=sum(trial.verdict == TURNED_AWAY for trial in found),
                wrong_accepted=sum(trial.wrong_accepted for trial in found),
                word_errors=sum(trial.word_errors for trial in found),
                word_count=sum(trial.word_count for trial in found),
                sound_seconds=sum(trial.sound_seconds for trial in found),
                seconds=sum(trial.seconds for trial in found),
                free_seconds=sum(trial.seconds for trial in beside) if comparable else None,
                peak_megabytes=memory,
                ready_seconds=ready,
                asked_for_value=sum(trial.verdict == ASKED_FOR_VALUE for trial in found),
                read_back=sum(trial.verdict == READ_BACK for trial in found),
            )
        )
    return rows
