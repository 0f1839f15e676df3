"""Noise, rooms and bad microphones for a batch of sound, made on the device that trains.

Every function takes and returns tensors [batch, samples] at SAMPLE_RATE and draws from the
generator it is given, so a seed repeats. Kinds of noise have mean power 1 over the stretches in
which they sound; ``spoil`` mixes them and sets the ratio.

This is not the noise that judges: assistant/hearing/noise.py makes that, on its own.
"""

from __future__ import annotations

import math
import random

import torch

from assistant.exchange import SAMPLE_RATE

SNR_DB = (-5.0, 25.0)
"""Ratios of active speech to noise; a plan may lower the upper one."""
CLEAN_SHARE = 0.12
"""Share of a batch left as it is, so that clean sound is not unlearned."""
ROOM_SHARE, BAND_SHARE, CLIP_SHARE, TILT_SHARE = 0.35, 0.15, 0.08, 0.3
RT60_SECONDS = (0.15, 0.9)
PACE = (0.86, 1.16)
"""Factor on speed and pitch of a whole batch, before anything else."""
HARMONICS, RINGS = 16, 8
"""Tones of a turning machine, and of a struck piece of metal."""

UNIT = 640
SIZE_STEP = 1.13


def _sizes() -> list[int]:
    """Products of 2, 3 and 5 times UNIT, each at least SIZE_STEP times the one before."""
    smooth = (2**a * 3**b * 5**c for a in range(9) for b in range(6) for c in range(4))
    sizes: list[int] = []
    for count in sorted(count for count in smooth if 16 <= count < 400):
        if not sizes or count * UNIT >= SIZE_STEP * sizes[-1]:
            sizes.append(count * UNIT)
    return sizes


SIZES = _sizes()
"""Lengths of batches, in samples. Fourier transforms are fast for them, and they are few, since
the first transform of each length and number of rows is planned, which takes longer than it."""


def fit(length: float) -> int:
    """The shortest of SIZES that holds ``length`` samples."""
    return next((size for size in SIZES if size >= length), SIZES[-1])


class Spoiler:
    """Draws spoiled versions of clean batches. Both generators hang on the seed, so it repeats."""

    def __init__(self, seed: int, device: str, most_snr_db: float = SNR_DB[1]):
        self.device = device
        self.snr_db = (SNR_DB[0], most_snr_db)
        self.generator = torch.Generator(device=device).manual_seed(seed)
        self.lengths = random.Random(seed)
        """For what sizes hang on: a draw on the device would have to be waited for."""

    def state(self) -> tuple:
        return self.generator.get_state().cpu(), self.lengths.getstate()

    def restore(self, state: tuple) -> None:
        self.generator.set_state(state[0].cpu())
        self.lengths.setstate(state[1])

    # --- draws ---

    def uniform(self, *shape: int, low: float = 0.0, high: float = 1.0) -> torch.Tensor:
        draw = torch.rand(*shape, generator=self.generator, device=self.device)
        return low + (high - low) * draw

    def normal(self, *shape: int) -> torch.Tensor:
        return torch.randn(*shape, generator=self.generator, device=self.device)

    def chosen(self, batch: int, share: float) -> torch.Tensor:
        """[batch, 1], 1 for a random ``share`` of the rows."""
        return (self.uniform(batch, 1) < share).float()

    # --- kinds of noise ---

    def coloured(self, batch: int, length: int) -> torch.Tensor:
        """White to brown noise, with two broad humps or dips."""
        spectrum = torch.fft.rfft(self.normal(batch, length))
        bins = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=self.device)
        octaves = torch.log2(bins.clamp(min=50.0) / 1000.0)[None]
        shape = self.uniform(batch, 1, low=-8.0, high=3.0) * octaves  # dB
        for _ in range(2):
            centre = self.uniform(batch, 1, low=-3.0, high=3.0)
            width = self.uniform(batch, 1, low=0.2, high=1.5)
            height = self.uniform(batch, 1, low=-12.0, high=15.0)
            shape = shape + height * torch.exp(-(((octaves - centre) / width) ** 2))
        return _unit(torch.fft.irfft(spectrum * 10 ** (shape / 20), n=length))

    def whine(self, batch: int, length: int) -> torch.Tensor:
        """A turning machine: a wavering tone with many harmonics, and hiss above it."""
        time = torch.arange(length, device=self.device) / SAMPLE_RATE
        base = torch.exp(self.uniform(batch, 1, low=math.log(40.0), high=math.log(900.0)))
        sway = 1 + self.uniform(batch, 1, high=0.04) * torch.sin(
            2 * math.pi * self.uniform(batch, 1, low=0.2, high=6.0) * time
            + self.uniform(batch, 1, high=6.28)
        )
        load = 1 + self.uniform(batch, 1, low=-0.25, high=0.1) * (
            time[None] / max(length / SAMPLE_RATE, 1e-3)
        )
        phase = 2 * math.pi * torch.cumsum(base * sway * load / SAMPLE_RATE, dim=1)
        harmonics = torch.arange(1, HARMONICS + 1, device=self.device)[None, :, None]
        decay = self.uniform(batch, 1, 1, low=0.3, high=1.5)
        strength = self.uniform(batch, HARMONICS, 1, low=0.2) / harmonics**decay
        strength = strength * (base[:, None] * harmonics < SAMPLE_RATE / 2.1)
        waves = torch.sin(harmonics * phase[:, None] + self.uniform(batch, HARMONICS, 1, high=6.28))
        sound = (strength * waves).sum(1)
        hiss = self.coloured(batch, length)
        hiss = hiss * (1 + self.uniform(batch, 1, high=0.9) * torch.sin(phase))
        share = self.uniform(batch, 1)
        return _unit(_unit(sound) * share + _unit(hiss) * (1 - share))

    def blows(self, batch: int, length: int) -> torch.Tensor:
        """Impacts, 1.5 to 30 a second, in bursts: ringing metal and a broad click each."""
        time = torch.arange(length, device=self.device) / SAMPLE_RATE
        rate = torch.exp(self.uniform(batch, 1, low=math.log(1.5), high=math.log(30.0)))
        jitter = 0.15 * self.coloured_slow(batch, length)
        turn = rate * time + self.uniform(batch, 1) + jitter
        count = torch.floor(turn)
        strikes = torch.zeros(batch, length, device=self.device)
        strikes[:, 1:] = (count[:, 1:] > count[:, :-1]).float()
        strikes = strikes * self.uniform(batch, length, low=0.4)
        ring_length = SAMPLE_RATE // 5
        ring_time = torch.arange(ring_length, device=self.device) / SAMPLE_RATE
        ring = self.normal(batch, ring_length) * torch.exp(
            -ring_time / self.uniform(batch, 1, low=0.001, high=0.015)
        )
        tones = torch.exp(self.uniform(batch, RINGS, 1, low=math.log(200.0), high=math.log(7000.0)))
        phases = self.uniform(batch, RINGS, 1, high=6.28)
        rings = torch.sin(2 * math.pi * tones * ring_time + phases)
        rings = rings * torch.exp(-ring_time / self.uniform(batch, RINGS, 1, low=0.005, high=0.08))
        ring = ring + (self.uniform(batch, RINGS, 1) * rings).sum(1)
        sound = _convolve(strikes, ring)
        motor = self.whine(batch, length) * self.uniform(batch, 1, high=0.5)
        return _unit((_unit(sound) + motor) * self.gate(batch, length))

    def coloured_slow(self, batch: int, length: int) -> torch.Tensor:
        """Slow random movement around 0, about -1 to 1."""
        knots = self.normal(batch, 1, 4 + length // (SAMPLE_RATE // 4))
        return (
            torch.nn.functional.interpolate(knots, size=length, mode="linear", align_corners=True)[
                :, 0
            ].clamp(-2, 2)
            / 2
        )

    def gate(self, batch: int, length: int) -> torch.Tensor:
        """On and off in stretches of some tenths of a second to seconds; half are always on."""
        slow = self.coloured_slow(batch, length)
        threshold = self.uniform(batch, 1, low=-0.3, high=0.5)
        opened = torch.sigmoid((slow - threshold) * 200)
        always = self.chosen(batch, 0.5)
        return torch.maximum(opened, always).clamp(min=0.02)

    def hiss(self, batch: int, length: int) -> torch.Tensor:
        """Escaping air: noise that rises with frequency, in bursts."""
        spectrum = torch.fft.rfft(self.normal(batch, length))
        bins = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=self.device)
        corner = torch.exp(self.uniform(batch, 1, low=math.log(500.0), high=math.log(5000.0)))
        shaped = spectrum * (bins / corner) / torch.sqrt(1 + (bins / corner) ** 2)
        return _unit(torch.fft.irfft(shaped, n=length) * self.gate(batch, length))

    def babble(self, clean: torch.Tensor) -> torch.Tensor:
        """One to six of the batch's other voices, shifted in time."""
        batch, length = clean.shape
        sound = torch.zeros_like(clean)
        talkers = self.uniform(batch, 1, low=1.0, high=6.0)
        for number in range(6):
            order = torch.randperm(batch, generator=self.generator, device=self.device)
            shift = self.lengths.randrange(length)
            other = torch.roll(clean[order], shift, dims=1)
            sound = sound + other * (talkers > number).float()
        return _unit(sound)

    # --- the way to the microphone ---

    def room(self, sound: torch.Tensor) -> torch.Tensor:
        """The direct sound, some early reflections, and a tail that decays by 60 dB in RT60."""
        batch = len(sound)
        size = int(RT60_SECONDS[1] * SAMPLE_RATE)
        time = torch.arange(size, device=self.device) / SAMPLE_RATE
        rt60 = self.uniform(batch, 1, low=RT60_SECONDS[0], high=RT60_SECONDS[1])
        tail = self.normal(batch, size) * torch.exp(-math.log(1000.0) * time / rt60)
        # walls take the high tones first
        spectrum = torch.fft.rfft(tail)
        bins = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=self.device)
        dull = self.uniform(batch, 1, low=1500.0, high=9000.0)
        tail = torch.fft.irfft(spectrum / torch.sqrt(1 + (bins / dull) ** 2), n=size)
        start = int(0.002 * SAMPLE_RATE)
        tail[:, :start] = 0
        early = (self.uniform(batch, size) < 12 / size * torch.exp(-time / 0.03) * 20).float()
        early = early * self.normal(batch, size) * torch.exp(-time / 0.03)
        early[:, :start] = 0
        direct_db = self.uniform(batch, 1, low=-6.0, high=12.0)
        tail = tail / (tail.pow(2).sum(1, keepdim=True).sqrt() + 1e-6) * 10 ** (-direct_db / 20)
        response = tail + 0.5 * early
        response[:, 0] = 1.0
        return _convolve(sound, response)

    def band(self, sound: torch.Tensor) -> torch.Tensor:
        """A narrow microphone or line: what lies outside a band is lost."""
        spectrum = torch.fft.rfft(sound)
        bins = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=self.device)
        low = self.uniform(len(sound), 1, low=60.0, high=400.0)
        high = self.uniform(len(sound), 1, low=2800.0, high=7000.0)
        passed = (bins / low) ** 4 / (1 + (bins / low) ** 4) / (1 + (bins / high) ** 8)
        return torch.fft.irfft(spectrum * passed, n=sound.shape[1])

    def tilt(self, sound: torch.Tensor) -> torch.Tensor:
        """A microphone brighter or duller than the first."""
        spectrum = torch.fft.rfft(sound)
        bins = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=self.device)
        octaves = torch.log2(bins.clamp(min=80.0) / 1000.0)[None]
        shape = self.uniform(len(sound), 1, low=-5.0, high=5.0) * octaves
        return torch.fft.irfft(spectrum * 10 ** (shape / 20), n=sound.shape[1])

    # --- all together ---

    def pace(self, clean: torch.Tensor) -> torch.Tensor:
        """The batch played faster or slower: other speeds, pitches and throats."""
        factor = self.lengths.uniform(*PACE)
        spectrum = torch.fft.rfft(clean)
        length = fit(clean.shape[1] / factor)
        factor = clean.shape[1] / length
        size = length // 2 + 1
        if size <= spectrum.shape[1]:
            spectrum = spectrum[:, :size]
        else:
            spectrum = torch.nn.functional.pad(spectrum, (0, size - spectrum.shape[1]))
        return torch.fft.irfft(spectrum, n=length) / factor

    def spoil(self, clean: torch.Tensor) -> torch.Tensor:
        """A spoiled version of each row."""
        batch, length = clean.shape
        kinds = torch.stack(
            [
                self.coloured(batch, length),
                self.coloured(batch, length),
                self.whine(batch, length),
                self.blows(batch, length),
                self.hiss(batch, length),
                self.babble(clean),
            ]
        )
        # one kind alone, or several: weights are drawn sparse
        weights = self.uniform(len(kinds), batch, 1) ** 3 * (
            self.uniform(len(kinds), batch, 1) < 0.4
        )
        loudest = (
            torch.nn.functional.one_hot((self.uniform(batch) * len(kinds)).long(), len(kinds))
            .T[:, :, None]
            .float()
        )
        noise = _unit(((weights + loudest) * kinds).sum(0))

        sound = torch.lerp(clean, self.room(clean), self.chosen(batch, ROOM_SHARE))
        snr = self.uniform(batch, 1, low=self.snr_db[0], high=self.snr_db[1])
        sound = sound + noise * active_level(clean) * 10 ** (-snr / 20)
        sound = torch.lerp(sound, self.band(sound), self.chosen(batch, BAND_SHARE))
        sound = torch.lerp(sound, self.tilt(sound), self.chosen(batch, TILT_SHARE))
        peak = sound.abs().amax(1, keepdim=True) + 1e-6
        ceiling = peak * self.uniform(batch, 1, low=0.2, high=0.8)
        clipped = torch.minimum(torch.maximum(sound, -ceiling), ceiling)
        sound = torch.lerp(sound, clipped, self.chosen(batch, CLIP_SHARE))
        sound = torch.lerp(sound, clean, self.chosen(batch, CLEAN_SHARE))
        # microphones differ in gain; the network hears level only through its first norm
        gain = 10 ** self.uniform(batch, 1, low=-1.0, high=0.5)
        sound = sound * gain
        return sound / sound.abs().amax(1, keepdim=True).clamp(min=1.0)


def active_level(sound: torch.Tensor) -> torch.Tensor:
    """RMS [batch, 1] over the 20 ms frames within 35 dB of the loudest."""
    frame = SAMPLE_RATE // 50
    frames = sound[:, : sound.shape[1] // frame * frame].reshape(len(sound), -1, frame)
    power = frames.pow(2).mean(2)
    active = (power > power.amax(1, keepdim=True) * 10**-3.5).float()
    return ((power * active).sum(1) / active.sum(1).clamp(min=1)).sqrt()[:, None]


def _unit(sound: torch.Tensor) -> torch.Tensor:
    return sound / (sound.pow(2).mean(1, keepdim=True).sqrt() + 1e-6)


def _convolve(sound: torch.Tensor, response: torch.Tensor) -> torch.Tensor:
    size = 1 << (sound.shape[1] + response.shape[1] - 1).bit_length()
    product = torch.fft.rfft(sound, n=size) * torch.fft.rfft(response, n=size)
    return torch.fft.irfft(product, n=size)[:, : sound.shape[1]]
