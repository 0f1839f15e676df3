"""The configuration file: documented, checked, faults named with their line."""

import re
import tomllib

import pytest

from assistant.settings import (
    Settings,
    SettingsError,
    as_toml,
    parse_settings,
    read_settings,
)


def test_the_written_file_is_the_defaults_and_explains_every_key():
    text = as_toml()
    assert parse_settings(text) == Settings()
    lines = text.splitlines()
    keys = [number for number, line in enumerate(lines) if re.match(r"\w+ =", line)]
    assert len(keys) == sum(len(section) for section in tomllib.loads(text).values())
    for number in keys:
        assert lines[number - 1].startswith("# "), lines[number]


def test_what_is_left_out_keeps_its_value():
    settings = parse_settings('[listening]\nway = "address"\n')
    assert settings.listening.way == "address" and settings.listening.pause == 0.6


def test_other_values_come_through_the_file():
    changed = parse_settings('[listening]\npause = 1.0\ncut_in = false\n[shop]\nunits = "metric"')
    assert parse_settings(as_toml(changed)) == changed != Settings()


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('[listening]\n\nwey = "open"\n', r"line 3: listening\.wey is not a setting; .* has way"),
        ('[listening]\nway = "shout"\n', r'line 2: listening\.way = "shout": choose one of open'),
        ("[listening]\nbay = 1\npause = 9\n", r"line 3: listening\.pause = 9: .* equal to 3"),
        ("[lisening]\n", r"line 1: lisening is not a setting; the sections are \[shop\]"),
        ('units = "us"\n', "line 1: units is not a setting"),
        ("[shop\n", r"not TOML: .*line 1"),
    ],
)
def test_a_fault_is_named_with_its_line(text, fault):
    with pytest.raises(SettingsError, match=fault):
        parse_settings(text)


def test_all_faults_are_told_at_once():
    with pytest.raises(SettingsError) as trouble:
        parse_settings("[listening]\npause = 9\nbay = -1\n")
    assert len(str(trouble.value).splitlines()) == 2


def test_no_file_is_no_fault_but_a_named_one_must_be_there(tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_config_dir", lambda name: str(tmp_path / name))
    monkeypatch.delenv("CLAMPCALL_CONFIG", raising=False)
    assert read_settings() == Settings()
    with pytest.raises(SettingsError, match="does not exist"):
        read_settings(tmp_path / "none.toml")
    monkeypatch.setenv("CLAMPCALL_CONFIG", str(tmp_path / "none.toml"))
    with pytest.raises(SettingsError, match="does not exist"):
        read_settings()


def test_an_unreadable_file_is_one_line(tmp_path):
    path = tmp_path / "clampcall.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="UTF-8"):
        read_settings(path)
