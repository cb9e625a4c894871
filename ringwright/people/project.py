"""Temporary permissions and call-out lists into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import zip_longest
from typing import Any

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import FOREVER_US, table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.people.tables import CalloutList, PermitGiven


class PermitProjector(Plain):
    """Temporary permissions: each with its end and its review."""

    subject_kind = "permit"
    tables: tuple[Table, ...] = (table_of(PermitGiven),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row."""
        del lens
        by_kind = {entry.kind: entry for entry in reversed(entries)}
        granted, end = by_kind["permit"], by_kind.get("permit-end")
        review = by_kind.get("permit-review")
        data = granted.data
        told = (data["person"], data["permission"], data["reason"], granted.actor)
        span = (granted.at_us, granted.known_us, data["until_us"])
        why = (end.actor, end.data.get("reason")) if end else (None, None)
        said = (
            (review.actor, review.data["agreed"], review.data.get("note"))
            if review
            else (None, None, None)
        )
        row: Row = (
            site_id, subject, granted.seq, *told, *span, *_moment(end), *why, *_moment(review),
            *said,
        )  # fmt: skip
        return {"permit": [row]}


def _moment(entry: Entry | None) -> tuple[int, int]:
    return (entry.at_us, entry.known_us) if entry else (FOREVER_US, FOREVER_US)


class CalloutProjector(Plain):
    """Call-out lists: every one there was, each until the next."""

    subject_kind = "callout"
    tables: tuple[Table, ...] = (table_of(CalloutList),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a list."""
        del lens
        rows: list[Row] = []
        for entry, after in zip_longest(entries, entries[1:]):
            people = json.dumps(list(entry.data.get("people", ())), ensure_ascii=False)
            since = (entry.at_us, entry.known_us)
            rows.append(
                (site_id, subject, entry.seq, people, *since, *_moment(after), entry.actor)
            )
        return {"callout": rows}


PROJECTORS = (PermitProjector(), CalloutProjector())
