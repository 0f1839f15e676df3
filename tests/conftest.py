"""Shared fixtures: one bench, one speech model and the spoken files for the whole run."""

import json
import multiprocessing.util
import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

from assistant.bench import Bench
from assistant.products.shelf import FOLDER_VARIABLE
from assistant.shop.journal import FOLDER_VARIABLE as DATA_VARIABLE

# Speed is measured by clampcall measure, not by tests that share a busy machine.
settings.register_profile("clampcall", deadline=None)
settings.load_profile("clampcall")

pytest_plugins = ["shop_fixtures"]

MOST_WORKERS = 8
"""Each holds the models: some 700 MB."""


def pytest_xdist_auto_num_workers(config):
    """The whole run is spread over the processors. A part of it, one whose output is looked at, and
    the long tests, some of which measure, run in one process."""
    whole = config.args == config.getini("testpaths")
    usual = config.option.markexpr in config.getini("addopts")
    if not (whole and usual) or config.option.capture == "no":
        return 0
    return min(MOST_WORKERS, os.cpu_count() or 1)


ROOT = Path(__file__).parent.parent
AUDIO = ROOT / "audio_fixtures"


@pytest.fixture(scope="session", autouse=True)
def _no_shop_cards(tmp_path_factory):
    """The tests must neither read the cards nor touch the journal of whoever runs them."""
    patch = pytest.MonkeyPatch()
    patch.setenv(FOLDER_VARIABLE, str(tmp_path_factory.mktemp("no-cards")))
    patch.setenv(DATA_VARIABLE, str(tmp_path_factory.mktemp("no-journal")))
    patch.delenv("CLAMPCALL_UNITS", raising=False)
    multiprocessing.util.get_temp_dir()  # made now: it is removed after the folder below
    with tempfile.TemporaryDirectory(prefix="clampcall-tests-") as folder:
        # the programs of a machine take turns to speak, by a file in its folder of temporary ones
        Path(folder).chmod(0o1777)  # as that one is: other users write there too
        patch.setenv("TMPDIR", folder)
        patch.setattr(tempfile, "tempdir", None)
        yield
        patch.undo()


@pytest.fixture(scope="session")
def bench(_no_shop_cards):
    """A US bench with the demonstration cards and the real recogniser."""
    return Bench()


@pytest.fixture(scope="session")
def spoken_files():
    """The manifest of the committed recordings."""
    data = json.loads((AUDIO / "manifest.json").read_text(encoding="utf-8"))
    return data["files"] if isinstance(data, dict) else data
