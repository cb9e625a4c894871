"""Is the record whole, and do the projections say what it says?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, select

from ringwright.core.facts import Entry, Registry
from ringwright.ledger.canonical import GENESIS, link
from ringwright.ledger.projecting import Projector, Row
from ringwright.ledger.tables import Event, LedgerHead
from ringwright.ledger.transaction import ENTRY_COLUMNS, entry_of

CHAINED = (
    Event.site_seq, Event.key, Event.subject_kind, Event.subject, Event.kind, Event.v,
    Event.at_us, Event.recorded_at_us, Event.known_at_us, Event.zone, Event.actor,
    Event.approver, Event.station, Event.corrects, Event.payload, Event.prev_hash, Event.hash,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """The first thing found wrong, as a sentence."""

    site: str
    why: str


def audit(connection: Connection) -> tuple[int, Fault | None]:
    """(events verified, first fault): numbers without gaps, every hash, the head of each site."""
    verified = 0
    heads = connection.execute(select(LedgerHead).order_by(LedgerHead.site_id)).all()
    for head in heads:
        count, fault = _audit_site(connection, head)
        verified += count
        if fault is not None:
            return verified, fault
    known = {head.site_id for head in heads}
    strays = connection.execute(select(Event.site_id).distinct()).scalars()
    for site_id in strays:
        if site_id not in known:
            return verified, Fault(site=str(site_id), why="events of a site that has no head")
    return verified, None


def _audit_site(connection: Connection, head: Any) -> tuple[int, Fault | None]:
    previous, expected = GENESIS, 1
    query = select(*CHAINED).where(Event.site_id == head.site_id).order_by(Event.site_seq)
    for *columns, prev_hash, own_hash in connection.execute(
        query.execution_options(yield_per=5000)
    ):
        seq = columns[0]
        if seq != expected:
            return expected - 1, Fault(
                site=head.code, why=f"event {expected} is missing: the next one there is {seq}"
            )
        if bytes(prev_hash) != previous or bytes(own_hash) != link(previous, tuple(columns)):
            return expected - 1, Fault(
                site=head.code, why=f"event {seq} is not as it was recorded: its hash differs"
            )
        previous, expected = bytes(own_hash), expected + 1
    if expected - 1 != head.seq or previous != bytes(head.hash):
        return expected - 1, Fault(
            site=head.code,
            why=f"event {expected} is missing: the head says {head.seq} events were recorded",
        )
    return expected - 1, None


def replay(
    connection: Connection, registry: Registry, projectors: tuple[Projector, ...]
) -> tuple[int, Fault | None]:
    """(events folded, first difference): all projections computed anew beside the live ones."""
    folded = 0
    for head in connection.execute(select(LedgerHead).order_by(LedgerHead.site_id)).all():
        for projector in projectors:
            count, why = _replay_kind(connection, registry, head.site_id, projector)
            folded += count
            if why is not None:
                return folded, Fault(site=head.code, why=why)
    return folded, None


def subjects(
    connection: Connection, registry: Registry, site_id: int, subject_kind: str
) -> Iterator[tuple[str, list[Entry]]]:
    """Each subject of a kind with its facts in recorded order, by subject."""
    query = (
        select(*ENTRY_COLUMNS)
        .where(Event.site_id == site_id, Event.subject_kind == subject_kind)
        .order_by(Event.subject, Event.site_seq)
        .execution_options(yield_per=5000)
    )
    subject, entries = None, []
    for row in connection.execute(query):
        if row[0] != subject:
            if subject is not None:
                yield subject, entries
            subject, entries = row[0], []
        entries.append(entry_of(registry, subject_kind, row))
    if subject is not None:
        yield subject, entries


def _replay_kind(
    connection: Connection, registry: Registry, site_id: int, projector: Projector
) -> tuple[int, str | None]:
    live = {table.name: _live_rows(connection, table, site_id) for table in projector.tables}
    lens, folded = projector.lens(connection, site_id), 0
    for subject, entries in subjects(connection, registry, site_id, projector.subject_kind):
        folded += len(entries)
        rows = projector.rows(site_id, subject, entries, lens)
        for table in projector.tables:
            why = _difference(table, subject, rows.get(table.name, []), live[table.name])
            if why is not None:
                return folded, why
    for name, rest in live.items():
        if rest:
            subject = next(iter(rest))
            return folded, f"{name} has rows of {subject} that the ledger does not explain"
    return folded, None


def _live_rows(connection: Connection, table: Table, site_id: int) -> dict[str, set[Row]]:
    found: dict[str, set[Row]] = {}
    query = select(table).where(table.c.site_id == site_id)
    for row in connection.execute(query.execution_options(yield_per=5000)):
        found.setdefault(row[1], set()).add(tuple(row))
    return found


def _difference(
    table: Table, subject: str, rows: list[Row], live: dict[str, set[Row]]
) -> str | None:
    there = live.pop(subject, set())
    wanted = set(rows)
    if there == wanted:
        return None
    names = table.columns.keys()
    for row in sorted(wanted - there, key=str)[:1]:
        rest = dict(zip(names, row, strict=True))
        return f"{table.name} of {subject} lacks or differs from the row of the ledger: {rest}"
    rest = dict(zip(names, sorted(there - wanted, key=str)[0], strict=True))
    return f"{table.name} of {subject} has a row that the ledger does not explain: {rest}"
