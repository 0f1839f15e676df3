"""What the tests of rehearsal share: the cards, a bench that answers questions once."""

from functools import cache
from pathlib import Path

import pytest

from assistant.rehearsal.library import load_library


@pytest.fixture(scope="session")
def library():
    return load_library(Path("no-such-folder"))


@pytest.fixture(scope="session")
def ask(bench):
    """A question to the bench -> the figures of its answer."""

    @cache
    def figures(question):
        outcome = bench.exchange(bench.read(question))
        return outcome.answer.figures if outcome.answer else {}

    return figures
