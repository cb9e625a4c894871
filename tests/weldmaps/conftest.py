"""A shop with a weld plan."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.welds import WeldShop, open_weld_shop


@pytest.fixture
def shop(store_url: str) -> Iterator[WeldShop]:
    """Its parts are yet to come."""
    shop = open_weld_shop(store_url)
    yield shop
    shop.floor.ledger.store.close()
