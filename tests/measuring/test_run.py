"""The plan of a run and its trials, with engines that answer as they are told."""

import csv
import json
import sys

import numpy as np
import pytest
import soundfile

from assistant import cli
from assistant.exchange import SAMPLE_RATE, Heard
from assistant.hearing import noise
from assistant.measuring import manifest, report, run, scores
from assistant.measuring.engines import EngineError, EngineOptions, open_engines
from assistant.measuring.manifest import ManifestError
from assistant.measuring.run import Plan
from assistant.measuring.subjects import Subjects

GRAMMAR = """#JSGF V1.0;
grammar lamps;
public <lamp> = (on | off) {state} in the (hall | kitchen) {room};
"""


def entry(file, words, state, room, voice="flite-slt", group="flite"):
    return {
        "file": file,
        "words": words,
        "rule": "lamp",
        "grammar": "lamps.jsgf",
        "tags": [["state", state], ["room", room]],
        "voice": voice,
        "group": group,
    }


ENTRIES = [
    entry("a.wav", "on in the hall", "on", "hall"),
    entry("b.wav", "off in the kitchen", "off", "kitchen", "neural-man", "neural"),
    entry("c.wav", "off in the hall", "off", "hall", "espeak-us", "espeak"),
]


@pytest.fixture
def folder(tmp_path):
    rng = np.random.default_rng(1)
    for number, one in enumerate(ENTRIES):
        sound = 0.1 * rng.standard_normal(SAMPLE_RATE + 1000 * number)
        soundfile.write(tmp_path / one["file"], sound, SAMPLE_RATE)
    (tmp_path / "lamps.jsgf").write_text(GRAMMAR)
    (tmp_path / "manifest.json").write_text(json.dumps({"files": ENTRIES}))
    return tmp_path


class Told:
    """Hears the same words every time, and remembers the sound."""

    def __init__(self, text, margin=9.0, name="told"):
        self.text, self.margin, self.name = text, margin, name
        self.sounds = []

    def ready(self, subject):
        self.warm = True

    def hear(self, utterance, subject):
        assert self.warm
        self.sounds.append(utterance.samples)
        readings = subject.graph.readings(self.text)
        return Heard(readings[0] if readings else None, margin=self.margin), 0.25


def test_verdicts_of_each_recording(folder):
    found = list(run.trials(Plan(folder), [Told("on in the hall")]))
    assert [trial.slots_right for trial in found] == [True, False, False]
    assert all(trial.routine_right for trial in found)
    assert [trial.wrong_accepted for trial in found] == [False, True, True]
    assert [trial.group for trial in found] == [run.MAIN, run.MAIN, "espeak"]
    assert [trial.word_errors for trial in found] == [0, 2, 1]
    assert found[0].seconds == 0.25
    assert found[1].sound_seconds == pytest.approx(17_000 / SAMPLE_RATE)
    doubtful = list(run.trials(Plan(folder), [Told("on in the hall", margin=0.2)]))
    assert {trial.verdict for trial in doubtful} == {"asked back"}
    nothing = list(run.trials(Plan(folder), [Told("up the stairs")]))
    assert {trial.verdict for trial in nothing} == {"turned away"}
    assert not any(trial.slots_right or trial.wrong_accepted for trial in nothing)


def test_every_engine_hears_the_same_sound_and_the_seed_repeats_it(folder):
    plan = Plan(folder, conditions=("clean", "impact"), snrs=(12.0, 0.0), rounds=2, seed=4)
    one, other, again = Told("on in the hall"), Told("off in the hall"), Told("on in the hall")
    count = len(list(run.trials(plan, [one, other])))
    assert count == 2 * 3 * (1 + 2 * 2)  # engines, recordings, clean and two ratios twice
    list(run.trials(plan, [again]))
    for first, second, third in zip(one.sounds, other.sounds, again.sounds, strict=True):
        assert np.array_equal(first, second) and np.array_equal(first, third)
    elsewhere = Told("on in the hall")
    list(run.trials(Plan(folder, conditions=("impact",), snrs=(12.0,), seed=5), [elsewhere]))
    assert not np.array_equal(elsewhere.sounds[0], one.sounds[3])
    # two rounds are two noises; two ratios are the same noise, louder
    clean = one.sounds[0].astype(float)
    first, second, loud = (one.sounds[at].astype(float) - clean for at in (3, 6, 9))
    assert not np.allclose(first, second)
    assert np.allclose(loud, first * 10 ** (12 / 20), atol=1e-5)


def test_the_ratio_is_the_one_asked_for(folder):
    heard = Told("on in the hall")
    list(run.trials(Plan(folder, conditions=("clean", "pink"), snrs=(6.0,)), [heard]))
    clean, noisy = heard.sounds[0].astype(float), heard.sounds[3].astype(float)
    ratio = 20 * np.log10(noise.active_level(clean) / noise.rms(noisy - clean))
    assert ratio == pytest.approx(6.0, abs=0.02)


def test_babble_never_says_what_is_to_be_heard(folder):
    """Only one other sentence is there for each of two; it is what is added."""
    plan = Plan(folder, conditions=("babble:1",), snrs=(0.0,))
    subjects = Subjects(folder)
    entries = plan.entries(subjects)[:2]
    utterance = run.spoiled(plan, entries[0], entries, "babble:1", 0.0, 0)
    clean = manifest.read_recording(folder, entries[0]).samples.astype(float)
    other = manifest.read_recording(folder, entries[1]).samples.astype(float)
    added = utterance.samples - clean

    def likeness(sound):
        band = noise.band_limit(np.tile(sound, 3), 160, 5000)
        size = len(band) + len(added)
        match = np.fft.irfft(np.fft.rfft(band, size) * np.conj(np.fft.rfft(added, size)))
        return np.abs(match).max() / (noise.rms(band) * noise.rms(added) * len(added))

    assert likeness(other) > 0.9 > 0.3 > likeness(clean)


def test_recordings_are_sifted_and_drawn(folder):
    subjects = Subjects(folder)
    assert [e["file"] for e in Plan(folder, groups=("neural",)).entries(subjects)] == ["b.wav"]
    assert len(Plan(folder, families=("lamps",)).entries(subjects)) == 3
    assert len(Plan(folder, limit=1).entries(subjects)) == 3  # one of each group
    with pytest.raises(ManifestError, match="no recording"):
        Plan(folder, groups=("nobody",)).entries(subjects)


@pytest.mark.parametrize(
    ("plan", "message"),
    [
        ({"conditions": ("pink",)}, "give --snr"),
        ({"conditions": ("drill",), "snrs": (6.0,)}, "no condition is called"),
    ],
)
def test_plans_that_cannot_be(folder, plan, message):
    with pytest.raises(ManifestError, match=message):
        Plan(folder, **plan).cells()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "not JSON"),
        ('{"files": []}', "lists no files"),
        ('[{"file": "a.wav", "words": "x", "voice": "v"}]', "entry 1 lacks group"),
        ('[{"file": "a.wav", "words": "x", "voice": "v", "group": "g"}]', "routine or rule"),
    ],
)
def test_manifests_that_cannot_be_read(tmp_path, text, message):
    (tmp_path / "manifest.json").write_text(text)
    with pytest.raises(ManifestError, match=message):
        manifest.read_manifest(tmp_path)
    with pytest.raises(ManifestError, match="cannot be read"):
        manifest.read_manifest(tmp_path / "elsewhere")


def test_two_ways_of_stating_a_meaning(bench):
    by_people = {
        "words": "how many spot welds for thirty inches every two inches",
        "routine": "spot_welds",
        "slots": {"length": "30 inch", "pitch": "2 inch"},
    }
    by_grammar = {
        "words": by_people["words"],
        "rule": "spot_welds",
        "tags": [["length", "thirty inches"], ["pitch", "two inches"]],
    }
    assert manifest.expected_meaning(bench, by_people) == manifest.expected_meaning(
        bench, by_grammar
    )
    other = {**by_grammar, "tags": [["length", "thirteen inches"], ["pitch", "two inches"]]}
    assert manifest.expected_meaning(bench, other) != manifest.expected_meaning(bench, by_people)


def test_engines_that_cannot_be_used():
    with pytest.raises(EngineError, match="no engine is called 'ear'"):
        open_engines(["ear"], EngineOptions())
    with pytest.raises(EngineError, match="needs --model"):
        open_engines(["vosk"], EngineOptions())


def test_engines_of_one_model_share_a_process():
    assert run.together(["bundled", "pocketsphinx", "free", "vosk"]) == [
        ("bundled", "free"),
        ("pocketsphinx",),
        ("vosk",),
    ]


def test_two_encoders_hear_the_same_sound_and_each_has_its_own_peer(folder):
    options = EngineOptions(("hardened", "bundled"))
    plan = Plan(folder, conditions=("pink",), snrs=(12.0,), limit=1, options=options)
    found = []
    (finished,) = run.run(plan, found.append)
    labels = ["bundled (hardened)", "bundled (bundled)", "free (hardened)", "free (bundled)"]
    assert plan.labels() == labels and finished.engines == tuple(labels)
    by_engine = {label: [t for t in found if t.engine == label] for label in labels}
    assert {len(trials) for trials in by_engine.values()} == {3}  # one of each group
    rows = {row.engine: row for row in scores.tally(found, ("engine",))}
    for encoder in ("hardened", "bundled"):
        beside = sum(trial.seconds for trial in by_engine[f"free ({encoder})"])
        assert rows[f"bundled ({encoder})"].free_seconds == pytest.approx(beside)
    # two networks: not the same figures
    margins = [[trial.margin for trial in by_engine[label]] for label in labels[:2]]
    assert margins[0] != margins[1]


def test_table_csv_and_plot(folder, tmp_path):
    plan = Plan(folder, conditions=("clean", "pink"), snrs=(6.0, 0.0))
    told = [Told("on in the hall", name="bundled"), Told("off in the hall", name="free")]
    found = list(run.trials(plan, told))
    rows = scores.tally(found, ("engine", "group", "condition", "snr_db"), {"bundled": (99, 1.5)})
    table = report.as_table(rows).splitlines()
    assert table[0].split()[:3] == ["engine", "voices", "family"]
    line = next(line for line in table if "bundled" in line and "pink 6 dB" in line)
    assert "50.0 (9.5-90.5)" in line  # 1 of 2, Wilson
    assert table[-1].startswith("bundled: peak memory 99 MB") and "1.5 s" in table[-1]
    beside = scores.tally(found, ("engine",), dict.fromkeys(("bundled", "free"), (99, 1.5)))
    told = report.as_table(beside)
    assert "bundled and free in one process: peak memory 99 MB" in told and "by itself" in told
    report.write_csv(tmp_path / "rows.csv", rows)
    with (tmp_path / "rows.csv").open(newline="") as file:
        read = list(csv.DictReader(file))
    assert len(read) == len(rows)
    assert read[0]["engine"] == "bundled" and float(read[0]["slots_right_share"]) == 0.5
    with report.DetailsFile(tmp_path / "trials.csv") as details:
        for number, trial in enumerate(found, start=1):
            details.add(trial)
            with (tmp_path / "trials.csv").open(newline="") as file:
                assert len(list(csv.DictReader(file))) == number  # there before the end
    report.write_plot(tmp_path / "plot.png", rows)
    assert (tmp_path / "plot.png").read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize("hits", [0, 7, 80])
def test_a_plot_of_nothing_and_of_everything_right(hits, tmp_path):
    """At either end the interval touches the share, but for the last bit of a float."""
    row = scores.Row(
        "bundled", "flite", "all", "pink", 6.0, 80, hits, hits, hits, 0, 0, 0, 0, 400, 9.0, 1.0
    )
    report.write_plot(tmp_path / "plot.svg", [row])
    assert "pink" in (tmp_path / "plot.svg").read_text()


def test_the_plot_shows_what_was_asked_in_doubt_and_in_all(monkeypatch, tmp_path):
    row = scores.Row(
        "bundled", "flite", "all", "pink", 6.0, 80, 72, 72, 72, 20, 0, 0, 0, 400, 9.0, 1.0,
        asked_for_value=8, read_back=4,
    )  # fmt: skip
    drawn = []
    monkeypatch.setattr(
        report, "_draw_line", lambda _, line, count, *rest: drawn.append((count(line[0]), *rest))
    )
    monkeypatch.setattr("matplotlib.axes.Axes.legend", lambda *_, **__: None)
    report.write_plot(tmp_path / "plot.svg", [row])
    assert drawn == [
        (72, "-", "C0", "bundled, flite"),
        (8, "-", "C0", "bundled, flite"),
        (20, ":", "C0", "bundled, flite, for any reason"),
    ]


def test_the_shops_journal_is_not_touched(bench, monkeypatch):
    """Hearing "start the clock" a thousand times while measuring must start nothing."""
    from assistant.bench import Bench
    from assistant.exchange import Reading
    from assistant.measuring.subjects import Trade

    def refuse(self):
        raise AssertionError("the journal was opened")

    monkeypatch.setattr(Bench, "shop", property(refuse))
    trade = Trade(bench)
    changing = [routine for routine in bench.routines.values() if routine.changes_clock]
    assert changing
    for routine in changing:
        reading = next(
            found for example in routine.examples for found in bench.graph.readings(example)
        )
        assert isinstance(reading, Reading)
        assert trade.verdict(Heard(reading, margin=9.0)) in (
            "accepted",
            "asked back",
            "read back",
        )


@pytest.mark.parametrize(
    ("text", "margin", "verdict"),
    [
        ("when can i unclamp at sixty", 9.0, "accepted"),
        ("when can i unclamp at sixty", 0.5, "asked back"),
        ("when can i unclamp at sixteen", 0.5, "asked back"),
        ("how much adhesive do i need", 9.0, "asked for a value"),
        ("accept the deviations in bay two by alfa bravo", 9.0, "read back"),
        ("accept the deviations in bay two by alfa bravo", 0.5, "asked back"),
        ("when can i unclamp at nine hundred degrees", 9.0, "accepted"),  # refused by name
    ],
)
def test_verdicts_of_this_trade(bench, text, margin, verdict):
    from assistant.measuring.subjects import Trade

    (reading, *_) = bench.graph.readings(text)
    rival = bench.graph.readings("when can i unclamp at ninety")[0]
    heard = Heard(reading, margin=margin, alternatives=(rival,), free_text=text)
    assert Trade(bench).verdict(heard) == verdict


def command(monkeypatch, *arguments):
    monkeypatch.setattr(sys, "argv", ["clampcall", "measure", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return ended.value.code


def test_the_command_runs_engines_in_their_own_process(monkeypatch, capsys, tmp_path):
    """The real model on one committed recording, through the whole command."""
    from tests_support import AUDIO

    rows = tmp_path / "rows.csv"
    code = command(
        monkeypatch,
        AUDIO,
        "--group",
        "neural",
        "--limit",
        1,
        "--family",
        "clamp",
        "--json",
        "--csv",
        rows,
    )
    printed = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert code == 0
    assert [row["engine"] for row in printed] == ["bundled", "free"]
    assert printed[0]["count"] == 1 and printed[0]["slots_right_share"] == 1.0
    assert printed[0]["peak_megabytes"] > 50 and printed[0]["ready_seconds"] > 0
    assert printed[0]["ratio_to_free"] > 0
    assert rows.read_text().count("\n") == 3


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["nowhere"], "cannot be read"),
        (["--condition", "drill", "--snr", "6"], "no condition is called"),
        (["--condition", "pink"], "give --snr"),
        (["--engine", "vosk"], "needs --model"),
        (["--encoder", "no-such-encoder"], "no-such-encoder|no encoder"),
        (["--csv", "no/such/folder/x.csv"], "no folder to write into"),
    ],
)
def test_one_line_for_what_cannot_be(monkeypatch, capsys, folder, arguments, message):
    import re

    given = arguments if arguments == ["nowhere"] else [folder, *arguments]
    assert command(monkeypatch, *given) == 2
    error = capsys.readouterr().err.strip()
    assert re.search(message, error) and "\n" not in error
