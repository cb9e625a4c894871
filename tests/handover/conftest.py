"""A small floor whose shifts leave notes; on both stores."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.floor import Floor, open_floor
from tests.parts.conftest import new_store_url

__all__ = ["new_store_url"]


@pytest.fixture
def floor(store_url: str) -> Iterator[Floor]:
    """A furnished floor; the test runs once on each database."""
    opened = open_floor(store_url)
    yield opened
    opened.ledger.store.close()
