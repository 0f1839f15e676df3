"""The shop's noise, rooms and conditions, measured by other means than they are made by."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from assistant.hearing.noise import channels, machines, rooms, spoiling

SECONDS = 12


def rng(seed=1):
    return np.random.default_rng(seed)


def speech_like(seconds=2.5, seed=5):
    """Syllables of noise at four a second with pauses: something with an active level."""
    count = round(seconds * SAMPLE_RATE)
    time = np.arange(count) / SAMPLE_RATE
    return 0.2 * noise.pink(count, rng(seed)) * np.clip(np.sin(2 * np.pi * 2 * time), 0, 1) ** 2


TALK = [speech_like(1.7, seed) for seed in (11, 12, 13)]


def strongest(samples, low, high):
    """Frequency of the highest peak between two, by a plain windowed transform."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 4 * len(samples)))
    frequency = np.fft.rfftfreq(4 * len(samples), 1 / SAMPLE_RATE)
    inside = (frequency > low) & (frequency < high)
    return float(frequency[inside][spectrum[inside].argmax()])


def prominence(samples, hz, width=1.5, around=12.0):
    """Decibels by which the density at ``hz`` stands over that of its surroundings."""
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=2 * SAMPLE_RATE)
    near = np.abs(frequency - hz) <= width
    beside = (np.abs(frequency - hz) > 2 * width) & (np.abs(frequency - hz) <= around)
    return 10 * np.log10(density[near].max() / np.median(density[beside]))


@pytest.mark.parametrize("make", machines.MACHINES.values(), ids=machines.MACHINES)
@pytest.mark.parametrize("count", [0, 1, 2, 777, 40_001])
def test_length_level_offset_and_seed(make, count):
    samples = make(count, rng(3))
    assert samples.shape == (count,)
    assert np.isfinite(samples).all()
    assert np.array_equal(samples, make(count, rng(3)))
    if count > 2:
        assert np.sqrt(np.mean(samples**2)) == pytest.approx(1.0, abs=1e-9)
        assert abs(samples.mean()) < 1e-9
        assert not np.array_equal(samples, make(count, rng(4)))


# --- machines ---------------------------------------------------------------------------


@pytest.mark.parametrize("asked", [12.0, 17.0, 25.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_blows_of_the_wrench_by_its_envelope(asked, seed):
    """The envelope's spectrum peaks at the blow rate (scipy's Hilbert envelope, computed)."""
    samples = machines.impact_wrench(SECONDS * SAMPLE_RATE, rng(seed), blows_per_second=asked)
    envelope = np.abs(signal.hilbert(samples))
    envelope -= envelope.mean()
    assert strongest(envelope, 8.0, 35.0) == pytest.approx(asked, rel=0.05)


@pytest.mark.parametrize("seed", range(4))
def test_blow_rate_that_is_not_given_is_a_wrenchs(seed):
    samples = machines.impact_wrench(SECONDS * SAMPLE_RATE, rng(seed))
    envelope = np.abs(signal.hilbert(samples))
    envelope -= envelope.mean()
    low, high = machines.BLOWS_PER_SECOND
    assert 0.95 * low < strongest(envelope, 5.0, 60.0) < 1.05 * high


def test_the_wrench_is_gated():
    """Frames of 50 ms hold at least one gap of a pause's length and bursts between."""
    samples = machines.impact_wrench(SECONDS * SAMPLE_RATE, rng(2))
    frames = samples[: len(samples) // 800 * 800].reshape(-1, 800)
    quiet = np.sqrt((frames**2).mean(axis=1)) < 0.1
    assert 0.08 < quiet.mean() < 0.6
    runs = np.diff(np.flatnonzero(np.diff(np.concatenate(([0], quiet, [0])))))[::2] * 0.05
    assert runs.max() >= machines.PAUSE_SECONDS[0] - 0.05
    assert runs.max() <= machines.PAUSE_SECONDS[1] + 0.1


def test_blows_stand_out():
    """Crest factor: steady Gaussian noise has about 4, blows far more."""
    for make in (machines.impact_wrench, machines.hammer_on_panel):
        samples = make(SECONDS * SAMPLE_RATE, rng(1))
        assert np.abs(samples).max() > 6
    assert np.abs(machines.extraction_fan(SECONDS * SAMPLE_RATE, rng(1))).max() < 6


@pytest.mark.parametrize("rpm", [6_600, 9_000])
def test_tones_of_a_steady_grinder(rpm):
    samples = machines.angle_grinder(SECONDS * SAMPLE_RATE, rng(2), rpm=rpm, steady=True)
    spindle = rpm / 60
    for harmonic in (1, 2, 3, 5, 8, 13, 21):
        assert prominence(samples, harmonic * spindle) > 10
        assert prominence(samples, (harmonic + 0.5) * spindle) < 6
    # the gear's mesh: one of the numbers of teeth, louder than the spindle tones beside it
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=SAMPLE_RATE)
    teeth = np.arange(machines.CROWN_TEETH[0], machines.CROWN_TEETH[1] + 1)
    tones = [density[np.abs(frequency - tooth * spindle) < 2].max() for tooth in teeth]
    assert max(tones) > 5 * np.median(tones)


def test_a_pressed_grinder_slows_down():
    """Its strongest low tone lies under that of the speed off the metal, by up to the droop."""
    rpm = 9_000
    samples = machines.angle_grinder(SECONDS * SAMPLE_RATE, rng(5), rpm=rpm)
    off = strongest(samples, 0.6 * rpm / 60, 1.04 * rpm / 60) / (rpm / 60)
    assert 1 - machines.GRINDER_DROOP[1] - 0.02 < off < 1 - machines.GRINDER_DROOP[0] + 0.02


def test_a_leak_rises_and_a_wide_one_peaks():
    """Six dB an octave below the peak, which lies at 0.2 U / D (handbooks, from memory)."""
    samples = machines.air_leak(40 * SAMPLE_RATE, rng(), millimetres=1.0)  # peak at 68 kHz
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=4096)
    inside = (frequency > 200) & (frequency < 7000)
    slope = np.polyfit(np.log2(frequency[inside]), 10 * np.log10(density[inside]), 1)[0]
    assert slope == pytest.approx(6.02, abs=0.3)
    samples = machines.air_leak(40 * SAMPLE_RATE, rng(), millimetres=34.0)  # 2 kHz
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=512)
    assert frequency[density.argmax()] == pytest.approx(2000, rel=0.25)


@pytest.mark.parametrize(("rpm", "mains"), [(800, 60), (1_150, 50)])
def test_strokes_and_hum_of_the_compressor(rpm, mains):
    samples = machines.compressor(SECONDS * SAMPLE_RATE, rng(3), rpm=rpm, mains_hz=mains)
    stroke = 2 * rpm / 60
    for harmonic in (1, 2, 3):
        assert prominence(samples, harmonic * stroke, 1.0, 6.0) > 8
    assert prominence(samples, 2 * mains, 1.0, 6.0) > 6
    # low: half of its power lies below 300 Hz
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=4096)
    assert density[frequency < 300].sum() > 0.5 * density.sum()


def test_blade_tone_of_the_fan():
    samples = machines.extraction_fan(SECONDS * SAMPLE_RATE, rng(3), blades=6, rpm=1_400)
    for harmonic in (1, 2, 3):
        assert prominence(samples, harmonic * 140.0) > 8
    frequency, density = signal.welch(samples, SAMPLE_RATE, nperseg=2048)
    inside = (frequency > 1000) & (frequency < 7000)
    slope = np.polyfit(np.log2(frequency[inside]), 10 * np.log10(density[inside]), 1)[0]
    assert slope == pytest.approx(machines.FAN_SLOPE_DB, abs=0.6)


def test_modes_of_a_sheet():
    """Worked by hand: 1 mm steel, 0.5 m square, f11 = 0.4534 * 5420 * 0.001 * (4 + 4) = 19.66 Hz;
    the next two are alike at 2.5 times that, and a modal density of S sqrt(12) / (2 c h)
    (handbooks, from memory) gives 0.08 modes a hertz."""
    modes = machines.sheet_modes(0.5, 0.5, 0.001, 7_000.0)
    assert modes[0] == pytest.approx(19.66, abs=0.01)
    assert modes[1] == modes[2] == pytest.approx(2.5 * modes[0])
    expected = 0.25 * np.sqrt(12) / (2 * machines.STEEL_WAVE_SPEED * 0.001)
    assert len(modes) / 7_000 == pytest.approx(expected, rel=0.08)


def test_hammer_blows_are_counted():
    samples = machines.hammer_on_panel(SECONDS * SAMPLE_RATE, rng(2), blows_per_second=2.0)
    envelope = np.convolve(np.abs(samples), np.ones(320) / 320, "same")
    found, _ = signal.find_peaks(envelope, height=0.25 * envelope.max(), distance=SAMPLE_RATE // 5)
    assert len(found) == pytest.approx(2 * SECONDS, abs=3)


def test_a_figure_of_nothing_is_refused():
    for make, name in (
        (machines.impact_wrench, "blows_per_second"),
        (machines.angle_grinder, "rpm"),
        (machines.air_leak, "millimetres"),
    ):
        with pytest.raises(ValueError, match="0"):
            make(100, rng(), **{name: 0})


def test_babble_is_the_talk_it_was_given():
    """With one talker it is that recording, in the loudspeaker's band (correlation)."""
    count = 8000
    heard = machines.babble(count, rng(), [TALK[0]], talkers=1)
    long = noise.band_limit(np.tile(TALK[0], 3), *machines.SPEAKER_BAND_HZ)
    norm = np.sqrt(np.convolve(long**2, np.ones(count), "valid") * np.sum(heard**2))
    assert (signal.fftconvolve(long, heard[::-1], "valid") / norm).max() > 0.98
    with pytest.raises(ValueError, match="recordings of other sentences"):
        machines.babble(count, rng(), [])
    with pytest.raises(ValueError, match="empty"):
        machines.babble(count, rng(), [np.zeros(0)])


# --- rooms ------------------------------------------------------------------------------


def schroeder(responses, low=-5.0, high=-25.0):
    """Reverberation time by backward integration (Schroeder 1965; T20 of ISO 3382, averaged
    over places in the room as it asks; from memory)."""
    energy = np.mean([response**2 for response in responses], axis=0)
    decay = 10 * np.log10(np.cumsum(energy[::-1])[::-1])
    decay -= decay[0]
    inside = (decay < low) & (decay > high)
    time = np.arange(len(energy)) / SAMPLE_RATE
    return -60 / np.polyfit(time[inside], decay[inside], 1)[0]


def band(samples, low, high):
    edges = signal.butter(4, (low, high), "bandpass", fs=SAMPLE_RATE, output="sos")
    return signal.sosfilt(edges, samples)


@pytest.mark.parametrize("rt60", [0.3, 0.5, 0.8])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_reverberation_time_of_a_shop(rt60, seed):
    generator = rng(seed)
    shop = rooms.draw_shop(generator, rt60)
    responses = [shop.response(generator, 1.8) for _ in range(6)]
    # the two octaves it is asked for, from the direct sound on and after the mirror images
    middle = [band(response, 355, 1410) for response in responses]
    assert schroeder(middle) == pytest.approx(rt60, rel=0.12)
    assert schroeder([response[800:] for response in middle]) == pytest.approx(rt60, rel=0.1)
    high = [band(response, 5700, 7900)[800:] for response in responses]
    assert 0.4 * rt60 < schroeder(high) < 0.7 * rt60


def test_mirror_images_against_pyroomacoustics():
    """Distances and losses of every image up to the 4th order (reference library, computed)."""
    import pyroomacoustics as pra

    room, source, microphone = (
        np.array(at) for at in ([5.0, 7.0, 3.2], [1.2, 2.1, 1.5], [3.3, 4.4, 1.2])
    )
    shoebox = pra.ShoeBox(room, fs=SAMPLE_RATE, materials=pra.Material(0.19), max_order=4)
    shoebox.add_source(source)
    shoebox.add_microphone(microphone)
    shoebox.image_source_model()
    theirs = np.linalg.norm(shoebox.sources[0].images.T - microphone, axis=1)
    losses = np.ravel(shoebox.sources[0].damping)
    order = np.argsort(theirs)
    distance, walls = rooms.images(room, source, microphone, 60.0)
    ours = walls <= 4
    assert np.allclose(distance[ours], theirs[order], rtol=1e-6)
    assert np.allclose(np.sqrt(1 - 0.19) ** walls[ours], losses[order], rtol=1e-5)


def test_absorption_is_eyrings():
    """5 x 6 x 3 m, 0.5 s: V = 90, S = 126; Sabine's mean absorption is 0.161 V / (S t) = 0.230
    (0.161 = 24 ln 10 / 343), and Eyring's 1 - exp(-0.230) = 0.2055 (worked by hand)."""
    assert rooms.wall_absorption(np.array([5.0, 6.0, 3.0]), 0.5) == pytest.approx(0.2055, abs=2e-4)


def test_echo_and_direct_sound_are_equal_at_the_critical_distance():
    """0.057 sqrt(V / RT60) metres (handbooks, from memory): as much from the walls as direct."""
    shop = rooms.Shop((7.0, 9.0, 3.6), 0.6)
    critical = 0.057 * np.sqrt(7.0 * 9.0 * 3.6 / 0.6)
    ratios = []
    for seed in range(12):
        response = shop.response(rng(seed), critical)
        # the formula is for walls without air: take the middle octaves
        spectrum = np.abs(np.fft.rfft(response - np.eye(1, len(response))[0])) ** 2
        frequency = np.fft.rfftfreq(len(response), 1 / SAMPLE_RATE)
        ratios.append(spectrum[(frequency > 355) & (frequency < 1410)].mean())
    assert 10 * np.log10(np.mean(ratios)) == pytest.approx(0.0, abs=1.5)


def test_direct_sound_comes_first_and_unchanged():
    response = rooms.draw_shop(rng(1), 0.4).response(rng(2))
    assert response[0] == 1.0
    samples = speech_like(0.5)
    heard = rooms.in_room(samples, response)
    assert len(heard) == len(samples)
    assert np.allclose(heard, np.convolve(samples, response)[: len(samples)])
    assert len(rooms.in_room(np.zeros(0), response)) == 0


def test_rooms_that_cannot_be():
    with pytest.raises(ValueError, match="RT60"):
        rooms.draw_shop(rng(), 0.0)
    with pytest.raises(ValueError, match="nearer than the walls"):
        rooms.draw_shop(rng(), 0.5).response(rng(), 40.0)


# --- channels ---------------------------------------------------------------------------


def test_telephone_keeps_its_band_only():
    samples = noise.white(4 * SAMPLE_RATE, rng())
    heard = channels.telephone(samples)
    assert len(heard) == len(samples)
    frequency, density = signal.welch(heard, SAMPLE_RATE, nperseg=2048)
    inside = np.median(density[(frequency > 500) & (frequency < 3000)])
    assert density[(frequency > 4200)].max() < 1e-4 * inside
    assert density[(frequency > 20) & (frequency < 120)].max() < 1e-2 * inside
    assert inside == pytest.approx(1 / 8000, rel=0.15)  # white, RMS 1, over 8 kHz


def test_mu_law_against_its_definition():
    """256 steps whose size grows with the level; worked by hand from G.711's continuous form:
    the smallest step is (256**(1/128) - 1) / 255 = 0.000174."""
    levels = np.unique(channels.mu_law(np.linspace(-1, 1, 200_001)))
    assert len(levels) == 256
    assert np.diff(levels).min() == pytest.approx(0.000174, rel=0.03)
    assert np.allclose(levels, -levels[::-1])
    # signal to step noise stays near 38 dB over 30 dB of level, as G.711 is known for
    for gain in (0.5, 0.05, 0.015):
        tone = gain * np.sin(np.arange(50_000) * 0.1234)
        error = channels.mu_law(tone) - tone
        assert 33 < 10 * np.log10(np.mean(tone**2) / np.mean(error**2)) < 42


def test_cheap_microphone_narrows_and_hisses():
    samples = noise.white(4 * SAMPLE_RATE, rng())
    samples[:SAMPLE_RATE] = 0
    heard = channels.cheap_microphone(samples, rng(2))
    assert -44 < 20 * np.log10(noise.rms(heard[2000:12000]) / noise.rms(heard)) < -29
    frequency, density = signal.welch(heard[SAMPLE_RATE:], SAMPLE_RATE, nperseg=1024)
    top = frequency[density.argmax()]
    assert channels.CHEAP_RESONANCE_HZ[0] * 0.9 < top < channels.CHEAP_RESONANCE_HZ[1] * 1.1
    assert density[(frequency > 0) & (frequency < 50)].max() < 0.1 * density.max()
    assert len(channels.cheap_microphone(np.zeros(0), rng())) == 0


# --- conditions -------------------------------------------------------------------------


@pytest.mark.parametrize("condition", [*noise.NAMED, "impact:20+babble", "room:0.5+leak+fan"])
def test_every_condition_repeats_and_keeps_the_length(condition):
    samples = speech_like()
    snr = 6.0 if noise.has_noise(condition) else None
    first = noise.spoil(samples, condition, snr, 7, talk=TALK)
    assert first.dtype == np.float32 and first.shape == samples.shape
    assert np.array_equal(first, noise.spoil(samples, condition, snr, 7, talk=TALK))
    other = noise.spoil(samples, condition, snr, 8, talk=TALK)
    fixed = condition in ("clean", "telephone", "clipped")
    assert np.array_equal(first, other) == fixed
    assert np.allclose(first, samples) == (condition == "clean")


@pytest.mark.parametrize(
    "condition", [*spoiling.FIGURES, "pink", "white", "brown", "babble", "shop"]
)
@pytest.mark.parametrize("level", ["active", "loudest"])
@given(snr=st.floats(-5, 25), seed=st.integers(0, 2**32))
@settings(max_examples=4, deadline=None)
def test_the_ratio_is_what_was_asked(condition, level, snr, seed):
    samples = speech_like()
    heard = noise.spoil(samples, condition, snr, seed, level=level, talk=TALK)
    measured = {"active": noise.active_level, "loudest": noise.speech_level}[level](samples)
    added = np.sqrt(np.mean((heard.astype(float) - samples) ** 2))
    assert 20 * np.log10(measured / added) == pytest.approx(snr, abs=0.01)


def test_in_a_room_the_ratio_counts_for_the_speech_as_it_arrives():
    samples = speech_like()
    bare = noise.spoil(samples, "room:0.5+pink", 300.0, 3).astype(float)
    heard = noise.spoil(samples, "room:0.5+pink", 6.0, 3).astype(float)
    assert 20 * np.log10(noise.active_level(bare) / noise.rms(heard - bare)) == pytest.approx(
        6.0, abs=0.01
    )


def test_the_same_noise_at_every_ratio():
    samples = speech_like()
    loud = noise.spoil(samples, "grinder", 0.0, 3).astype(float) - samples
    soft = noise.spoil(samples, "grinder", 20.0, 3).astype(float) - samples
    assert np.allclose(loud, 10 * soft, atol=1e-5)


def test_the_figure_of_a_condition_reaches_the_machine():
    samples = speech_like(10)
    added = noise.spoil(samples, "impact:20", 0.0, 3).astype(float) - samples
    envelope = np.abs(signal.hilbert(added))
    assert strongest(envelope - envelope.mean(), 8.0, 35.0) == pytest.approx(20, rel=0.05)
    heard = noise.spoil(samples, "clipped:6", None, 1)
    assert 20 * np.log10(np.abs(samples).max() / np.abs(heard).max()) == pytest.approx(6, abs=1e-3)


def test_what_is_clipped_is_clipped_after_the_noise():
    samples = speech_like()
    heard = noise.spoil(samples, "clipped+pink", 0.0, 1)
    assert np.sum(np.abs(heard) == np.abs(heard).max()) > 100


@pytest.mark.parametrize(
    ("condition", "message"),
    [
        ("drill", "no condition is called 'drill'"),
        ("pink+pink", "twice"),
        ("pink:3", "takes no figure"),
        ("room:9", "from 0.1 to 3"),
        ("impact:fast", "from 5 to 40"),
        ("", "no condition"),
    ],
)
def test_conditions_that_are_none(condition, message):
    with pytest.raises(noise.ConditionError, match=message):
        noise.spoil(speech_like(0.5), condition, 6.0, 1)


def test_what_has_no_ratio():
    with pytest.raises(ValueError, match="needs a ratio"):
        noise.spoil(speech_like(0.5), "pink", None, 1)
    with pytest.raises(ValueError, match="silent"):
        noise.spoil(np.zeros(5000), "pink", 6.0, 1)
    with pytest.raises(ValueError, match="recordings"):
        noise.spoil(speech_like(0.5), "babble", 6.0, 1)
