"""Who acts at a screen, and at which station; chosen there until people sign in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final
from urllib.parse import quote, unquote

from fastapi import Depends, Request
from starlette.responses import Response

from ringwright.core.errors import Forbidden, Missing
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.people.allowing import may_act
from ringwright.people.queries import read_permits
from ringwright.people.words import ROLE_WORDS
from ringwright.sites.queries import read_people, read_stations
from ringwright.sites.site import Person, Station

STATION: Final = "station"
WHO: Final = "who"
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
    permits: frozenset[str] = frozenset()
    """What the chosen person may do beyond their roles, for a time."""

    @property
    def station_code(self) -> str:
        """The station's code, empty while none is chosen."""
        return self.station.code if self.station else ""

    def words_of(self, person: Person) -> tuple[str, ...]:
        """The roles of a person in words, to be translated."""
        return tuple(ROLE_WORDS.get(role, role) for role in person.roles)

    @property
    def actor(self) -> Actor:
        """Who acts, in all roles of the chosen person; raises Forbidden while nobody is."""
        if self.person is None:
            raise Forbidden(
                "nobody is chosen at this screen; choose who acts, then do it again",
                code="nobody",
            )
        return Actor(
            code=self.person.code,
            roles=frozenset(self.person.roles),
            self_inspection="self-inspection" in self.person.authorisations,
            permits=self.permits,
        )

    def may(self, permission: str) -> bool:
        """True when the chosen person may do it."""
        return self.person is not None and may_act(self.actor, permission)


def _screen(request: Request, site: str | None = None) -> Screen:
    ledger: Ledger = request.app.state.ledger
    with ledger.read(site or None) as read:
        stations = tuple(read_stations(read.connection, read.site.id))
        people = tuple(read_people(read.connection, read.site.id))
        code, zone = read.site.code, read.site.zone
        who = unquote(request.cookies.get(WHO, ""))
        permits = read_permits(read.connection, read.site.id, who, read.now_us) if who else ()
    station = unquote(request.cookies.get(STATION, ""))
    return Screen(
        ledger=ledger,
        site=code,
        zone=zone,
        stations=stations,
        people=people,
        station=next((s for s in stations if s.code == station), None),
        person=next((p for p in people if p.code == who), None),
        permits=frozenset(permit.permission for permit in permits),
    )


AtScreen = Annotated[Screen, Depends(_screen)]
"""Who acts at the screen that asks."""


def choose(screen: Screen, answer: Response, station: str, who: str) -> Response:
    """Let the browser keep the station and who acts; raises Missing for one not at the site."""
    if station and station not in {s.code for s in screen.stations}:
        raise Missing(f"there is no station {station} at this site")
    if who and who not in {p.code for p in screen.people}:
        raise Missing(f"there is no person {who} at this site")
    for name, value in ((STATION, station), (WHO, who)):
        answer.set_cookie(
            name, quote(value), max_age=KEPT_S, httponly=True, samesite="lax", path="/"
        )
    return answer
