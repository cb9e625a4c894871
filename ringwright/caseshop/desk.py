"""The case shop as the solver sees it: cases that stand, in quarters of an hour from now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ringwright.caseshop.queries import (
    Ground,
    Standing,
    Stay,
    read_ground,
    read_hours,
    read_standing,
    read_stays,
)
from ringwright.core.calendar import Interval, working_us
from ringwright.jobshop.shop import Case, Key, Lock, Machine, Operation, Shop
from ringwright.jobshop.timing import Turn
from ringwright.ledger.service import Read
from ringwright.machines.card import Need, Placed
from ringwright.machines.queries import Kept, read_board, read_fixtures, read_logs
from ringwright.machines.rules import CUTTING, SET_UP, clipped, hours_in, spans_of
from ringwright.routecards.card import RouteCard, Step

HOUR_US: Final = 3_600_000_000
TICK_US: Final = HOUR_US // 4
AHEAD_US: Final = 12 * 7 * 24 * HOUR_US
"""How far the machines' calendars are laid out."""
BACK_US: Final = 3 * 7 * 24 * HOUR_US
"""How far back a machine's last work is looked for."""
RAISED: Final = 3
"""What lateness of a part that goes first counts for."""


@dataclass(frozen=True, kw_only=True)
class Desk:
    """What the planner works with, all from one snapshot."""

    shop: Shop
    origin_us: int
    ground: Ground
    standing: dict[str, Standing]
    kept: Kept
    held: tuple[str, ...]
    """Cases on hold, which no plan counts with."""
    unplanned: tuple[str, ...]
    """Cases with a machining step ahead that no machining plan describes."""
    overdue: tuple[Placed, ...]
    """Locked placements whose start has gone by and which are not on yet."""

    def us(self, tick: int) -> int:
        """The moment of a tick."""
        return self.origin_us + tick * TICK_US

    def tick(self, us: int) -> int:
        """The first tick not before a moment."""
        return -((self.origin_us - us) // TICK_US)

    @property
    def turns(self) -> list[Turn]:
        """The order of the kept plan, for what is still to do."""
        return [
            Turn(
                key=(one.serial, str(one.step)),
                machine=one.machine,
                start=self.tick(one.start_us),
            )
            for one in self.kept.placements
        ]


def read_desk(read: Read) -> Desk:
    """Everything the board is worked out from."""
    ground, kept = (
        read_ground(read),
        read_board(read.connection, read.site.id, read.known_before_us),
    )
    origin_us = read.now_us - read.now_us % TICK_US
    hours = read_hours(read, ground.stations, origin_us, origin_us + AHEAD_US)
    stays = read_stays(read, ground, read.now_us - BACK_US, read.now_us + 1)
    standing = read_standing(read, ground)
    maker = _Maker(read, ground, origin_us, stays)
    cases = [(one, maker.case(one)) for one in standing]
    free = [case for one, case in cases if case and case.operations and not one.hold]
    machines = tuple(
        Machine(
            code=one.code,
            open=_ticks(hours[one.code], origin_us),
            set_for=maker.set_for(one.code),
        )
        for one in ground.stations
    )
    fixtures = read_fixtures(read.connection, read.site.id, read.known_before_us)
    desk = Desk(
        shop=Shop(
            cases=tuple(free),
            machines=machines,
            fixtures={kind: one.count for kind, one in fixtures.items()},
        ),
        origin_us=origin_us,
        ground=ground,
        standing={one.serial: one for one in standing},
        kept=kept,
        held=tuple(one.serial for one in standing if one.hold),
        unplanned=tuple(one.serial for one, case in cases if case is None),
        overdue=(),
    )
    return _locked(desk)


def _ticks(hours: Sequence[Interval], origin_us: int) -> tuple[tuple[int, int], ...]:
    return tuple(
        (-((origin_us - begin) // TICK_US), (end - origin_us) // TICK_US)
        for begin, end in hours
        if end - begin >= TICK_US
    )


def _locked(desk: Desk) -> Desk:
    """The desk with the planner's locks; a start that has gone by fixes the machine alone."""
    operations = desk.shop.operations
    locks: dict[Key, Lock] = {}
    overdue: list[Placed] = []
    for one in desk.kept.placements:
        key = (one.serial, str(one.step))
        operation = operations.get(key)
        if not one.locked or operation is None or operation.on:
            continue
        gone = one.start_us < desk.origin_us
        start = None if gone else desk.tick(one.start_us)
        locks[key] = Lock(machine=one.machine, start=start)
        overdue += [one] if gone else []
    return replace(desk, shop=replace(desk.shop, locks=locks), overdue=tuple(overdue))


class _Maker:
    """Makes the jobs of the cases that stand."""

    def __init__(
        self, read: Read, ground: Ground, origin_us: int, stays: Sequence[Stay]
    ) -> None:
        self.read, self.ground, self.origin_us, self.stays = read, ground, origin_us, stays
        self.codes = codes = [one.code for one in ground.stations]
        window = (read.now_us - BACK_US, read.now_us + 1)
        self.logs = read_logs(
            read.connection, read.site.id, codes, window, read.known_before_us
        )
        self.hours = read_hours(read, ground.stations, read.now_us - BACK_US, read.now_us)

    def case(self, one: Standing) -> Case | None:
        """The job of a case; None where a machining step of it has no plan."""
        card = self.ground.revisions[one.product, one.revision]
        plan = self.ground.plans.get(one.product)
        needs = plan.by_step if plan else {}
        ahead = [step for step in card.steps if step.number >= one.step]
        if any(step.kind == "machining" and step.number not in needs for step in ahead):
            return None
        operations = tuple(self._operations(one, ahead, needs))
        release = 0 if one.in_work else self._tick(one.since_us)
        lead = _lead(ahead) if operations and not operations[0].on else 0.0
        if lead:
            release = max(0, self._tick(one.since_us + round(lead * HOUR_US)))
        return Case(
            serial=one.serial,
            operations=operations,
            release=max(0, release),
            due=self._tick(one.created_us + round(_due_h(card) * HOUR_US)),
            weight=RAISED if one.raised else 1,
        )

    def set_for(self, station: str) -> str:
        """The work that a machine did last."""
        last = [one for one in self.stays if one.station == station]
        products = {one.product for one in self.ground.plans.values()}
        if not last or len(products) != 1:
            return ""
        return f"{next(iter(products))}/{last[-1].step}"

    def _tick(self, us: int) -> int:
        return -((self.origin_us - us) // TICK_US)

    def _operations(
        self, one: Standing, ahead: Sequence[Step], needs: dict[int, Need]
    ) -> Iterator[Operation]:
        gap = 0.0
        for step in ahead:
            if step.kind != "machining":
                gap += step.planned_hours + step.queue_hours
                continue
            need = needs[step.number]
            here = one.in_work and step.number == one.step
            on = one.station if here and one.station in self.codes else ""
            yield Operation(
                name=str(step.number),
                spindle=self._left(one, need) if on else _ticks_of(need.spindle_h),
                set_up=0 if on else _ticks_of(need.set_up_h),
                machines=need.machines,
                work=f"{one.product}/{step.number}",
                fixture=need.fixture,
                after=_ticks_of(gap),
                on=on,
            )
            gap = 0.0

    def _left(self, one: Standing, need: Need) -> int:
        """Ticks still to work on what is on: the plan less what was done, an hour at least."""
        log = self.logs.get(one.station, [])
        spans = clipped(spans_of(log, self.read.now_us), one.since_us, self.read.now_us)
        done_h = hours_in(spans, SET_UP) + hours_in(spans, CUTTING)
        if not any(line.at_us >= one.since_us for line in log):
            hours = self.hours.get(one.station, ())
            done_h = working_us(hours, one.since_us, self.read.now_us) / HOUR_US
        return max(HOUR_US // TICK_US, _ticks_of(need.total_h - done_h))


def _ticks_of(hours: float) -> int:
    return max(0, round(hours * HOUR_US / TICK_US))


def _lead(ahead: Sequence[Step]) -> float:
    """Hours of the other steps before the next machining, as the route card plans them."""
    hours = 0.0
    for step in ahead:
        if step.kind == "machining":
            return hours
        hours += step.planned_hours + step.queue_hours
    return 0.0


def _due_h(card: RouteCard) -> float:
    """Planned hours from creation to the end of the last machining step."""
    last = max((step.number for step in card.steps if step.kind == "machining"), default=0)
    return sum(
        step.planned_hours + step.queue_hours for step in card.steps if step.number <= last
    )
