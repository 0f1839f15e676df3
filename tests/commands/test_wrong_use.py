"""Wrong use and odd circumstances: one line that says what to do, the documented exit code."""

import subprocess
import sys
from pathlib import Path

import pytest

from assistant.checks import _journal
from assistant.shop.journal import READ_ONLY, Journal

NO_TEXT = "bo\udcffoth"
"""As Python hands over an argument whose bytes are no UTF-8."""


@pytest.mark.parametrize("group", [(), ("bays",), ("record",), ("products",)])
def test_without_a_command_the_page_of_commands_is_readable(clampcall, group):
    code, out, err = clampcall(*group)
    assert code == 2 and err == "no command was named: the page above has them\n"
    lines = out.splitlines()
    assert lines[0].startswith("Usage: ") and "Commands:" in lines and len(lines) > 6


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("bays", "start", "zwei", "-t", "62F"), "'BAY': give a number. Try: "),
        (("measure", "--snr", "loud"), "'--snr': give a number. Try:"),
        (("record", "amend", "x", "--humidity", "150"), "it must be less than or equal to 100."),
        (("ask", "x", "--units", "cubits"), "'cubits' is not one of 'us', 'metric'. Try:"),
        (("bays", "timer", "10 min", "6", "--name", NO_TEXT), "is no text in UTF-8"),
        (("record", "amend", "bay 2", "--note", NO_TEXT), "no text in UTF-8"),
        (("record", "amend", "bay 2", "--note", "n" * 3000), "up to 2000 characters"),
        (("record", "amend", "bay 2", "--coupon", "passed", "--button", "500"), "it must be less"),
        (("ask", "bay two is clamped", "--save", "a.wav", "--voice", "none"), "--save and --voice"),
        (("hear", "a.wav", "--save", "b.wav", "--voice", "none"), "--save and --voice none"),
        (("hear", "a.wav", "--grammar", "b.jsgf", "--voice", "auto"), "--voice needs an answer"),
    ],
)
def test_one_line_in_words_for_a_person(clampcall, arguments, says):
    code, out, err = clampcall(*arguments)
    assert (code, out) == (2, "") and says in err and err.count("\n") == 1
    assert "Input should" not in err and "Value error" not in err and "inside" not in err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a file that is always full")
def test_output_that_cannot_be_written_is_told():
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "assistant", "products", "show", "fast", "--json"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.returncode == 2 and "was not written to its end" in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_journal_that_may_only_be_read_can_be_whole(clampcall, monkeypatch):
    """A backup, for example: verifying it told "may only be read" as if that were a change."""
    assert clampcall("bays", "start", 2, "-t", "62F")[0] == 0
    monkeypatch.setattr(Journal, "take_notices", lambda self: (f"{self.folder} {READ_ONLY}",))
    code, out, err = clampcall("record", "verify")
    assert code == 0 and out.startswith("Whole: 1 events") and READ_ONLY in err


def test_the_checkup_does_not_promise_a_journal_where_there_can_be_none(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path / "file" / "data"))
    found = _journal()
    assert not found.ok and str(tmp_path / "file") in found.note
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path / "new" / "data"))
    assert _journal().ok
