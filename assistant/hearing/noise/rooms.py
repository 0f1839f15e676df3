"""Rooms: a plain decaying echo, and a shop with hard walls.

A shop's response is made of two parts. The first reflections are the room's mirror images
(Allen and Berkley 1979, "Image method for efficiently simulating small-room acoustics").
They soon lie so dense that they are noise; from there on the response is noise that decays,
each octave in its own time, with the energy that as many images would carry. pyroomacoustics
was tried beside it and serves the tests as a peer: with images alone the reverberation time
asked for is missed, and it would be one more package for the sake of a page.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assistant.exchange import SAMPLE_RATE

SPEED_OF_SOUND = 343.0
"""Metres a second in air of 20 degC."""

DECAY_60_DB = 3.0 * np.log(10.0)
"""An amplitude e**(-DECAY_60_DB * t / RT60) has fallen by 60 dB at t = RT60:
20*log10(e**-x) = -60 gives x = 3 ln 10. RT60 as in ISO 3382 (from memory)."""


def echo(
    samples: np.ndarray,
    rt60: float,
    rng: np.random.Generator,
    direct_to_echo_db: float = 6.0,
    sample_rate: int = SAMPLE_RATE,
) -> np.ndarray:
    """``samples`` in a synthetic room: the direct sound plus a decaying noise tail.

    rt60: seconds until the tail has fallen by 60 dB; a garage is of the order of 0.5 to 2.
    direct_to_echo_db: energy of the direct sound over that of the whole tail.
    The result is longer by rt60, so that the tail is not cut off.
    """
    if not rt60 > 0:
        raise ValueError(f"RT60 must be more than 0 s, not {rt60}")
    tail_length = max(1, round(rt60 * sample_rate))
    time = np.arange(1, tail_length + 1) / sample_rate
    tail = rng.standard_normal(tail_length) * np.exp(-DECAY_60_DB * time / rt60)
    tail *= 10.0 ** (-direct_to_echo_db / 20.0) / np.sqrt(np.sum(tail**2))
    response = np.concatenate(([1.0], tail))
    total = len(samples) + tail_length
    return np.fft.irfft(np.fft.rfft(samples, total) * np.fft.rfft(response, total), total)


SHOP_METRES = ((4.0, 9.0), (5.0, 12.0), (2.8, 4.5))
"""One bay to three bays. Our own choice."""
RT60_SECONDS = (0.3, 0.8)
MICROPHONE_METRES = (0.4, 1.8)
"""From the mouth to a tablet on the bench."""
WALL_METRES = 0.4
"""Nobody speaks nearer to a wall than this."""
IMAGE_SECONDS = 0.050
"""So long after the direct sound mirror images are used; at its end a bay has some 200."""
FADE_SECONDS = 0.025
"""Over the last of these the images fade out and the decaying noise fades in."""
LENGTH_IN_RT60 = 1.2
"""Length of a response: the slowest octave has fallen by more than 60 dB by then."""
SINC_TAPS = 32
"""Taps of the fractional delay of an image."""
OCTAVES_HZ = (125.0, 250.0, 500.0, 1_000.0, 2_000.0, 4_000.0, 8_000.0)
OCTAVE_TIMES = (1.15, 1.1, 1.0, 1.0, 0.92, 0.75, 0.5)
"""Reverberation time of each octave over that of 500 and 1,000 Hz: bare concrete and sheet
steel keep the low end, the air takes the high one. Typical of hard halls; our own choice."""


def images(
    room: np.ndarray, source: np.ndarray, microphone: np.ndarray, farthest: float
) -> tuple[np.ndarray, np.ndarray]:
    """Mirror images of a source in a box of ``room`` metres, as heard at ``microphone``.

    Distances in metres (up to ``farthest``), and how many walls each was reflected by.
    """
    axes = []
    for side, at in zip(room, source, strict=True):
        most = int(farthest / (2 * side)) + 2
        number = np.arange(-most, most + 1)
        places = np.concatenate((2 * number * side + at, 2 * number * side - at))
        walls = np.concatenate((np.abs(2 * number), np.abs(2 * number - 1)))
        axes.append((places, walls))
    grid = np.meshgrid(*(places for places, _ in axes), indexing="ij")
    walls = np.meshgrid(*(count for _, count in axes), indexing="ij")
    distance = np.sqrt(
        sum((place - at) ** 2 for place, at in zip(grid, microphone, strict=True))
    ).ravel()
    count = sum(walls).ravel()
    near = distance <= farthest
    order = np.argsort(distance[near], kind="stable")
    return distance[near][order], count[near][order]


def wall_absorption(room: np.ndarray, rt60: float) -> float:
    """Share of energy that the walls take at each reflection, for a reverberation time.

    Eyring 1930: rt60 = 24 ln 10 V / (-c S ln(1 - a)), the air left out.
    """
    length, width, height = room
    volume = length * width * height
    surface = 2 * (length * width + length * height + width * height)
    return float(-np.expm1(-24 * np.log(10) * volume / (SPEED_OF_SOUND * surface * rt60)))


@dataclass(frozen=True)
class Shop:
    """A room with hard walls: length, width and height in metres; rt60 in seconds at 500 and
    1,000 Hz."""

    metres: tuple[float, float, float]
    rt60: float

    def __post_init__(self) -> None:
        if not self.rt60 > 0:
            raise ValueError(f"RT60 must be more than 0 s, not {self.rt60}")

    def response(
        self,
        rng: np.random.Generator,
        metres: float | None = None,
        sample_rate: int = SAMPLE_RATE,
    ) -> np.ndarray:
        """Impulse response between two places in the room, drawn at random.

        metres: from source to microphone; from 0.4 to 1.8 at random if not given. The direct
        sound stands at the very beginning with amplitude 1.
        """
        drawn = float(rng.uniform(*MICROPHONE_METRES))
        metres = drawn if metres is None else float(metres)
        room = np.array(self.metres)
        if not 0 < metres < room.min():
            raise ValueError(f"the microphone must be nearer than the walls, not at {metres} m")
        source, microphone = _places(rng, room, metres)
        count = round(LENGTH_IN_RT60 * self.rt60 * sample_rate)
        time = np.arange(count) / sample_rate
        early = _early(room, source, microphone, self.rt60, count, sample_rate)
        fade = np.clip((time - (IMAGE_SECONDS - FADE_SECONDS)) / FADE_SECONDS, 0.0, 1.0)
        # images a second, each with (metres / distance)^2 of the direct sound's energy:
        # 4 pi c^3 t^2 / V times (metres / (c t))^2
        density = 4 * np.pi * SPEED_OF_SOUND * metres**2 / float(np.prod(room))
        late = np.sqrt(density / sample_rate) * _tail(count, self.rt60, rng, sample_rate)
        turn = 0.5 * np.pi * fade
        response = early * np.cos(turn) + late * np.sin(turn)
        response[0] = 1.0
        return response


def draw_shop(rng: np.random.Generator, rt60: float | None = None) -> Shop:
    """A shop of any usual size; its reverberation time from 0.3 to 0.8 s if not given."""
    drawn = float(rng.uniform(*RT60_SECONDS))
    length, width, height = (float(rng.uniform(*span)) for span in SHOP_METRES)
    return Shop((length, width, height), drawn if rt60 is None else float(rt60))


def _places(
    rng: np.random.Generator, room: np.ndarray, metres: float
) -> tuple[np.ndarray, np.ndarray]:
    """Two places in the room so far apart, neither of them near a wall."""
    low, high = np.full(3, WALL_METRES), room - WALL_METRES
    while True:
        source = rng.uniform(low, high)
        way = rng.standard_normal(3)
        microphone = source + metres * way / np.linalg.norm(way)
        if (microphone > low).all() and (microphone < high).all():
            return source, microphone


def _early(
    room: np.ndarray,
    source: np.ndarray,
    microphone: np.ndarray,
    rt60: float,
    count: int,
    sample_rate: int,
) -> np.ndarray:
    """The mirror images of the first IMAGE_SECONDS, without the direct sound."""
    direct = float(np.linalg.norm(source - microphone))
    distance, walls = images(room, source, microphone, direct + SPEED_OF_SOUND * IMAGE_SECONDS)
    distance, walls = distance[1:], walls[1:]
    kept = np.sqrt(1.0 - wall_absorption(room, rt60))
    amplitude = direct / distance * kept**walls
    delay = (distance - direct) / SPEED_OF_SOUND * sample_rate
    first = np.floor(delay).astype(int) - SINC_TAPS // 2 + 1
    taps = first[:, None] + np.arange(SINC_TAPS)
    off = taps - delay[:, None]
    window = 0.5 + 0.5 * np.cos(2 * np.pi * off / (SINC_TAPS + 1))
    values = amplitude[:, None] * np.sinc(off) * window
    inside = (taps > 0) & (taps < count)
    return np.bincount(taps[inside], values[inside], minlength=count)


def _tail(count: int, rt60: float, rng: np.random.Generator, sample_rate: int) -> np.ndarray:
    """Noise of density 1 at time 0 that decays, each octave in its own time."""
    spectrum = np.fft.rfft(rng.standard_normal(count))
    frequency = np.fft.rfftfreq(count, 1.0 / sample_rate)
    octave = np.log2(np.maximum(frequency, 1.0))
    centres = np.log2(OCTAVES_HZ)
    time = np.arange(count) / sample_rate
    total = np.zeros(count)
    for number, share in enumerate(OCTAVE_TIMES):
        # neighbours cross over on a straight line and add up to 1 everywhere
        mine = np.eye(len(centres))[number]
        weight = np.interp(octave, centres, mine)
        band = np.fft.irfft(spectrum * weight, count)
        total += band * np.exp(-DECAY_60_DB * time / (rt60 * share))
    return total


def in_room(samples: np.ndarray, response: np.ndarray) -> np.ndarray:
    """``samples`` as heard through ``response``; of the same length, so the last echo is cut."""
    if len(samples) == 0:
        return np.zeros(0)
    total = len(samples) + len(response) - 1
    size = 1 << (total - 1).bit_length()
    spectrum = np.fft.rfft(samples, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(samples)]
