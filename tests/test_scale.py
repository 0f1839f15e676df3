"""Fixtures at scale: what is drawn, how it is kept apart, and that it repeats."""

import json

import numpy as np
import pytest
import soundfile

from assistant.bench import Bench
from assistant.exchange import SAMPLE_RATE, Reading
from assistant.hearing import jsgf
from assistant.hearing.graph import Graph
from audio_fixtures import scale, voices

BENCH = Bench()
SOME = ("work_time", "spot_welds", "mix_for_total", "cut_line")


@pytest.fixture(scope="module")
def few():
    """A bench of a few routines: drawing from all of them takes a minute."""
    routines = tuple(BENCH.routines[name] for name in SOME)
    return Bench(shelf=BENCH.shelf, routines=routines)


@pytest.fixture(scope="module")
def rows(few):
    return {
        purpose: list(scale.trade_rows(few, purpose, 6, seed=3)) for purpose in scale.PURPOSES
    }


def test_every_routine_asked_for_is_spoken(rows):
    for drawn in rows.values():
        assert {row["rule"] for row in drawn} == set(SOME)
        assert all(len([row for row in drawn if row["rule"] == rule]) == 6 for rule in SOME)


@pytest.mark.parametrize("purpose", ["tune", "train"])
def test_training_tuning_and_testing_share_no_sentence(few, rows, purpose):
    for seed in (3, 4):
        again = {row["words"] for row in scale.trade_rows(few, purpose, 6, seed)}
        for other in set(scale.PURPOSES) - {purpose}:
            assert not again & {row["words"] for row in rows[other]}
    assert {scale.purpose_of(row["words"]) for row in rows["test"]} == {"test"}
    assert {scale.purpose_of(row["words"]) for row in rows[purpose]} == {purpose}


def test_the_seed_repeats_and_another_seed_draws_others(few, rows):
    assert list(scale.trade_rows(few, "test", 6, seed=3)) == rows["test"]
    other = {row["words"] for row in scale.trade_rows(few, "test", 6, seed=4)}
    assert other != {row["words"] for row in rows["test"]}


def test_sentences_are_sensible_and_in_the_real_grammar(few, rows):
    for row in (*rows["test"], *rows["tune"]):
        reading = Reading(row["words"], row["tags"], row["rule"])
        found = few.graph.readings(row["words"])
        assert {few.interpreter.meaning(one) for one in found} == {few.interpreter.meaning(reading)}
        outcome = few.exchange(few.read(row["words"]))
        assert outcome.answer is not None, row["words"]
        assert outcome.request.routine == row["rule"]


@pytest.mark.parametrize(
    "words",
    [
        "how many spot welds for three inches every three inches",  # the same twice
        "what is the work time at fifteen degrees",  # colder than anybody works: fifty was said
        "how many spot welds for thirty inches",  # no pitch: asked back
    ],
)
def test_what_is_not_sensible(few, words):
    (reading, *_) = few.graph.readings(words)
    assert not scale.is_sensible(few, reading)


def test_usual_rules_stand_in_for_the_shared_ones(few):
    """Every shared rule that a family imports has a usual form, or drawing would fall back on
    'nine hundred ninety nine and fifteen sixteenths yards'."""
    for name in ("numbers", "units"):
        usual = jsgf.read_file(scale.USUAL / f"{name}.jsgf")
        real = jsgf.read_file(scale.grammar_folder() / f"{name}.jsgf")
        public = {rule.name for rule in real.rules.values() if rule.public}
        assert public <= {rule.name for rule in usual.rules.values() if rule.public}
        for rule in public:
            _assert_inside(name, rule)


def _assert_inside(grammar, rule):
    """A hundred usual phrases of a rule, each read by the real one."""
    import random

    from assistant.hearing import sampling

    text = f"#JSGF V1.0;\ngrammar one;\nimport <{grammar}.{rule}>;\npublic <all> = <{rule}>;"
    wrapped = jsgf.parse(text, default_name="one")
    folder = scale.grammar_folder()
    usual = jsgf.link([wrapped], jsgf.folder_fetcher(scale.USUAL, folder))
    real = Graph(jsgf.link([wrapped], jsgf.folder_fetcher(folder)))
    rng = random.Random(1)
    for _ in range(100):
        words = sampling.sample(usual, rng).text
        assert real.readings(words), f"<{grammar}.{rule}> cannot be {words!r}"


@pytest.mark.parametrize("path", sorted(scale.DOMAINS.glob("*.jsgf")), ids=lambda path: path.stem)
def test_domains(path):
    drawn = {
        purpose: list(scale.domain_rows(path, purpose, 100, seed=1)) for purpose in scale.PURPOSES
    }
    for purpose, found in drawn.items():
        assert len({row["words"] for row in found}) == 100
        assert {scale.purpose_of(row["words"]) for row in found} == {purpose}
        assert len({row["rule"] for row in found}) >= 4
    assert sum(bool(row["tags"]) for row in drawn["test"]) > 90


def test_there_are_three_domains_and_none_is_this_trade():
    assert len(list(scale.DOMAINS.glob("*.jsgf"))) >= 3
    for path in scale.DOMAINS.glob("*.jsgf"):
        text = path.read_text()
        assert "adhesive" not in text and "import" not in text


def test_kept_out_voices_never_tune():
    with pytest.raises(ValueError, match="never used for tuning"):
        scale.voices_for("tune", "flite,festival")
    with pytest.raises(ValueError, match="no voice or group"):
        scale.voices_for("test", "nobody")


def test_jobs_have_files_of_their_own_and_every_group_speaks_each_sentence(rows):
    chosen = voices.choose("neural,flite,festival", voices.EVERY_VOICE)
    jobs = scale.plan_jobs(rows["test"], chosen, "test", 3)
    assert len({job.file for job in jobs}) == len(jobs) == 3 * len(rows["test"])
    kept_out = [job.voice for job in jobs if job.voice.group == voices.KEPT_OUT]
    assert set(kept_out) <= set(voices.EVERY_VOICE)  # as they are, not varied
    assert scale.plan_jobs(rows["test"], chosen, "test", 3) == jobs
    assert scale.plan_jobs(rows["test"], chosen, "tune", 3) != jobs


def a_word(text, voice, seed):
    """In place of a synthesiser: a second of noise for each three words."""
    rng = np.random.default_rng(seed)
    return 0.1 * rng.standard_normal(SAMPLE_RATE * max(1, len(text.split()) // 3))


def test_files_and_manifest(tmp_path, monkeypatch):
    spoken = []
    monkeypatch.setattr(
        scale.voice_table, "speak", lambda *given: spoken.append(given[0]) or a_word(*given)
    )
    monkeypatch.setattr(scale.voice_table, "missing_programs", lambda chosen: [])
    entries = scale.make(tmp_path, "test", 5, "flite", per_routine=0, per_domain=2)
    assert len(entries) == len(spoken) == 6
    manifest = json.loads((tmp_path / "manifest.json").read_text())
    assert manifest["purpose"] == "test" and manifest["seed"] == 5
    for entry in manifest["files"]:
        info = soundfile.info(tmp_path / entry["file"])
        assert info.samplerate == SAMPLE_RATE
        assert info.duration == pytest.approx(entry["duration"], abs=1e-4)
        assert (tmp_path / entry["grammar"]).is_file()
        assert entry["group"] == "flite"
    # a second run makes nothing anew and says the same; a lost file comes back
    again = scale.make(tmp_path, "test", 5, "flite", per_routine=0, per_domain=2)
    assert len(spoken) == 6
    assert json.loads((tmp_path / "manifest.json").read_text()) == manifest
    assert [entry["file"] for entry in again] == [entry["file"] for entry in entries]
    (tmp_path / entries[0]["file"]).unlink()
    scale.make(tmp_path, "test", 5, "flite", per_routine=0, per_domain=2)
    assert len(spoken) == 7


def test_one_line_for_a_wrong_voice(tmp_path, capsys):
    assert scale.main(["--out", str(tmp_path), "--purpose", "tune", "--voices", "festival"]) == 2
    assert "never used for tuning" in capsys.readouterr().err
