"""A small floor on each of the two stores."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.floor import Floor, open_floor


@pytest.fixture
def floor(store_url: str) -> Iterator[Floor]:
    """A furnished floor; the test runs once on each database."""
    opened = open_floor(store_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def sqlite_floor(sqlite_url: str) -> Iterator[Floor]:
    """A furnished floor on SQLite alone, for what does not differ between stores."""
    opened = open_floor(sqlite_url)
    yield opened
    opened.ledger.store.close()
