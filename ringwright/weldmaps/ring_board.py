"""One ring as a page asks for it, from one snapshot."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import func, select

from ringwright.core.errors import Missing
from ringwright.flow.queries import believed
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.parts.queries import PartCard, read_part
from ringwright.parts.tables import PartMark, Visit
from ringwright.weldmaps.drawing import RingDrawing, draw_ring
from ringwright.weldmaps.queries import conceded_of, read_conceded
from ringwright.welds.card import WeldPlan
from ringwright.welds.queries import PlanRevision, plan_in_force, read_plans, read_ring
from ringwright.welds.state import (
    AT_LIMIT,
    EXCAVATED,
    PROVED_CLEAR,
    TO_EXCAVATE,
    Film,
    Ring,
    Weld,
    ring_on,
)
from ringwright.welds.telling import not_covered, waiting_on


@dataclass(frozen=True, kw_only=True)
class RingBoard:
    """A ring, where its part stands, and its picture."""

    drawn: Snapshot
    part: PartCard
    ring: Ring
    drawing: RingDrawing
    left: tuple[str, ...]
    """Welds that keep the part: open, and not let go by a concession."""

    @property
    def plan(self) -> WeldPlan:
        """The plan it follows."""
        return self.ring.ruled

    @property
    def waiting(self) -> list[Film]:
        """Films that wait for their reader."""
        return [film for film in self.ring.films.values() if self.due(film)]

    def due(self, film: Film) -> list[str]:
        """Welds of a film that wait for their verdict."""
        return waiting_on(self.ring, film) if film.good else []

    @property
    def to_mend(self) -> list[Weld]:
        """Welds that are mended one by one, or that nobody may mend any more."""
        states = (AT_LIMIT, TO_EXCAVATE, EXCAVATED, PROVED_CLEAR)
        return [self.ring.welds[code] for code in self.ring.in_state(*states)]

    @property
    def to_act(self) -> bool:
        """True on a page that shows how it is now."""
        return not self.drawn.as_of

    def weld(self, code: str) -> Weld:
        """One weld; raises Missing."""
        found = self.ring.welds.get(code)
        if found is None:
            raise Missing(f"the ring of {self.ring.serial} has no weld {code[:20]}")
        return found

    def film(self, code: str) -> Film:
        """One film; raises Missing."""
        found = self.ring.films.get(code)
        if found is None:
            raise Missing(f"there is no film {code[:20]} of {self.ring.serial}")
        return found


@dataclass(frozen=True, kw_only=True)
class NoRing:
    """A part whose welds nobody asks for: of a product without a plan, or welded before it."""

    drawn: Snapshot
    part: PartCard
    before: bool
    """True for one welded before its product had a plan."""


def read_ring_board(read: Read, serial: str) -> RingBoard | NoRing:
    """The ring of a part by serial or mark; raises Missing for no such part."""
    part = read_part(read, _bears(read, serial))
    ring = read_ring(read, part.serial)
    if ring is None or ring.plan is None:
        plans = read_plans(read.connection, read.site.id, part.product, read.known_before_us)
        plan = _plan_of(read, part, plans)
        if plan is None:
            drawn = snapshot_of(read, to_the_minute=True)
            return NoRing(drawn=drawn, part=part, before=bool(plans))
        ring = ring_on(part.serial, plan)
    return RingBoard(
        drawn=snapshot_of(read, to_the_minute=True),
        part=part,
        ring=ring,
        drawing=draw_ring(ring),
        left=tuple(not_covered(ring, conceded_of(ring, read_conceded(read, [part.serial])))),
    )


def _bears(read: Read, serial: str) -> str:
    """The mark a part bears now, where a page names it by the serial it is recorded under."""
    query = select(PartMark.mark).where(
        PartMark.site_id == read.site.id,
        PartMark.serial == serial,
        PartMark.retired.is_(False),
    )
    return read.connection.execute(query).scalar() or serial


def _plan_of(read: Read, part: PartCard, plans: list[PlanRevision]) -> WeldPlan | None:
    """The plan in force when the part came to be welded, or now where it has not come yet."""
    steps = {one.plan.welding_step for one in plans}
    query = select(func.min(Visit.begin_us)).where(
        believed(read, Visit), Visit.serial == part.serial, Visit.step.in_(steps)
    )
    begun_us = read.connection.execute(query).scalar() if plans else None
    return plan_in_force(plans, read.now_us if begun_us is None else begun_us)
