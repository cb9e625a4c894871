"""The floor of one snapshot: rows put together into parts that stand somewhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from ringwright.core.errors import Missing
from ringwright.floor import queries
from ringwright.floor.model import (
    HOUR_US,
    FloorSheet,
    FloorStep,
    ProductCount,
    Shut,
    Standing,
)
from ringwright.flow.loads import Load, load_steps, loads_of
from ringwright.flow.service import moment_of
from ringwright.flow.windows import NOTHING, read_pasts
from ringwright.ledger.service import Read, last_entry_us
from ringwright.parts.conditions import PRIORITY, SEARCH, WHEREABOUTS
from ringwright.parts.reserving import RESERVATION
from ringwright.parts.windows import PartWindow, Past, windows_from
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, card_in_force, in_force, read_revisions
from ringwright.sites.queries import read_stations

LOADS_BACK_US: Final = 24 * HOUR_US
"""How far back a load in work may have begun."""

Cards = Mapping[tuple[str, str], RouteCard]


def read_floor(
    read: Read, product: str | None = None, *, all_products: bool = False
) -> FloorSheet:
    """Everything the Floor shows of one product (None: the site's first), or of all.

    The number of statements never depends on what stands there. Raises Missing.
    """
    revisions = read_revisions(read.connection, read.site.id)
    codes = list(dict.fromkeys(row.product for row in revisions))
    if product is not None and product not in codes:
        raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
    chosen = product or (None if all_products or not codes else codes[0])
    at_us = moment_of(read)
    parts = _standing(read, at_us, chosen, revisions)
    return FloorSheet(
        site=read.site.code,
        site_name=read.site.name,
        zone=read.site.zone,
        now_us=read.now_us,
        as_of=read.as_of_us is not None,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        last_entry_us=last_entry_us(read),
        products=_products(read, at_us, codes, revisions),
        product=chosen or "",
        steps=_steps(revisions, chosen, read.now_us),
        parts=parts,
        shut=tuple(
            _shut(row) for row in read.connection.execute(queries.shut_things(read, at_us))
        ),
        stations=tuple(read_stations(read.connection, read.site.id)),
        loads=_loads(read, at_us, parts, revisions),
        names={
            (row.product, step.number): step.name
            for row in revisions
            for step in row.card.steps
        },
        ever=read.connection.execute(queries.any_part(read)).first() is not None,
    )


def _shut(row: Any) -> Shut:
    return Shut(
        subject=row.subject,
        kind=row.kind,
        code=row.code,
        reason=row.reason,
        opener=row.opener,
        since_us=row.from_us,
        by=row.actor,
    )


def _products(
    read: Read, at_us: int, codes: list[str], revisions: list[Revision]
) -> tuple[ProductCount, ...]:
    rows = read.connection.execute(queries.standing_counts(read, at_us))
    counts = {row.product: row.parts for row in rows}
    cards = {code: card_in_force(revisions, code, read.now_us) for code in codes}
    return tuple(
        ProductCount(
            code=code,
            name=cards[code].name,
            family=cards[code].family,
            parts=counts.get(code, 0),
        )
        for code in codes
    )


def _steps(revisions: list[Revision], product: str | None, at_us: int) -> tuple[FloorStep, ...]:
    """The steps of the card in force, then those only other revisions have, by number."""
    if product is None:
        return ()
    own = [row for row in revisions if row.product == product]
    found = dict(in_force(own, at_us).card.by_number)
    for row in own:
        for step in row.card.steps:
            found.setdefault(step.number, step)
    return tuple(
        FloorStep(
            number=step.number,
            name=step.name,
            kind=step.kind,
            station_group=step.station_group,
            planned_hours=step.planned_hours,
        )
        for step in sorted(found.values(), key=lambda step: step.number)
    )


def _standing(
    read: Read, at_us: int, product: str | None, revisions: list[Revision]
) -> tuple[Standing, ...]:
    run = read.connection.execute
    cards = {(row.product, row.revision): row.card for row in revisions}
    holds = {r.serial: r.reason for r in run(queries.open_holds(read, at_us, product))}
    conditions: dict[tuple[str, str], Any] = {
        (row.serial, row.kind): row
        for row in run(queries.open_conditions(read, at_us, product))
    }
    stays = {row.code: row.place for row in run(queries.carrier_stays(read, at_us))}
    standing = queries.standing_serials(read, at_us, product)
    pasts = read_pasts(read, at_us, standing, cards.values())
    found = []
    for row in run(queries.standing_parts(read, at_us, product)):
        card = cards.get((row.product, row.revision))
        lies = conditions.get((row.serial, WHEREABOUTS))
        first = conditions.get((row.serial, PRIORITY))
        kept = conditions.get((row.serial, RESERVATION))
        found.append(
            Standing(
                **_where(row, card, read.now_us),
                hold=holds.get(row.serial),
                reservation=kept.value if kept else None,
                priority=int(first.value) if first else 0,
                sought=(row.serial, SEARCH) in conditions,
                whereabouts=resolve(lies.value, stays) if lies else (),
                window=_window(row, card, pasts.get(row.serial, NOTHING), read.now_us),
            )
        )
    return tuple(sorted(found, key=lambda part: (part.since_us, part.serial)))


def _where(row: Any, card: RouteCard | None, now_us: int) -> dict[str, Any]:
    step = card.by_number.get(row.step) if card else None
    hours = None if step is None else step.planned_hours if row.in_work else step.queue_hours
    return {
        "serial": row.serial,
        "product": row.product,
        "revision": row.revision,
        "step": row.step,
        "in_work": bool(row.in_work),
        "since_us": row.since_us,
        "age_us": max(0, now_us - row.since_us),
        "plan_us": None if hours is None else int(hours * HOUR_US),
        "station": row.station,
        "touched_by": row.touched_by,
        "lot": row.part_lot,
        "used_lot": row.lot,
    }


def resolve(whereabouts: str, stays: Mapping[str, str]) -> tuple[str, ...]:
    """Where something lies: the carrier, where that stands, and so on to a fixed place."""
    chain = [whereabouts]
    while (place := stays.get(chain[-1])) is not None and place not in chain:
        chain.append(place)
    return tuple(chain)


def _window(row: Any, card: RouteCard | None, past: Past, now_us: int) -> PartWindow | None:
    """The window that is over first, of those the part must still make."""
    if card is None:
        return None
    found = windows_from(card, row.step, past, now_us, in_work=bool(row.in_work))
    return next((one for one in found if one.let_on is None), None)


def _loads(
    read: Read, at_us: int, parts: Iterable[Standing], revisions: list[Revision]
) -> tuple[Load, ...]:
    """The loads that are in work, each from the first begin of those that went in with it."""
    by_load = {(row.product, row.revision): load_steps(row.card) for row in revisions}
    inside = [
        part
        for part in parts
        if part.in_work and part.step in by_load.get((part.product, part.revision), ())
    ]
    stations = {part.station for part in inside if part.station}
    since_us = min((part.since_us for part in inside), default=at_us) - LOADS_BACK_US
    rows = read.connection.execute(
        queries.visits_of_loads(read, at_us, stations, since_us)
    ).all()
    serials = {part.serial for part in inside}
    found = [load for load in loads_of(rows) if load.end_us >= at_us]
    bare = [_Alone(part) for part in inside if not part.station]
    found += loads_of(bare)
    return tuple(load for load in found if serials & set(load.serials))


class _Alone:
    """A part in work where no station was recorded, as a visit."""

    def __init__(self, part: Standing) -> None:
        self.serial, self.step, self.station, self.run = part.serial, part.step, "", ""
        self.begin_us, self.end_us = part.since_us, 2**62
