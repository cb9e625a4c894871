"""Cells for tests of the floor, on one store or on both."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.floor.cell import Cell, open_cell


@pytest.fixture
def cell(store_url: str) -> Iterator[Cell]:
    """A furnished cell; the test runs once on each database."""
    opened = open_cell(store_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def one_cell(sqlite_url: str) -> Iterator[Cell]:
    """A furnished cell on SQLite alone, for what does not differ between stores."""
    opened = open_cell(sqlite_url)
    yield opened
    opened.ledger.store.close()
