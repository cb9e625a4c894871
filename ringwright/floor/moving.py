"""Moving by scan: first what is moved, then the place. What a scan means is decided here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from ringwright.bench.forms import clean_scan
from ringwright.bench.queries import find_serial
from ringwright.core.errors import Missing, Refused, RingwrightError
from ringwright.core.glossary import N_
from ringwright.floor.queries import carrier_stays_now, place_known
from ringwright.floor.service import MoveMany
from ringwright.floor.standing import resolve
from ringwright.kit.forms import Given, new_key
from ringwright.ledger.service import Read
from ringwright.parts.queries import read_part
from ringwright.people.screen import Screen

PART, CARRIER = "part", "carrier"
PLACE: Final = "place"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A part or carrier that was scanned, and where it lies until now."""

    kind: str
    code: str
    lies: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """How the form carries it from scan to scan."""
        return f"{self.kind}:{self.code}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moving:
    """One screen of Move: what was scanned so far, what was said to the last scan."""

    things: tuple[Thing, ...] = ()
    doubt: str = ""
    """Something scanned that is neither part nor known place: what it is must be said."""
    trouble: RingwrightError | None = None
    title: str = N_("Not moved")
    booked: MoveMany | None = None
    key: str = field(default_factory=new_key)


def scanned(screen: Screen, given: Given) -> Moving:
    """What one scan does: it adds a thing, names the place and books, or asks back."""
    names = [name for name in given.texts("thing") if name != given.text("drop")]
    key = given.text("key") or new_key()
    with screen.ledger.read(screen.site) as read:
        stays = _stays(read)
        things = tuple(_thing(read, name, stays) for name in dict.fromkeys(names))
        text = clean_scan(given.text("scan")) or given.text("asked")
        said = given.text("as") or ("" if text != given.text("asked") else "again")
        if given.text("drop") or not text:
            return Moving(things=things, key=key)
        try:
            kind, code = _meaning(read, text, said, bool(things))
        except RingwrightError as error:
            return Moving(things=things, trouble=error, title=N_("Not taken"), key=key)
        if kind in (PART, CARRIER):
            thing = _thing(read, f"{kind}:{code}", stays)
            return Moving(things=_with(things, thing), key=key)
    if kind != PLACE:
        return Moving(things=things, doubt=text, key=key)
    return _book(screen, things, code, key)


def _with(things: tuple[Thing, ...], thing: Thing) -> tuple[Thing, ...]:
    return things if thing in things else (*things, thing)


def _stays(read: Read) -> dict[str, str]:
    rows = read.connection.execute(carrier_stays_now(read.site.id))
    return {row.code: row.place for row in rows}


def _thing(read: Read, name: str, stays: dict[str, str]) -> Thing:
    kind, _, code = name.partition(":")
    if kind == CARRIER:
        return Thing(kind=CARRIER, code=code, lies=resolve(code, stays)[1:])
    try:
        where = read_part(read, code).whereabouts
    except RingwrightError:
        where = None  # the booking will say so
    return Thing(kind=PART, code=code, lies=resolve(where, stays) if where else ())


def _meaning(read: Read, text: str, said: str, some: bool) -> tuple[str, str]:
    """What was scanned: a part, a carrier, a place, or "" where somebody must say it."""
    if said in (CARRIER, PLACE):
        return said, text
    serial = _serial(read, text)
    if serial is not None:
        return PART, serial
    known = read.connection.execute(place_known(read, text)).one()
    if known.carrier and not some:
        return CARRIER, text
    if known.carrier or known.lain or known.stood or known.station:
        if not some:
            raise Refused(f"{text} is a place; scan what is moved first, then the place")
        return PLACE, text
    if said == "again":
        return (PLACE if some else CARRIER), text
    return "", text


def _serial(read: Read, text: str) -> str | None:
    try:
        return read_part(read, find_serial(read, text)).serial
    except Missing:
        return None


def _book(screen: Screen, things: Sequence[Thing], to: str, key: str) -> Moving:
    command = MoveMany(
        parts=tuple(thing.code for thing in things if thing.kind == PART),
        carriers=tuple(thing.code for thing in things if thing.kind == CARRIER),
        to=to,
        key=key,
        station=screen.station_code,
    )
    try:
        screen.ledger.execute(screen.site, command, screen.actor)
    except RingwrightError as error:
        return Moving(things=tuple(things), trouble=error, key=key)
    return Moving(booked=command)
