"""Gauges on a small floor, whose chord is read with one; on both stores."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.floor import open_floor
from tests.make.gauges import GaugeRoom, open_with_gauges
from tests.parts.conftest import new_store_url

__all__ = ["new_store_url"]


@pytest.fixture
def room(store_url: str) -> Iterator[GaugeRoom]:
    """The floor; its route names no kind of gauge for the chord."""
    opened = open_floor(store_url)
    yield GaugeRoom(opened)
    opened.ledger.store.close()


@pytest.fixture
def guarded(store_url: str) -> Iterator[GaugeRoom]:
    """The chord is read with a cmm and decided with a guard band; CMM-1 stands ready."""
    opened = open_with_gauges(store_url)
    yield opened
    opened.floor.ledger.store.close()
