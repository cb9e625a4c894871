"""The hall, ready to be loaded."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.furnaces import Hall, open_hall


@pytest.fixture
def bare(store_url: str) -> Iterator[Hall]:
    """A furnace of which nothing is proved yet."""
    hall = open_hall(store_url)
    yield hall
    hall.floor.ledger.store.close()


@pytest.fixture
def hall(bare: Hall) -> Hall:
    """A furnace that may be loaded."""
    bare.ready()
    return bare
