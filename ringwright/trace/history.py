"""One part's whole history, from one snapshot: what happened, what was believed, its kin."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from ringwright.attachments.queries import Attached, read_attached
from ringwright.core.errors import Missing
from ringwright.core.facts import Registry
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.parts.facts import FACTS
from ringwright.parts.knowledge import believe
from ringwright.parts.queries import read_events
from ringwright.parts.state import Part
from ringwright.parts.tables import PartMark
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import card_finder
from ringwright.trace.genealogy import (
    Edge,
    generations,
    read_ancestors,
    read_descendants,
)
from ringwright.trace.queries import find_part
from ringwright.trace.standing import Standing, read_standings, standing_of

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One entry, as it was told and as its correction leaves it."""

    row: Any
    """The event as recorded."""
    correction: Any = None
    """The event that corrects it, if any."""

    @property
    def void(self) -> bool:
        """True when it never happened."""
        return self.correction is not None and bool(_data(self.correction).get("void"))

    @property
    def now(self) -> Any:
        """The event as its correction makes it read; the same row where there is none."""
        if self.correction is None or self.void:
            return self.row
        return _Reread(self.row, _data(self.correction).get("fields") or {})


class _Reread:
    """An event row with some fields read otherwise."""

    def __init__(self, row: Any, changed: dict[str, Any]) -> None:
        self.site_seq, self.kind, self.subject = row.site_seq, row.kind, row.subject
        self.corrects, self.key = row.corrects, row.key
        self.known_at_us, self.recorded_at_us = row.known_at_us, row.recorded_at_us
        self.at_us = changed.get("at_us", row.at_us)
        self.station = changed.get("station", row.station)
        self.actor, self.approver = changed.get("by", row.actor), row.approver
        rest = {k: v for k, v in changed.items() if k not in ("at_us", "station", "by")}
        self.payload = json.dumps({**_data(row), **rest})


def _data(row: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(row.payload)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Kin:
    """Another part of the genealogy: how many steps away, and where it stands."""

    serial: str
    away: int
    """Below 0: it was made from that part; above 0: that part was made of it."""
    edge: Edge
    standing: Standing | None


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Everything the record holds of one part."""

    part: Part
    card: RouteCard
    standing: Standing
    told: tuple[Told, ...]
    """Every entry in the order it happened."""
    marks: tuple[tuple[str, bool], ...]
    """(mark, retired) of every mark it ever bore."""
    attached: tuple[Attached, ...]
    kin: tuple[Kin, ...]
    """Ancestors, the farthest first, then descendants, the nearest first."""
    site: str
    site_name: str
    zone: str
    now_us: int
    as_of_us: int | None
    head_seq: int
    head_hash: str


def read_history(read: Read, text: str) -> History:
    """One part by serial or any mark it ever bore; raises Missing."""
    serial = find_part(read, text)
    entries = fetch_entries(read.connection, _REGISTRY, read.site.id, "part", [serial])
    known = [e for e in entries.get(serial, []) if e.known_us < read.known_before_us]
    part, _ = believe(serial, known, card_finder(read.connection, read.site.id))
    if part.card is None:
        raise Missing(f"there was no part {text} at that time")
    standing = read_standings(read, [serial]).get(serial) or standing_of(part)
    return History(
        part=part,
        attached=tuple(read_attached(read, serial)),
        card=part.card,
        standing=standing,
        told=_told(read_events(read, serial)),
        marks=_marks(read, serial),
        kin=_kin(read, serial),
        site=read.site.code,
        site_name=read.site.name or read.site.code,
        zone=read.site.zone,
        now_us=read.now_us,
        as_of_us=read.as_of_us,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
    )


def _told(rows: Sequence[Any]) -> tuple[Told, ...]:
    corrections = {row.corrects: row for row in rows if row.kind == "correct"}
    told = [Told(row=row, correction=corrections.get(row.site_seq)) for row in rows]
    return tuple(sorted(told, key=lambda one: (one.now.at_us, one.row.site_seq)))


def _marks(read: Read, serial: str) -> tuple[tuple[str, bool], ...]:
    query = select(PartMark.mark, PartMark.retired).where(
        PartMark.site_id == read.site.id, PartMark.serial == serial
    )
    rows = read.connection.execute(query.order_by(PartMark.retired, PartMark.mark))
    return tuple((str(row.mark), bool(row.retired)) for row in rows)


MOST_KIN: Final = 500
"""Relatives whose standing is looked up for the page; more than that are counted."""


def _kin(read: Read, serial: str) -> tuple[Kin, ...]:
    above, below = read_ancestors(read, [serial]), read_descendants(read, [serial])
    found: list[tuple[int, str, Edge]] = []
    for edges, down in ((above, False), (below, True)):
        away = generations(edges, serial, down=down)
        nearest: dict[str, Edge] = {}
        for edge in edges:
            other = edge.child if down else edge.parent
            nearest.setdefault(other, edge)
        sign = 1 if down else -1
        found += [(sign * away[o], o, e) for o, e in nearest.items() if away.get(o)]
    found.sort(key=lambda one: (one[0], one[1]))
    standings = read_standings(read, [other for _, other, _ in found[:MOST_KIN]])
    return tuple(
        Kin(serial=other, away=steps, edge=edge, standing=standings.get(other))
        for steps, other, edge in found
    )
