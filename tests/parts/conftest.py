"""A small floor; its rules are the same on both stores, so PostgreSQL is asked less often."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from tests.make.floor import Floor, open_floor


@pytest.fixture(
    params=[
        "sqlite",
        pytest.param("postgres", marks=[pytest.mark.postgres, pytest.mark.slow]),
    ]
)
def new_store_url(request: pytest.FixtureRequest) -> Callable[[], str]:
    """As everywhere; on PostgreSQL only in the full check."""
    make: Callable[[], str] = request.getfixturevalue(f"new_{request.param}_url")
    return make


@pytest.fixture
def floor(store_url: str) -> Iterator[Floor]:
    """A furnished floor; the test runs once on each database."""
    opened = open_floor(store_url)
    yield opened
    opened.ledger.store.close()
