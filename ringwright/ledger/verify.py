"""Is the record whole, and do the projections say what it says?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, Table, and_, func, select, true

from ringwright.core.facts import Entry, Registry
from ringwright.ledger.canonical import genesis, link
from ringwright.ledger.projecting import Projector, Row
from ringwright.ledger.tables import Event, LedgerHead
from ringwright.ledger.transaction import ENTRY_COLUMNS, entry_of

CHAINED = (
    Event.site_seq,
    Event.key,
    Event.subject_kind,
    Event.subject,
    Event.kind,
    Event.v,
    Event.at_us,
    Event.recorded_at_us,
    Event.known_at_us,
    Event.zone,
    Event.actor,
    Event.approver,
    Event.station,
    Event.corrects,
    Event.payload,
    Event.prev_hash,
    Event.hash,
)


PRACTICE_KIND = "practice"
"""Kind of subject of the fact that every practice site's record begins with, and no other's."""
BATCH = 5000
SMALL = 20_000
"""Fewer events than this are not worth parting."""
NOTHING: list[Row] = []


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """The first thing found wrong, as a sentence."""

    site: str
    why: str


def audit(connection: Connection) -> tuple[int, Fault | None]:
    """(events verified, first fault): numbers without gaps, every hash, each site's head."""
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
    previous, expected = genesis(head.practice_of), 1
    query = select(*CHAINED).where(Event.site_id == head.site_id).order_by(Event.site_seq)
    with _any_bytes(connection):
        for *columns, prev_hash, own_hash in fetched(connection, query):
            why = _broken(tuple(columns), expected, previous, (prev_hash, own_hash))
            why = why or _of_another_kind(head, columns)
            if why is not None:
                return expected - 1, Fault(site=head.code, why=why)
            previous, expected = bytes(own_hash), expected + 1
    if expected - 1 != head.seq or previous != bytes(head.hash):
        return expected - 1, Fault(
            site=head.code,
            why=f"event {expected} is missing: the head says {head.seq} events were recorded",
        )
    return expected - 1, None


def _broken(
    columns: tuple[Any, ...], expected: int, previous: bytes, hashes: tuple[Any, Any]
) -> str | None:
    """What is wrong with an event in its place, if anything."""
    seq = columns[0]
    if seq != expected:
        return f"event {expected} is missing: the next one there is {seq}"
    if bytes(hashes[0]) != previous or bytes(hashes[1]) != link(previous, columns):
        return f"event {seq} is not as it was recorded: its hash differs"
    return None


def _of_another_kind(head: Any, columns: Sequence[Any]) -> str | None:
    """Whether the first event says what the head says: a practice site, or a real one."""
    seq, _key, subject_kind, *_rest = columns
    if seq != 1 or (subject_kind == PRACTICE_KIND) == (head.practice_of is not None):
        return None
    told = "is a real record's" if head.practice_of else "is a practice record's"
    return f"event 1 {told}, the head says otherwise"


@contextmanager
def _any_bytes(connection: Connection) -> Iterator[None]:
    """Read text that is no text too: SQLite would stop at it without naming the event."""
    if connection.dialect.name != "sqlite":
        yield
        return
    driver: Any = connection.connection.driver_connection
    driver.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    try:
        yield
    finally:
        driver.text_factory = str


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Subjects of one kind from `low` up to, not including, `high`; None is unbounded."""

    site_id: int
    subject_kind: str
    low: str | None = None
    high: str | None = None

    def holds(self, column: Any) -> ColumnElement[bool]:
        """The condition that a subject column lies within."""
        condition: ColumnElement[bool] = true()
        if self.low is not None:
            condition = and_(condition, column >= self.low)
        if self.high is not None:
            condition = and_(condition, column < self.high)
        return condition


def spans(connection: Connection, projectors: Sequence[Projector], pieces: int) -> list[Span]:
    """The whole store as spans of about as many events each, route cards before parts."""
    found = []
    sites = connection.execute(
        select(LedgerHead.site_id).order_by(LedgerHead.site_id)
    ).scalars()
    for site_id in sites.all():
        for projector in projectors:
            kind = projector.subject_kind
            bounds: list[str | None] = [None, *_bounds(connection, site_id, kind, pieces), None]
            for low, high in pairwise(bounds):
                span = Span(site_id=site_id, subject_kind=kind, low=low, high=high)
                found.append(span)
    return found


def _bounds(connection: Connection, site_id: int, kind: str, pieces: int) -> list[str]:
    here = and_(Event.site_id == site_id, Event.subject_kind == kind)
    events = connection.execute(select(func.count()).where(here)).scalar() or 0
    if events < SMALL:
        return []
    query = select(Event.subject).where(here).order_by(Event.subject, Event.site_seq).limit(1)
    places = [events * piece // pieces for piece in range(1, pieces)]
    cuts = [connection.execute(query.offset(place)).scalar_one() for place in places]
    return sorted(set(cuts))


def subjects(
    connection: Connection, registry: Registry, span: Span
) -> Iterator[tuple[str, list[Entry]]]:
    """Each subject of a span with its facts in recorded order, by subject."""
    query = (
        select(*ENTRY_COLUMNS)
        .where(
            Event.site_id == span.site_id,
            Event.subject_kind == span.subject_kind,
            span.holds(Event.subject),
        )
        .order_by(Event.subject, Event.site_seq)
    )
    subject: str | None = None
    entries: list[Entry] = []
    for row in fetched(connection, query):
        if row[0] != subject:
            if subject is not None:
                yield subject, entries
            subject, entries = row[0], []
        entries.append(entry_of(registry, span.subject_kind, row))
    if subject is not None:
        yield subject, entries


def fetched(connection: Connection, query: Select[*tuple[Any, ...]]) -> Iterator[Any]:
    """Rows of a long query as plain tuples, a batch at a time."""
    with closing(connection.execute(query.execution_options(yield_per=BATCH))) as result:
        for batch in result.partitions():
            for row in batch:
                yield row._data  # the plain tuple: a million are too many for named ones


def replay_span(
    connection: Connection, registry: Registry, projector: Projector, span: Span
) -> tuple[int, str | None]:
    """(events folded, first difference): a span's rows computed anew beside the live ones."""
    live = {table.name: _live_rows(connection, table, span) for table in projector.tables}
    lens, folded = projector.lens(connection, span.site_id), 0
    for subject, entries in subjects(connection, registry, span):
        folded += len(entries)
        rows = projector.rows(span.site_id, subject, entries, lens)
        for table in projector.tables:
            there = live[table.name].pop(subject, NOTHING)
            wanted = rows.get(table.name, NOTHING)
            # Mostly they stand in the same order, and comparing lists is cheaper than sets.
            if there != wanted and not _same(there, wanted):
                return folded, _difference(table, subject, set(wanted), set(there))
    for name, rest in live.items():
        if rest:
            subject = next(iter(rest))
            return folded, f"{name} has rows of {subject} that the ledger does not explain"
    return folded, None


def _same(there: list[Row], wanted: list[Row]) -> bool:
    return len(there) == len(wanted) and set(there) == set(wanted)


def _live_rows(connection: Connection, table: Table, span: Span) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    query = select(table).where(table.c.site_id == span.site_id, span.holds(table.columns[1]))
    for row in fetched(connection, query):
        found.setdefault(row[1], []).append(row)
    return found


def _difference(table: Table, subject: str, wanted: set[Row], there: set[Row]) -> str:
    names = table.columns.keys()
    for row in sorted(wanted - there, key=str)[:1]:
        rest = dict(zip(names, row, strict=True))
        return f"{table.name} of {subject} lacks or differs from the row of the ledger: {rest}"
    if not there - wanted:
        return f"{table.name} of {subject} has a row twice"
    rest = dict(zip(names, sorted(there - wanted, key=str)[0], strict=True))
    return f"{table.name} of {subject} has a row that the ledger does not explain: {rest}"
