"""A job from its first spoken word to the report, by the program itself.

    python -m audio_fixtures.demo_job --out WORK

Each line of ``demo_job.toml`` is spoken by the bundled voice, heard by the real recogniser
along everything that may be said, and answered by the real routines on a journal in WORK; the
clock is moved by hand between the lines. What was said and answered stands in WORK/talk.txt,
the sound in WORK/wav, the report in WORK/report.pdf and report.html. Ends with 1 if a line was
not answered.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

from assistant.bench import Bench
from assistant.exchange import SAMPLE_RATE, Utterance
from assistant.listening.conversation import Conversation
from assistant.products.shelf import load_shelf
from assistant.record.document import JobRecord
from assistant.record.records import Records
from assistant.record.report_html import html
from assistant.record.report_pdf import pdf
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop, local_time
from assistant.shop.timekeeping import ClockReading
from assistant.speaking.voices import choose_voice
from audio_fixtures.sentences import spoken_form

SCRIPT = Path(__file__).with_name("demo_job.toml")
BAY = 2
SECONDS_FOR_A_REPLY = 6.0
MOST_REPLIES = 3
SILENCE = 0.3
"""Seconds before and after what is said."""


@dataclass
class ScriptClock:
    """A clock that stands still until it is moved."""

    seconds: float
    passed: float = 0.0

    def read(self) -> ClockReading:
        wall = round((self.seconds + self.passed) * 1e6)
        return ClockReading(wall, round((1000 + self.passed) * 1e6), "demo")


class DemoBench(Bench):
    """The demonstration cards, a journal of its own, and the script's clock."""

    def __init__(self, journal: Journal, recogniser: Any = None):
        super().__init__("us", load_shelf(Path("no-such-folder")), recogniser)
        self.__dict__["shop"] = Shop(journal, "us", "voice")

    def now(self) -> datetime:
        return local_time(self.shop.journal.clock.read())


@dataclass(frozen=True)
class Exchange:
    """One thing said, what was heard, and what was said back."""

    at: datetime
    said: str
    heard: str
    answer: str
    kind: str
    samples: np.ndarray


def speak(words: str) -> np.ndarray:
    """The bundled voice, as a microphone would have it."""
    samples, rate = choose_voice("bundled").synthesise(spoken_form(words))
    samples = soxr.resample(np.asarray(samples, np.float64), rate, SAMPLE_RATE)
    silence = np.zeros(round(SILENCE * SAMPLE_RATE))
    sound = np.concatenate((silence, samples * (0.3 / np.max(np.abs(samples))), silence))
    return sound.astype(np.float32)


def talk(folder: Path, recogniser: Any = None) -> Iterator[Exchange]:
    """Say the script, line by line, to a journal in that folder."""
    script = tomllib.loads(SCRIPT.read_text(encoding="utf-8"))
    clock = ScriptClock(datetime.fromisoformat(script["day"]).timestamp())
    journal = Journal(folder, clock, "demo")
    conversation = Conversation(DemoBench(journal, recogniser))

    def say(words: str) -> Exchange:
        samples = speak(words)
        heard = conversation.hear(Utterance(samples), clock.passed)
        turn = conversation.take(heard, clock.passed)
        text = turn.heard.best.text if turn.heard.best else turn.heard.free_text
        at = datetime.fromtimestamp(clock.read().wall / 1e6, UTC)
        return Exchange(at, words, text, turn.spoken, turn.kind, samples)

    for line in script["line"]:
        clock.passed += 60.0 * line.get("after", 0)
        said = say(line["say"])
        yield said
        for _ in range(MOST_REPLIES):
            if said.kind != "asks back":
                break
            clock.passed += SECONDS_FOR_A_REPLY
            sure = said.answer.endswith("Yes or no?")
            said = say("yes" if sure else line.get("figures", "the first"))
            yield said
    journal.close()


def document(folder: Path) -> tuple[JobRecord, str]:
    """The record that came of it, and the head of its journal."""
    records = Records(Journal(folder))
    record = records.record(records.in_bay(BAY))
    assert record is not None
    return record, records.journal_head()


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--out", type=Path, required=True, help="an empty folder")
    out = parser.parse_args(arguments).out
    (out / "wav").mkdir(parents=True, exist_ok=True)
    told, failed = [], 0
    for number, one in enumerate(talk(out / "data"), 1):
        soundfile.write(out / "wav" / f"{number:02d}.wav", one.samples, SAMPLE_RATE, "PCM_16")
        failed += one.kind not in ("answer", "asks back")
        told.append(f"{one.at:%H:%M:%S}  {one.said}\n    heard: {one.heard}\n    {one.answer}\n")
        print(told[-1], end="")
    (out / "talk.txt").write_text("\n".join(told), encoding="utf-8")
    record, head = document(out / "data")
    (out / "report.pdf").write_bytes(pdf(record, head))
    (out / "report.html").write_text(html(record, head), encoding="utf-8")
    print(f"{out / 'report.pdf'}: {len(record.evidence)} events; not answered: {failed}")
    return min(failed, 1)


if __name__ == "__main__":
    raise SystemExit(main())
