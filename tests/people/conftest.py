"""A shop with people in every role; their browsers, benches, walls and programs."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from tests.make.bench import NOW, Screen, open_bench
from tests.make.people import House


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


@pytest.fixture
def house(sqlite_url: str) -> Iterator[House]:
    """The shop at noon of Thursday 1 October 2026; nobody has an account yet."""
    opened = House(sqlite_url)
    yield opened
    opened.ledger.store.close()
