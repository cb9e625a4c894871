"""Backup and restore: the record in one file that fits either store.

The file is a SQLite database with the ledger, its keys with their answers, the audit of
refusals, the tokens, the names kept beside the record, and the heads. It is written from one
snapshot, so it is consistent while the store is being booked into, and readable without this
program. Copying the store's own file instead is wrong: it can miss what is still in the
write-ahead log.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, LargeBinary, Table, func, select

from ringwright.core.errors import Missing, Refused
from ringwright.db import Base, Store, table_of
from ringwright.ledger.projecting import Projector, bulk_insert
from ringwright.ledger.rebuild import write_anew
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import BookingKey, Event, LedgerHead, Refusal
from ringwright.ledger.verify import Fault, audit

MARK = 0x52574231
"""SQLite application id of a backup file."""
LEDGER_TABLES = tuple(map(table_of, (LedgerHead, Event, BookingKey, Refusal)))
BATCH = 5000


def backup(store: Store, path: Path, more: Sequence[Table] = ()) -> int:
    """Write the record to a file and answer how many events it holds.

    The file appears whole or not at all: it is written beside and renamed when it is on disk.
    """
    partial = path.with_name(path.name + ".part")
    partial.unlink(missing_ok=True)
    with store.read() as connection, closing(sqlite3.connect(partial)) as file:
        file.execute("PRAGMA journal_mode=OFF")
        file.execute(f"PRAGMA application_id={MARK}")
        for table in (*LEDGER_TABLES, *more):
            _write_table(connection, file, table)
        file.commit()
        events = int(file.execute("SELECT count(*) FROM event").fetchone()[0])
    with partial.open("rb+") as written:
        os.fsync(written.fileno())
    partial.chmod(0o600)
    partial.replace(path)
    return events


def _write_table(connection: Connection, file: sqlite3.Connection, table: Table) -> None:
    names = table.columns.keys()
    file.execute(f"CREATE TABLE {table.name} ({', '.join(names)})")
    marks = ", ".join("?" * len(names))
    query = select(table).execution_options(yield_per=BATCH)
    for rows in connection.execute(query).partitions():
        file.executemany(
            f"INSERT INTO {table.name} VALUES ({marks})",  # noqa: S608
            [tuple(row) for row in rows],
        )


def restore(
    ledger: Ledger,
    path: Path,
    projectors: Sequence[Projector],
    more: Sequence[Table] = (),
    check: Callable[[Connection], Fault | None] = lambda _connection: None,
) -> int:
    """Fill an empty store from a backup file, check the chain, build the projections.

    Raises Missing for no such file, Refused for a file that is no backup, a store that holds
    events or refusals already, a chain that does not verify, or what `check` finds amiss; then
    the store is as it was.
    """
    if not path.is_file():
        raise Missing(f"there is no file {path}")
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as file:
        _check_file(file, path)
        with ledger.store.write(0) as connection:
            if any(_holds(connection, model) for model in (Event, Refusal)):
                raise Refused("the store holds a record already; restore into an empty one")
            for table in reversed((*LEDGER_TABLES, *more)):
                connection.execute(table.delete())
            # A backup of an older program lacks what came later; the record is always there.
            kept = [table for table in more if _has_table(file, table)]
            for table in (*LEDGER_TABLES, *kept):
                for rows in _read_table(file, table):
                    bulk_insert(connection, table, rows)
            events, fault = audit(connection)
            fault = fault or check(connection)
            if fault is not None:
                raise Refused(f"{path.name} is damaged: {fault.why}; nothing was restored")
            write_anew(connection, ledger.registry, projectors)
    return events


def _holds(connection: Connection, model: type[Base]) -> bool:
    query = select(func.count()).select_from(model)
    return bool(connection.execute(query).scalar())


def _check_file(file: sqlite3.Connection, path: Path) -> None:
    try:
        mark = file.execute("PRAGMA application_id").fetchone()[0]
        sound = file.execute("PRAGMA quick_check").fetchone()[0]
    except sqlite3.DatabaseError:
        mark, sound = 0, ""
    if mark != MARK or sound != "ok":
        raise Refused(f"{path.name} is no backup, or a damaged one; nothing was restored")


def _has_table(file: sqlite3.Connection, table: Table) -> bool:
    query = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?"
    return file.execute(query, (table.name,)).fetchone() is not None


def _read_table(file: sqlite3.Connection, table: Table) -> Iterator[list[tuple[Any, ...]]]:
    there = {row[1] for row in file.execute(f"PRAGMA table_info({table.name})")}
    # An older program's file lacks a newer column; what it did not know was nothing.
    names = ", ".join(name if name in there else "NULL" for name in table.columns.keys())  # noqa: SIM118
    cursor = file.execute(f"SELECT {names} FROM {table.name}")  # noqa: S608
    binary = [isinstance(column.type, LargeBinary) for column in table.columns]
    while rows := cursor.fetchmany(BATCH):
        yield [
            tuple(
                bytes(value) if is_binary and value is not None else value
                for value, is_binary in zip(row, binary, strict=True)
            )
            for row in rows
        ]
