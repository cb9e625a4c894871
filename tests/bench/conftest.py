"""The Bench of a small shop, asked as a browser without scripts would."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.bench import Screen, open_bench


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """Bench 4 with an inspector; V-1, V-2 and V-3 wait for their inspection."""
    ledger = open_bench(sqlite_url)
    yield Screen(sqlite_url, ledger)
    ledger.store.close()
