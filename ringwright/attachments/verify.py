"""Is everything that the record names still kept, and as it was?"""

from __future__ import annotations

import json
from collections.abc import Iterator

from sqlalchemy import Connection, LargeBinary, Table, cast, or_, select

from ringwright.attachments.content import digest_of
from ringwright.attachments.tables import Attachment
from ringwright.db import table_of
from ringwright.ledger.tables import Event, LedgerHead
from ringwright.ledger.verify import Fault, fetched

NAMED_IN = ("digest", "recording")
"""Particulars of facts that name an attachment."""


def kept_tables() -> list[Table]:
    """What a backup holds of this room."""
    return [table_of(Attachment)]


def verify_attachments(connection: Connection) -> tuple[int, Fault | None]:
    """(attachments verified, first fault): each digest anew, and each that a fact names."""
    sites = {row.site_id: row.code for row in connection.execute(select(LedgerHead))}
    verified, whole = 0, set()
    query = select(Attachment.site_id, Attachment.digest).order_by(
        Attachment.site_id, Attachment.digest
    )
    # One at a time: a year's photos do not fit into memory.
    for site_id, digest in connection.execute(query).all():
        if digest_of(_content(connection, site_id, digest)) != digest:
            why = f"attachment {digest} is not as it was kept: its digest differs"
            return verified, Fault(site=sites.get(site_id, str(site_id)), why=why)
        whole.add((site_id, digest))
        verified += 1
    for site_id, seq, digest in _named(connection):
        if (site_id, digest) not in whole:
            why = f"attachment {digest} of event {seq} is missing"
            return verified, Fault(site=sites.get(site_id, str(site_id)), why=why)
    return verified, None


def _content(connection: Connection, site_id: int, digest: str) -> bytes:
    # Cast: what was changed behind the program's back need not be bytes any more.
    query = select(cast(Attachment.content, LargeBinary)).where(
        Attachment.site_id == site_id, Attachment.digest == digest
    )
    return bytes(connection.execute(query).scalar_one())


def _named(connection: Connection) -> Iterator[tuple[int, int, str]]:
    """(site, event, digest) of every attachment that a fact of a part or wall names."""
    query = (
        select(Event.site_id, Event.site_seq, Event.payload)
        .where(
            or_(
                Event.kind.in_(("attach", "wall-read")),
                (Event.kind == "measure") & Event.payload.like('%"recording":"%'),
            ),
            Event.subject_kind.in_(("part", "wall")),
        )
        .order_by(Event.site_id, Event.site_seq)
    )
    for site_id, seq, payload in fetched(connection, query):
        data = json.loads(payload)
        for name in NAMED_IN:
            if data.get(name):
                yield site_id, seq, data[name]
