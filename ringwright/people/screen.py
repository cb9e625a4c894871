"""Who acts at a screen, and at which station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote, unquote

from fastapi import Depends, Request
from starlette.responses import Response

from ringwright.core.errors import Missing
from ringwright.ledger.service import Ledger, Read
from ringwright.ledger.transaction import Actor
from ringwright.people.allowing import may_act
from ringwright.people.confirming import ConfirmationNeeded, Signatures, signatures_of
from ringwright.people.queries import read_permits
from ringwright.people.visitor import here
from ringwright.people.words import ROLE_WORDS
from ringwright.sites.queries import read_people, read_stations
from ringwright.sites.site import Person, Station

STATION: Final = "station"
KEPT_S: Final = 400 * 24 * 3600
"""A bench keeps its station; browsers allow 400 days at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One screen on the shop floor: its site, its station, who acts there."""

    ledger: Ledger
    site: str
    zone: str
    stations: tuple[Station, ...]
    people: tuple[Person, ...]
    station: Station | None
    person: Person | None
    """Who is signed in, or signed this act; None at a shared bench until somebody signs."""
    shared: bool = False
    """True at a shared bench: each act is signed by badge or PIN."""
    signed: Actor | None = None

    @property
    def station_code(self) -> str:
        """The station's code, empty while none is chosen."""
        return self.station.code if self.station else ""

    def words_of(self, person: Person) -> tuple[str, ...]:
        """The roles of a person in words, to be translated."""
        return tuple(ROLE_WORDS.get(role, role) for role in person.roles)

    @property
    def actor(self) -> Actor:
        """Who acts, in all their roles; raises ConfirmationNeeded while nobody signed."""
        if self.signed is None:
            raise ConfirmationNeeded("by")
        return self.signed

    def may(self, permission: str) -> bool:
        """True when whoever is signed in may do it; at a shared bench the signature decides."""
        if self.person is None:
            return self.shared
        return self.signed is not None and may_act(self.signed, permission)


def _actor(person: Person, signatures: Signatures, permits: frozenset[str]) -> Actor:
    return Actor(
        code=person.code,
        roles=frozenset(person.roles),
        self_inspection="self-inspection" in person.authorisations,
        permits=permits,
        second=signatures.second,
    )


def _lent(read: Read, person: Person | None) -> frozenset[str]:
    """What the person may do beyond their roles, for a time."""
    if person is None:
        return frozenset()
    permits = read_permits(read.connection, read.site.id, person.code, read.now_us)
    return frozenset(permit.permission for permit in permits)


def _screen(request: Request, site: str | None = None) -> Screen:
    ledger: Ledger = request.app.state.ledger
    visitor = here(request)
    signatures = signatures_of(request)
    person = signatures.by or visitor.person
    with ledger.read(site or visitor.site) as read:
        stations = tuple(read_stations(read.connection, read.site.id))
        people = tuple(read_people(read.connection, read.site.id))
        code, zone = read.site.code, read.site.zone
        lent = _lent(read, person)
    station = unquote(request.cookies.get(STATION, ""))
    if visitor.device is not None and visitor.device.station:
        station = visitor.device.station
    return Screen(
        ledger=ledger,
        site=code,
        zone=zone,
        stations=stations,
        people=people,
        station=next((s for s in stations if s.code == station), None),
        person=person,
        shared=visitor.is_bench,
        signed=None if person is None else _actor(person, signatures, lent),
    )


AtScreen = Annotated[Screen, Depends(_screen)]
"""Who acts at the screen that asks."""


def choose(screen: Screen, answer: Response, station: str) -> Response:
    """Let the browser keep its station; raises Missing for one not at the site."""
    if station and station not in {s.code for s in screen.stations}:
        raise Missing(f"there is no station {station} at this site")
    answer.set_cookie(
        STATION, quote(station), max_age=KEPT_S, httponly=True, samesite="lax", path="/"
    )
    return answer
