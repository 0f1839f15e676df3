"""Fixtures of a shop whose journal lies in the test's folder, with a clock set by hand."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from shop_support import HandClock

from assistant.cli import main
from assistant.products.shelf import load_shelf
from assistant.shop.journal import Journal
from assistant.shop.shop import Shop


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def journal(tmp_path, clock):
    found = Journal(tmp_path / "data", clock, writer="test")
    yield found
    found.close()


@pytest.fixture
def shop(journal) -> Shop:
    return Shop(journal, source="text")


@pytest.fixture(scope="session")
def shelf():
    return load_shelf(Path("no-such-folder"))


@pytest.fixture(scope="session")
def long_open(shelf):
    return shelf.product("long-open", "adhesive")


@pytest.fixture(scope="session")
def filler(shelf):
    return shelf.product("light-filler", "filler")


@pytest.fixture
def clampcall(tmp_path, monkeypatch, capsys):
    """Runs ``clampcall ...`` in this process; exit code, stdout, stderr."""
    monkeypatch.setenv("CLAMPCALL_DATA", str(tmp_path / "data"))

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["clampcall", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return ended.value.code, out, err

    return run
