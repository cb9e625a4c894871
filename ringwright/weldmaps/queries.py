"""Which rings are under way, which films wait, which parts went on in spite of an open weld."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Exists, and_, exists, func, or_, select

from ringwright.flow.queries import believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, PartNow, Visit
from ringwright.welds.queries import PlanRevision, open_serials, read_plans, read_rings
from ringwright.welds.state import Ring
from ringwright.welds.tables import WeldRing
from ringwright.welds.telling import not_covered, waiting_on

MOST_RINGS: Final = 200
MOST_BREACHES: Final = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class RingLine:
    """A ring with an open weld, and where its part stands."""

    ring: Ring
    place: str
    """Empty as of a past moment."""
    step: int | None
    hold: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmLine:
    """A film that waits for its reader."""

    serial: str
    film: str
    taken_us: int
    welds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """A part that was accepted at the step that asks all welds, without all of them."""

    serial: str
    product: str
    step: int
    end_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldsUnderWay:
    """Everything the page of all rings shows."""

    rings: tuple[RingLine, ...]
    of: int
    """How many there are, where the first alone are shown."""
    films: tuple[FilmLine, ...]
    breaches: tuple[Breach, ...]
    plans: tuple[PlanRevision, ...]
    """The newest of each product."""


def read_under_way(read: Read) -> WeldsUnderWay:
    """From one snapshot, as known then."""
    plans = read_plans(read.connection, read.site.id, known_before_us=read.known_before_us)
    serials = open_serials(read)
    gone = _gone(read, serials)
    wanted = [serial for serial in serials if serial not in gone]
    let_go = read_conceded(read, wanted)
    rings = [
        ring
        for ring in read_rings(read, wanted[:MOST_RINGS])
        if not_covered(ring, conceded_of(ring, let_go))
    ]
    lines = _lines(read, rings)
    newest = {one.plan.product: one for one in plans}
    return WeldsUnderWay(
        rings=tuple(lines),
        of=len(rings) if len(wanted) <= MOST_RINGS else len(wanted),
        films=tuple(_films(rings)),
        breaches=tuple(_breaches(read, plans)),
        plans=tuple(newest.values()),
    )


def _gone(read: Read, serials: Sequence[str]) -> frozenset[str]:
    """Parts scrapped or released by then: no weld of theirs is under way."""
    scrapped = and_(
        Life.scrapped_us.is_not(None), Life.scrapped_known_us < read.known_before_us
    )
    released = and_(
        Life.released_us.is_not(None), Life.released_known_us < read.known_before_us
    )
    query = select(Life.serial).where(
        believed(read, Life), Life.serial.in_(serials), or_(scrapped, released)
    )
    return frozenset(read.connection.execute(query).scalars())


Conceded = dict[str, list[tuple[int, int]]]
"""Serial to (step, when it was known) of each concession."""


def read_conceded(read: Read, serials: Sequence[str]) -> Conceded:
    """Every concession of the design authority on some parts."""
    query = select(Visit.serial, Visit.step, Visit.end_known_us).where(
        believed(read, Visit),
        Visit.serial.in_(serials),
        Visit.outcome == "concession",
        Visit.end_known_us < read.known_before_us,
    )
    found: Conceded = {}
    for row in read.connection.execute(query):
        found.setdefault(row.serial, []).append((row.step, row.end_known_us))
    return found


def conceded_of(ring: Ring, conceded: Conceded) -> int | None:
    """When welds of the ring were let go last; None if never."""
    after = ring.ruled.accepted_after
    known = [us for step, us in conceded.get(ring.serial, ()) if step >= after]
    return max(known, default=None)


def _lines(read: Read, rings: Sequence[Ring]) -> list[RingLine]:
    known = {}
    if read.as_of_us is None:
        query = select(PartNow.serial, PartNow.place, PartNow.step, PartNow.hold).where(
            PartNow.site_id == read.site.id,
            PartNow.serial.in_([ring.serial for ring in rings]),
        )
        known = {row.serial: row for row in read.connection.execute(query)}
    found = []
    for ring in rings:
        row = known.get(ring.serial)
        found.append(
            RingLine(
                ring=ring,
                place=row.place if row else "",
                step=row.step if row else None,
                hold=(row.hold or "") if row else "",
            )
        )
    return sorted(found, key=_urgency)


def _urgency(line: RingLine) -> tuple[int, int, str]:
    """What needs somebody first: at the limit, then to be read, then the rest."""
    ring = line.ring
    return -len(ring.in_state("at the limit")), -len(ring.in_state("to read")), ring.serial


def _films(rings: Iterable[Ring]) -> list[FilmLine]:
    found = [
        FilmLine(serial=ring.serial, film=film.code, taken_us=film.at_us, welds=tuple(waiting))
        for ring in rings
        for film in ring.films.values()
        if film.good and (waiting := waiting_on(ring, film))
    ]
    return sorted(found, key=lambda one: (one.taken_us, one.serial))


def _breaches(read: Read, plans: Sequence[PlanRevision]) -> list[Breach]:
    """Passes at the step that asks all welds, of parts welded under a plan, with one open.

    Only a history that was loaded can hold one, or a verdict withdrawn after the pass.
    """
    found: list[Breach] = []
    first: dict[str, PlanRevision] = {}
    for one in plans:
        first.setdefault(one.plan.product, one)
    for product, one in first.items():
        query = (
            select(Visit.serial, Visit.step, func.max(Visit.end_us).label("end_us"))
            .where(
                believed(read, Visit),
                Visit.product == product,
                Visit.step == one.plan.accepted_after,
                Visit.outcome == "pass",
                Visit.end_known_us < read.known_before_us,
                ~_done(read),
                ~_welded_before(read, one),
            )
            .group_by(Visit.serial, Visit.step)
            .order_by(func.max(Visit.end_us).desc())
            .limit(MOST_BREACHES)
        )
        found += [
            Breach(serial=row.serial, product=product, step=row.step, end_us=row.end_us)
            for row in read.connection.execute(query)
        ]
    return found


def _done(read: Read) -> Exists:
    return exists().where(
        WeldRing.site_id == read.site.id,
        WeldRing.serial == Visit.serial,
        WeldRing.done_us < read.known_before_us,
    )


def _welded_before(read: Read, plan: PlanRevision) -> Exists:
    earlier = Visit.__table__.alias("earlier")
    return exists().where(
        earlier.c.site_id == read.site.id,
        earlier.c.serial == Visit.serial,
        earlier.c.step == plan.plan.welding_step,
        earlier.c.begin_us < plan.effective_us,
    )
