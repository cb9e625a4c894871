"""The site's events as a history file: what one store exports another can load."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from sqlalchemy import select

from ringwright.bench.history import COLUMNS
from ringwright.core.calendar import iso_text
from ringwright.core.practice import key_of
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event
from ringwright.parts.facts import HISTORY_ACTS
from ringwright.parts.tables import PartNow

KEY = COLUMNS.index("key")


def history_csv(read: Read, product: str | None = None) -> str:
    """All events that are history rows, in ledger order, as CSV text (RFC 4180 line ends).

    Corrections and sentences are no history rows; the file holds what was booked. Every key of
    a practice site's is marked, so that no real site takes such a row in.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    query = (
        select(Event, PartNow.product)
        .join(
            PartNow,
            (PartNow.site_id == Event.site_id) & (PartNow.serial == Event.subject),
        )
        .where(Event.site_id == read.site.id, Event.subject_kind == "part")
        .where(Event.kind.in_(HISTORY_ACTS))
        .order_by(Event.site_seq)
    )
    if product is not None:
        query = query.where(PartNow.product == product)
    for row in read.connection.execute(query.execution_options(yield_per=5000)):
        told = _row(row, read.site.zone)
        told[KEY] = key_of(told[KEY]) if read.site.practice_of else told[KEY]
        writer.writerow(told)
    return out.getvalue()


def _row(row: Any, zone: str) -> list[str]:
    data = json.loads(row.payload)
    given = {
        "at": iso_text(row.at_us, zone),
        "serial": row.subject,
        "product": row.product,
        "act": row.kind,
        "station": row.station,
        "by": row.actor,
        "key": row.key if row.key is not None else f"entry-{row.site_seq}",
    }
    return [str(given.get(name, data.get(name, ""))) for name in COLUMNS]
