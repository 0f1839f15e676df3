"""When is a hearing good enough? Measures what the thresholds of doubt and rejection cost.

Three kinds of speech: questions for the program, drawn from its own grammars; questions that
differ only in numbers that sound alike; and speech that is not for it: talk in a shop with the
trade's words (chatter.jsgf), and recordings of people reading and speaking, cut by the same
voice activity detection as live sound.

    python -m audio_fixtures.calibrate make --out WORK                   render both (seeded)
    python -m audio_fixtures.calibrate hear --out WORK --recordings DIR  hear all of it
    python -m audio_fixtures.calibrate fit --out WORK                    table, curve, thresholds

``hear`` writes WORK/heard.jsonl, one line for each utterance and noise; ``fit`` reads only
that, prints the table for the documents and writes WORK/rejection.svg. The thresholds then
stand in ``assistant/understanding/requests.py`` (Limits), with these figures beside them.
Nothing used here is used in a test.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import random
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from assistant.bench import Bench
from assistant.exchange import (
    SAMPLE_RATE,
    Clarify,
    Heard,
    Reading,
    Refusal,
    Request,
    Utterance,
)
from assistant.hearing import noise, sampling
from assistant.hearing.recogniser import BundledRecogniser
from assistant.hearing.sound_alike import TEENS, TENS
from assistant.hearing.speech_model import SpeechModel
from assistant.listening.activity import SpeechActivity
from assistant.listening.conversation import Conversation
from assistant.listening.ends import Ended, Endpointer
from assistant.listening.sources import WavSource
from assistant.understanding import dialogue
from assistant.understanding.quantities import NotAQuantity
from assistant.understanding.requests import Interpreter, Limits
from assistant.understanding.second_opinion import leaves_out, support
from assistant.understanding.strangeness import strangeness
from audio_fixtures import make, scale

HERE = Path(__file__).parent
TRUE, ALIKE, OTHER = "question", "alike", "other"
QUESTIONS_PER_ROUTINE = 6
CHATTER = 420
SEED = 11
BEFORE, AFTER = 0.4, 0.6
"""Seconds of pause around a rendered file, as the live loop hands it on."""
PURPOSES = ("tune", "test")
"""Of sentences (``scale.purpose_of``); those that train the encoder would flatter it."""
TRIES = 200
"""Draws for each question wanted; some rules have no more sentences."""
LONGEST_WORDS = 22
"""A sampled question longer than this is nothing a person says."""


@dataclass(frozen=True)
class Line:
    """One utterance as it was heard. snr_db: of the noise put on it, None for none."""

    kind: str
    source: str
    snr_db: float | None
    seconds: float
    estimated_snr: float
    free_margin: float
    margin: float
    rule: str | None
    right: bool
    best: str
    rivals: tuple[str, ...]
    free: str
    bare: bool
    """The reading names no value."""


# --- make -------------------------------------------------------------------------------


def question_rows(purpose: str, seed: int) -> list[dict]:
    """Questions of every routine for a purpose, drawn from its grammar."""
    bench, rng = Bench(), random.Random(seed)
    rows = []
    for root in bench.rules.roots:
        found: dict[str, Reading] = {}
        for _ in range(TRIES * QUESTIONS_PER_ROUTINE):
            if len(found) == QUESTIONS_PER_ROUTINE:
                break
            reading = sampling.sample(bench.rules, rng, root)
            words = reading.text
            if scale.purpose_of(words) == purpose and len(words.split()) <= LONGEST_WORDS:
                found.setdefault(words, reading)
        rows += [{"words": text, "rule": r.rule, "tags": r.tags} for text, r in found.items()]
    return rows


FRACTIONS = (
    "three eighths", "five eighths", "three sixteenths", "five sixteenths", "a quarter",
    "three quarters", "seven sixteenths", "half",
)  # fmt: skip
CARRIERS = (
    "how much adhesive for {} inches",
    "when can i unclamp at {} degrees",
    "how long do i have to work at {} degrees",
    "how many clamps for {} inches every three inches",
    "how much adhesive for {} millimeters of ten millimeter bead",
    "mix four to one to one for {} ounces",
    "how much hardener for {} grams of filler",
    "how many spot welds for {} inches every two inches",
    "how long do i have with the metal at {} degrees",
    "what is {} inches in millimeters",
)
HUNDREDS = ("", "one hundred ", "two hundred ")
FRACTION_CARRIERS = (
    "how much adhesive for forty inches with a {} inch bead",
    "what is {} plus one half",
    "how far does a cartridge go with a {} inch bead",
    "how much adhesive for thirty inches of {} inch bead",
    "what is {} minus one eighth",
)
JOINED_CARRIERS = (
    "how much adhesive for {} feet {} inches",
    "how many spot welds for {} feet {} inches every two inches",
    "how many clamps for {} feet {} inches every three inches",
)
FEET = "two three four five six seven eight nine ten".split()
INCHES = "four six eight nine ten eleven".split()
ALIKE_COUNT = 400


def alike_rows(purpose: str, seed: int) -> list[dict]:
    """Questions for a purpose whose numbers sound like others, ALIKE_COUNT of them, with what they
    mean; each a few times, where there are not as many."""
    bench = Bench()
    numbers = [hundreds + number for hundreds in HUNDREDS for number in (*TEENS, *TENS)]
    texts = [carrier.format(number) for carrier in CARRIERS for number in numbers]
    texts += [carrier.format(fraction) for carrier in FRACTION_CARRIERS for fraction in FRACTIONS]
    texts += [
        carrier.format(feet, inches)
        for carrier in JOINED_CARRIERS
        for feet in FEET
        for inches in INCHES
    ]
    rows = []
    for text in texts:
        if scale.purpose_of(text) != purpose:
            continue
        heard = bench.read(text)
        if heard.best is not None and heard.confidence == 1.0:
            rows.append({"words": text, "rule": heard.best.rule, "tags": heard.best.tags})
    random.Random(seed).shuffle(rows)
    return [rows[number % len(rows)] for number in range(ALIKE_COUNT)]


def make_all(out: Path, kinds: Sequence[str], purpose: str, seed: int, workers: int) -> None:
    """Render each kind of speech asked for, by neural and flite voices."""
    if OTHER in kinds:
        chatter = make.grammar_rows(HERE / "chatter.jsgf", CHATTER, seed)
        plain = [{"words": row["words"]} for row in chatter]
        make.make_list(plain, out / OTHER, "neural,flite", 1, seed, True, workers)
    if TRUE in kinds:
        rows = question_rows(purpose, seed + 10)
        make.make_list(rows, out / TRUE, "neural,flite", 1, seed + 11, True, workers)
    if ALIKE in kinds:
        rows = alike_rows(purpose, seed + 20)
        make.make_list(rows, out / ALIKE, "neural,flite", 1, seed + 21, True, workers)


# --- hear -------------------------------------------------------------------------------


def hear_all(out: Path, recordings: Sequence[Path], seed: int) -> None:
    """Hear everything that is not in heard.jsonl yet, in an order drawn at random: what is
    done so far is a fair sample."""
    talk = Conversation(Bench(recogniser=BundledRecogniser(SpeechModel(threads=1))))
    talk.warm_up()
    path = out / "heard.jsonl"
    done = {(line.source, line.snr_db) for line in read_lines(path)} if path.exists() else set()
    tasks = [*_rendered(out), *_recorded(recordings)]
    random.Random(seed).shuffle(tasks)
    tasks.sort(key=lambda task: not task.stated)
    with path.open("a", encoding="utf-8") as file:
        for number, task in enumerate(tasks):
            if (task.source, task.snr_db) not in done:
                file.write(json.dumps(asdict(_line(talk, task, [seed, number]))) + "\n")
                file.flush()


def read_lines(path: Path) -> list[Line]:
    """What has been heard; a line cut off in the middle of writing is left out."""
    found = []
    for text in path.read_text(encoding="utf-8").splitlines():
        with contextlib.suppress(ValueError, TypeError):
            found.append(Line(**json.loads(text)))
    return found


@dataclass(frozen=True, eq=False)
class Task:
    """One utterance to hear, in pink noise at ``snr_db`` or as it is."""

    kind: str
    source: str
    samples: Callable[[], np.ndarray]
    snr_db: float | None
    entry: dict | None = None

    @property
    def stated(self) -> bool:
        """Whether the stated figures rest on it; the rest tells how they change with noise."""
        return (self.kind, self.snr_db) in ((TRUE, 12.0), (ALIKE, 6.0), (OTHER, None))


def _rendered(out: Path) -> Iterator[Task]:
    folders = ((TRUE, (12.0, 6.0)), (ALIKE, (6.0,)), (OTHER, (None, 12.0)))
    for folder, snrs in folders:
        for entry in _manifest(out / folder):
            path = out / folder / entry["file"]
            for snr in snrs:
                known = entry if folder != OTHER else None
                yield Task(
                    folder, f"{folder}/{path.name}", lambda path=path: _padded(path), snr, known
                )


def _recorded(folders: Sequence[Path]) -> Iterator[Task]:
    activity = SpeechActivity()
    for path in sorted(path for folder in folders for path in folder.rglob("*.wav")):
        for piece, utterance in enumerate(utterances(path, activity)):
            source = f"recording/{path.name}/{piece}"
            samples = utterance.samples
            yield Task(OTHER, source, lambda samples=samples: samples, None)


def utterances(path: Path, activity: SpeechActivity) -> Iterator[Utterance]:
    """What the live loop would cut out of a recording."""
    activity.reset()
    ends, at = Endpointer(), 0.0
    for block in WavSource(path).blocks():
        at = block.at
        event = ends.push(block, activity(block.samples))
        if isinstance(event, Ended):
            yield event.utterance
    last = ends.finish(at)
    if isinstance(last, Ended):
        yield last.utterance


def _line(talk: Conversation, task: Task, seed: list[int]) -> Line:
    samples, snr, entry = task.samples(), task.snr_db, task.entry
    if snr is not None:
        pink = noise.pink(len(samples), np.random.default_rng(seed))
        samples = noise.add_at_active_level(samples, pink, snr)
    heard = talk.hear(Utterance(samples.astype(np.float32)), 0.0)
    best = heard.best
    right = False
    if entry and best:
        mind = talk.bench.interpreter
        meant = type(best)(entry["words"], tuple(map(tuple, entry["tags"])), entry["rule"])
        right = mind.meaning(best) == mind.meaning(meant) if best.rule == meant.rule else False
    return Line(
        task.kind,
        task.source,
        snr,
        round(len(samples) / SAMPLE_RATE, 2),
        round(heard.snr_db, 1),
        round(min(heard.free_margin, 999.0), 2),
        round(min(heard.margin, 999.0), 2),
        best.rule if best else None,
        right,
        best.text if best else "",
        tuple(other.text for other in heard.alternatives[:2]),
        heard.free_text,
        best is not None and not best.tags,
    )


def _manifest(folder: Path) -> list[dict]:
    path = folder / "manifest.jsonl"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return [json.loads(line) for line in lines]


def _padded(path: Path) -> np.ndarray:
    samples = soundfile.read(path, dtype="float32")[0]
    return np.pad(samples, (round(BEFORE * SAMPLE_RATE), round(AFTER * SAMPLE_RATE)))


# --- fit --------------------------------------------------------------------------------

STRANGE = tuple(float(step) for step in range(10, 31))
MORE = (-2.0, -1.0, 0.0, 1.0, 2.0)
"""Added to every margin that a question needs, to see what each costs."""
MARGINS = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0)
SUPPORTS = (("with the best", 0.8), ("half", 0.3), ("neither", -0.3), ("with the rival", -1.0))
"""What the free text says of the best reading and its rival: from which support on."""
AT_ONCE, IN_DOUBT, NO_DOUBT = "right at once", "asked back in doubt", "asked in no doubt"
AWAY, WRONG = "turned away", "wrong and accepted"
ENDS = (AT_ONCE, NO_DOUBT, IN_DOUBT, AWAY, WRONG)
"""How an exchange may end. NO_DOUBT: heard right, but it lacks a value or goes into a record."""
COMMANDS = frozenset((*dialogue.PASSING, "what_to_ask"))
MINUTES = 30.0
"""False answers are stated for this much speech that is not for the program."""


def heard_of(line: Line) -> Heard:
    """The hearing as far as the thresholds look at it."""
    rule = line.rule or ""
    tags = () if line.bare else (("value", line.best),)
    return Heard(
        Reading(line.best, tags, rule) if line.best else None,
        margin=line.margin,
        free_margin=line.free_margin,
        free_text=line.free,
        alternatives=tuple(Reading(text, (), rule) for text in line.rivals),
        snr_db=line.estimated_snr,
    )


def is_command(line: Line) -> bool:
    """Whether it was taken for a command of the conversation rather than a question."""
    return line.rule in COMMANDS


def strange(line: Line) -> float:
    """Its strangeness; infinite where a threshold of its own turns it away: of a command, or
    of a question that names no value."""
    value, limits = strangeness(heard_of(line)), Limits()
    if is_command(line) and value > limits.strange_command:
        return float("inf")
    return float("inf") if line.bare and value > limits.strange_bare else value


def rejection_rows(lines: Sequence[Line]) -> list[dict]:
    """For each threshold of strangeness: questions turned away, other speech answered."""
    sets: dict[str, list[float]] = {}
    minutes: dict[str, float] = {}
    for line in lines:
        snr = "clean" if line.snr_db is None else f"{line.snr_db:g} dB"
        kind = "other" if line.kind == OTHER else "question"
        name = f"{kind}, {snr}"
        sets.setdefault(name, []).append(strange(line))
        minutes[name] = minutes.get(name, 0.0) + line.seconds / 60
    rows = []
    for limit in STRANGE:
        row: dict = {"strange": limit}
        for name, values in sorted(sets.items()):
            passed = sum(value <= limit for value in values)
            if name.startswith("other"):
                row[name] = passed
                row[f"{name}, in {MINUTES:g} min"] = round(passed * MINUTES / minutes[name], 2)
            else:
                row[name] = round(100 * (1 - passed / len(values)), 1)
        rows.append(row)
    for name, values in sorted(sets.items()):
        print(f"{name}: {len(values)} utterances, {minutes[name]:.1f} min")
    return rows


def doubt_rows(lines: Sequence[Line], limits: Limits) -> list[dict]:
    """What becomes of the questions, in percent, with margins more or less than those in use."""
    bench, rows = Bench(), []
    read = cache(lambda text: bench.read(text).best)
    for kind in (TRUE, ALIKE):
        for snr in sorted({line.snr_db for line in lines if line.kind == kind}, key=str):
            chosen = [line for line in lines if line.kind == kind and line.snr_db == snr]
            for more in MORE:
                names = ("doubt_confirmed", "doubt", "doubt_against")
                tried = replace(limits, **{name: getattr(limits, name) + more for name in names})
                ends = [_end(bench.interpreter, read, line, tried) for line in chosen]
                row = {"kind": kind, "snr": snr, "count": len(chosen), "margin more": more}
                for end in ENDS:
                    row[end] = round(100 * ends.count(end) / len(chosen), 1)
                rows.append(row)
    return rows


def support_rows(lines: Sequence[Line], limits: Limits) -> list[dict]:
    """Wrong of all best readings by their margin, and by what the free text says of them: the
    thresholds of doubt stand where few are wrong any more."""
    found: dict[tuple[str, str], dict[float, list[bool]]] = {}
    for line in lines:
        heard = heard_of(line)
        if line.kind == OTHER or not heard.alternatives or leaves_out(heard):
            continue
        said = support(heard, heard.alternatives[0])
        name = next(name for name, least in SUPPORTS if said >= least)
        noise = "noisy" if line.estimated_snr < limits.noisy_db else "quiet"
        least = max((least for least in MARGINS if least <= line.margin), default=MARGINS[0])
        cells = found.setdefault((name, noise), {least: [] for least in MARGINS})
        cells[least].append(not line.right)
    return [
        {"free text": name, "sound": noise}
        | {f"from {least:g}": f"{sum(cell)} of {len(cell)}" for least, cell in cells.items()}
        for (name, noise), cells in sorted(found.items())
    ]


def _end(
    mind: Interpreter, read: Callable[[str], Reading | None], line: Line, limits: Limits
) -> str:
    """How the exchange would end: the interpreter's own judgement of the readings."""
    heard = heard_of(line)
    if heard.best is None or limits.is_strange(heard, is_command(line)):
        return AWAY
    if is_command(line):
        return WRONG
    best = read(line.best)
    readings = tuple(reading for text in line.rivals if (reading := read(text)) is not None)
    mind = replace(mind, limits=limits)
    try:
        ended = mind.interpret(replace(heard, best=best, alternatives=readings))
    except (Refusal, NotAQuantity):
        ended = None  # it says which value is out of range, and to say it again
    if isinstance(ended, Clarify) and ended.options and not ended.read_back:
        return IN_DOUBT
    if isinstance(ended, Clarify):
        # many of the drawn questions leave a value out; one that was lost costs a question
        return NO_DOUBT if line.right else IN_DOUBT
    if line.right:
        return AT_ONCE
    return WRONG if isinstance(ended, Request) else IN_DOUBT


def table(rows: Sequence[dict]) -> str:
    """Rows as a Markdown table."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = ["| " + " | ".join(names) + " |", "|" + "---|" * len(names)]
    lines += ["| " + " | ".join(str(row.get(name, "")) for name in names) + " |" for row in rows]
    return "\n".join(lines)


def curve(lines: Sequence[Line], limit: float) -> str:
    """The two errors over the threshold, as an SVG: questions at 12 dB, other speech as it is."""
    true = [strange(line) for line in lines if (line.kind, line.snr_db) == (TRUE, 12.0)]
    other = [strange(line) for line in lines if (line.kind, line.snr_db) == (OTHER, None)]
    width, height, left, bottom, low, high = 640, 360, 60, 40, 0.0, 40.0

    def place(threshold: float, share: float) -> str:
        x = left + (threshold - low) / (high - low) * (width - left - 20)
        return f"{x:.1f},{height - bottom - share * (height - bottom - 20):.1f}"

    steps = np.linspace(low, high, 161)
    turned = " ".join(place(t, float(np.mean(np.array(true) > t))) for t in steps)
    passed = " ".join(place(t, float(np.mean(np.array(other) <= t))) for t in steps)
    at = place(limit, 0.0).split(",")[0]
    marks = "".join(
        f'<text x="{place(t, 0).split(",")[0]}" y="{height - 20}" text-anchor="middle">{t}</text>'
        for t in range(0, 41, 10)
    ) + "".join(
        f'<text x="{left - 8}" y="{place(0, s / 100).split(",")[1]}" text-anchor="end">{s} %</text>'
        for s in (0, 50, 100)
    )
    return f"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}"
 font-family="sans-serif" font-size="13">
<rect width="100%" height="100%" fill="white"/>
<polyline points="{turned}" fill="none" stroke="black" stroke-width="2"/>
<polyline points="{passed}" fill="none" stroke="black" stroke-width="2" stroke-dasharray="6 4"/>
<line x1="{at}" y1="20" x2="{at}" y2="{height - bottom}" stroke="gray"/>
{marks}
<text x="{width / 2}" y="{height - 4}" text-anchor="middle">threshold of strangeness</text>
<text x="{width - 24}" y="36" text-anchor="end">solid: questions at 12 dB turned away;
 dashed: other speech answered; line: the threshold in use</text>
</svg>
"""


def fit(out: Path) -> None:
    lines, limits = read_lines(out / "heard.jsonl"), Limits()
    print(table(rejection_rows(lines)))
    print()
    print(table(doubt_rows(lines, limits)))
    print()
    print(table(support_rows(lines, limits)))
    (out / "rejection.svg").write_text(curve(lines, limits.strange), encoding="utf-8")


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m audio_fixtures.calibrate",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("step", choices=("make", "hear", "fit"))
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--recordings", type=Path, action="append", default=[], metavar="DIR",
                        help="folder of WAV files of people speaking; may be given again")
    parser.add_argument("--kind", choices=(TRUE, ALIKE, OTHER), action="append", dest="kinds",
                        help="what to make; may be given again (default: all three)")
    parser.add_argument("--purpose", choices=PURPOSES, default="tune",
                        help="sentences to make (default: tune)")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=make.WORKERS, metavar="N",
                        help=f"processes that make (default: {make.WORKERS})")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    if options.step == "make":
        kinds = options.kinds or (TRUE, ALIKE, OTHER)
        make_all(options.out, kinds, options.purpose, options.seed, options.workers)
    elif options.step == "hear":
        hear_all(options.out, options.recordings, options.seed)
    else:
        fit(options.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
