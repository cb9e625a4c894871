"""The planner's board: the plan kept, what is proposed, what a change would do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from ringwright.caseshop.desk import HOUR_US, TICK_US, Desk, read_desk
from ringwright.core.calendar import iso_text, week_of, week_window
from ringwright.core.errors import Missing, Refused
from ringwright.jobshop.change import Change, Effect, effect_of
from ringwright.jobshop.locks import Conflict, Impossible
from ringwright.jobshop.reasons import Late, reasons
from ringwright.jobshop.shop import Key, Placement, Plan, lateness
from ringwright.jobshop.solve import best_plan
from ringwright.jobshop.timing import missed, timed
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.machines.card import Placed

PROPOSALS: Final = Remembered[tuple[Plan | None, tuple[Conflict, ...]]]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One placement as a row of the board."""

    placement: Placement
    start_us: int
    end_us: int
    on: bool
    """True where the case is on the machine already."""
    late_ticks: int
    """Ticks that its case is late in the end."""

    @property
    def step(self) -> int:
        """The number of its step."""
        return int(self.placement.operation)


@dataclass(frozen=True, kw_only=True)
class Board:
    """Everything the board shows."""

    desk: Desk
    plan: Plan | None
    """As kept, with the hours of now; None: nothing is kept or nothing is to do."""
    lines: tuple[Line, ...]
    late: tuple[Late, ...]
    slipped: dict[Key, int]
    """Locks that cannot be kept any more."""
    proposed: bool
    """True where the plan is a proposal and not kept."""
    conflicts: tuple[Conflict, ...]
    """Locks that leave no plan at all."""
    effect: Effect | None
    change: Change | None
    week_end_us: int
    drawn: Snapshot

    @property
    def late_ticks(self) -> int:
        """Ticks of lateness of all cases together."""
        return sum(one.ticks for one in self.late)

    @property
    def kept_late_ticks(self) -> int | None:
        """The same of the plan as kept; None where none is."""
        if not self.desk.kept.number:
            return None
        return sum(lateness(self.desk.shop, timed(self.desk.shop, self.desk.turns)).values())

    @property
    def done_this_week(self) -> int:
        """Cases off their last machine by the end of the week."""
        return self.by_week_end(self.plan) if self.plan else 0

    def by_week_end(self, plan: Plan) -> int:
        """The same of another plan."""
        return sum(self.desk.us(end) <= self.week_end_us for end in plan.ends.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the board is asked for."""

    proposal: bool = False
    serial: str = ""
    step: int = 0
    machine: str = ""
    start_us: int | None = None
    locked: bool = True


def read_case_board(read: Read, asked: Asked) -> Board:
    """The board; raises Missing or Refused for a change that cannot be looked at."""
    desk = read_desk(read)
    plan: Plan | None = None
    conflicts: tuple[Conflict, ...] = ()
    if asked.proposal:
        plan, conflicts = _proposal(read, desk)
    elif desk.kept.number and desk.shop.operations:
        plan = timed(desk.shop, desk.turns)
    change = _change(desk, plan, asked) if asked.serial else None
    effect = effect_of(desk.shop, desk.turns, change) if change and change.machine else None
    week = week_of(read.now_us, read.site.zone, read.site.week_starts)
    return Board(
        desk=desk,
        plan=plan,
        lines=tuple(_lines(desk, plan)) if plan else (),
        late=tuple(reasons(desk.shop, plan)) if plan else (),
        slipped=missed(desk.shop, plan) if plan else {},
        proposed=asked.proposal,
        conflicts=conflicts,
        effect=effect,
        change=change,
        week_end_us=week_window(week, read.site.zone, read.site.week_starts)[1],
        drawn=snapshot_of(read, to_the_minute=True),
    )


def _proposal(read: Read, desk: Desk) -> tuple[Plan | None, tuple[Conflict, ...]]:
    """The best plan; the same record in the same quarter of an hour is asked once."""

    def work() -> tuple[Plan | None, tuple[Conflict, ...]]:
        try:
            return best_plan(desk.shop), ()
        except Impossible as found:
            return None, found.conflicts

    key = (read.site.code, read.head_seq, read.head_hash, desk.origin_us, read.as_of_us)
    return PROPOSALS.kept(key, work)


def _lines(desk: Desk, plan: Plan) -> Iterable[Line]:
    late, operations = lateness(desk.shop, plan), desk.shop.operations
    for one in plan.placements:
        yield Line(
            placement=one,
            start_us=desk.us(one.start),
            end_us=desk.us(one.end),
            on=bool(operations[one.key].on),
            late_ticks=late.get(one.serial, 0),
        )


def _change(desk: Desk, plan: Plan | None, asked: Asked) -> Change:
    key = (asked.serial, str(asked.step))
    operation = desk.shop.operations.get(key)
    if operation is None:
        raise Missing(f"{asked.serial[:60]} has no step {asked.step} to plan")
    if operation.on:
        raise Refused(f"{asked.serial} is on {operation.on} already; it cannot be moved here")
    one = plan.by_key.get(key) if plan else None
    machine = asked.machine or (one.machine if one else operation.machines[0])
    if machine not in operation.machines:
        may = ", ".join(operation.machines)
        raise Refused(f"{machine[:40]} may not do step {asked.step}; choose one of {may}")
    start = one.start if one and asked.start_us is None else None
    if asked.start_us is not None:
        start = desk.tick(asked.start_us)
    if (start or 0) < 0:
        raise Refused("the start lies in the past; give one from now on")
    return Change(key=key, machine=machine, start=start or 0, locked=asked.locked)


def placements_of(board: Board) -> tuple[Placed, ...]:
    """The plan on show as the record keeps it."""
    return tuple(
        Placed(
            serial=line.placement.serial, step=line.step, machine=line.placement.machine,
            start_us=line.start_us, locked=line.placement.locked,
        )
        for line in board.lines
    )  # fmt: skip


def board_json(board: Board) -> dict[str, Any]:
    """The board as the API answers it: the numbers of the page."""
    desk, zone = board.desk, board.drawn.zone
    return {
        "at": iso_text(board.drawn.now_us, zone),
        "entry": desk.kept.number,
        "proposed": board.proposed,
        "proved": bool(board.plan and board.plan.proved),
        "cases_by_week_end": board.done_this_week,
        "placements": [_placed_json(line, zone) for line in board.lines],
        "late": [_late_json(one) for one in board.late],
        "held": list(desk.held),
        "unplanned": list(desk.unplanned),
    }


def _placed_json(line: Line, zone: str) -> dict[str, Any]:
    one = line.placement
    return {
        "serial": one.serial,
        "step": line.step,
        "machine": one.machine,
        "start": iso_text(line.start_us, zone),
        "end": iso_text(line.end_us, zone),
        "set_up_h": one.set_up * TICK_US / HOUR_US,
        "locked": one.locked,
        "on": line.on,
    }


def _late_json(one: Late) -> dict[str, Any]:
    waits = [
        {
            "step": int(wait.key[1]),
            "for": wait.why,
            "machine": wait.machine,
            "behind": wait.behind,
            "fixture": wait.fixture,
            "hours": wait.ticks * TICK_US / HOUR_US,
        }
        for wait in one.waits
    ]
    return {
        "serial": one.serial,
        "late_h": one.ticks * TICK_US / HOUR_US,
        "own_h": one.own * TICK_US / HOUR_US,
        "waits": waits,
    }
