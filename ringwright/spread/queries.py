"""The readings of one characteristic, the latest of each part or all, as believed now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from sqlalchemy import func, select

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import midnight_us
from ringwright.flow.account import read_account
from ringwright.flow.model import Account
from ringwright.flow.service import moment_of
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.measure.capability import Capability, capability
from ringwright.measure.chart import IndividualsChart, individuals_chart
from ringwright.parts.tables import PartNow, Reading
from ringwright.routecards.card import Characteristic, RouteCard, Step
from ringwright.routecards.queries import card_in_force, read_revisions

YEARS: Final = range(1970, 2200)
LAST: Final = (50, 100, 300, 1_000, 5_000)
"""How many parts can be asked for; the second is the usual answer."""
USUAL: Final = LAST[1]
FEW: Final = 2_000
"""Parts in the cell or in stock whose readings are looked up part by part."""
TWICE: Final = 3
"""Rows read at first for each part wanted: some parts are read more than once."""
ALL, CELL, STOCK = "all", "cell", "stock"
PLACES: Final[dict[str, tuple[str, ...]]] = {
    ALL: (),
    CELL: ("waiting", "in work"),
    STOCK: ("released",),
}
"""Which parts are looked at, and where these are in the flow; none named: anywhere."""
LATEST, EVERY = "latest", "every"
COUNTS: Final = (LATEST, EVERY)
"""Whether the latest reading of each part counts, or every reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One reading of one part, the latest unless every reading counts."""

    serial: str
    value: float
    at_us: int
    uncertainty: float | None
    gauge: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the page is asked about."""

    product: str
    code: str = ""
    step: int = 0
    last: int = USUAL
    among: str = ALL
    counts: str = LATEST
    since: str = ""
    """First day looked at, as an ISO date of the site; empty: as far back as `last` reaches."""

    @property
    def kept(self) -> dict[str, str | int | None]:
        """What the addresses of the page carry on, whichever characteristic they lead to."""
        counts = None if self.counts == LATEST else self.counts
        found: dict[str, str | int | None] = {
            "last": self.last,
            "among": self.among,
            "counts": counts,
        }
        return {**found, "since": self.since or None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One characteristic with its readings in the order of time, and what they say."""

    step: Step
    characteristic: Characteristic
    points: tuple[Point, ...]
    suspect: int
    """Readings left out because they are suspect; the latest of a part stands for it."""
    chart: IndividualsChart | None
    capability: Capability | None

    @property
    def key(self) -> str:
        """Step and code, as the address names it."""
        return f"{self.step.number}.{self.characteristic.code}"


@dataclass(frozen=True, kw_only=True)
class SpreadSheet:
    """Every characteristic of a product, or the chosen one alone."""

    drawn: Snapshot
    products: tuple[str, ...]
    card: RouteCard
    asked: Asked
    spreads: tuple[Spread, ...]
    chosen: Spread | None
    since_us: int | None
    """When the oldest of these readings was taken; None without any."""
    account: Account | None
    """Of the product's parts since then."""


def read_spreads(read: Read, asked: Asked) -> SpreadSheet | None:
    """The spreads of a product's newest route card; None while there is no product.

    Raises Missing for a product or characteristic that is not there, Refused for a choice
    that is none.
    """
    revisions = read_revisions(read.connection, read.site.id)
    products = tuple(dict.fromkeys(row.product for row in revisions))
    if not products:
        return None
    product = asked.product or products[0]
    if product not in products:
        raise Missing(f"no product {product!r} at {read.site.name or read.site.code}")
    if asked.last not in LAST or asked.among not in PLACES or asked.counts not in COUNTS:
        raise Refused("choose how many parts, and which, from the lists")
    card = card_in_force(revisions, product, read.now_us)
    spreads = tuple(
        _spread(read, card.product, step, one, asked)
        for step in card.steps
        for one in step.characteristics
        if not asked.code or (step.number, one.code) == (asked.step, asked.code)
    )
    if asked.code and not spreads:
        raise Missing(f"no characteristic {asked.code!r} at step {asked.step}")
    since_us = min((one.points[0].at_us for one in spreads if one.points), default=None)
    return SpreadSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        products=products,
        card=card,
        asked=asked,
        spreads=spreads,
        chosen=spreads[0] if asked.code else None,
        since_us=since_us,
        account=None
        if since_us is None
        else read_account(read, product, since_us, moment_of(read)),
    )


def _spread(read: Read, product: str, step: Step, one: Characteristic, asked: Asked) -> Spread:
    newest = _newest(read, (product, step.number, one.code), asked)
    sound = [row for row in newest if row.suspect is None]
    points = tuple(
        Point(
            serial=row.serial,
            value=row.value,
            at_us=row.at_us,
            uncertainty=row.uncertainty,
            gauge=row.gauge,
        )
        for row in reversed(sound)
    )
    values = [point.value for point in points]
    return Spread(
        step=step,
        characteristic=one,
        points=points,
        suspect=len(newest) - len(sound),
        chart=individuals_chart(values),
        capability=capability(values, one.lower, one.upper),
    )


def _newest(read: Read, of: tuple[str, int, str], asked: Asked) -> list[Any]:
    """As many readings, or the latest of as many parts, as are asked for and there are."""
    if asked.counts == EVERY:
        return _rows(read, of, asked, asked.last)
    most = TWICE * asked.last
    while True:
        rows = _rows(read, of, asked, most)
        newest = _latest(rows, asked.last)
        if len(newest) == asked.last or len(rows) < most:
            return newest
        most *= TWICE


def _latest(rows: Any, most: int) -> list[Any]:
    """The latest row of each part, of rows with the newest first."""
    newest: dict[str, Any] = {}
    for row in rows:
        if len(newest) < most:
            newest.setdefault(row.serial, row)
    return list(newest.values())


def _first_us(read: Read, asked: Asked) -> int:
    """Midnight at the site on the first day looked at; Refused where it is no date."""
    try:
        day = date.fromisoformat(asked.since)
    except ValueError:
        raise Refused(f"since {asked.since[:40]!r} is not a date such as 2026-10-01") from None
    if day.year not in YEARS:
        raise Refused(f"since {day.isoformat()} lies before or after anything on record")
    return midnight_us(day.isoformat(), read.site.zone)


def _rows(read: Read, of: tuple[str, int, str], asked: Asked, most: int) -> list[Any]:
    """The newest rows first, `most` of them."""
    product, step, code = of
    places = PLACES[asked.among]
    # Of few parts the readings are found by the parts, not by going back in time through those
    # of all that ever passed; so the column that the other way is found by is not bare then.
    few = bool(places) and _are_few(read, product, places)
    query = select(
        Reading.serial, Reading.value, Reading.at_us, Reading.suspect, Reading.uncertainty,
        Reading.gauge,
    ).where(
        Reading.site_id == read.site.id,
        (Reading.step + 0 if few else Reading.step) == step,
        Reading.characteristic == code,
        Reading.product == product,
        Reading.known_to_us >= read.known_before_us,
    )  # fmt: skip
    if few:
        query = query.where(Reading.serial.in_(select(PartNow.serial).where(
            *_there(read, product, places)
        )))  # fmt: skip
    elif places:
        here = (PartNow.site_id == Reading.site_id) & (PartNow.serial == Reading.serial)
        query = query.join(PartNow, here).where(PartNow.place.in_(places))
    if asked.since:
        query = query.where(Reading.at_us >= _first_us(read, asked))
    query = query.order_by(Reading.at_us.desc(), Reading.number.desc())
    return list(read.connection.execute(query.limit(most)))


def _there(read: Read, product: str, places: tuple[str, ...]) -> tuple[Any, ...]:
    """Parts of a product that are at some places in the flow."""
    return (
        PartNow.site_id == read.site.id,
        PartNow.product == product,
        PartNow.place.in_(places),
    )


def _are_few(read: Read, product: str, places: tuple[str, ...]) -> bool:
    some = select(PartNow.serial).where(*_there(read, product, places)).limit(FEW + 1)
    count = select(func.count()).select_from(some.subquery())
    return int(read.connection.execute(count).scalar_one()) <= FEW
