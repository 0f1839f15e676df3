"""Helpers of several test files."""

from pathlib import Path

AUDIO = Path(__file__).parent.parent / "audio_fixtures"


def audio_path(entry) -> Path:
    """Where a manifest entry's WAV lies."""
    return AUDIO / entry["file"]
