"""A shop with people in every role, asked as a browser would."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from tests.make.bench import NOW, Screen, open_bench


@pytest.fixture
def clock() -> FixedClock:
    """A clock to set."""
    return FixedClock(parse_instant(NOW))


@pytest.fixture
def screen(sqlite_url: str, clock: FixedClock) -> Iterator[Screen]:
    """One screen in the shop."""
    ledger = open_bench(sqlite_url, clock)
    yield Screen(sqlite_url, ledger)
    ledger.store.close()
