"""Write a site's projections anew from its record, when their form has changed or on demand."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from sqlalchemy import Connection, delete, insert, select

from ringwright.core.facts import Entry, Registry
from ringwright.db import Store
from ringwright.ledger.projecting import Projecting, Projector
from ringwright.ledger.tables import FORM, LedgerHead, ProjectionState
from ringwright.ledger.verify import Span, spans, subjects

BATCH = 500
"""Subjects folded before their rows are written."""


def stale_sites(connection: Connection) -> list[int]:
    """Sites whose projections have another form than this program writes."""
    state = ProjectionState
    query = (
        select(LedgerHead.site_id)
        .outerjoin(state, state.site_id == LedgerHead.site_id)
        .where((state.form.is_(None)) | (state.form != FORM))
        .order_by(LedgerHead.site_id)
    )
    return list(connection.execute(query).scalars())


def rebuild_stale(
    store: Store, registry: Registry, projecting: Projecting, say: Callable[[str], None]
) -> int:
    """Rebuild what has an old form, one transaction a site; the number of events folded."""
    with store.read() as connection:
        stale = stale_sites(connection)
    return sum(_rebuild_site(store, site_id, registry, projecting, say) for site_id in stale)


def rebuild(
    store: Store, registry: Registry, projecting: Projecting, say: Callable[[str], None]
) -> int:
    """Rebuild the projections of all sites; the number of events folded."""
    with store.read() as connection:
        sites = list(connection.execute(select(LedgerHead.site_id)).scalars())
    for site_id in sites:
        with store.write(site_id) as connection:
            _mark(connection, site_id, None)
    return rebuild_stale(store, registry, projecting, say)


def _rebuild_site(
    store: Store,
    site_id: int,
    registry: Registry,
    projecting: Projecting,
    say: Callable[[str], None],
) -> int:
    with store.write(site_id) as connection:
        if site_id not in stale_sites(connection):
            return 0  # another process was quicker
        for projector in projecting.by_kind.values():
            for table in projector.tables:
                connection.execute(delete(table).where(table.c.site_id == site_id))
        projectors = tuple(projecting.by_kind.values())
        folded = write_anew(connection, registry, projectors, site_id)
    if folded > BATCH:
        say(f"Rebuilt what is shown from {folded:,} entries.")
    return folded


def write_anew(
    connection: Connection,
    registry: Registry,
    projectors: Sequence[Projector],
    site_id: int | None = None,
) -> int:
    """Fill empty projections from the record, of one site or all; the events folded."""
    projecting, folded = Projecting(projectors), 0
    sites = {site_id} if site_id is not None else set(stale_sites(connection))
    with _without_collector():
        for span in spans(connection, projectors, 1):
            if span.site_id in sites:
                folded += _write_span(connection, registry, projecting, span)
    for site in sites:
        _mark(connection, site, FORM)
    return folded


def _write_span(
    connection: Connection, registry: Registry, projecting: Projecting, span: Span
) -> int:
    folded = 0
    batch: dict[str, list[Entry]] = {}

    def write() -> None:
        projecting.refresh(
            connection, span.site_id, span.subject_kind, dict(batch), new=frozenset(batch)
        )
        batch.clear()

    for subject, entries in subjects(connection, registry, span):
        batch[subject] = entries
        folded += len(entries)
        if len(batch) >= BATCH:
            write()
    write()
    return folded


def _mark(connection: Connection, site_id: int, form: int | None) -> None:
    state = ProjectionState
    connection.execute(delete(state).where(state.site_id == site_id))
    if form is not None:
        connection.execute(insert(state).values(site_id=site_id, form=form))


@contextmanager
def _without_collector() -> Iterator[None]:
    """Nothing here is cyclic; letting the collector look through it costs a third."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
