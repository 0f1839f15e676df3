"""Numbers and times said by one real person, for measuring; never trained on.

    python -m audio_fixtures.hardening.person --out ../work/person
    clampcall measure ../work/person --conditions impact,grinder --snr 3 --encoder hardened

The English prompts of Debian's asterisk-core-sounds-en-g722 hold single words ("twenty", "five",
"minutes"), recorded to be joined, as a telephone exchange does. This joins them into amounts and
times of day, with the pauses cut to a few hundredths of a second, and writes a manifest with a
grammar of its own.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from pathlib import Path

import numpy as np
import soundfile
from num2words import num2words

from assistant.exchange import SAMPLE_RATE
from audio_fixtures.hardening.sound import level
from audio_fixtures.hardening.speakers import ASTERISK, read_prompt
from audio_fixtures.make import trim

PROMPTS = next(iter(sorted(ASTERISK.glob("en*"))), ASTERISK / "en")
"""The folder is called "en" or after its speaker, by what else of the telephone is installed."""
SEED, COUNT = 5, 160
GAP_SECONDS = (0.02, 0.07)
EDGE_SECONDS = 0.25
"""Silence before and behind."""
UNITS = ("minutes", "hours", "seconds", "dollars")
DAYS = ("sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday")
GRAMMAR = """#JSGF V1.0 UTF-8 en;

/* Amounts and times of day, as one real person says them in telephone prompts. */

grammar person;

import <numbers.positive>;

public <amount> = <numbers.positive> {number} (minutes | hours | seconds | dollars) {unit};
public <time> = [(today | tomorrow | yesterday | sunday | monday | tuesday | wednesday | thursday
      | friday | saturday) {day} at] <clock> {clock} (a m | p m) {half};
<clock> = <hour> (o'clock | oh <small> | <teens> | <tens> [<small>]);
<hour> = <small> | ten | eleven | twelve;
<small> = one | two | three | four | five | six | seven | eight | nine;
<teens> = ten | eleven | twelve | thirteen | fourteen | fifteen | sixteen | seventeen | eighteen
      | nineteen;
<tens> = twenty | thirty | forty | fifty;
"""


def spoken_number(value: int) -> list[tuple[str, str]]:
    """(word, prompt) of 1 to 999."""
    parts: list[tuple[str, str]] = []
    if value >= 100:
        parts += [
            (num2words(value // 100), f"digits/{value // 100}"),
            ("hundred", "digits/hundred"),
        ]
        value %= 100
    if value > 20 and value % 10:
        parts.append((num2words(value // 10 * 10), f"digits/{value // 10 * 10}"))
        value %= 10
    if value:
        parts.append((num2words(value), f"digits/{value}"))
    return parts


def _words(parts: list[tuple[str, str]]) -> str:
    return " ".join(word for word, _ in parts)


def amount(rng: random.Random) -> tuple[str, list[tuple[str, str]], list[list[str]]]:
    """Rule, (word, prompt) and tags of an amount."""
    value = rng.choice(
        (
            rng.randint(2, 19),
            rng.randint(13, 19),
            10 * rng.randint(2, 9),
            rng.randint(21, 99),
            rng.randint(101, 999),
        )
    )
    number, unit = spoken_number(value), rng.choice(UNITS)
    prompt = f"digits/{unit}" if unit == "dollars" else unit
    return "amount", [*number, (unit, prompt)], [["number", _words(number)], ["unit", unit]]


def time_of_day(rng: random.Random) -> tuple[str, list[tuple[str, str]], list[list[str]]]:
    """Rule, (word, prompt) and tags of a time of day."""
    parts, tags = [], []
    if rng.random() < 0.6:
        day = rng.randrange(len(DAYS))
        parts += [(DAYS[day], f"digits/day-{day}"), ("at", "digits/at")]
        tags.append(["day", DAYS[day]])
    clock, minute = spoken_number(rng.randint(1, 12)), rng.randint(0, 59)
    if minute == 0:
        clock.append(("o'clock", "digits/oclock"))
    else:
        clock += ([("oh", "digits/oh")] if minute < 10 else []) + spoken_number(minute)
    half = rng.choice(("a m", "p m"))
    tags += [["clock", _words(clock)], ["half", half]]
    return "time", [*parts, *clock, (half, f"digits/{half.replace(' ', '-')}")], tags


def join(prompts: list[str], rng: random.Random) -> np.ndarray:
    """The prompts one after another, close together, float32 at SAMPLE_RATE."""
    edge = np.zeros(int(EDGE_SECONDS * SAMPLE_RATE), np.float32)
    pieces = []
    for prompt in prompts:
        gap = np.zeros(int(rng.uniform(*GAP_SECONDS) * SAMPLE_RATE))
        pieces += [trim(read_prompt(PROMPTS / f"{prompt}.g722").astype(np.float64)), gap]
    return np.concatenate([edge, level(np.concatenate(pieces)), edge])


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--seed", type=int, default=SEED)
    options = parser.parse_args(arguments)
    rng = random.Random(options.seed)
    (options.out / "wav").mkdir(parents=True, exist_ok=True)
    (options.out / "person.jsgf").write_text(GRAMMAR)
    files: list[dict] = []
    seen: set[str] = set()
    while len(files) < options.count:
        rule, parts, tags = rng.choice((amount, amount, time_of_day))(rng)
        words = _words(parts)
        if words in seen:
            continue
        seen.add(words)
        samples = join([prompt for _, prompt in parts], rng)
        name = f"wav/{len(files):04d}-person.wav"
        soundfile.write(options.out / name, samples, SAMPLE_RATE, subtype="PCM_16")
        files.append(
            {
                "file": name,
                "words": words,
                "rule": rule,
                "tags": tags,
                "family": "person",
                "grammar": "person.jsgf",
                "voice": "person",
                "group": "person",
                "duration": round(len(samples) / SAMPLE_RATE, 4),
            }
        )
    document = {"purpose": "test", "seed": options.seed, "files": files}
    (options.out / "manifest.json").write_text(json.dumps(document, indent=1))
    print(f"{len(files)} recordings in {options.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
