"""The committed recordings: what the manifest says is what the files are."""

import hashlib
import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.exchange import SAMPLE_RATE
from assistant.hearing import noise
from audio_fixtures import make, voices
from audio_fixtures.sentences import spoken_form

FOLDER = Path(make.__file__).parent
ENTRIES = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
FIGURES = [entry for entry in ENTRIES if entry["group"] in ("neural", "flite")]
ESPEAK = [entry for entry in ENTRIES if entry["group"] == "espeak"]

EVERY_VOICE_SAYS = {
    "how much adhesive for forty inches": {"length": "40 inch"},
    "when can i unclamp at fifty five degrees": {"temperature": "55 degF"},
}
MOST_BYTES = 32_000_000
"""A clone should stay quick; a family of questions brings about 1.5 MB."""


def name(entry):
    return entry["file"].removeprefix("wav/")


@pytest.mark.parametrize("entry", ENTRIES, ids=name)
def test_file_is_what_the_manifest_says(entry):
    path = FOLDER / entry["file"]
    header = soundfile.info(path)
    assert (header.samplerate, header.channels, header.subtype) == (16_000, 1, "PCM_16")
    assert (header.format, header.frames / 16_000) == (
        "WAV", pytest.approx(entry["duration"], abs=1e-4))
    samples, _ = soundfile.read(path)
    make.check(samples, entry["words"])
    assert -26 < 20 * np.log10(noise.speech_level(samples)) < -12
    # speech, then quiet on both sides for at least the shortest silence that is added
    edge = round(make.SILENCE_SECONDS[0] * SAMPLE_RATE)
    for part in (samples[:edge], samples[-edge:]):
        assert 0 < noise.rms(part) < 10 ** (-60 / 20)


def test_no_file_without_entry_and_no_entry_twice():
    listed = Counter(entry["file"] for entry in ENTRIES)
    on_disk = {f"wav/{path.name}" for path in (FOLDER / "wav").iterdir()}
    assert set(listed) == on_disk
    assert max(listed.values()) == 1


def test_no_two_recordings_are_the_same_sound():
    sounds = Counter(
        hashlib.sha256((FOLDER / entry["file"]).read_bytes()).hexdigest() for entry in ENTRIES
    )
    assert max(sounds.values()) == 1


def test_there_are_enough_and_they_are_not_too_big():
    assert len(FIGURES) >= 60
    assert len({entry["voice"] for entry in FIGURES}) >= 8
    assert len(ESPEAK) >= 20
    assert sum((FOLDER / entry["file"]).stat().st_size for entry in ENTRIES) < MOST_BYTES


def test_groups_are_those_of_the_voice_table():
    for entry in ENTRIES:
        assert entry["group"] == voices.BY_NAME[entry["voice"]].group
    assert {entry["voice"] for entry in ENTRIES} == set(voices.BY_NAME)
    assert not {entry["voice"] for entry in FIGURES} & {entry["voice"] for entry in ESPEAK}


@pytest.mark.parametrize("words", EVERY_VOICE_SAYS)
def test_two_questions_are_asked_by_every_voice(words):
    asked = [entry for entry in ENTRIES if entry["words"] == words]
    assert {entry["voice"] for entry in asked} == set(voices.BY_NAME)
    assert all(entry["slots"] == EVERY_VOICE_SAYS[words] for entry in asked)


def test_manifest_is_what_the_list_asks_for():
    jobs = make.fixture_jobs(make.all_sentences(), make.FIXTURE_SEED)
    wanted = [
        (job.file, job.words, job.extra["routine"], job.extra["slots"], job.voice.name, job.seed)
        for job in jobs
    ]
    assert wanted == [
        (entry["file"], entry["words"], entry["routine"], entry["slots"], entry["voice"],
         entry["seed"])
        for entry in ENTRIES
    ]


def pitch(samples):
    """Median fundamental in Hz by autocorrelation, over 40 ms frames that are clearly voiced."""
    frame, found = round(0.040 * SAMPLE_RATE), []
    least, most = SAMPLE_RATE // 400, SAMPLE_RATE // 60
    for start in range(0, len(samples) - frame - most, frame // 2):
        piece = samples[start : start + frame + most]
        if noise.rms(piece) < 0.3 * noise.speech_level(samples):
            continue
        head = piece[:frame]
        likeness = np.array([
            head @ piece[lag : lag + frame]
            / (np.linalg.norm(head) * np.linalg.norm(piece[lag : lag + frame]) + 1e-12)
            for lag in range(least, most)
        ])
        # the first lag that is nearly as good as the best: not an octave too low
        if likeness.max() > 0.7:
            near = np.flatnonzero(likeness > 0.93 * likeness.max())[0]
            while near + 1 < len(likeness) and likeness[near + 1] > likeness[near]:
                near += 1
            found.append(SAMPLE_RATE / (least + near))
    return float(np.median(found))


def test_voices_range_from_a_mans_to_a_womans():
    """Usual speaking pitch: men about 85 to 155 Hz, women about 165 to 255 Hz (phonetics
    handbooks, from memory)."""
    pitches = {}
    for entry in FIGURES:
        if entry["words"] in EVERY_VOICE_SAYS:
            samples, _ = soundfile.read(FOLDER / entry["file"])
            pitches.setdefault(entry["voice"], []).append(pitch(samples))
    middle = {voice: float(np.mean(values)) for voice, values in pitches.items()}
    assert sum(value < 155 for value in middle.values()) >= 5, middle
    assert sum(value > 165 for value in middle.values()) >= 5, middle
    assert max(middle.values()) > 2 * min(middle.values()), middle


# ---- the program that makes them ----


def test_a_list_is_spoken_the_same_way_twice(tmp_path, capsys):
    """Needs only the bundled voice. Extra fields of a line reach the manifest."""
    source = tmp_path / "list.jsonl"
    source.write_text('{"words": "how much adhesive for ten inches", "note": 7}\n')
    for folder in ("a", "b"):
        code = make.main([
            "--sentences", str(source), "--out", str(tmp_path / folder), "--seed", "3",
            "--voices", "neural-woman", "--workers", "1",
        ])
        assert code == 0
    capsys.readouterr()
    first, second = (tmp_path / folder / "manifest.jsonl" for folder in ("a", "b"))
    assert first.read_text() == second.read_text()
    entry = json.loads(first.read_text())
    assert (entry["words"], entry["note"], entry["voice"], entry["group"]) == (
        "how much adhesive for ten inches", 7, "neural-woman", "neural")
    sounds = [(tmp_path / folder / entry["file"]).read_bytes() for folder in ("a", "b")]
    assert sounds[0] == sounds[1]


def test_voices_are_dealt_evenly_and_never_twice_to_a_sentence():
    rows = [{"words": f"bead number {number}"} for number in range(100)]
    chosen = voices.choose("neural,flite")
    jobs = make.list_jobs(rows, chosen, per_sentence=3, seed=7, varied=False)
    used = Counter(job.voice.name for job in jobs)
    assert len(jobs) == 300
    assert set(used) == {voice.name for voice in chosen}
    assert max(used.values()) - min(used.values()) <= 3
    by_sentence = Counter((job.words, job.voice.name) for job in jobs)
    assert max(by_sentence.values()) == 1
    assert jobs == make.list_jobs(rows, chosen, per_sentence=3, seed=7, varied=False)
    assert jobs != make.list_jobs(rows, chosen, per_sentence=3, seed=8, varied=False)


def test_as_many_voices_as_there_are_at_most():
    chosen = voices.choose("flite")
    jobs = make.list_jobs([{"words": "ten inches"}] * 2, chosen, 99, seed=1, varied=True)
    assert len(jobs) == 2 * len(chosen)
    assert len({job.file for job in jobs}) == len(jobs)


def test_check_refuses_what_cannot_be_the_sentence():
    good = 0.1 * np.sin(np.arange(2 * SAMPLE_RATE))
    make.check(good, "how much adhesive for forty inches")
    with pytest.raises(make.BadRender, match="expected"):
        make.check(good, "word " * 40)
    with pytest.raises(make.BadRender, match="expected"):
        make.check(np.tile(good, 10), "ten inches")
    with pytest.raises(make.BadRender, match="quiet"):
        make.check(good / 100, "how much adhesive for forty inches")
    with pytest.raises(make.BadRender, match="full scale"):
        make.check(good * 10, "how much adhesive for forty inches")


@pytest.mark.parametrize(
    ("words", "written"),
    [
        ("when can i unclamp at ten c", "When can I unclamp at ten C?"),
        ("ten inches from a v notch", "Ten inches from a V notch."),
        ("can i prime at three p m", "Can I prime at three PM?"),
        ("twelve c c", "Twelve CC."),
    ],
)
def test_words_are_written_as_one_would_read_them_out(words, written):
    assert spoken_form(words) == written


@pytest.mark.parametrize(
    ("text", "suffix", "message"),
    [
        ("", ".txt", "no sentence"),
        ("{", ".jsonl", "line 1: not JSON"),
        ('{"say": "x"}', ".jsonl", 'needs "words"'),
        ("[1]", ".jsonl", 'needs "words"'),
        ("= 3", ".toml", "Invalid"),
    ],
)
def test_a_bad_list_is_one_clear_line(tmp_path, capsys, text, suffix, message):
    source = tmp_path / f"list{suffix}"
    source.write_text(text)
    assert make.main(["--sentences", str(source), "--out", str(tmp_path / "out"),
                      "--voices", "neural-woman"]) == 2
    said = capsys.readouterr().err
    assert message in said and said.count("\n") == 1


@pytest.mark.parametrize("wanted", ["nobody", ",", "neural,nobody"])
def test_an_unknown_voice_is_one_clear_line(tmp_path, capsys, wanted):
    source = tmp_path / "list.txt"
    source.write_text("ten inches\n")
    assert make.main(["--sentences", str(source), "--out", str(tmp_path / "out"),
                      "--voices", wanted]) == 2
    said = capsys.readouterr().err
    assert "voice" in said and said.count("\n") == 1


GRAMMAR = """#JSGF V1.0;
grammar small;
import <other.size>;
public <ask> = (how much | how many) {what} for <size> {length};
"""


def test_sentences_are_drawn_from_a_grammar_with_their_tags(tmp_path):
    (tmp_path / "small.jsgf").write_text(GRAMMAR)
    (tmp_path / "other.jsgf").write_text(
        "#JSGF V1.0;\ngrammar other;\npublic <size> = (two | ten) inches;\n")
    rows = make.grammar_rows(tmp_path / "small.jsgf", 50, seed=1)
    # 2 x 2 sentences are all there are
    assert {row["words"] for row in rows} == {
        f"how {what} for {size} inches" for what in ("much", "many") for size in ("two", "ten")
    }
    for row in rows:
        assert row["rule"] == "ask"
        assert dict(row["tags"]) == {
            "what": " ".join(row["words"].split()[:2]),
            "length": " ".join(row["words"].split()[3:]),
        }
    assert rows[:2] == make.grammar_rows(tmp_path / "small.jsgf", 2, seed=1)


def test_a_bad_grammar_is_one_clear_line(tmp_path, capsys):
    (tmp_path / "bad.jsgf").write_text("nothing")
    assert make.main(["--grammar", str(tmp_path / "bad.jsgf"), "--out", str(tmp_path / "out"),
                      "--voices", "neural-woman"]) == 2
    said = capsys.readouterr().err
    assert "JSGF" in said and said.count("\n") == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("arguments", [
    ["--sentences", "a.txt"],
    ["--out", "somewhere"],
    ["--sentences", "a.txt", "--grammar", "b.jsgf", "--out", "somewhere"],
    ["--per-sentence", "0"],
])
def test_wrong_usage_says_so(arguments, capsys):
    with pytest.raises(SystemExit) as stopped:
        make.main(arguments)
    assert stopped.value.code == 2
    assert "error:" in capsys.readouterr().err


def test_a_missing_list_is_one_clear_line(tmp_path, capsys):
    assert make.main(["--sentences", str(tmp_path / "none.txt"), "--out", str(tmp_path / "out"),
                      "--voices", "neural-woman"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
