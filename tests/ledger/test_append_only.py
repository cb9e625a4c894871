"""The database itself refuses to change what was recorded, and syncs every booking."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from ringwright.db import Store, StoreUnfit, table_of
from ringwright.ledger.tables import Event
from tests.make.floor import Floor

GUARDED = ("event", "booking_key", "refusal")
CHANGES = (
    "UPDATE {table} SET {column} = {column}",
    "UPDATE {table} SET {column} = 'another'",
    "DELETE FROM {table}",
    "DELETE FROM {table} WHERE {column} IS NOT NULL",
)
COLUMN = {"event": "actor", "booking_key": "operation", "refusal": "why"}


@pytest.fixture
def booked(floor: Floor) -> Floor:
    """A floor with a part, its key, and a refused try."""
    floor.book("create", "A")
    with pytest.raises(Exception, match="exists already"):
        floor.book("create", "A")
    return floor


def contents(store: Store, table: str) -> list[tuple[object, ...]]:
    with store.read() as connection:
        rows = connection.execute(text(f"SELECT * FROM {table}"))
        return sorted((tuple(row) for row in rows), key=repr)


def refused(store: Store, statement: str) -> str:
    """What the database says to a statement that it must not do."""
    with pytest.raises(DBAPIError) as caught, store.write(0) as connection:
        connection.execute(text(statement))
    return str(caught.value.orig)


@pytest.mark.parametrize("table", GUARDED)
@pytest.mark.parametrize("change", CHANGES)
def test_what_was_recorded_cannot_be_updated_or_deleted(
    booked: Floor, table: str, change: str
) -> None:
    store = booked.ledger.store
    before = contents(store, table)
    assert before

    said = refused(store, change.format(table=table, column=COLUMN[table]))

    assert "the record refuses change" in said
    assert contents(store, table) == before


@pytest.mark.parametrize("table", GUARDED)
def test_what_was_recorded_cannot_be_replaced(booked: Floor, table: str) -> None:
    store = booked.ledger.store
    before = contents(store, table)
    if store.is_sqlite:
        statement = f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}"
    else:
        keys = {"event": "site_id, site_seq", "booking_key": "site_id, key", "refusal": "id"}
        name = COLUMN[table]
        statement = (
            f"INSERT INTO {table} SELECT * FROM {table} "
            f"ON CONFLICT ({keys[table]}) DO UPDATE SET {name} = 'another'"
        )

    assert "the record refuses change" in refused(store, statement)
    assert contents(store, table) == before


@pytest.mark.parametrize("table", GUARDED)
def test_what_was_recorded_cannot_be_truncated(booked: Floor, table: str) -> None:
    store = booked.ledger.store
    before = contents(store, table)
    if store.is_sqlite:  # its way to empty a table at once is DELETE without a condition
        said = refused(store, f"DELETE FROM {table}")
    else:
        said = refused(store, f"TRUNCATE {table} CASCADE")

    assert "the record refuses change" in said
    assert contents(store, table) == before


def test_a_second_event_of_one_number_or_one_key_is_refused(booked: Floor) -> None:
    store = booked.ledger.store
    columns = table_of(Event).columns.keys()
    listed = ", ".join(columns)
    for changed, value in (("key", "'fresh'"), ("site_seq", "site_seq + 1000")):
        taken = ", ".join(value if name == changed else name for name in columns)
        said = refused(
            store,
            f"INSERT INTO event ({listed}) SELECT {taken} FROM event WHERE key IS NOT NULL",
        )
        assert "unique" in said.lower()


def test_every_pooled_sqlite_connection_syncs_each_booking(sqlite_url: str) -> None:
    # SQLite, "PRAGMA synchronous": FULL is 2; in WAL mode NORMAL may lose commits.
    store = Store(sqlite_url)
    held = [store.engine.connect() for _ in range(25)]
    try:
        for pragma, wanted in (
            ("synchronous", 2),
            ("foreign_keys", 1),
            ("recursive_triggers", 1),
            ("journal_mode", "wal"),
        ):
            read = {
                connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() for connection in held
            }
            assert read == {wanted}, pragma
    finally:
        for connection in held:
            connection.close()
        store.close()


def test_a_connection_that_comes_back_from_the_pool_still_syncs(sqlite_floor: Floor) -> None:
    store = sqlite_floor.ledger.store
    for number in range(5):
        sqlite_floor.book("create", f"A{number}")
        with store.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2


def test_a_store_that_does_not_sync_is_not_served(sqlite_url: str) -> None:
    store = Store(sqlite_url)
    with store.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")  # a pragma within a transaction does nothing
        connection.exec_driver_sql("PRAGMA synchronous=NORMAL")
        connection.exec_driver_sql("BEGIN")

    with pytest.raises(StoreUnfit, match="synchronous"):
        store.check_durable()
    store.close()


@pytest.mark.postgres
def test_a_postgres_store_without_fsync_of_commits_is_not_served(postgres_url: str) -> None:
    store = Store(postgres_url)
    store.check_durable()
    with store.engine.connect() as connection, connection.begin():
        name = connection.exec_driver_sql("SELECT current_database()").scalar()
        connection.exec_driver_sql(f"ALTER DATABASE {name} SET synchronous_commit = off")
    store.close()

    store = Store(postgres_url)
    with pytest.raises(StoreUnfit, match="synchronous_commit"):
        store.check_durable()
    store.close()


def test_a_read_cannot_write(floor: Floor) -> None:
    with (
        pytest.raises(DBAPIError, match=r"read-only|readonly"),
        floor.ledger.read() as read,
    ):
        read.connection.execute(text("UPDATE ledger_head SET seq = 0"))

    assert floor.book("create", "A")["part"]["place"] == "waiting"


def test_a_store_file_is_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "new" / "store.sqlite"
    store = Store(f"sqlite:///{path}")
    store.close()

    assert path.stat().st_mode & 0o777 == 0o600
