"""The demonstration cards that tests of the shop use besides those of shop_fixtures.py."""

from __future__ import annotations

import pytest


@pytest.fixture(scope="session")
def fast(shelf):
    return shelf.product("fast", "adhesive")
