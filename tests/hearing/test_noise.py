"""Noise and room effects against their definitions, measured with scipy."""

import numpy as np
import pytest
from scipy import signal

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise

TONE = 1000.0  # Hz: 16 samples a period, so every 128 ms window holds whole periods
AMPLITUDE = 0.25


def rng(seed=1):
    return np.random.default_rng(seed)


def burst(amplitude=AMPLITUDE, seconds=0.5):
    """A tone between two stretches of silence, whose 128 ms level is amplitude / sqrt 2."""
    time = np.arange(round(seconds * SAMPLE_RATE)) / SAMPLE_RATE
    tone = amplitude * np.sin(2 * np.pi * TONE * time)
    return np.concatenate((np.zeros(SAMPLE_RATE), tone, np.zeros(SAMPLE_RATE)))


def db(ratio):
    return 20 * np.log10(ratio)


# Density 1/f**n means 10*log10(2**-n) dB an octave: 0, -3.0103, -6.0206. The definition of
# white, pink and brown noise (from memory); the spectrum is estimated with scipy (computed).
# The tolerance is the scatter of the estimate over seeds, not of the method.
@pytest.mark.parametrize(
    ("make", "slope"), [(noise.white, 0.0), (noise.pink, -3.0103), (noise.brown, -6.0206)]
)
@pytest.mark.parametrize("seed", [1, 2])
def test_slope_in_decibels_an_octave(make, slope, seed):
    samples = make(2**19, rng(seed))
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=4096)
    inside = (frequency > 60) & (frequency < 7500)
    # weights of 1/f make every octave count the same
    fitted = np.polyfit(
        np.log2(frequency[inside]),
        10 * np.log10(density[inside]),
        1,
        w=1 / np.sqrt(frequency[inside]),
    )[0]
    assert fitted == pytest.approx(slope, abs=0.06)


def test_pink_noise_has_equal_power_in_every_octave():
    samples = noise.pink(2**19, rng())
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=2**14)
    powers = []
    for low in (62.5, 125, 250, 500, 1000, 2000, 4000):
        # the 8 kHz edge is the last bin, where welch halves the density
        inside = (frequency >= low) & (frequency < 2 * low)
        powers.append(10 * np.log10(density[inside].sum()))
    assert np.ptp(powers) < 0.8


@pytest.mark.parametrize("make", [noise.white, noise.pink, noise.brown])
@pytest.mark.parametrize("count", [2, 3, 4001, 48_000])
def test_noise_has_the_length_asked_for_unit_rms_and_no_offset(make, count):
    samples = make(count, rng())
    assert samples.shape == (count,)
    assert np.sqrt(np.mean(samples**2)) == pytest.approx(1.0, abs=1e-12)
    assert abs(samples.mean()) < 1e-9


def test_noise_of_no_or_negative_length():
    assert len(noise.pink(0, rng())) == 0
    assert np.array_equal(noise.pink(1, rng()), [0.0])  # one sample without offset
    with pytest.raises(ValueError, match="0 or more"):
        noise.pink(-1, rng())


@pytest.mark.parametrize("make", [noise.white, noise.pink, noise.brown])
def test_the_seed_decides_the_noise(make):
    assert np.array_equal(make(5000, rng(7)), make(5000, rng(7)))
    assert not np.array_equal(make(5000, rng(7)), make(5000, rng(8)))


def test_noise_is_gaussian():
    # excess kurtosis 0 for a normal distribution; 2**18 white samples scatter by 0.01
    samples = noise.white(2**18, rng())
    assert np.mean(samples**4) - 3 == pytest.approx(0, abs=0.05)


def test_speech_level_is_that_of_the_loudest_128_milliseconds():
    # RMS of a sine is amplitude / sqrt 2 (definition)
    assert noise.speech_level(burst()) == pytest.approx(AMPLITUDE / np.sqrt(2), rel=1e-9)
    # pauses do not lower it, a quieter stretch neither
    longer = np.concatenate((burst(), np.zeros(5 * SAMPLE_RATE), burst(0.05)))
    assert noise.speech_level(longer) == pytest.approx(AMPLITUDE / np.sqrt(2), rel=1e-9)


def test_speech_level_averages_over_the_window():
    # a click of one sample at full scale: sqrt(1 / 2048)
    click = np.zeros(SAMPLE_RATE)
    click[8000] = 1.0
    assert noise.speech_level(click) == pytest.approx(1 / np.sqrt(2048), rel=1e-9)
    # shorter than a window: the whole
    assert noise.speech_level(np.full(100, 0.5)) == pytest.approx(0.5)
    assert noise.speech_level(np.zeros(0)) == 0.0


@pytest.mark.parametrize("snr", [20.0, 12.0, 6.0, 0.0, -5.0])
def test_the_ratio_is_exact(snr):
    speech = burst()
    mixed = noise.mix(speech, noise.pink(len(speech), rng()), snr)
    added = mixed - speech
    measured = db((AMPLITUDE / np.sqrt(2)) / np.sqrt(np.mean(added**2)))
    assert measured == pytest.approx(snr, abs=1e-6)


def test_the_ratio_does_not_depend_on_the_noises_own_level_or_length():
    speech = burst()
    short = noise.pink(4000, rng())
    mixed = noise.mix(speech, 0.001 * short, 9.0)
    assert len(mixed) == len(speech)
    assert np.allclose(mixed, noise.mix(speech, 30 * short, 9.0))
    assert db((AMPLITUDE / np.sqrt(2)) / noise.rms(mixed - speech)) == pytest.approx(9.0, abs=1e-6)
    # a longer one is cut, and its level taken over the part that is used
    ramp = np.concatenate((noise.pink(len(speech), rng()), 100 * noise.pink(9000, rng())))
    added = noise.mix(speech, ramp, 9.0) - speech
    assert db((AMPLITUDE / np.sqrt(2)) / noise.rms(added)) == pytest.approx(9.0, abs=1e-6)


def test_mixing_leaves_its_inputs_and_is_seeded():
    speech = burst()
    before = speech.copy()
    first = noise.with_pink(speech, 12.0, rng(3))
    assert np.array_equal(speech, before)
    assert np.array_equal(first, noise.with_pink(speech, 12.0, rng(3)))
    assert not np.array_equal(first, noise.with_pink(speech, 12.0, rng(4)))


@pytest.mark.parametrize(
    ("speech", "added", "message"),
    [
        (np.zeros(1000), np.ones(1000), "speech is silent"),
        (np.zeros(0), np.ones(1000), "speech is silent"),
        (np.ones(1000), np.zeros(1000), "noise is silent"),
        (np.ones(1000), np.zeros(0), "noise is empty"),
    ],
)
def test_silence_has_no_ratio(speech, added, message):
    with pytest.raises(ValueError, match=message):
        noise.mix(speech, added, 12.0)


@pytest.mark.parametrize("rt60", [0.3, 0.8, 1.5])
def test_reverberation_time(rt60):
    """Backward integration (Schroeder 1965; ISO 3382, T30 from -5 to -35 dB; from memory)."""
    impulse = np.zeros(16)
    impulse[0] = 1.0
    tail = noise.echo(impulse, rt60, rng())[1:]
    decay = 10 * np.log10(np.cumsum(tail[::-1] ** 2)[::-1])
    decay -= decay[0]
    inside = (decay < -5) & (decay > -35)
    time = np.arange(len(tail)) / SAMPLE_RATE
    slope = np.polyfit(time[inside], decay[inside], 1)[0]
    assert -60 / slope == pytest.approx(rt60, rel=0.05)


@pytest.mark.parametrize("ratio", [0.0, 6.0, 12.0])
def test_echo_keeps_the_direct_sound_and_the_energy_ratio(ratio):
    impulse = np.zeros(16)
    impulse[0] = 1.0
    heard = noise.echo(impulse, 0.5, rng(), direct_to_echo_db=ratio)
    assert len(heard) == 16 + 8000
    assert heard[0] == pytest.approx(1.0, abs=1e-9)
    assert -10 * np.log10(np.sum(heard[1:] ** 2)) == pytest.approx(ratio, abs=1e-6)


def test_echo_is_a_plain_convolution():
    # numpy's own convolution of the impulse response with the signal is the reference
    impulse = np.zeros(16)
    impulse[0] = 1.0
    response = noise.echo(impulse, 0.1, rng(5))[: 1 + 1600]
    samples = rng(6).standard_normal(700)
    assert np.allclose(noise.echo(samples, 0.1, rng(5)), np.convolve(samples, response))


def test_echo_refuses_a_time_of_nothing():
    with pytest.raises(ValueError, match="RT60"):
        noise.echo(burst(), 0.0, rng())


def test_band_limits_against_scipys_butterworth():
    # scipy.signal.butter, analogue, is the reference library (computed)
    samples = np.zeros(16_000)
    samples[0] = 1.0
    limited = noise.band_limit(samples, 300.0, 3400.0)
    frequency = np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE)
    low = signal.butter(4, 2 * np.pi * 3400.0, "low", analog=True)
    high = signal.butter(4, 2 * np.pi * 300.0, "high", analog=True)
    expected = np.abs(
        signal.freqs(*low, worN=2 * np.pi * frequency)[1]
        * signal.freqs(*high, worN=2 * np.pi * frequency)[1]
    )
    assert np.allclose(np.abs(np.fft.rfft(limited)), expected, atol=1e-9)


def test_band_from_zero_keeps_the_low_end():
    samples = np.full(1000, 0.5)
    assert np.allclose(noise.band_limit(samples, 0.0, 4000.0), samples)
    with pytest.raises(ValueError, match="lower to a higher"):
        noise.band_limit(samples, 4000.0, 300.0)


def test_clipping():
    speech = burst()
    clipped = noise.clip(speech, 6.0)
    assert db(AMPLITUDE / np.max(np.abs(clipped))) == pytest.approx(6.0, abs=1e-9)
    untouched = np.abs(speech) <= np.max(np.abs(clipped))
    assert np.array_equal(clipped[untouched], speech[untouched])
    assert np.array_equal(noise.clip(speech, 0.0), speech)
    assert len(noise.clip(np.zeros(0), 6.0)) == 0
