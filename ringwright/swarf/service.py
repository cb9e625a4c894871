"""The mass account of a week and of one case, from one snapshot of the record."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from ringwright.core.calendar import week_before, week_of
from ringwright.core.errors import Missing
from ringwright.flow.service import week_bounds
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.massing.swarf import dry
from ringwright.material.card import Alloy
from ringwright.material.queries import (
    containers_of,
    read_alloys,
    read_containers,
    read_lots,
    read_put,
)
from ringwright.parts.queries import resolve_serial
from ringwright.swarf.model import (
    Batch,
    Case,
    Group,
    Kept,
    MassSheet,
    Plan,
    batch_of,
    group,
    worst_first,
)
from ringwright.swarf.queries import (
    Came,
    closed_between,
    in_work,
    read_lives,
    read_plans,
    read_weighings,
)

WEEKS_BACK: Final = 8
"""Weeks beside one another on the page, the one asked about last."""


def read_mass(read: Read, week: str | None = None, product: str | None = None) -> MassSheet:
    """The account of the cases closed in a week; raises Refused for no week, Missing."""
    site = read.site
    week = week or week_of(read.now_us, site.zone, site.week_starts)
    plans = read_plans(read)
    if product and product not in plans:
        raise Missing(f"{product[:60]} is no product of this site that is weighed at two steps")
    chosen = {code: plan for code, plan in plans.items() if not product or code == product}
    spans = _spans(read, week)
    closed = {
        serial
        for plan in chosen.values()
        for serial in closed_between(read, plan, spans[0][1], spans[-1][2])
    }
    working = {serial for plan in chosen.values() for serial in in_work(read, plan)}
    cases = read_cases(read, chosen, closed | working)
    by_week = {
        name: [one for one in cases if _within(one, start_us, end_us)]
        for name, start_us, end_us in spans
    }
    here = [one for one in by_week[week] if one.account is not None]
    return MassSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        week=week,
        product=product or "",
        products=tuple(plans),
        cases=worst_first(by_week[week]),
        weeks=tuple(group(name, of) for name, of in by_week.items()),
        alloys=_alloys(read, here),
        kept=kept_in(here),
        open=tuple(one for one in cases if one.closed_us is None and one.weighed),
        closing=group(week, here).closing if here else None,
    )


def _spans(read: Read, week: str) -> list[tuple[str, int, int]]:
    """(week, start, end) of the weeks up to the one asked about, the oldest first."""
    names = [week_before(week, back) for back in range(WEEKS_BACK - 1, -1, -1)]
    week_before(week, -1)  # the page links to it
    return [(name, *week_bounds(read, name)) for name in names]


def _within(case: Case, start_us: int, end_us: int) -> bool:
    closed_us = case.closed_us
    return closed_us is not None and start_us <= closed_us < end_us


def _alloys(read: Read, cases: Sequence[Case]) -> tuple[Group, ...]:
    known = read_alloys(read.connection, read.site.id, read.known_before_us)
    by_alloy: dict[str, list[Case]] = {}
    for one in cases:
        by_alloy.setdefault(one.alloy, []).append(one)
    return tuple(
        group(code, of, known[code].density_g_cm3 if code in known else None)
        for code, of in sorted(by_alloy.items())
    )


def kept_in(cases: Sequence[Case]) -> tuple[Kept, ...]:
    """What of these cases lies in which container, dry, by container."""
    by_code: dict[str, list[Batch]] = {}
    for one in cases:
        for batch in one.counted:
            by_code.setdefault(batch.container, []).append(batch)
    return tuple(
        Kept(batch=of[0], dry=dry(one.swarf for one in of)) for _, of in sorted(by_code.items())
    )


def read_cases(read: Read, plans: dict[str, Plan], serials: Collection[str]) -> list[Case]:
    """These parts with everything that was weighed of them, by serial."""
    listed = sorted(serials)
    weighed = read_weighings(read, plans, listed)
    lives = read_lives(read, listed)
    connection, site_id, known = read.connection, read.site.id, read.known_before_us
    containers = read_containers(
        connection, site_id, containers_of(connection, site_id, listed), known
    )
    batches: dict[str, list[Batch]] = {}
    for container in containers:
        for line in container.lines:
            batches.setdefault(line.serial, []).append(batch_of(container, line))
    for of in batches.values():
        of.sort(key=lambda one: (one.line.at_us, one.line.number))
    put = read_put(connection, site_id, listed, known)
    alloys = _AlloysOf(read, lives)
    found = []
    for serial in listed:
        came, points = lives.get(serial), tuple(weighed.get(serial, ()))
        if came is None:
            continue
        last = plans[came.product].last.step if came.product in plans else None
        found.append(
            Case(
                serial=serial,
                product=came.product,
                alloy=alloys.of(came),
                lot=came.lot,
                weighed=points,
                batches=tuple(batches.get(serial, ())),
                put=tuple(one for one in put if one.serial == serial),
                finished=bool(points) and points[-1].point.step == last,
                scrapped_us=came.scrapped_us,
            )
        )
    return found


class _AlloysOf:
    """What parts are made of: by their lot, else by their product."""

    def __init__(self, read: Read, lives: dict[str, Came]) -> None:
        connection, site_id, known = read.connection, read.site.id, read.known_before_us
        lots = {one.lot for one in lives.values() if one.lot}
        self.lots = read_lots(connection, site_id, sorted(lots), known)
        self.products = _by_product(read_alloys(connection, site_id, known))

    def of(self, came: Came) -> str:
        """The alloy's code; empty where nobody said."""
        lot = self.lots.get(came.lot)
        return lot.alloy if lot is not None else self.products.get(came.product, "")


def _by_product(alloys: dict[str, Alloy]) -> dict[str, str]:
    return {
        product: alloy.code
        for alloy in alloys.values()
        if not alloy.withdrawn
        for product in alloy.products
    }


def read_case(read: Read, scanned: str) -> tuple[Case, Alloy | None]:
    """One part and its alloy; raises Missing."""
    plans = read_plans(read)
    # By its serial first: a part that bears a new mark keeps its page.
    cases = read_cases(read, plans, [scanned])
    if not cases:
        serial = resolve_serial(read.connection, read.site, scanned)
        cases = read_cases(read, plans, [serial])
    if not cases:
        raise Missing(f"there is no part {scanned[:60]}")
    case = cases[0]
    known = read_alloys(read.connection, read.site.id, read.known_before_us)
    return case, known.get(case.alloy)
