"""The shop's own noise, made from what the machines do.

Each function gives ``count`` samples with RMS 1 and without offset, the same for the same
generator. A figure that is not given is drawn from its usual range, so that one seed is one
tool on one day. The physics is that of handbooks of machinery acoustics (from memory: the
radiation of plates and jets after Bies and Hansen, "Engineering Noise Control"); ranges
without a note are our own choice from such tools' data plates and are no measurement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from assistant.exchange import SAMPLE_RATE
from assistant.hearing.noise.channels import band_limit
from assistant.hearing.noise.levels import SILENCE_RMS, rms

BLOWS_PER_SECOND = (12.0, 25.0)
"""Impact wrench under load: 700 to 1,500 blows a minute."""
BURST_SECONDS = (0.4, 1.6)
"""One nut driven home, or broken loose."""
PAUSE_SECONDS = (0.15, 0.6)
"""On to the next nut."""
WRENCH_MODES_HZ = (700.0, 7000.0)
"""Hammer, anvil and socket are short and stiff: they ring high."""
WRENCH_MODES = 14
WRENCH_RING_SECONDS = (0.002, 0.018)
"""Time to fall to 1/e."""
EXHAUST_SHARE = 0.15
"""Power of the air motor's exhaust in that of the blows."""
BLOW_SPREAD = 0.25
"""Standard deviation of a blow's strength."""
RATE_JITTER = 0.03
"""Standard deviation of the time from blow to blow."""

GRINDER_RPM = (6_000.0, 11_500.0)
"""Spindle of a 115 to 180 mm angle grinder."""
GRINDER_DROOP = (0.05, 0.25)
"""A series-wound motor slows by this share when it is pressed on the metal."""
GRINDER_PRESS_SECONDS = (0.5, 2.0)
GRINDER_WANDER = 0.004
"""Standard deviation of the speed within a press, as a share."""
CROWN_TEETH = (34, 42)
"""Teeth of the bevel gear on the spindle: its mesh is the scream of the tool."""
GRINDER_HARMONICS = 60
ABRASION_SHARE = (0.5, 2.0)
"""Power of the disc on the metal in that of the tones."""
ABRASION_PEAK_HZ = (1_800.0, 5_000.0)

JET_STROUHAL = 0.2
"""A jet's noise peaks where f * D / U is about this (Lighthill's theory; handbooks, from
memory)."""
JET_SPEED = 340.0
"""Metres a second: from about 0.9 bar over the air's own pressure a leak flows at the speed
of sound."""
LEAK_MILLIMETRES = (1.0, 15.0)
"""A pinhole to a hose off its barb. A small one peaks far above what is sampled, so that
what is left rises by 6 dB an octave."""
LEAK_FLUTTER_DB = 1.5

PUMP_RPM = (700.0, 1_300.0)
"""Crankshaft of a belt-driven piston compressor."""
MAINS_HZ = (50.0, 60.0)
PUMP_HARMONICS = 40
VALVE_SHARE, HUM_SHARE, RUMBLE_SHARE = 0.5, 0.2, 0.6
"""Power of the valves' clatter, the motor's hum and the rumble in that of the strokes."""
VALVE_PEAK_HZ = (900.0, 2_800.0)
VALVE_RING_SECONDS = 0.004

FAN_BLADES = (5, 9)
FAN_RPM = (900.0, 1_450.0)
FAN_TONE_SHARE = 0.4
"""Power of the blade tones in that of the air's noise."""
FAN_HARMONICS = 6
FAN_KNEE_HZ = 250.0
FAN_SLOPE_DB = -5.0
"""Decibels an octave in the density above the knee."""

HAMMER_PER_SECOND = (1.5, 4.0)
HAMMER_JITTER = 0.12
SHEET_SIDES = (0.3, 1.1)
"""Metres: a door skin to a quarter panel."""
SHEET_THICKNESS = (0.0007, 0.0012)
"""Metres of body steel."""
STEEL_WAVE_SPEED = 5_420.0
"""Longitudinal waves in a steel plate, m/s: sqrt(E / (rho (1 - nu^2))) with 210 GPa,
7,850 kg/m3 and 0.3."""
SHEET_LOSS = (0.006, 0.03)
"""Loss factor of a panel fixed at its edges, with its paint."""
CONTACT_SECONDS = (0.0004, 0.0012)
"""How long the hammer touches: the shorter, the brighter."""
SHEET_MODES = 100
"""Modes that one blow excites, out of several hundred."""
SHEET_LOWEST_HZ = 80.0
"""Below this a sheet that small radiates next to nothing."""
SHEET_LONGEST_SECONDS = 0.2
"""To 1/e: a panel in a car hangs on its frame, which takes the low modes' energy away."""

SPEAKER_BAND_HZ = (160.0, 5_000.0)
"""A shop radio's small loudspeaker."""
TALKERS = (2, 4)


def _settle(samples: np.ndarray) -> np.ndarray:
    """Without offset, RMS 1; all zeros stay zeros."""
    samples = samples - samples.mean() if len(samples) else samples
    level = rms(samples)
    return samples / level if level > SILENCE_RMS else samples


def _draw(rng: np.random.Generator, given: float | None, usual: tuple[float, float]) -> float:
    drawn = float(rng.uniform(*usual))  # drawn in any case, so that the rest stays the same
    if given is None:
        return drawn
    if not given > 0:
        raise ValueError(f"the figure must be more than 0, not {given}")
    return float(given)


def _shaped(
    count: int, rng: np.random.Generator, density: Callable[[np.ndarray], np.ndarray], rate: int
) -> np.ndarray:
    """Gaussian noise whose power density over frequency is as given; RMS 1."""
    if count < 2:
        return np.zeros(count)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    spectrum *= np.sqrt(density(np.fft.rfftfreq(count, 1.0 / rate)))
    return _settle(np.fft.irfft(spectrum, count))


def _haystack(frequency: np.ndarray, peak: float) -> np.ndarray:
    """Broad hump: density rises by 6 dB an octave to ``peak`` and falls by 6 dB after it."""
    ratio = frequency / peak
    return ratio**2 / (1.0 + ratio**2) ** 2


def _pressed(
    count: int,
    rng: np.random.Generator,
    on: tuple[float, float],
    off: tuple[float, float],
    rate: int,
    rise: float = 0.02,
) -> np.ndarray:
    """A trigger pressed and let go: 1 and 0 in turn, with edges of ``rise`` seconds.

    The stretch begins anywhere in the pattern.
    """
    spans, value = [], int(rng.random() < 0.7)
    total = -float(rng.uniform(0.0, (on, off)[1 - value][0]))
    while total * rate < count + rate:
        seconds = float(rng.uniform(*(on if value else off)))
        spans.append((total, total + seconds, value))
        total += seconds
        value = 1 - value
    time = np.arange(count) / rate
    gate = np.zeros(count)
    for begin, end, pressed in spans:
        if pressed:
            edge = np.minimum((time - begin) / rise, (end - time) / rise)
            gate = np.maximum(gate, np.clip(edge, 0.0, 1.0))
    if not gate.any():  # a stretch that lies in a pause would be silent
        gate[:] = 1.0
    return gate


def _convolve(samples: np.ndarray, response: np.ndarray) -> np.ndarray:
    total = len(samples) + len(response)
    size = 1 << (total - 1).bit_length()
    spectrum = np.fft.rfft(samples, size) * np.fft.rfft(response, size)
    return np.fft.irfft(spectrum, size)[: len(samples)]


def _ring(
    frequencies: np.ndarray,
    amplitudes: np.ndarray,
    decays: np.ndarray,
    phases: np.ndarray,
    rate: int,
) -> np.ndarray:
    """Damped vibrations added up; each falls to 1/e in its decay (seconds)."""
    length = int(6 * float(decays.max()) * rate) + 1
    time = np.arange(length) / rate
    waves = np.sin(2 * np.pi * frequencies[:, None] * time + phases[:, None])
    return (amplitudes[:, None] * np.exp(-time / decays[:, None]) * waves).sum(axis=0)


def _struck(
    count: int,
    times: np.ndarray,
    strengths: np.ndarray,
    rings: list[np.ndarray],
    rate: int,
    rng: np.random.Generator,
) -> np.ndarray:
    """Blows at ``times`` (seconds), each answered by one of ``rings`` at random."""
    which = rng.integers(len(rings), size=len(times))
    places = np.round(times * rate).astype(int)
    sound = np.zeros(count)
    for number, ring in enumerate(rings):
        mine = (which == number) & (places >= 0) & (places < count)
        blows = np.zeros(count)
        np.add.at(blows, places[mine], strengths[mine])
        if blows.any():
            sound += _convolve(blows, ring)
    return sound


def _events(
    count: int, rng: np.random.Generator, per_second: float, jitter: float, rate: int
) -> np.ndarray:
    """Times in seconds of events ``per_second``, each gap off by a share ``jitter``."""
    number = int(count / rate * per_second * (1 + 3 * jitter)) + 3
    gaps = (1.0 + jitter * np.clip(rng.standard_normal(number), -3, 3)) / per_second
    return np.cumsum(gaps) - gaps[0] + rng.uniform(0.0, 1.0 / per_second) - 1.0 / per_second


def _tones(
    phase: np.ndarray,
    numbers: np.ndarray,
    amplitudes: np.ndarray,
    rng: np.random.Generator,
    rate: int,
) -> np.ndarray:
    """Harmonics of a running phase (radians); none above half the sampling rate."""
    fastest = float(np.max(np.diff(phase))) * rate / (2 * np.pi) if len(phase) > 1 else 0.0
    sound = np.zeros(len(phase))
    for number, amplitude, start in zip(
        numbers, amplitudes, rng.uniform(0, 2 * np.pi, len(numbers)), strict=True
    ):
        if number * fastest < rate / 2:
            sound += amplitude * np.sin(number * phase + start)
    return sound


def _phase(speed_hz: np.ndarray | float, count: int, rate: int) -> np.ndarray:
    return 2 * np.pi * np.cumsum(np.broadcast_to(speed_hz, count)) / rate


def impact_wrench(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    blows_per_second: float | None = None,
) -> np.ndarray:
    """Bursts of blows, 12 to 25 a second, each a ringing of short steel parts; air between.

    The level is that of the whole stretch, pauses included: the blows stand well above it.
    """
    rate_hz = _draw(rng, blows_per_second, BLOWS_PER_SECOND)
    low, high = WRENCH_MODES_HZ
    frequencies = np.exp(
        rng.uniform(np.log(low), np.log(min(high, 0.45 * sample_rate)), WRENCH_MODES)
    )
    decays = rng.uniform(*WRENCH_RING_SECONDS, WRENCH_MODES)
    rings = [
        _ring(
            frequencies,
            rng.exponential(1.0, WRENCH_MODES),
            decays,
            rng.uniform(0, 2 * np.pi, WRENCH_MODES),
            sample_rate,
        )
        for _ in range(3)  # no two blows meet the socket in the same way
    ]
    times = _events(count, rng, rate_hz, RATE_JITTER, sample_rate)
    strengths = np.clip(1.0 + BLOW_SPREAD * rng.standard_normal(len(times)), 0.2, None)
    gate = _pressed(count, rng, BURST_SECONDS, PAUSE_SECONDS, sample_rate)
    places = np.clip(np.round(times * sample_rate).astype(int), 0, max(0, count - 1))
    if count:
        strengths = strengths * gate[places]
    blows = _struck(count, times, strengths, rings, sample_rate, rng)
    exhaust = _shaped(count, rng, lambda hz: _haystack(hz, 2_500.0), sample_rate) * gate
    return _settle(_settle(blows) + np.sqrt(EXHAUST_SHARE) * exhaust)


def angle_grinder(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    rpm: float | None = None,
    steady: bool = False,
) -> np.ndarray:
    """Harmonics of the spindle's speed and of the gear's mesh, and the disc on the metal.

    rpm: speed of the spindle off the metal. steady: held off the metal at exactly that speed
    all the time (no droop, no wander).
    """
    speed = _draw(rng, rpm, GRINDER_RPM) / 60.0
    droop = rng.uniform(*GRINDER_DROOP)
    press = _pressed(count, rng, GRINDER_PRESS_SECONDS, (0.2, 0.7), sample_rate, rise=0.15)
    wander = _shaped(count, rng, lambda hz: 1.0 / (1.0 + (hz / 2.0) ** 4), sample_rate)
    teeth = int(rng.integers(CROWN_TEETH[0], CROWN_TEETH[1] + 1))
    numbers = np.concatenate((np.arange(1, GRINDER_HARMONICS + 1), teeth * np.arange(1, 4)))
    amplitudes = np.concatenate(
        (
            rng.uniform(0.3, 1.0, GRINDER_HARMONICS) / np.sqrt(np.arange(1, GRINDER_HARMONICS + 1)),
            rng.uniform(0.8, 1.6) / np.arange(1, 4),
        )
    )
    peak = rng.uniform(*ABRASION_PEAK_HZ)
    share = rng.uniform(*ABRASION_SHARE)
    course = np.full(count, speed)
    if not steady:
        course = speed * (1.0 - droop * press) * (1.0 + GRINDER_WANDER * wander)
    tones = _tones(_phase(course, count, sample_rate), numbers, amplitudes, rng, sample_rate)
    disc = _shaped(count, rng, lambda hz: _haystack(hz, peak), sample_rate)
    # off the metal the fan and the brushes still hiss
    disc *= 0.3 if steady else 0.3 + 0.7 * press
    return _settle(_settle(tones) + np.sqrt(share) * disc)


def air_leak(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    millimetres: float | None = None,
) -> np.ndarray:
    """A jet of air: a broad hump around 0.2 * speed / width of the hole, fluttering a little."""
    if millimetres is None:
        low, high = np.log(LEAK_MILLIMETRES)
        millimetres = float(np.exp(rng.uniform(low, high)))
    elif not millimetres > 0:
        raise ValueError(f"the hole must be wider than 0 mm, not {millimetres}")
    peak = JET_STROUHAL * JET_SPEED / (millimetres / 1000.0)
    hiss = _shaped(count, rng, lambda hz: _haystack(hz, peak), sample_rate)
    flutter = _shaped(count, rng, lambda hz: 1.0 / (1.0 + (hz / 5.0) ** 4), sample_rate)
    return _settle(hiss * 10.0 ** (LEAK_FLUTTER_DB * flutter / 20.0))


def compressor(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    rpm: float | None = None,
    mains_hz: float | None = None,
) -> np.ndarray:
    """A two-cylinder piston compressor: strokes, valves, the motor's hum, rumble.

    rpm: of the crankshaft. The strokes are its harmonics, the even ones strongest because two
    cylinders push in turn; the hum is at twice the mains frequency and its multiples.
    """
    shaft = _draw(rng, rpm, PUMP_RPM) / 60.0
    mains = mains_hz or float(rng.choice(MAINS_HZ))
    numbers = np.arange(1, PUMP_HARMONICS + 1)
    amplitudes = rng.uniform(0.4, 1.0, PUMP_HARMONICS) / numbers**0.7
    amplitudes[::2] *= 0.4
    strokes = _tones(_phase(shaft, count, sample_rate), numbers, amplitudes, rng, sample_rate)
    low, high = VALVE_PEAK_HZ
    frequencies = rng.uniform(low, high, 6)
    ring = _ring(
        frequencies,
        rng.exponential(1.0, 6),
        np.full(6, VALVE_RING_SECONDS),
        rng.uniform(0, 2 * np.pi, 6),
        sample_rate,
    )
    times = _events(count, rng, 2 * shaft, 0.004, sample_rate)
    valves = _struck(count, times, rng.uniform(0.7, 1.3, len(times)), [ring], sample_rate, rng)
    hum_numbers = np.arange(1, 9)
    hum = _tones(
        _phase(2 * mains, count, sample_rate),
        hum_numbers,
        rng.uniform(0.3, 1.0, 8) / hum_numbers,
        rng,
        sample_rate,
    )
    rumble = _shaped(count, rng, lambda hz: 1.0 / (1.0 + (hz / 80.0) ** 2), sample_rate)
    return _settle(
        _settle(strokes)
        + np.sqrt(VALVE_SHARE) * _settle(valves)
        + np.sqrt(HUM_SHARE) * _settle(hum)
        + np.sqrt(RUMBLE_SHARE) * rumble
    )


def extraction_fan(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    blades: int | None = None,
    rpm: float | None = None,
) -> np.ndarray:
    """Air through a duct, falling above 250 Hz, and the tone of the blades: blades * rpm / 60."""
    number = blades or int(rng.integers(FAN_BLADES[0], FAN_BLADES[1] + 1))
    passing = number * _draw(rng, rpm, FAN_RPM) / 60.0
    exponent = -FAN_SLOPE_DB / (10.0 * np.log10(2.0))
    air = _shaped(count, rng, lambda hz: 1.0 / (1.0 + (hz / FAN_KNEE_HZ) ** exponent), sample_rate)
    numbers = np.arange(1, FAN_HARMONICS + 1)
    tones = _tones(
        _phase(passing, count, sample_rate),
        numbers,
        rng.uniform(0.6, 1.0, FAN_HARMONICS) / numbers,
        rng,
        sample_rate,
    )
    return _settle(air + np.sqrt(FAN_TONE_SHARE) * _settle(tones))


def sheet_modes(length: float, width: float, thickness: float, highest_hz: float) -> np.ndarray:
    """Natural frequencies in Hz, lowest first, of a steel sheet supported at its edges.

    Sizes in metres. f = 0.4534 c h ((m/a)^2 + (n/b)^2), thin-plate theory: the factor is
    pi / (2 sqrt 12) (Leissa, "Vibration of Plates", from memory).
    """
    scale = np.pi / (2.0 * np.sqrt(12.0)) * STEEL_WAVE_SPEED * thickness
    most_m = int(np.sqrt(highest_hz / scale) * length) + 1
    most_n = int(np.sqrt(highest_hz / scale) * width) + 1
    m, n = np.meshgrid(np.arange(1, most_m + 1), np.arange(1, most_n + 1))
    found = np.sort((scale * ((m / length) ** 2 + (n / width) ** 2)).ravel())
    return found[found <= highest_hz]


def hammer_on_panel(
    count: int,
    rng: np.random.Generator,
    sample_rate: int = SAMPLE_RATE,
    blows_per_second: float | None = None,
) -> np.ndarray:
    """A hammer on body sheet: 1.5 to 4 blows a second, each the ringing of a thin plate."""
    per_second = _draw(rng, blows_per_second, HAMMER_PER_SECOND)
    sides = rng.uniform(*SHEET_SIDES, 2)
    modes = sheet_modes(*sides, rng.uniform(*SHEET_THICKNESS), 0.45 * sample_rate)
    modes = modes[modes > SHEET_LOWEST_HZ]
    loss = rng.uniform(*SHEET_LOSS)
    contact = rng.uniform(*CONTACT_SECONDS)
    rings = []
    for _ in range(3):  # the hammer never falls twice in the same place
        chosen = np.sort(rng.choice(modes, min(SHEET_MODES, len(modes)), replace=False))
        # a half-sine push of this length; its spectrum falls beyond about 1 / contact
        turns = chosen * contact
        push = np.abs(np.cos(np.pi * turns)) / (np.abs(1.0 - (2 * turns) ** 2) + 1e-6)
        # A blow gives every mode the same speed. Below the frequency where bending waves are
        # as fast as sound, a sheet radiates the better the higher it rings: power about as f.
        radiated = np.sqrt(chosen)
        place = np.abs(np.sin(rng.uniform(0, np.pi, len(chosen))))
        decays = np.minimum(1.0 / (np.pi * chosen * loss), SHEET_LONGEST_SECONDS)
        rings.append(
            _ring(chosen, push * radiated * place, decays, np.zeros(len(chosen)), sample_rate)
        )
    times = _events(count, rng, per_second, HAMMER_JITTER, sample_rate)
    if not ((times >= 0) & (times * sample_rate < count)).any() and count:
        times = np.array([rng.uniform(0, count / sample_rate)])
    strengths = np.clip(1.0 + BLOW_SPREAD * rng.standard_normal(len(times)), 0.2, None)
    return _settle(_struck(count, times, strengths, rings, sample_rate, rng))


def babble(
    count: int,
    rng: np.random.Generator,
    talk: list[np.ndarray],
    sample_rate: int = SAMPLE_RATE,
    talkers: int | None = None,
) -> np.ndarray:
    """Talk from a shop radio: two to four voices at once through a small loudspeaker.

    talk: clean recordings to take it from. Never the one that is to be heard.
    Raises ValueError when there is none.
    """
    if not talk:
        raise ValueError("babble is made of speech: give it recordings of other sentences")
    number = talkers or int(rng.integers(TALKERS[0], TALKERS[1] + 1))
    total = np.zeros(count)
    for _ in range(number):
        line = np.zeros(0)
        while len(line) < 2 * count + 1:
            piece = talk[int(rng.integers(len(talk)))]
            if len(piece) == 0:
                raise ValueError("babble is made of speech: one of the recordings is empty")
            line = np.concatenate((line, _settle(np.asarray(piece, dtype=np.float64))))
        start = int(rng.integers(0, len(line) - count + 1))
        total += rng.uniform(0.6, 1.0) * line[start : start + count]
    return _settle(band_limit(total, *SPEAKER_BAND_HZ, sample_rate)) if count else total


Machine = Callable[..., np.ndarray]
MACHINES: Mapping[str, Machine] = {
    "impact": impact_wrench,
    "grinder": angle_grinder,
    "leak": air_leak,
    "compressor": compressor,
    "fan": extraction_fan,
    "hammer": hammer_on_panel,
}
"""Machines by the names that conditions use."""
