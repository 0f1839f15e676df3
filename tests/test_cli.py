"""The program as a process: exit codes, JSON, one line for every fault, no traceback."""

import json
import math
import random
import subprocess
import sys

import numpy as np
import pytest
import soundfile
from tests_support import audio_path


def run(*arguments, timeout=120, **options):
    return subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=timeout,
        **options,
    )


def one_line(done):
    assert "Traceback" not in done.stderr
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1, done.stderr
    return lines[0]


def as_json(done):
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.fixture(scope="module")
def forty(spoken_files):
    return next(e for e in spoken_files if e["words"] == "how much adhesive for forty inches")


# --- ask ------------------------------------------------------------------------------------


def test_adhesive_for_forty_inches():
    done = run("ask", "how much adhesive for forty inches", "--json")
    assert done.returncode == 0, done.stderr
    (answer,) = as_json(done)
    assert answer["routine"] == "adhesive_for_bead"
    # geometry: pi/4 * (3/8 in)^2 * 40 in = 72.4 mL; 1 in^3 = 16.387064 mL exactly (NIST SP 811)
    volume = answer["figures"]["bead_volume"]
    assert volume["value"] * {"milliliter": 1, "millimeter ** 3": 1e-3, "inch ** 3": 16.387064}[
        volume["unit"]
    ] == pytest.approx(math.pi / 4 * 0.375**2 * 40 * 16.387064, rel=1e-9)
    assert answer["figures"]["cartridges"] >= 1 and answer["figures"]["tips"] >= 1
    assert any("bead size" in line for line in answer["assumptions"])
    assert "forty inches" in answer["spoken"].lower()
    assert set(answer) >= {
        "heard", "score", "margin", "routine", "slots", "figures", "sentence", "spoken",
        "assumptions", "cautions", "basis",
    }  # fmt: skip


def test_unclamp_at_fifty_five():
    done = run("ask", "when", "can", "i", "unclamp", "at", "fifty-five", "degrees")
    assert done.returncode == 0, done.stderr
    # 2 h * 2^(15/18) = 3 h 33.8 min, up to five minutes: 3 h 35 min (doubling per 18 °F,
    # common practice, no source)
    assert "3 h 35 min" in done.stdout
    assert "Rule of thumb" in done.stdout and "Caution" in done.stdout


def test_a_missing_value_is_asked_for():
    done = run("ask", "how much adhesive", "--json")
    assert done.returncode == 3
    (asked,) = as_json(done)
    assert asked["outcome"] == "asks_back" and asked["sentence"].endswith("?")


def test_what_is_not_understood_says_what_can_be_asked():
    done = run("ask", "open the pod bay doors", "--json")
    assert done.returncode == 4
    (answer,) = as_json(done)
    assert answer["outcome"] == "not_understood" and len(answer["suggestions"]) >= 1


def test_a_refusal_names_its_limit():
    done = run("ask", "when can i unclamp at minus twenty", "--json")
    assert done.returncode == 0
    (answer,) = as_json(done)
    assert answer["outcome"] == "refused" and answer["figures"] == {}
    assert "50 °F" in answer["sentence"]


def test_json_tells_times_of_day_as_iso_text():
    done = run("ask", "to prime by half past three p m when must the bead go on at 70", "--json")
    (answer,) = as_json(done)
    assert answer["slots"]["by"] == "15:30"


def test_metric_answers_in_metric():
    done = run("ask", "when can i unclamp at thirteen", "--units", "metric", "--json")
    (answer,) = as_json(done)
    assert answer["slots"]["temperature"] == {"value": 13.0, "unit": "degree_Celsius"}
    assert "°F" not in answer["sentence"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("ask",),
        ("ask", "   "),
        ("ask", "x", "--units", "cubits"),
        ("ask", "how much adhesive for forty inches", "--save", "/no/such/folder/a.wav"),
        ("ask", "how much adhesive for forty inches", "--save", "a.wav", "--voice", "none"),
        ("no-such-command",),
        ("hear",),
        ("hear", "gone.wav"),
        ("hear", "gone.wav", "--engine", "other"),
        ("hear", "gone.wav", "--grammar", "gone.jsgf"),
        ("hear", "a.wav", "b.wav", "--save", "c.wav"),
        ("products", "show", "no-such-card"),
        ("products", "check", "gone.toml"),
    ],
)
def test_wrong_use_is_one_line_and_code_two(arguments):
    done = run(*arguments)
    assert done.returncode == 2
    assert one_line(done)


def test_saved_speech_is_a_sound_file(tmp_path):
    saved = tmp_path / "answer.wav"
    done = run("ask", "how much adhesive for forty inches", "--voice", "bundled", "--save", saved)
    assert done.returncode == 0, done.stderr
    samples, rate = soundfile.read(saved)
    assert len(samples) / rate > 3.0, "two or three sentences take a few seconds"
    assert 0.01 < np.sqrt(np.mean(samples**2)) < 0.5 and np.abs(samples).max() < 1.0


# --- hear -----------------------------------------------------------------------------------


def test_many_files_one_object_a_line(spoken_files):
    entries = [e for e in spoken_files if e["group"] == "neural"][:3]
    done = run("hear", *[audio_path(e) for e in entries], "--json")
    assert done.returncode == 0, done.stderr
    answers = as_json(done)
    assert [a["file"] for a in answers] == [str(audio_path(e)) for e in entries]
    assert [a["routine"] for a in answers] == [e["routine"] for e in entries]
    assert all(a["figures"] for a in answers)


def test_spoken_question_to_spoken_answer(forty, tmp_path):
    saved = tmp_path / "answer.wav"
    done = run("hear", audio_path(forty), "--save", saved)
    assert done.returncode == 0, done.stderr
    assert "73 mL" in done.stdout
    samples, rate = soundfile.read(saved)
    assert len(samples) / rate > 3.0


def test_a_bad_file_among_good_ones_loses_nothing(forty, tmp_path):
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"RIFF" + b"x" * 100)
    done = run("hear", broken, audio_path(forty), "--json")
    assert done.returncode == 2
    assert "broken.wav" in one_line(done)
    first, second = as_json(done)
    assert first["error"] and second["routine"] == forty["routine"]


@pytest.fixture
def drinks(tmp_path):
    """A grammar of another domain: the recogniser alone must not know the trade."""
    path = tmp_path / "lunch.jsgf"
    path.write_text(
        "#JSGF V1.0;\ngrammar lunch;\n"
        "public <order> = how much <what> {what} for <n> {n} (inches {unit=in} | guests);\n"
        "<what> = adhesive | soup | bread;\n<n> = fourteen | forty | four;\n"
    )
    return path


def test_recogniser_alone_on_any_grammar(forty, drinks):
    done = run("hear", audio_path(forty), "--grammar", drinks, "--json")
    assert done.returncode == 0, done.stderr
    (heard,) = as_json(done)
    assert heard["text"] == "how much adhesive for forty inches"
    assert heard["tags"] == {"what": "adhesive", "n": "forty", "unit": "in"}
    assert heard["rule"] == "order" and heard["accepted"] is True
    assert set(heard) >= {"text", "tags", "rule", "score", "margin", "accepted"}


def test_speech_outside_the_grammar_is_not_accepted(spoken_files, drinks, tmp_path):
    other = tmp_path / "other.jsgf"
    other.write_text(
        "#JSGF V1.0;\ngrammar other;\n"
        "public <x> = purple elephants juggle seventeen umbrellas every wednesday morning;\n"
    )
    entry = next(e for e in spoken_files if e["group"] == "neural")
    done = run("hear", audio_path(entry), "--grammar", other, "--json")
    assert done.returncode == 4
    assert as_json(done)[0]["accepted"] is False


def test_a_faulty_grammar_is_named_with_its_line(forty, tmp_path):
    path = tmp_path / "faulty.jsgf"
    path.write_text("#JSGF V1.0;\ngrammar faulty;\npublic <a> = (b;\n")
    done = run("hear", audio_path(forty), "--grammar", path)
    assert done.returncode == 2
    assert "line 3" in one_line(done)


def test_odd_files_as_the_command_line_meets_them(tmp_path):
    rng = random.Random(12)
    paths = []
    for number in range(40):
        path = tmp_path / f"{number}.wav"
        path.write_bytes(rng.randbytes(rng.randrange(300)))
        paths.append(path)
    done = run("hear", *paths, "--json")
    assert done.returncode == 2 and "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == len(as_json(done)) == 40


# --- products, checkup, the rest ------------------------------------------------------------


def test_products_list_show_check(tmp_path):
    listed = as_json(run("products", "list", "--json"))[0]
    assert len([card for card in listed if card["kind"] == "adhesive"]) >= 2
    for card in listed:
        shown = as_json(run("products", "show", card["key"], "--json"))[0]
        assert shown["invented"] is True
    bad = tmp_path / "bad.toml"
    bad.write_text('kind = "adhesive"\nname = 5\n')
    done = run("products", "check", bad)
    assert done.returncode == 2 and "bad.toml" in done.stderr and "Traceback" not in done.stderr


def test_checkup_names_every_part():
    done = run("checkup", "--json")
    rows = {row["name"]: row for row in as_json(done)[0]}
    for name in ("grammars", "product cards", "speech model", "bundled voice"):
        assert rows[name]["ok"], rows[name]
    assert done.returncode == 0
    assert "playback" in rows, "with or without a sound device"


def test_no_device_is_one_notice_and_text_goes_on():
    done = run("ask", "how much adhesive for forty inches", "--voice", "bundled")
    assert done.returncode == 0
    assert "73 mL" in done.stdout
    assert len(done.stderr.strip().splitlines()) <= 1  # none where there is a device


def test_version_and_help():
    assert run("--version").stdout.startswith("clampcall ")
    assert all(name in run("--help").stdout for name in ("ask", "hear", "products", "checkup"))


def test_a_closed_pipe_is_not_an_error():
    done = subprocess.run(
        f"{sys.executable} -m assistant products list | head -c 1",
        shell=True,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "Traceback" not in done.stderr


def test_the_inner_fault_line_is_one_line(monkeypatch, capsys):
    from assistant import cli

    monkeypatch.delenv("CLAMPCALL_DEBUG", raising=False)
    assert cli._last_resort(RuntimeError("two\nlines")) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
