"""All that a store holds, as one digest: what a request must not have changed."""

from __future__ import annotations

import hashlib

from sqlalchemy import MetaData, select

from ringwright.db import Store


def digest_of_store(store: Store) -> str:
    """SHA-256 over every row of every table, as the database itself lists them."""
    found = hashlib.sha256()
    rows = 0
    with store.read() as connection:
        metadata = MetaData()
        metadata.reflect(connection)
        for table in metadata.sorted_tables:
            found.update(table.name.encode())
            for line in sorted(map(repr, connection.execute(select(table)))):
                found.update(line.encode())
                rows += 1
    assert rows > 10, "a store with nothing in it cannot show a change"
    return found.hexdigest()
