"""Projections: tables computed from the facts of one subject, and how they are kept true.

A projector turns all facts of one subject into the rows it should have. Live, the difference to
the rows that are there is written in the booking's own transaction; a replay computes the same
rows again and compares. One pure function serves both, so they cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from sqlalchemy import Connection, Table, delete, insert, select, tuple_

from ringwright.core.facts import Entry

Row = tuple[Any, ...]
Rows = dict[str, list[Row]]
"""Table name to rows; a row holds all columns in the table's order, site first."""


class Projector(Protocol):
    """Turns the facts of subjects of one kind into rows."""

    subject_kind: str
    tables: tuple[Table, ...]
    """Each has `site_id` first and the subject in its second column."""

    def lens(self, connection: Connection, site_id: int) -> Any:
        """What the rows also depend on (facts of other subjects that never change)."""

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """All rows of the subject, from its facts in recorded order."""


class Plain:
    """A projector whose rows depend on the subject's own facts alone."""

    def lens(self, connection: Connection, site_id: int) -> Any:
        """Nothing else is needed."""
        del connection, site_id


class Projecting:
    """The projectors of an installation, by subject kind."""

    def __init__(self, projectors: Sequence[Projector]) -> None:
        self.by_kind = {projector.subject_kind: projector for projector in projectors}

    def refresh(
        self,
        connection: Connection,
        site_id: int,
        subject_kind: str,
        subjects: dict[str, Sequence[Entry]],
        *,
        new: frozenset[str] = frozenset(),
    ) -> None:
        """Write what changed for these subjects; `new` ones are known to have no rows yet."""
        projector = self.by_kind.get(subject_kind)
        if projector is None:
            return
        lens = projector.lens(connection, site_id)
        wanted: Rows = {table.name: [] for table in projector.tables}
        fresh: Rows = {table.name: [] for table in projector.tables}
        for subject, entries in subjects.items():
            target = fresh if subject in new else wanted
            for name, rows in projector.rows(site_id, subject, entries, lens).items():
                target[name].extend(rows)
        known = [subject for subject in subjects if subject not in new]
        for table in projector.tables:
            write_difference(connection, table, site_id, known, wanted[table.name])
            bulk_insert(connection, table, fresh[table.name])


def write_difference(
    connection: Connection, table: Table, site_id: int, subjects: list[str], rows: list[Row]
) -> None:
    """Make the table's rows of these subjects equal to `rows`, touching only what differs."""
    if not subjects:
        return
    subject = table.columns[1]
    there: set[Row] = set()
    for start in range(0, len(subjects), 500):
        chunk = subjects[start : start + 500]
        query = select(table).where(table.c.site_id == site_id, subject.in_(chunk))
        there.update(tuple(row) for row in connection.execute(query))
    wanted = set(rows)
    key = list(table.primary_key.columns)
    places = [table.columns.keys().index(column.name) for column in key]
    gone = [tuple(row[place] for place in places) for row in there - wanted]
    for start in range(0, len(gone), 200):
        connection.execute(delete(table).where(tuple_(*key).in_(gone[start : start + 200])))
    bulk_insert(connection, table, [row for row in rows if row not in there])


def bulk_insert(connection: Connection, table: Table, rows: list[Row]) -> None:
    """Insert rows given in column order, the quickest way the driver has."""
    if not rows:
        return
    names = table.columns.keys()
    if connection.dialect.name == "sqlite":
        marks, listed = ", ".join("?" * len(names)), ", ".join(names)
        statement = f"INSERT INTO {table.name} ({listed}) VALUES ({marks})"  # noqa: S608
        connection.exec_driver_sql(statement, rows)
    elif len(rows) < 50:
        connection.execute(insert(table), [dict(zip(names, row, strict=True)) for row in rows])
    else:
        driver = connection.connection.driver_connection
        assert driver is not None
        listed = ", ".join(f'"{name}"' for name in names)
        statement = f'COPY "{table.name}" ({listed}) FROM STDIN'
        with driver.cursor() as cursor, cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row(row)
