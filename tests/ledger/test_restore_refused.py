"""A store that holds anything of a record is not restored into, and says so plainly."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import insert

from ringwright.assembly import PROJECTORS, open_ledger
from ringwright.core.errors import Refused
from ringwright.db import Store
from ringwright.ledger.backup import backup, restore
from ringwright.ledger.tables import Refusal


def test_a_store_with_a_refused_try_is_not_restored_into(
    store_url: str, tmp_path: Path
) -> None:
    store = Store(store_url)
    file = tmp_path / "empty.backup"
    backup(store, file)
    tried = {"site_id": 1, "at_us": 1, "operation": "book", "actor": "a", "subject": "P"}
    with store.write(0) as connection:
        connection.execute(insert(Refusal).values(code="refused", why="no", **tried))

    with pytest.raises(Refused, match="empty one"):
        restore(open_ledger(store), file, PROJECTORS)
    store.close()
