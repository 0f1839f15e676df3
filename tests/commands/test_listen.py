"""clampcall listen and checkup --write-config, as a person runs them."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.settings import Settings, read_settings

ROOT = Path(__file__).parent.parent.parent
STREAM = ROOT / "audio_fixtures" / "streams" / "never_mind.ogg"


def clampcall(*arguments, given="", **environment):
    import os

    return subprocess.run(
        [sys.executable, "-m", "assistant", *map(str, arguments)],
        input=given,
        capture_output=True,
        text=isinstance(given, str),
        env={**os.environ, **environment},
    )


@pytest.fixture
def empty(tmp_path):
    """No configuration but one that was asked for."""
    path = tmp_path / "clampcall.toml"
    path.write_text("", encoding="utf-8")
    return path


def test_a_typed_conversation(empty):
    done = clampcall(
        "listen", "--typed", "--json", "--config", empty, given="when can i unclamp\nsixty\n\nno\n"
    )
    assert done.returncode == 0, done.stderr
    asked, answered, nothing = map(json.loads, done.stdout.splitlines())
    assert (asked["outcome"], asked["routine"]) == ("asks_back", "clamp_time")
    assert answered["outcome"] == "answered"
    assert answered["slots"]["temperature"] == {"value": 60.0, "unit": "degree_Fahrenheit"}
    assert nothing["kind"] == "silent"


def test_what_is_typed_and_not_understood_is_told(empty):
    done = clampcall("listen", "--typed", "--config", empty, given="what is the weather\n")
    assert done.returncode == 0, done.stderr
    assert done.stdout == (
        "> what is the weather\n  I did not understand that. Say: what can I ask.\n"
    )


def test_a_recording_is_talked_through(empty):
    done = clampcall("listen", "--from", STREAM, "--config", empty, "--voice", "none")
    assert done.returncode == 0, done.stderr
    lines = [line for line in done.stdout.splitlines() if line.startswith("> ")]
    assert lines == [
        "> how many clamps for forty inches",
        "> never mind",
        "> how many clamps for forty inches every three inches",
    ]
    assert "Traceback" not in done.stderr


def test_a_recording_needs_no_key(tmp_path):
    """With way = "key" a recording was let go by without a word."""
    config = tmp_path / "c.toml"
    config.write_text('[listening]\nway = "key"\n', encoding="utf-8")
    done = clampcall("listen", "--from", STREAM, "--config", config, "--voice", "none")
    assert done.returncode == 0, done.stderr
    assert "> how many clamps for forty inches\n" in done.stdout


def test_settings_decide_and_the_command_line_wins(tmp_path):
    config = tmp_path / "c.toml"
    config.write_text('[shop]\nunits = "metric"\n', encoding="utf-8")
    question = "when can i unclamp at twenty\n"
    metric = clampcall("listen", "--typed", "--config", config, given=question)
    assert "20 °C" in metric.stdout
    other = clampcall("listen", "--typed", "--units", "us", "--config", config, given=question)
    assert "20 °F" in other.stdout


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (["--from", "nowhere.wav"], "does not exist"),
        (["--from", "."], "is a folder"),
        (["--from", __file__], "not a WAV"),
        (["--typed", "--from", "x.wav"], "--typed and --from"),
        (["--typed", "--voice", "auto"], "--typed and --voice"),
        (["--real-speed"], "--real-speed goes with --from"),
        (["--from", "-", "--real-speed"], "--from - and --real-speed"),
    ],
)
def test_bad_input_is_one_line(empty, arguments, fault):
    done = clampcall("listen", *arguments, "--config", empty)
    assert done.returncode == 2 and fault in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_wrong_setting_is_named_with_its_line(tmp_path):
    config = tmp_path / "c.toml"
    config.write_text("[listening]\npawse = 1\n", encoding="utf-8")
    done = clampcall("listen", "--typed", "--config", config)
    assert done.returncode == 2 and "line 2: listening.pawse is not a setting" in done.stderr


def test_the_configuration_file_is_written_once(tmp_path):
    path = tmp_path / "shop" / "clampcall.toml"
    done = clampcall("checkup", "--write-config", CLAMPCALL_CONFIG=str(path))
    assert done.returncode == 0, done.stderr
    assert read_settings(path) == Settings()
    path.write_text("# mine\n", encoding="utf-8")
    again = clampcall("checkup", "--write-config", CLAMPCALL_CONFIG=str(path))
    assert again.returncode == 2 and "there already" in again.stderr
    assert path.read_text(encoding="utf-8") == "# mine\n"
