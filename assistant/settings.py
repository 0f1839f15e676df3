"""The one configuration file: TOML, every key documented, a wrong key named with its line.

``read_settings(path)`` gives the values, defaults where the file says nothing.
``as_toml()`` writes the file with its comments; both come from the same declarations below.
"""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path
from typing import Any, Literal, get_args

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assistant.products.card import line_of

FILE_VARIABLE = "CLAMPCALL_CONFIG"
FILE_NAME = "clampcall.toml"


class SettingsError(ValueError):
    """The file cannot be used; one line for each fault, each with its place."""


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Shop(_Section):
    """The place of work."""

    units: Literal["us", "metric"] = Field(
        "us", description="units of answers and of bare numbers: us or metric"
    )


class Listening(_Section):
    """How the program listens (clampcall listen)."""

    way: Literal["open", "address", "key"] = Field(
        "open",
        description="how it is addressed: open (any question at this bench), "
        'address ("bay two, ..."), key (a key or pedal)',
    )
    bay: int = Field(0, ge=0, le=99, description="the bay of this microphone; 0 serves all bays")
    key: str = Field(
        "space",
        min_length=1,
        description="with way = key: a name (space, enter, f1 to f24, a letter) or the number of "
        "a key code, as a foot pedal sends it",
    )
    key_mode: Literal["hold", "toggle"] = Field(
        "hold", description="hold the key while speaking, or press it before and after"
    )
    key_device: str = Field(
        "", description="input device of the pedal (/dev/input/event5); empty: the terminal's keys"
    )
    microphone: str = Field(
        "", description="part of the microphone's name; empty: the system's default"
    )
    pause: float = Field(0.6, ge=0.2, le=3.0, description="seconds of silence that end a question")
    context: float = Field(
        60.0,
        ge=5.0,
        le=600.0,
        description='seconds after which "and at sixty?" no longer refers to the last question',
    )
    cut_in: bool = Field(True, description="speaking into an answer cuts it short")


class Speaking(_Section):
    """How it answers."""

    voice: Literal["auto", "system", "bundled", "none"] = Field(
        "auto", description="who speaks: auto, system, bundled, or none (screen only)"
    )
    pace: float = Field(1.0, ge=0.5, le=2.0, description="speed of speech; 1 is the usual one")
    loudness: float = Field(
        0.0, ge=-12.0, le=12.0, description="decibels louder or quieter than the voice comes"
    )


class Screen(_Section):
    """The board in a browser (clampcall board --browser)."""

    port: int = Field(8766, ge=1024, le=65535, description="port of the page")
    network: bool = Field(
        False,
        description="true: other computers of the network may open it, with the password, and "
        "give orders; the connection is not encrypted",
    )
    password: str = Field(
        "",
        max_length=200,
        description="asked for before the page is shown; a network needs one of 8 characters or "
        "more. Let nobody else read this file",
    )


class Settings(_Section):
    """The whole file."""

    shop: Shop = Shop()
    listening: Listening = Listening()
    speaking: Speaking = Speaking()
    screen: Screen = Screen()


def settings_path() -> Path:
    """Where the file lies: $CLAMPCALL_CONFIG, or the user's configuration folder."""
    named = os.environ.get(FILE_VARIABLE)
    return Path(named) if named else Path(platformdirs.user_config_dir("clampcall")) / FILE_NAME


def read_settings(path: Path | None = None) -> Settings:
    """The settings in ``path`` (settings_path() if not given); defaults if there is no file.

    Raises SettingsError with the file, the line and the key of every fault; also for a file
    that was asked for by name and is not there.
    """
    asked = path is not None or FILE_VARIABLE in os.environ
    path = path or settings_path()
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        if asked:
            raise SettingsError(f"{path} does not exist: check the name") from None
        return Settings()
    except (OSError, UnicodeDecodeError) as trouble:
        why = getattr(trouble, "strerror", None) or "it is not UTF-8 text"
        raise SettingsError(f"{path} cannot be read: {why}") from None
    return parse_settings(text, str(path))


def parse_settings(text: str, name: str = FILE_NAME) -> Settings:
    """The settings in the text of a file; raises SettingsError."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise SettingsError(f"{name}: not TOML: {trouble}") from None
    try:
        return Settings.model_validate(data, strict=False)
    except ValidationError as trouble:
        lines = [_fault(name, text, error) for error in trouble.errors()]
        raise SettingsError("\n".join(lines)) from None


def _fault(name: str, text: str, error: Any) -> str:
    place = tuple(part for part in error["loc"] if isinstance(part, str))
    line = line_of(text, place)
    where = f"{name}, line {line}" if line else name
    key = ".".join(place)
    if error["type"] == "extra_forbidden":
        return f"{where}: {key} is not a setting; {_known(place)}"
    given = json.dumps(error["input"], default=str)
    return f"{where}: {key} = {given}: {_wanted(place, error)}"


def _known(place: tuple[str, ...]) -> str:
    sections = Settings.model_fields
    if len(place) > 1 and place[0] in sections:
        keys = ", ".join(type(sections[place[0]].default).model_fields)
        return f"[{place[0]}] has {keys}"
    return f"the sections are {', '.join(f'[{section}]' for section in sections)}"


def _wanted(place: tuple[str, ...], error: Any) -> str:
    section = Settings.model_fields.get(place[0])
    if section is not None and len(place) > 1:
        field = type(section.default).model_fields[place[1]]
        values = get_args(field.annotation)
        if values:
            return f"choose one of {', '.join(map(str, values))}"
    message = str(error["msg"])
    return f"{message[:1].lower()}{message[1:]}"


def as_toml(settings: Settings | None = None) -> str:
    """The file as text: every key with what it means above it."""
    settings = settings or Settings()
    lines = [
        "# Settings of clampcall. A line that is left out keeps the value shown here.",
    ]
    for section, field in type(settings).model_fields.items():
        values = getattr(settings, section)
        lines += ["", f"# {type(field.default).__doc__}", f"[{section}]"]
        for key, declared in type(values).model_fields.items():
            lines += [f"# {declared.description}", f"{key} = {_toml(getattr(values, key))}"]
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    """A plain value as TOML writes it; JSON's strings and booleans are TOML's too."""
    return json.dumps(value, ensure_ascii=False)
