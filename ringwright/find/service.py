"""Find anything by its name or the beginning of it: what there is, group by group."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from ringwright.core.calendar import parse_instant, week_of, week_window
from ringwright.core.errors import Refused
from ringwright.core.glossary import N_
from ringwright.core.practice import serial_of
from ringwright.find import queries
from ringwright.flow.loads import LOAD_KINDS, Load, load_code, loads_of
from ringwright.ledger.service import Read
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.queries import card_finder, in_force, read_revisions
from ringwright.sites.queries import read_people, read_stations

LONGEST: Final = 100
"""Letters of a name that are looked at; codes here are far shorter."""
SHOWN: Final = 20
"""How many of a group stand on the page."""
DAY_US: Final = 24 * 3600 * 1_000_000
NEAR: Final = 2
"""Letters that a neighbour must share before it is offered."""

_WEEK: Final = re.compile(r"(?:(\d{4})[- ]?)?(?:w|week|kw)[- ]?(\d{1,2})", re.IGNORECASE)
_LOAD: Final = re.compile(r"(.+?)[@, ]+(\d{4}-\d{2}-\d{2})(T\S+)?")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a hit leads: the route, what fills its address, and where on its page."""

    route: str
    values: tuple[tuple[str, Any], ...] = ()
    anchor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One thing found: its name, what is known of it, where it may lead (the first served)."""

    name: str
    about: tuple[str, ...] = ()
    """Codes and names of the shop; a role among them has its word."""
    word: str = ""
    """A word to be translated, such as where a part stands."""
    step: int | None = None
    places: tuple[Place, ...] = ()
    begin_us: int | None = None
    """When a load began, for its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """What was found of one kind."""

    kind: str
    hits: tuple[Hit, ...]
    count: int
    more: bool = False
    """True when there are more than were counted."""
    lately: bool = False
    """True where only the last seven days were looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Everything that a text names, and what is near it in the list of serials."""

    text: str
    zone: str
    site: str
    groups: tuple[Group, ...]
    near: tuple[Hit, ...]
    straight: str | None
    """What the part bears now, when the text names exactly one."""
    now_us: int

    @property
    def count(self) -> int:
        """How many things were found in all, as far as they were counted."""
        return sum(group.count for group in self.groups)


PART_PLACES: Final[dict[str, str]] = {
    "waiting": N_("waiting at %(step)s"), "in work": N_("in work at %(step)s"),
    "released": N_("released"), "scrapped": N_("scrapped"), "sent": N_("sent"),
    "fitted": N_("fitted"),
}  # fmt: skip
RETIRED: Final = N_("a mark it bears no more")
MARK: Final = N_("a mark it bears")


def clean(text: str) -> str:
    """What was typed or scanned: no control characters, no blanks at its ends, not too long."""
    kept = "".join(letter for letter in text if unicodedata.category(letter) not in BAD)
    return " ".join(kept.split())[:LONGEST].strip()


BAD: Final = frozenset({"Cc", "Cs", "Cn", "Co"})


def find(read: Read, text: str) -> Found:
    """Everything whose name begins with a text, and a week, load or step that it names.

    Raises Refused for a practice label at a real site.
    """
    asked = serial_of(clean(text), practice=read.site.practice_of is not None)
    spellings = tuple(dict.fromkeys((asked, asked.upper(), asked.lower())))
    straight = _straight(read, asked, spellings) if asked else None
    groups: list[Group] = []
    if asked and straight is None:
        search = _Search(read, asked, spellings)
        # A kind of thing that comes with another room adds its finder here.
        groups = [group for finder in FINDERS for group in finder(search) if group.hits]
    near = _near(read, asked) if asked and not groups and straight is None else ()
    return Found(
        text=asked,
        zone=read.site.zone,
        site=read.site.name or read.site.code,
        groups=tuple(groups),
        near=near,
        straight=straight,
        now_us=read.now_us,
    )


def _straight(read: Read, asked: str, spellings: Sequence[str]) -> str | None:
    """The serial when exactly one part bears the name, as it was written or in another case.

    A mark that its part bears no more leads nowhere by itself: the old label is to be seen.
    """
    parts = queries.parts_named(read, spellings)
    named: dict[str, str] = {r.serial: r.serial for r in parts if r.mark in (None, r.serial)}
    for row in queries.marks_named(read, spellings):
        if not row.retired:
            named.setdefault(row.mark, row.mark)
    if asked in named:
        return named[asked]
    bearers = set(named.values())
    return bearers.pop() if len(bearers) == 1 else None


@dataclass(frozen=True, slots=True)
class _Search:
    read: Read
    asked: str
    spellings: tuple[str, ...]

    def begins(self, name: str) -> bool:
        """True when a name begins as was asked, in any of the spellings."""
        return name.startswith(self.spellings)

    def like(self, *names: str) -> bool:
        """True when a name of few begins so in any case, or a later word of it does."""
        asked = self.asked.casefold()
        folded = (name.casefold() for name in names)
        return any(name.startswith(asked) or f" {asked}" in name for name in folded)


def _parts(search: _Search) -> list[Group]:
    found: dict[str, Any] = {}
    full = False
    for spelling in search.spellings:
        rows = queries.parts_from(search.read, spelling)
        hits = {row.serial: row for row in rows if search.begins(row.serial)}
        full = full or len(hits) >= queries.MOST
        found |= hits
    return [_group("part", map(_part, found.values()), full)]


def _part(row: Any) -> Hit:
    return Hit(
        name=row.serial,
        about=(row.product,),
        word=PART_PLACES.get(row.place, row.place),
        step=row.step,
        places=_part_places(row.mark or row.serial),
    )


def _part_places(serial: str) -> tuple[Place, ...]:
    page = Place("trace.part", (("serial", serial),))
    return page, Place("bench.page", (("scan", serial),))


def _marks(search: _Search) -> list[Group]:
    found: dict[tuple[str, str], Hit] = {}
    full = False
    for spelling in search.spellings:
        rows = [r for r in queries.marks_from(search.read, spelling) if search.begins(r.mark)]
        full = full or len(rows) >= queries.MOST
        for row in rows:
            # A part that is listed by its serial is not listed again by its marks.
            if row.mark in search.spellings or not search.begins(row.serial):
                found[row.mark, row.serial] = Hit(
                    name=row.mark, about=(row.serial,), word=RETIRED if row.retired else MARK,
                    places=_part_places(row.now or row.serial),
                )  # fmt: skip
    return [_group("mark", found.values(), full)]


PLACE_OF: Final = {
    "trace.containment": "code",
    "sets.set": "set_code",
    "heatruns.run": "run",
}
"""What the address of a page calls the name, where that is not its kind."""


def _named(
    search: _Search, kind: str, names_from: Callable[[Read, str], list[str]], route: str
) -> Group:
    """Names read along an index, each leading to the page that asks about it."""
    found: dict[str, None] = {}
    full = False
    for spelling in search.spellings:
        read = names_from(search.read, spelling)
        full = full or (len(read) >= queries.MOST_NAMES and search.begins(read[-1]))
        found |= dict.fromkeys(name for name in read if search.begins(name))
    field = PLACE_OF.get(route, kind)
    hits = (Hit(name=n, places=(Place(route, ((field, n),)),)) for n in sorted(found))
    return _group(kind, hits, full)


def _lots(search: _Search) -> list[Group]:
    return [_named(search, "lot", queries.lots_from, "trace.touched")]


def _defects(search: _Search) -> list[Group]:
    return [_named(search, "defect", queries.defects_from, "trace.touched")]


def _containments(search: _Search) -> list[Group]:
    return [_named(search, "containment", queries.containments_from, "trace.containment")]


def _sets(search: _Search) -> list[Group]:
    return [_named(search, "set", queries.sets_from, "sets.set")]


def _furnaces(search: _Search) -> list[Group]:
    return [
        _named(search, "furnace-run", queries.runs_from, "heatruns.run"),
        _named(search, "recipe", queries.recipes_from, "heatruns.recipe"),
    ]


def _whereabouts(search: _Search) -> list[Group]:
    return [_named(search, "whereabouts", queries.whereabouts_from, "floor.parts")]


def _loads(search: _Search) -> list[Group]:
    """The loads of a station: of a day, or the one of an instant, or else of the last week."""
    zone, now_us = search.read.site.zone, search.read.now_us
    named = _LOAD.fullmatch(search.asked)
    if named is None:
        hits, more = _loads_at(search, search.asked, now_us - 7 * DAY_US, now_us + 1)
        return [replace(_group("run", reversed(hits), more), lately=True)]
    station, day, clock = named.groups()
    try:
        at_us = parse_instant(f"{day}{clock or 'T00:00'}".upper().replace(" ", "+"), zone)
    except ValueError:
        return []
    hits, more = _loads_at(search, station, at_us, at_us + (1 if clock else DAY_US))
    return [_group("run", hits, more)]


def _loads_at(
    search: _Search, station: str, from_us: int, to_us: int
) -> tuple[list[Hit], bool]:
    """Loads that began at a station within a span, and whether there may be more."""
    read, hits, more = search.read, [], False
    card_of = card_finder(read.connection, read.site.id)
    for code in dict.fromkeys((station, station.upper())):
        # From the day before on: a load that began then is not to be cut in two.
        rows = queries.visits_at(read, code, from_us - DAY_US, to_us)
        more = more or len(rows) >= queries.MOST_VISITS
        worked = [
            row for row in rows if _in_loads(card_of(row.product, row.revision), row.step)
        ]
        loads = [load for load in loads_of(worked) if from_us <= load.begin_us < to_us]
        hits += [_load(load, read.site.zone) for load in sorted(loads, key=_begin)]
    return hits, more


def _begin(load: Load) -> int:
    return load.begin_us


def _in_loads(card: RouteCard, number: int) -> bool:
    step = card.by_number.get(number)
    return step is not None and step.kind in LOAD_KINDS


def _load(load: Load, zone: str) -> Hit:
    code = load_code(load.station, load.begin_us, zone)
    return Hit(
        name=load.station,
        about=(str(load.step),),
        begin_us=load.begin_us,
        places=(Place("trace.touched", (("run", code),)),),
    )


def _steps_and_products(search: _Search) -> list[Group]:
    """Products by code or name, and steps by number or name, on the cards in force."""
    read = search.read
    revisions = read_revisions(read.connection, read.site.id)
    steps, products = [], []
    for code in dict.fromkeys(row.product for row in revisions):
        mine = [row for row in revisions if row.product == code]
        card = in_force(mine, read.now_us).card
        if search.like(code, card.name):
            place = Place("flow.week", (("product", code),))
            products.append(Hit(name=code, about=(card.name,), places=(place,)))
        steps += [
            _step(code, step)
            for step in card.steps
            if search.like(step.name, f"{step.number} {step.name}", f"{code}/{step.number}")
        ]
    return [_group("product", products, False), _group("step", steps, False)]


def _step(product: str, step: Step) -> Hit:
    week = Place("flow.week", (("product", product),), f"step-{product}-{step.number}")
    parts = Place("floor.parts", (("product", product), ("step", step.number)))
    return Hit(name=f"{step.number} {step.name}", about=(product,), places=(parts, week))


def _stations(search: _Search) -> list[Group]:
    stations = read_stations(search.read.connection, search.read.site.id)
    hits = [
        Hit(
            name=station.code,
            about=(station.name,) if station.name else (),
            places=(Place("trace.touched", (("station", station.code),)),),
        )
        for station in stations
        if search.like(station.code, station.name)
    ]
    return [_group("station", hits, False)]


def _people(search: _Search) -> list[Group]:
    people = read_people(search.read.connection, search.read.site.id)
    hits = [
        Hit(
            name=person.code,
            about=person.roles,
            places=(Place("trace.touched", (("person", person.code),)),),
        )
        for person in people
        if search.like(person.code)
    ]
    return [_group("person", hits, False)]


def _weeks(search: _Search) -> list[Group]:
    named = _WEEK.fullmatch(search.asked)
    if named is None:
        return []
    site = search.read.site
    present = week_of(search.read.now_us, site.zone, site.week_starts)
    week = f"{named[1] or present[:4]}-W{int(named[2]):02}"
    try:
        week_window(week, site.zone, site.week_starts)
    except (ValueError, Refused, OverflowError):
        return []
    place = Place("flow.week", (("week", week),))
    return [_group("week", [Hit(name=week, places=(place,))], False)]


FINDERS: Final[tuple[Callable[[_Search], list[Group]], ...]] = (
    _parts, _marks, _lots, _loads, _defects, _containments, _sets, _furnaces,
    _steps_and_products,
    _stations, _people, _weeks, _whereabouts,
)  # fmt: skip


def _group(kind: str, hits: Iterable[Hit], more: bool) -> Group:
    found = tuple(hits)
    return Group(kind=kind, hits=found[:SHOWN], count=len(found), more=more)


def _near(read: Read, asked: str) -> tuple[Hit, ...]:
    """The neighbours in the list of serials that begin alike."""
    rows = [*queries.parts_before(read, asked), *queries.parts_from(read, asked)[:1]]
    return tuple(_part(row) for row in rows if row.serial[:NEAR] == asked[:NEAR])
