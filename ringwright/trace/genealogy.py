"""Which parts a part was made from, and what was made of it: to any depth, in one statement.

The genealogy is a graph: parts are joined into one, one is parted into several, a part bears a
new mark. A link names a part by whichever mark was scanned, so both ends are looked up among
the marks. The closure is a set (UNION, not UNION ALL): a cycle in the record ends by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import FromClause, Select, and_, func, select

from ringwright.db import table_of
from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Link, PartMark, PartNow

CHUNK = 1000
"""Serials in one statement; both stores allow far more."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One step of the genealogy: the child was made from the parent."""

    parent: str
    child: str
    link: str
    at_us: int


def read_descendants(read: Read, serials: Sequence[str]) -> list[Edge]:
    """Every edge below these parts: what was made of them, and of that, and so on."""
    return _edges(read, serials, down=True)


def read_ancestors(read: Read, serials: Sequence[str]) -> list[Edge]:
    """Every edge above these parts: what they were made from, and so on."""
    return _edges(read, serials, down=False)


def _edges(read: Read, serials: Sequence[str], *, down: bool) -> list[Edge]:
    found: dict[tuple[str, str], Edge] = {}
    if read.connection.dialect.name == "postgresql":
        # It reckons each closure ten times too large, and would read every link there is.
        off = [func.set_config(f"enable_{way}join", "off", True) for way in ("hash", "merge")]
        read.connection.execute(select(*off))
    for start in range(0, len(serials), CHUNK):
        for row in read.connection.execute(
            _closure(read, serials[start : start + CHUNK], down)
        ):
            if row.there is None:
                continue
            here, there = str(row.here), str(row.there)
            pair = (here, there) if down else (there, here)
            edge = Edge(*pair, row.link, row.at_us)
            known = found.setdefault(pair, edge)
            if edge.at_us < known.at_us:
                found[pair] = edge
    return sorted(found.values(), key=lambda edge: (edge.at_us, edge.parent, edge.child))


def _closure(read: Read, serials: Sequence[str], down: bool) -> Select[Any]:
    """One statement: the parts that can be reached, then every link that leads on from them."""
    site = read.site.id
    near, far = (Link.parent, Link.child) if down else (Link.child, Link.parent)
    own, other = table_of(PartMark).alias("own"), table_of(PartMark).alias("other")
    there = func.coalesce(other.c.serial, far)

    def onward(parts: FromClause, *columns: Any) -> Select[Any]:
        here = parts.c.serial
        borne = and_(own.c.site_id == site, own.c.serial == here)
        # Asking for a column outside the primary key keeps SQLite from walking through that
        # key's index, which holds all the rest, instead of entering the one by mark.
        any_mark = other.c.retired.in_((False, True))
        bears = and_(other.c.site_id == site, other.c.mark == far, any_mark)
        leads = and_(believed(read, Link), near == func.coalesce(own.c.mark, here))
        return (
            select(*columns)
            .select_from(parts)
            .outerjoin(own, borne)
            # Outer joins keep this order, in which each table is entered by its index; the
            # parts that lead nowhere come along as rows without a link.
            .outerjoin(Link, leads)
            .outerjoin(other, bears)
        )

    seeds = (
        select(PartNow.serial.label("serial"))
        .where(PartNow.site_id == site, PartNow.serial.in_(serials))
        .cte("reached", recursive=True)
    )
    reached = seeds.union(onward(seeds, there))
    return onward(
        reached, reached.c.serial.label("here"), there.label("there"), Link.link, Link.at_us
    )


def generations(edges: Iterable[Edge], start: str, *, down: bool) -> dict[str, int]:
    """Each part that can be reached, with how many steps it is away; the part itself is 0."""
    onward: dict[str, list[str]] = {}
    for edge in edges:
        here, there = (edge.parent, edge.child) if down else (edge.child, edge.parent)
        onward.setdefault(here, []).append(there)
    away, front = {start: 0}, [start]
    while front:
        reached = {there for here in front for there in onward.get(here, ())} - away.keys()
        away.update(dict.fromkeys(reached, max(away[here] for here in front) + 1))
        front = sorted(reached)
    return away
