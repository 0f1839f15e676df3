"""The recitations that several tests read."""

import tomllib
from pathlib import Path

HERE = Path(__file__).parent / "rehearsal"


def recitations(name="recitations"):
    """The recitations of a file of tests/rehearsal."""
    return tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))["recitation"]
