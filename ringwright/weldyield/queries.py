"""What was made, read and found on the rings that the weeks touch, as known then."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, and_, select, union

from ringwright.ledger.service import Read
from ringwright.welds.card import WeldPlan
from ringwright.welds.queries import read_plans
from ringwright.welds.tables import WeldDefect, WeldPass, WeldRing, WeldVerdict
from ringwright.weldyield.model import History, JointOf, Made, RingOf, Verdict


def known(read: Read, table: Any) -> Any:
    """True of a row that was believed then."""
    before_us = read.known_before_us
    return and_(
        table.site_id == read.site.id,
        table.known_us < before_us,
        table.withdrawn_us >= before_us,
    )


def _touched(read: Read, product: str | None, from_us: int, to_us: int) -> Select[Any]:
    """Serials on which a weld was made or read in the weeks."""
    parts = []
    for table in (WeldVerdict, WeldPass):
        rules = [known(read, table), table.at_us >= from_us, table.at_us < to_us]
        if product is not None:
            rules.append(table.product == product)
        parts.append(select(table.serial).where(*rules))
    found = union(*parts).subquery("touched")
    return select(found.c.serial)


def read_history(read: Read, product: str | None, from_us: int, to_us: int) -> History:
    """Everything of these rings up to the end of the weeks, earlier weeks among it."""
    serials = _touched(read, product, from_us, to_us)
    return History(
        rings=_rings(read, serials),
        verdicts=tuple(_verdicts(read, serials, to_us)),
        made=tuple(_made(read, serials, to_us)),
        defects=tuple(_defects(read, serials, to_us)),
    )


def _rings(read: Read, serials: Select[Any]) -> dict[str, RingOf]:
    plans = {
        (one.plan.product, one.plan.revision): one.plan
        for one in read_plans(read.connection, read.site.id)
    }
    query = select(WeldRing.serial, WeldRing.product, WeldRing.revision, WeldRing.welds).where(
        WeldRing.site_id == read.site.id, WeldRing.serial.in_(serials)
    )
    return {
        row.serial: RingOf(
            product=row.product,
            welds=row.welds,
            joints=_joints(plans[row.product, row.revision]),
        )
        for row in read.connection.execute(query)
    }


def _joints(plan: WeldPlan) -> dict[str, JointOf]:
    return {
        joint.code: JointOf(code=joint.code, kind=joint.kind, length_mm=joint.length_mm)
        for joint in plan.joints
    }


def _verdicts(read: Read, serials: Select[Any], to_us: int) -> list[Verdict]:
    table = WeldVerdict
    query = select(
        table.serial, table.weld, table.number, table.passed, table.at_us, table.accepted
    ).where(known(read, table), table.at_us < to_us, table.serial.in_(serials))
    return [
        Verdict(
            serial=row.serial,
            weld=row.weld,
            entry=row.number,
            passed=row.passed,
            at_us=row.at_us,
            accepted=bool(row.accepted),
        )
        for row in read.connection.execute(query.order_by(table.number, table.weld))
    ]


def _made(read: Read, serials: Select[Any], to_us: int) -> list[Made]:
    table = WeldPass
    query = select(
        table.serial, table.weld, table.passed, table.at_us, table.welder, table.filler_lot
    ).where(known(read, table), table.at_us < to_us, table.serial.in_(serials))
    return [
        Made(
            serial=row.serial,
            weld=row.weld,
            passed=row.passed,
            at_us=row.at_us,
            welder=row.welder,
            lot=row.filler_lot,
        )
        for row in read.connection.execute(query.order_by(table.number, table.weld))
    ]


def _defects(read: Read, serials: Select[Any], to_us: int) -> list[tuple[str, str, int, str]]:
    table = WeldDefect
    query = select(table.serial, table.weld, table.number, table.kind).where(
        known(read, table), table.at_us < to_us, table.serial.in_(serials)
    )
    rows = read.connection.execute(query.order_by(table.number, table.weld, table.place))
    return [(row.serial, row.weld, row.number, row.kind) for row in rows]


def read_products(read: Read) -> tuple[str, ...]:
    """Products with a weld plan by then."""
    plans = read_plans(read.connection, read.site.id, known_before_us=read.known_before_us)
    return tuple(dict.fromkeys(one.plan.product for one in plans))
