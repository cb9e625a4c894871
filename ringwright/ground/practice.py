"""Open a practice site beside a real one, and bring it up to the real one's ground rules."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Final

from sqlalchemy import select

from ringwright.bench.rules import Booking
from ringwright.bench.service import Book, book
from ringwright.core.errors import Clash, Refused
from ringwright.core.practice import WORD
from ringwright.gauges.queries import read_gauges, read_masters, read_pasts
from ringwright.ground.practice_case import copy_case_shop
from ringwright.ground.practice_heat import copy_furnaces, copy_recipes
from ringwright.ground.practice_walls import copy_wall_plans
from ringwright.ledger.service import Answer, Ledger
from ringwright.ledger.transaction import Actor, Draft, Tx, fetch_entries
from ringwright.parts.tables import PartNow
from ringwright.routecards.card import RouteCard
from ringwright.routecards.queries import Revision, in_force, read_revisions
from ringwright.routecards.service import LoadRoute, load_route
from ringwright.sets.facts import RotorSet
from ringwright.sites.facts import PracticeOpened
from ringwright.sites.queries import (
    practice_site_of,
    read_calendar_codes,
    read_calendars,
    read_people,
    read_site,
    read_stations,
    site_id_of,
)
from ringwright.sites.service import ExtendSite, extend_site
from ringwright.sites.site import Calibration, Gauge, SiteFile

MOST_PARTS: Final = 200
"""Practice parts of one product that may wait at its first step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Practise:
    """Bring a practice site up to its real site's ground rules, with parts to practise on."""

    operation: ClassVar[str] = "practice"
    parts: int = 0
    """How many practice parts of each product shall wait, untouched, at its first step."""
    key: str | None = None

    def body(self) -> Any:
        """How many parts are asked for."""
        return self.parts

    def subject(self) -> str:
        """Nothing single."""
        return "practice"


def open_practice(
    ledger: Ledger, site: str | None, code: str | None, parts: int, actor: Actor
) -> Answer:
    """Open the practice site of a real one, or bring it up to date.

    `site` may name the practice site that is there, too. Raises Refused for a bare site or a
    code that is taken, Missing for an unknown site, Forbidden.
    """
    with ledger.read(site) as read:
        real = read.site.practice_of or read.site.code
        real_id = site_id_of(read.connection, real)
        there = practice_site_of(read.connection, real_id)
    wanted = code or there or f"{real}-{WORD}"
    command = Practise(parts=_check_parts(parts))
    ledger.open_site(wanted, practice_of=real)
    return ledger.execute(wanted, command, actor)


def _check_parts(parts: int) -> int:
    if not 0 <= parts <= MOST_PARTS:
        raise Refused(f"parts must be from 0 to {MOST_PARTS} of each product")
    return parts


def practise(tx: Tx, command: Practise) -> Answer:
    """Record what differs from the real site's rules, then the parts that are lacking.

    Nothing is taken away: whoever exists only in the practice site stays. Raises Refused at a
    real site.
    """
    real = tx.site.practice_of
    if real is None:
        raise Refused(f"{tx.site.code} is a real site; nothing is practised in it")
    real_id = site_id_of(tx.connection, real)
    before = tx.head_seq
    if before == 0:
        tx.append(Draft(fact=PracticeOpened(of=real), subject=real, at_us=tx.now_us))
    _copy_site(tx, real_id)
    left = _copy_cards(tx, real_id)
    _copy_rotors(tx, real_id)
    copy_furnaces(tx, real_id)
    tx.project()
    left += copy_recipes(tx, real_id)
    left += copy_wall_plans(tx, real_id)
    left += copy_case_shop(tx, real_id)
    added = tx.head_seq - before
    # The parts are made by the cards as they are now.
    tx.project()
    made = sum(_make_parts(tx, product, command.parts) for product in _products(tx))
    return {"site": tx.site.code, "of": real, "added": added, "parts": made, "left": left}


def _copy_site(tx: Tx, real_id: int) -> None:
    """Zone, week, calendars, stations and people of the real site."""
    connection, code = tx.connection, tx.site.code
    name, zone, week_starts = read_site(connection, real_id)
    calendars = [
        calendar
        for code in read_calendar_codes(connection, real_id)
        for calendar in read_calendars(connection, real_id, code)
    ]
    gauges = tuple(read_gauges(connection, real_id))
    file = SiteFile(
        code=code,
        name=f"{WORD} {name or tx.site.practice_of}",
        zone=zone,
        week_starts=week_starts,
        calendars=tuple(calendars),
        stations=tuple(read_stations(connection, real_id)),
        people=tuple(read_people(connection, real_id)),
        gauges=gauges,
        masters=tuple(read_masters(connection, real_id)),
        calibrations=_calibrations(tx, real_id, gauges),
    )
    extend_site(tx, ExtendSite(file=file))
    # Dates of route cards are of this zone, from the first command on.
    tx.site = replace(tx.site, name=file.name, zone=zone, week_starts=week_starts)


def _calibrations(tx: Tx, real_id: int, gauges: Sequence[Gauge]) -> tuple[Calibration, ...]:
    """The last calibration of each gauge, as it was recorded."""
    pasts = read_pasts(tx.connection, real_id, gauges, most_checks=1)
    found = [(past.gauge.code, past.calibrations[-1]) for past in pasts.values()
             if past.calibrations]  # fmt: skip
    return tuple(
        Calibration(
            gauge=code,
            on=one.on,
            due=one.due,
            good=one.good,
            certificate=one.certificate,
            uncertainty=one.uncertainty,
            note=one.note,
        )
        for code, one in found
    )


def _cards(tx: Tx, site_id: int) -> Iterator[RouteCard]:
    """Of each product of a site the card in force, and those that are still to come."""
    for rows in _by_product(read_revisions(tx.connection, site_id)).values():
        now = in_force(rows, tx.now_us)
        for row in rows:
            if row is now or row.effective_us > tx.now_us:
                yield row.card


def _by_product(revisions: list[Revision]) -> dict[str, list[Revision]]:
    found: dict[str, list[Revision]] = {}
    for row in revisions:
        found.setdefault(row.product, []).append(row)
    return found


def _copy_cards(tx: Tx, real_id: int) -> list[str]:
    """Take the cards in; the names of those that have other content in the practice site."""
    left = []
    for card in _cards(tx, real_id):
        try:
            load_route(tx, LoadRoute(card=card))
        except Clash:
            left.append(f"{card.product} {card.revision}")
    return left


def _copy_rotors(tx: Tx, real_id: int) -> None:
    """What each product's rotor allows, as it was entered last."""
    products = list(_by_product(read_revisions(tx.connection, real_id)))
    kind = RotorSet.subject_kind
    found = fetch_entries(tx.connection, tx.registry, real_id, kind, products)
    for product, entries in found.items():
        fact = RotorSet(**entries[-1].data)
        history = tx.history(kind, product)
        if not history or history[-1].data != fact.payload():
            tx.append(Draft(fact=fact, subject=product, at_us=tx.now_us), history)


def _products(tx: Tx) -> list[str]:
    return sorted(_by_product(read_revisions(tx.connection, tx.site.id)))


def _make_parts(tx: Tx, product: str, wanted: int) -> int:
    """Create what is lacking of the untouched parts; how many that were."""
    prefix = f"P-{product}-"
    query = select(PartNow.serial).where(
        PartNow.site_id == tx.site.id, PartNow.serial.startswith(prefix, autoescape=True)
    )
    serials = list(tx.connection.execute(query).scalars())
    tails = [serial.removeprefix(prefix) for serial in serials]
    numbers = [int(tail) for tail in tails if tail.isascii() and tail.isdigit()]
    histories = tx.histories("part", serials)
    fresh = sum(len(entries) == 1 for entries in histories.values())
    last = max(numbers, default=0)
    for number in range(last + 1, last + 1 + wanted - fresh):
        serial = f"{prefix}{number:03d}"
        book(tx, Book(booking=Booking(act="create", serial=serial, product=product)))
    return max(0, wanted - fresh)
