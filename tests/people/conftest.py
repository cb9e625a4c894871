"""A shop with people in every role; their browsers, benches, walls and programs."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.people import House


@pytest.fixture
def house(sqlite_url: str) -> Iterator[House]:
    """The shop at noon of Thursday 1 October 2026; nobody has an account yet."""
    opened = House(sqlite_url)
    yield opened
    opened.ledger.store.close()
