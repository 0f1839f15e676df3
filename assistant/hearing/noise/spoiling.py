"""Named conditions: what happens to a sentence between a mouth and the recogniser.

A condition is a name or several joined by ``+``, each of them with a figure of its own after
a colon if wanted:

    pink    impact    impact:18    room:0.5+pink    room+impact+babble    telephone+fan

The order of nature holds whatever the order of the names: the speech goes through the room,
then noise is added at the ratio asked for, then the whole goes through microphone or line,
and is clipped last. A machine that stands in a room is heard through the room too, from
further away than the speaker.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Literal

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.noise import channels, colours, machines, rooms
from assistant.hearing.noise.levels import SILENCE_RMS, active_level, rms, speech_level

Level = Literal["active", "loudest"]
"""What the ratio is taken against: the mean of the frames that hold speech (active_level), or
the loudest 128 ms (speech_level), which is 4 to 6 dB harsher at the same figure."""

FIGURES = {
    "impact": ("blows_per_second", (5.0, 40.0)),
    "grinder": ("rpm", (1_000.0, 20_000.0)),
    "leak": ("millimetres", (0.1, 50.0)),
    "compressor": ("rpm", (200.0, 3_000.0)),
    "fan": ("rpm", (200.0, 4_000.0)),
    "hammer": ("blows_per_second", (0.5, 10.0)),
}
"""What the figure after a machine's name is, and what it may be."""
COLOURS = {"white": colours.white, "pink": colours.pink, "brown": colours.brown}
NOISES = (*COLOURS, *FIGURES, "babble", "shop")
CHANNELS = ("room", "telephone", "cheap", "clipped")
PARTS = (*NOISES, *CHANNELS)

NAMED = (
    "clean",
    "pink",
    "impact",
    "grinder",
    "leak",
    "compressor",
    "fan",
    "hammer",
    "babble",
    "shop",
    "room",
    "room+pink",
    "room+impact",
    "room+grinder",
    "room+shop",
    "telephone",
    "telephone+pink",
    "cheap",
    "cheap+pink",
    "clipped",
    "clipped+pink",
)
"""The conditions that ``measure`` offers without further thought."""

CLIPPED_DB = 12.0
"""How far the peaks stand over the limit where no figure is given."""
MACHINE_METRES = (2.0, 2.4)
"""From a machine to the microphone, where there is a room: further than the speaker, and still
inside the smallest room."""
SHOP_MACHINES = (2, 3)
SHOP_SPREAD_DB = 6.0
"""In the mixed shop: how many machines at once, and how much louder one is than another."""


class ConditionError(ValueError):
    """A condition that does not exist; the message is one line and names those that do."""


def parse(condition: str) -> dict[str, float | None]:
    """The parts of a condition with their figures; ``clean`` has none. Raises ConditionError."""
    parts: dict[str, float | None] = {}
    for piece in condition.replace(" ", "").lower().split("+"):
        name, colon, figure = piece.partition(":")
        if name == "clean" and not colon:
            continue
        if name not in PARTS:
            raise ConditionError(
                f"no condition is called {piece!r}: join some of {', '.join(PARTS)} with +"
            )
        if name in parts:
            raise ConditionError(f"{name} stands twice in {condition!r}")
        parts[name] = _figure(name, figure) if colon else None
    return parts


def _figure(name: str, text: str) -> float:
    allowed = {"room": (0.1, 3.0), "clipped": (0.0, 40.0), "babble": (1.0, 12.0)} | {
        machine: span for machine, (_, span) in FIGURES.items()
    }
    if name not in allowed:
        raise ConditionError(f"{name} takes no figure: write it without a colon")
    low, high = allowed[name]
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise ConditionError(f"{name}:{text} must have a figure from {low:g} to {high:g}")
    return value


def has_noise(condition: str) -> bool:
    """Whether the condition adds noise, so that a ratio means something."""
    return any(name in NOISES for name in parse(condition))


def spoil(
    samples: np.ndarray,
    condition: str,
    snr: float | None,
    seed: int,
    *,
    level: Level = "active",
    talk: Sequence[np.ndarray] = (),
    sample_rate: int = SAMPLE_RATE,
) -> np.ndarray:
    """``samples`` under a named condition: float32, of the same length.

    snr: decibels of the speech, as it arrives through the room, over the noise; None for a
        condition without noise. The noise's level is its RMS over the whole stretch, so what
        comes in blows stands well above it while it lasts.
    seed: the same seed gives the same noise, at whatever ratio.
    level: what the speech's level is, see Level.
    talk: clean recordings of other sentences; babble needs some.

    The speech is not rescaled, and the sum may pass full scale. Raises ConditionError for an
    unknown condition, ValueError for a noise without a ratio or speech without a level.
    """
    parts = parse(condition)
    digest = hashlib.sha256("+".join(sorted(parts)).encode()).digest()
    rng = np.random.default_rng([seed, int.from_bytes(digest[:4], "big")])
    speech = np.asarray(samples, dtype=np.float64)
    shop = rooms.draw_shop(rng, parts["room"]) if "room" in parts else None
    if shop is not None:
        speech = rooms.in_room(speech, shop.response(rng, None, sample_rate))
    noises = [name for name in parts if name in NOISES]
    if noises:
        if snr is None:
            raise ValueError(f"{condition} needs a ratio in decibels")
        added = np.zeros(len(speech))
        for name in noises:
            added += _noise(name, parts[name], len(speech), rng, shop, talk, sample_rate)
        speech = _at_ratio(speech, added, snr, level, sample_rate)
    if "cheap" in parts:
        speech = channels.cheap_microphone(speech, rng, sample_rate)
    if "clipped" in parts:
        over = parts["clipped"]
        speech = channels.clip(speech, CLIPPED_DB if over is None else over)
    if "telephone" in parts:
        speech = channels.telephone(speech, sample_rate)
    return speech.astype(np.float32)


def _at_ratio(
    speech: np.ndarray, noise: np.ndarray, snr: float, level: Level, sample_rate: int
) -> np.ndarray:
    measure = {"active": active_level, "loudest": speech_level}[level]
    speech_rms, noise_rms = measure(speech, sample_rate), rms(noise)
    if speech_rms < SILENCE_RMS or noise_rms < SILENCE_RMS:
        raise ValueError("silent speech or silent noise has no ratio")
    return speech + speech_rms / noise_rms * 10.0 ** (-snr / 20.0) * noise


def _noise(
    name: str,
    figure: float | None,
    count: int,
    rng: np.random.Generator,
    shop: rooms.Shop | None,
    talk: Sequence[np.ndarray],
    sample_rate: int,
) -> np.ndarray:
    """One kind of noise, RMS 1 before its room."""
    if name in COLOURS:
        return COLOURS[name](count, rng, sample_rate)  # comes from all sides already
    if name == "shop":
        return _machines_at_once(count, rng, shop, sample_rate)
    if name == "babble":
        talkers = None if figure is None else int(figure)
        sound = machines.babble(count, rng, list(talk), sample_rate, talkers)
    else:
        given = {} if figure is None else {FIGURES[name][0]: figure}
        sound = machines.MACHINES[name](count, rng, sample_rate, **given)
    if shop is None:
        return sound
    response = shop.response(rng, float(rng.uniform(*MACHINE_METRES)), sample_rate)
    heard = rooms.in_room(sound, response)
    return heard / max(rms(heard), SILENCE_RMS)


def _machines_at_once(
    count: int, rng: np.random.Generator, shop: rooms.Shop | None, sample_rate: int
) -> np.ndarray:
    """Two or three machines at once, none of them twice."""
    number = int(rng.integers(SHOP_MACHINES[0], SHOP_MACHINES[1] + 1))
    total = np.zeros(count)
    for name in rng.choice(sorted(machines.MACHINES), number, replace=False):
        gain = 10.0 ** (rng.uniform(-SHOP_SPREAD_DB, 0.0) / 20.0)
        total += gain * _noise(str(name), None, count, rng, shop, (), sample_rate)
    return total
