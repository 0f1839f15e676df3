"""Accuracy and speed on spoken questions whose words, routine and slots are known.

The peer in every run is the same model decoding freely, on the same sound. Times are
reported as ratios between the two and to the length of the sound.
"""

from __future__ import annotations

import json
import resource
import time
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from assistant.bench import Bench
from assistant.exchange import Utterance
from assistant.hearing import noise
from assistant.hearing.recogniser import judge
from assistant.hearing.search import free_decode
from assistant.hearing.sources import SoundError, read_wav
from assistant.understanding.quantities import clock, ratio
from assistant.understanding.requests import QUANTITY_KINDS, comparable
from assistant.units import Q

MAIN_GROUPS = ("neural", "flite")
"""Voices that count; the others (espeak-ng) are robotic and reported apart."""


class ManifestError(ValueError):
    """The folder of spoken questions cannot be used; one line."""


@dataclass
class Row:
    """One line of figures: a group of voices at a signal-to-noise ratio."""

    group: str
    snr_db: float | None
    count: int = 0
    routine_right: int = 0
    right: int = 0
    asked_back: int = 0
    turned_away: int = 0
    wrong_accepted: int = 0
    sound_seconds: float = 0.0
    encode_seconds: float = 0.0
    bound_seconds: float = 0.0
    free_seconds: float = 0.0
    answer_seconds: float = 0.0
    peak_megabytes: float = 0.0
    mistakes: list[str] = field(default_factory=list)

    @property
    def ratio_to_free(self) -> float:
        """Constrained over free decoding, the shared encoder counted in both."""
        return (self.encode_seconds + self.bound_seconds) / (
            self.encode_seconds + self.free_seconds
        )

    @property
    def share_of_sound(self) -> float:
        """Time from the end of the file to the answer's text, over the sound's length."""
        return self.answer_seconds / self.sound_seconds

    def as_dict(self) -> dict[str, Any]:
        ratios = {"ratio_to_free": self.ratio_to_free, "share_of_sound": self.share_of_sound}
        return asdict(self) | {name: round(value, 3) for name, value in ratios.items()}

    def as_text(self) -> str:
        where = "clean" if self.snr_db is None else f"{self.snr_db:g} dB"
        lines = [
            f"{self.group}, {where}: {self.count} questions, exact {self.right / self.count:.1%}, "
            f"routine {self.routine_right / self.count:.1%}, "
            f"asked back {self.asked_back / self.count:.1%}, "
            f"turned away {self.turned_away / self.count:.1%}, "
            f"wrong and accepted {self.wrong_accepted / self.count:.1%}; "
            f"{self.ratio_to_free:.2f} x free decoding, "
            f"{self.share_of_sound:.3f} of the sound's length, "
            f"peak memory {self.peak_megabytes:.0f} MB"
        ]
        return "\n".join(lines + [f"    {mistake}" for mistake in self.mistakes])


def measure_folder(
    bench: Bench,
    folder: Path,
    snrs: Sequence[float | None],
    rounds: int = 1,
    seed: int = 0,
) -> Iterator[Row]:
    """Rows for each group of voices and noise ratio. Every file is heard once unmeasured,
    so that the graph is warm as it is in a running program."""
    entries = read_manifest(folder)
    bench.recogniser.model.load()
    for entry in entries:
        bench.hear(_utterance(folder, entry))
    for snr in snrs:
        for group, chosen in _groups(entries).items():
            row = Row(group, snr)
            for round_number in range(1 if snr is None else rounds):
                for number, entry in enumerate(chosen):
                    utterance = _utterance(folder, entry)
                    if snr is not None:
                        rng = np.random.default_rng([seed + round_number, number])
                        pink = noise.pink(len(utterance.samples), rng)
                        utterance = Utterance(
                            noise.add_at_active_level(utterance.samples, pink, snr)
                        )
                    _measure(bench, entry, utterance, row)
            # ru_maxrss counts kilobytes on Linux
            row.peak_megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            yield row


def _measure(bench: Bench, entry: Mapping[str, Any], utterance: Utterance, row: Row) -> None:
    recogniser, mind = bench.recogniser, bench.interpreter
    started = time.perf_counter()
    encoded = recogniser.model.encode(utterance.samples)
    after_encoder = time.perf_counter()
    result = recogniser.search(encoded, bench.graph)
    after_search = time.perf_counter()
    heard = judge(result, bench.graph, mind.meaning, mind.prior)
    outcome = bench.exchange(heard)
    answered = time.perf_counter()
    free_decode(recogniser.model, encoded, recogniser.settings)
    row.encode_seconds += after_encoder - started
    row.bound_seconds += after_search - after_encoder
    row.answer_seconds += answered - started
    row.free_seconds += time.perf_counter() - answered
    row.sound_seconds += utterance.seconds

    expected = expected_meaning(bench, entry)
    right = heard.best is not None and mind.meaning(heard.best) == expected
    row.count += 1
    row.right += right
    row.routine_right += heard.best is not None and heard.best.rule == entry["routine"]
    row.asked_back += outcome.clarify is not None
    row.turned_away += outcome.not_for_me is not None
    if not right:
        accepted = outcome.clarify is None and outcome.not_for_me is None
        row.wrong_accepted += accepted
        verdict = "accepted" if accepted else "asked back" if outcome.clarify else "turned away"
        said = heard.best.text if heard.best else "nothing"
        row.mistakes.append(
            f'{entry["voice"]}: "{entry["words"]}" heard as "{said}", {verdict} '
            f"(margin {heard.margin:.1f})"
        )


def expected_meaning(bench: Bench, entry: Mapping[str, Any]) -> Hashable:
    """A manifest entry's routine and slots in the form of Interpreter.meaning."""
    routine = bench.routines[entry["routine"]]
    slots = {}
    for name, stated in entry["slots"].items():
        slot = routine.slot(name)
        values = stated if isinstance(stated, list) else [stated]
        typed = tuple(_value(bench, slot.kind, value) for value in values)
        slots[name] = comparable(typed if slot.many else typed[0])
    return routine.name, frozenset(slots.items())


def _value(bench: Bench, kind: str, stated: Any) -> Any:
    if kind == "product":
        return bench.interpreter.products.get(stated, stated)
    if kind in ("temperature", "temperature_difference"):
        magnitude, unit = stated.split()
        return Q(float(magnitude), unit)
    if kind in QUANTITY_KINDS:
        return Q(stated)
    if kind == "clock":
        return clock(stated)
    if kind == "ratio":
        return ratio(stated)
    return stated


def read_manifest(folder: Path) -> list[dict[str, Any]]:
    """The entries of ``folder/manifest.json``; raises ManifestError."""
    path = folder / "manifest.json"
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError:
        raise ManifestError(f"{path} cannot be read: name a folder of spoken questions") from None
    except ValueError:
        raise ManifestError(f"{path} is not JSON") from None
    entries = data["files"] if isinstance(data, dict) else data
    if not entries:
        raise ManifestError(f"{path} lists no files")
    return entries


def _groups(entries: Sequence[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    main = [entry for entry in entries if entry["group"] in MAIN_GROUPS]
    apart = [entry for entry in entries if entry["group"] not in MAIN_GROUPS]
    found = {" and ".join(MAIN_GROUPS): main, "espeak": apart}
    return {name: chosen for name, chosen in found.items() if chosen}


def _utterance(folder: Path, entry: Mapping[str, Any]) -> Utterance:
    try:
        return read_wav(folder / entry["file"])
    except SoundError as trouble:
        raise ManifestError(str(trouble)) from None
