"""Recitations as sound: the committed recordings, and a whole rehearsal as a WAV dialogue.

The recordings are of the bundled neural voice, changed in pitch and pace; see
audio_fixtures/recitations.py. People in a shop are harder to hear.
"""

import json
import math
import subprocess
import sys

import numpy as np
import pytest
import soundfile
from rehearsal_data import recitations
from tests_support import AUDIO

from assistant.bench import grammar_folder
from assistant.exchange import SAMPLE_RATE
from assistant.hearing.sources import from_samples, read_wav
from assistant.rehearsal.matching import Matcher
from assistant.rehearsal.recitation import judge, missed, out_of_order
from assistant.rehearsal.sound import SpeechHearing, open_figures, stretches
from assistant.speaking.playback import save_wav
from assistant.speaking.voices import BundledVoice

FOLDER = AUDIO / "recitations"
RECORDINGS = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
LEAST_ON_SOUND = 0.90


def heard(bench, library, recording):
    row = recitations()[recording["number"]]
    card = library.card(row["card"])
    hearing = SpeechHearing(bench.recogniser, grammar_folder(), Matcher(card).vocabulary())
    utterance = from_samples(*soundfile.read(FOLDER / recording["file"], dtype="float32"))
    return card, row, hearing.hear(utterance)


def faults(card, row, said, ask):
    """Found and wanted faults of all kinds, each as (kind, what)."""
    verdict = judge(card, Matcher(card).hear(said.text), ask)
    told = row["said"].split()
    found = {("missed", key) for key in verdict.missed}
    found |= {("order", pair) for pair in verdict.out_of_order}
    found |= {("figure", wrong.step) for wrong in verdict.wrong}
    wanted = {("missed", key) for key in missed(card, told)}
    wanted |= {("order", pair) for pair in out_of_order(card, told)}
    wanted |= {("figure", key) for key in row.get("wrong", "").split()}
    return found, wanted


def measured(bench, library, ask, recordings):
    right, false, lost = [], [], []
    for recording in recordings:
        found, wanted = faults_of(bench, library, ask, recording)
        right += found & wanted
        false += found - wanted
        lost += wanted - found
    return right, false, lost


def faults_of(bench, library, ask, recording):
    card, row, said = heard(bench, library, recording)
    return faults(card, row, said, ask)


@pytest.mark.parametrize("number", [0, 2, 10])
def test_the_faults_of_a_recording(bench, library, ask, number):
    found, wanted = faults_of(bench, library, ask, RECORDINGS[number])
    assert wanted and found == wanted


@pytest.mark.long
def test_precision_and_recall_on_sound(bench, library, ask):
    assert len(RECORDINGS) == 15
    right, false, lost = measured(bench, library, ask, RECORDINGS)
    for kind in ("missed", "order", "figure"):
        tp, fp, fn = (sum(one == kind for one, _ in faults) for faults in (right, false, lost))
        assert tp and tp / (tp + fp) >= LEAST_ON_SOUND, (kind, false)
        assert tp / (tp + fn) >= LEAST_ON_SOUND, (kind, lost)


def test_stretches_are_the_speech_between_pauses():
    rng = np.random.default_rng(1)
    speech = rng.normal(0, 0.1, 2 * SAMPLE_RATE)
    pause = rng.normal(0, 0.0001, SAMPLE_RATE)
    found = list(stretches(np.concatenate([pause, speech, pause, speech, pause])))
    assert [round(len(one) / SAMPLE_RATE) for one, _ in found] == [2, 2]
    assert [round(pause, 1) for _, pause in found] == [1.0, math.inf]
    long = list(stretches(rng.normal(0, 0.1, 30 * SAMPLE_RATE)))
    assert len(long) == 3 and all(len(one) <= 12.3 * SAMPLE_RATE for one, _ in long)
    assert [pause for _, pause in long] == [0, 0, math.inf]  # cut, not paused


def test_a_short_pause_ends_no_sentence(bench):
    voice = BundledVoice()
    one, rate = voice.synthesise("I cut the old panel on the line")
    other, _ = voice.synthesise("just the outer skin")
    one, other = one[: np.flatnonzero(abs(one) > 0.01)[-1]], other[np.argmax(abs(other) > 0.01) :]
    hearing = SpeechHearing(bench.recogniser, grammar_folder())
    for seconds, mark in ((0.33, ","), (0.7, ".")):
        sound = np.concatenate([one, np.zeros(round(seconds * rate)), other]).astype(np.float32)
        text = hearing.hear(from_samples(sound, rate)).text.lower()
        assert f"line{mark} just the outer" in text and text.endswith(".")


@pytest.mark.parametrize(
    ("text", "body"),
    [
        ("Clamps off after two hours.", '"clamps" "off" "after" <duration> {f0}'),
        ("purge 3 inches at seventy degrees", '"purge" <length> {f0} "at" <temperature> {f1}'),
        ("wait for to hours", '"wait" "for" <duration> {f0}'),  # "two" written "to"
        ("Gloves on.", None),
    ],
)
def test_figures_are_left_open(text, body):
    assert open_figures(text) == body


def test_a_whole_rehearsal_as_a_dialogue(tmp_path, bench, library):
    said = (
        "I read the data sheet. I check the date. I load the gun.",
        "Give me a hint.",
        "I take off the cap. Then I put on gloves.",
        "Done.",
    )
    voice = BundledVoice()
    files = []
    for number, words in enumerate(said):
        files.append(tmp_path / f"{number}.wav")
        save_wav(files[-1], *voice.synthesise(words))
    whole = tmp_path / "dialogue.wav"
    command = [sys.executable, "-m", "assistant", "rehearse", "recite", "cartridge-start-up"]
    command += [part for file in files for part in ("--from", str(file))]
    done = subprocess.run(
        [*command, "--dialogue", str(whole), "--json"],
        capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    verdict = json.loads(done.stdout)
    assert verdict["told"] == ["papers", "date", "load", "open", "gloves"]
    assert verdict["out_of_order"] == [{"step": "open", "must_come_after": "gloves"}]
    assert "level" in verdict["missed"]
    # both sides can be heard again in the recording: the trainee, as in a recitation, along
    # words of the card; the hint and the verdict freely
    card = library.card("cartridge-start-up")
    sound, rate = soundfile.read(whole, dtype="float32")
    spoken_alone = sum(read_wav(file).seconds for file in files)
    assert len(sound) / rate > spoken_alone + 5

    def heard_again(words=()):
        hearing = SpeechHearing(bench.recogniser, grammar_folder(), words)
        return hearing.hear(from_samples(sound, rate)).text.lower()

    assert "load the gun" in heard_again(Matcher(card).vocabulary())
    freely = heard_again()
    assert card.step("gloves").hints[0].split()[0].lower() in freely
    assert "you missed" in freely
