"""What was weighed of which parts, when accounts were closed, and where lots went."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, or_, select

from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.massing.mass import Mass, rounding_u
from ringwright.material.scales import IN_KG
from ringwright.parts.tables import Life, Reading
from ringwright.routecards.queries import read_revisions
from ringwright.swarf.model import Plan, Point, Weighed

MOST: Final = 400


def read_plans(read: Read) -> dict[str, Plan]:
    """Product to where it is weighed, for products weighed at two steps or more."""
    newest = {one.product: one.card for one in read_revisions(read.connection, read.site.id)}
    found: dict[str, Plan] = {}
    for product, card in sorted(newest.items()):
        points = tuple(
            Point(
                product=product,
                step=step.number,
                name=step.name,
                code=one.code,
                unit=one.unit,
                decimals=one.decimals,
            )
            for step in card.steps
            for one in step.characteristics
            if one.unit in IN_KG
        )
        by_step = {one.step: one for one in points}
        if len(by_step) > 1:
            kept = tuple(by_step.values())
            found[product] = Plan(product=product, family=card.family, points=kept)
    return found


def _known(read: Read, known_us: Any) -> tuple[ColumnElement[bool], ...]:
    return () if read.as_of_us is None else (known_us < read.known_before_us,)


def closed_between(read: Read, plan: Plan, start_us: int, end_us: int) -> set[str]:
    """Serials weighed finished, or scrapped, in a half-open window."""
    last = plan.last
    weighed = select(Reading.serial).where(
        believed(read, Reading),
        Reading.step == last.step,
        Reading.characteristic == last.code,
        Reading.at_us >= start_us,
        Reading.at_us < end_us,
        Reading.product == plan.product,
        *_known(read, Reading.at_known_us),
    )
    scrapped = select(Life.serial).where(
        believed(read, Life),
        Life.product == plan.product,
        Life.scrapped_us >= start_us,
        Life.scrapped_us < end_us,
        *_known(read, Life.scrapped_known_us),
    )
    return {
        serial
        for query in (weighed, scrapped)
        for serial in read.connection.execute(query).scalars()
    }


def in_work(read: Read, plan: Plan) -> set[str]:
    """Serials created, neither released, scrapped nor used."""
    gone = [
        (Life.released_us, Life.released_known_us),
        (Life.scrapped_us, Life.scrapped_known_us),
        (Life.used_us, Life.used_known_us),
    ]
    still = [
        or_(when.is_(None), known_us >= read.known_before_us)
        if read.as_of_us is not None
        else when.is_(None)
        for when, known_us in gone
    ]
    query = select(Life.serial).where(
        believed(read, Life),
        Life.product == plan.product,
        *_known(read, Life.created_known_us),
        *still,
    )
    return set(read.connection.execute(query).scalars())


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """What a part is made of, and whether it was scrapped."""

    product: str
    lot: str
    scrapped_us: int | None


def read_lives(read: Read, serials: Sequence[str]) -> dict[str, Came]:
    """Serial to its product, lot and scrapping."""
    found: dict[str, Came] = {}
    for chunk in _chunks(serials):
        query = select(Life).where(believed(read, Life), Life.serial.in_(chunk))
        for row in read.connection.execute(query):
            known = read.as_of_us is None or row.scrapped_known_us < read.known_before_us
            found[row.serial] = Came(
                product=row.product,
                lot=row.lot or "",
                scrapped_us=row.scrapped_us if known else None,
            )
    return found


def read_weighings(
    read: Read, plans: dict[str, Plan], serials: Sequence[str]
) -> dict[str, list[Weighed]]:
    """Serial to its weighings in the order of its route, the last one of each step."""
    points = {
        (one.product, one.step, one.code): one for plan in plans.values() for one in plan.points
    }
    codes = sorted({code for _, _, code in points})
    found: dict[str, dict[int, Weighed]] = {}
    for chunk in _chunks(serials):
        query = select(Reading).where(
            believed(read, Reading),
            Reading.serial.in_(chunk),
            Reading.characteristic.in_(codes),
            *_known(read, Reading.at_known_us),
        )
        for row in read.connection.execute(query.order_by(Reading.at_us, Reading.number)):
            point = points.get((row.product, row.step, row.characteristic))
            if point is not None and row.unit in IN_KG:
                found.setdefault(row.serial, {})[point.step] = _weighed(row, point)
    return {
        serial: [steps[number] for number in sorted(steps)] for serial, steps in found.items()
    }


def _weighed(row: Any, point: Point) -> Weighed:
    per = IN_KG[row.unit]
    assumed = row.uncertainty is None
    u = rounding_u(point.decimals) if assumed else row.uncertainty
    return Weighed(
        point=point,
        at_us=row.at_us,
        mass=Mass(kg=row.value * per, u_kg=u * per),
        gauge=row.gauge or "",
        assumed=assumed,
        suspect=row.suspect is not None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Went:
    """How many parts of a product were created from a lot."""

    lot: str
    product: str
    parts: int
    first: str
    """The serial that comes first, to look at."""


def where_lots_went(read: Read, lots: Sequence[str] | None = None) -> list[Went]:
    """Lots that parts were created from, by lot and product."""
    from sqlalchemy import func

    query = select(
        Life.lot,
        Life.product,
        func.count().label("parts"),
        func.min(Life.serial).label("first"),
    ).where(believed(read, Life), Life.lot.is_not(None), *_known(read, Life.created_known_us))
    if lots is not None:
        query = query.where(Life.lot.in_(lots))
    rows = read.connection.execute(
        query.group_by(Life.lot, Life.product).order_by(Life.lot, Life.product)
    )
    return [
        Went(lot=row.lot, product=row.product, parts=row.parts, first=row.first) for row in rows
    ]


def parts_of_lot(read: Read, lot: str, most: int) -> list[str]:
    """Serials created from a lot, in order, at most so many."""
    query = select(Life.serial).where(
        believed(read, Life), Life.lot == lot, *_known(read, Life.created_known_us)
    )
    return list(read.connection.execute(query.order_by(Life.serial).limit(most)).scalars())


def _chunks(serials: Sequence[str]) -> Iterator[list[str]]:
    listed = sorted(serials)
    for start in range(0, len(listed), MOST):
        yield listed[start : start + MOST]
