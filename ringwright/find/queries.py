"""Names in the record from one on, read along an index: never more rows than are asked for.

Stores order letters each in their own way, so no end of the range is asked for: what comes is
in the order of the index from the beginning of the name, and the caller stops where names no
longer begin so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import ColumnElement, Select, and_, func, literal, select

from ringwright.db import FOREVER_US
from ringwright.furnaces.tables import FurnaceRun, RecipeRevision
from ringwright.ledger.service import Read
from ringwright.parts.tables import Condition, Life, Nonconformity, PartMark, PartNow, Visit
from ringwright.sets.tables import BladeSetNow

MOST: Final = 201
"""Parts read of one beginning: 200 and one that tells that there are more."""
MOST_NAMES: Final = 101
"""The same for lots, defects and the like, each looked up by one step along an index."""
MOST_VISITS: Final = 1_000
"""Visits read to tell the loads of a station."""

Rows = Sequence[Any]

_PART: Final = (
    PartNow.serial, PartNow.mark, PartNow.product, PartNow.place, PartNow.step,
)  # fmt: skip


def parts_from(read: Read, beginning: str) -> Rows:
    """Parts by serial, from a beginning on."""
    query = (
        select(*_PART)
        .where(PartNow.site_id == read.site.id, PartNow.serial >= beginning)
        .order_by(PartNow.serial)
        .limit(MOST)
    )
    return read.connection.execute(query).all()


def parts_before(read: Read, text: str) -> Rows:
    """The part whose serial comes last before a text."""
    query = (
        select(*_PART)
        .where(PartNow.site_id == read.site.id, PartNow.serial < text)
        .order_by(PartNow.serial.desc())
        .limit(1)
    )
    return read.connection.execute(query).all()


def parts_named(read: Read, texts: Sequence[str]) -> Rows:
    """Parts of exactly these serials."""
    query = select(*_PART).where(PartNow.site_id == read.site.id, PartNow.serial.in_(texts))
    return read.connection.execute(query).all()


def marks_named(read: Read, texts: Sequence[str]) -> Rows:
    """Marks of exactly these texts that parts bear or bore, and what each bears now."""
    return read.connection.execute(_marks(read).where(PartMark.mark.in_(texts))).all()


def marks_from(read: Read, beginning: str) -> Rows:
    """Marks that parts bear or bore, from a beginning on, and what each bears now."""
    query = _marks(read).where(PartMark.mark >= beginning).order_by(PartMark.mark).limit(MOST)
    return read.connection.execute(query).all()


def _marks(read: Read) -> Select[*tuple[Any, ...]]:
    now = and_(PartNow.site_id == PartMark.site_id, PartNow.serial == PartMark.serial)
    columns = (PartMark.serial, PartMark.mark, PartMark.retired, PartNow.mark.label("now"))
    return select(*columns).join(PartNow, now).where(PartMark.site_id == read.site.id)


def lots_from(read: Read, beginning: str) -> list[str]:
    """Lots that parts were made from, then lots that visits used, from a beginning on."""
    made = _names(read, Life.lot, Life.site_id == read.site.id, beginning)
    used = _names(read, Visit.lot, Visit.site_id == read.site.id, beginning)
    return [*made, *used]


def defects_from(read: Read, beginning: str) -> list[str]:
    """Defects that parts were stopped for, from a beginning on."""
    column = Nonconformity.defect
    return _names(read, column, Nonconformity.site_id == read.site.id, beginning)


def containments_from(read: Read, beginning: str) -> list[str]:
    """Codes of containments, from a beginning on."""
    mine = and_(Condition.site_id == read.site.id, Condition.kind == "containment")
    return _names(read, Condition.value, mine, beginning)


def sets_from(read: Read, beginning: str) -> list[str]:
    """Codes of sets, from a beginning on."""
    return _names(read, BladeSetNow.code, BladeSetNow.site_id == read.site.id, beginning)


def runs_from(read: Read, beginning: str) -> list[str]:
    """Codes of furnace runs, from a beginning on."""
    return _names(read, FurnaceRun.code, FurnaceRun.site_id == read.site.id, beginning)


def recipes_from(read: Read, beginning: str) -> list[str]:
    """Codes of furnace recipes, from a beginning on."""
    return _names(read, RecipeRevision.code, RecipeRevision.site_id == read.site.id, beginning)


def whereabouts_from(read: Read, beginning: str) -> list[str]:
    """Places, containers and trolleys in which parts lie now, from a beginning on."""
    return _names(read, PartNow.whereabouts, PartNow.site_id == read.site.id, beginning)


def _names(read: Read, column: Any, mine: ColumnElement[bool], beginning: str) -> list[str]:
    """The next different values of an indexed column, one step along the index for each."""
    first = select(
        select(func.min(column))
        .where(mine, column >= beginning)
        .scalar_subquery()
        .label("name"),
        literal(1).label("number"),
    ).cte("names", recursive=True)
    after = select(func.min(column)).where(mine, column > first.c.name).scalar_subquery()
    names = first.union_all(
        select(after, first.c.number + 1).where(
            first.c.name.is_not(None), first.c.number < MOST_NAMES
        )
    )
    query = select(names.c.name).where(names.c.name.is_not(None)).order_by(names.c.number)
    return list(read.connection.execute(query).scalars())


def visits_at(read: Read, station: str, from_us: int, to_us: int) -> Rows:
    """Visits begun at a station in a span, the first of them."""
    query = (
        select(
            Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us,
            Visit.product, Visit.revision,
        )
        .where(
            Visit.site_id == read.site.id,
            Visit.station == station,
            Visit.begin_us >= from_us,
            Visit.begin_us < to_us,
            Visit.known_to_us == FOREVER_US,
            Visit.step.is_not(None),
        )
        .order_by(Visit.begin_us, Visit.serial)
        .limit(MOST_VISITS)
    )  # fmt: skip
    return read.connection.execute(query).all()
