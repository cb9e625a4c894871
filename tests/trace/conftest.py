"""The small works, on both stores or on SQLite alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.trace.works import Works, open_works


@pytest.fixture
def works(store_url: str) -> Iterator[Works]:
    """Six plates of two lots through two furnaces; the test runs once on each store."""
    opened = open_works(store_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def sqlite_works(sqlite_url: str) -> Iterator[Works]:
    """The same on SQLite alone, for what does not differ between stores."""
    opened = open_works(sqlite_url)
    yield opened
    opened.ledger.store.close()
