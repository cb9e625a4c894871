"""A line of stations simulated by SimPy, told as visits: a world the forecast did not make.

Parts queue for machines in the order they came, machines break down, an oven takes several at
once, steps scrap and send back. It runs on working hours only, Monday to Friday, two shifts.
"""

from __future__ import annotations

import random
from collections.abc import Generator, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import simpy

from ringwright.core.calendar import iso_text, wall_us
from ringwright.outlook.record import NEVER_US, Passed, Planned, Record, record_of

ZONE = "Europe/Oslo"
MONDAY = datetime(2025, 9, 1)  # noqa: DTZ001  wall time of the site
HEADER = "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by"
DAY_H, WEEK_H = 16.0, 80.0


@dataclass(frozen=True)
class Station:
    """A step: machines, hours of work, shares sent back to it and scrapped."""

    machines: int
    work_h: float
    rework: float = 0.0
    scrap: float = 0.0
    breaks_every_h: float = 0.0
    broken_h: float = 0.0


@dataclass(frozen=True)
class Line:
    """Stations in order, and how parts are started."""

    stations: tuple[Station, ...]
    a_week: int
    daily: bool = True
    wobble: float = 0.0
    """Spread of a week's starts about their number, as a share."""


LINES = (
    Line((Station(2, 1.0), Station(3, 3.0, 0.05, 0.03), Station(2, 2.2, 0.1),
          Station(5, 6.0), Station(1, 1.2, 0.03, 0.04)), 55),
    Line((Station(1, 1.3, breaks_every_h=60, broken_h=6), Station(2, 2.6, 0.08, 0.05),
          Station(8, 9.0), Station(1, 1.5)), 45, daily=False, wobble=0.2),
    Line((Station(6, 10.0), Station(6, 9.0, 0.1, 0.02), Station(12, 24.0),
          Station(6, 10.0, 0.05), Station(3, 5.0, 0.0, 0.05),
          Station(6, 9.5, breaks_every_h=120, broken_h=16)), 40, wobble=0.1),
    Line((Station(2, 1.8, 0.2, 0.1), Station(2, 2.0, 0.15, 0.1), Station(2, 1.7)), 70,
         wobble=0.3),
)  # fmt: skip


@dataclass
class Told:
    """What the simulation tells: visits by part, and releases."""

    visits: dict[str, list[Passed]] = field(default_factory=dict)
    released_us: dict[str, int] = field(default_factory=dict)


def us_of(hours: float) -> int:
    """The instant of a working hour: 06:00 to 22:00 from Monday to Friday, site time."""
    week, rest = divmod(hours, WEEK_H)
    day, hour = divmod(rest, DAY_H)
    wall = MONDAY + timedelta(weeks=int(week), days=int(day), hours=6)
    return wall_us(wall, ZONE) + int(hour * 3_600_000_000)


class _Cell:
    def __init__(self, line: Line, seed: int) -> None:
        self.env, self.line, self.told = simpy.Environment(), line, Told()
        self.rng = random.Random(seed)
        self.machines = [
            simpy.PriorityResource(self.env, station.machines) for station in line.stations
        ]

    def starts(self, weeks: int) -> Generator[Any, Any, None]:
        number = 0
        for _ in range(weeks):
            wobble = 1 + self.line.wobble * self.rng.uniform(-1, 1)
            count = round(self.line.a_week * wobble)
            gap = WEEK_H / count if self.line.daily else 0.05
            for _ in range(count):
                number += 1
                self.env.process(self.part(f"P{number:05}"))
                yield self.env.timeout(gap)
            yield self.env.timeout(WEEK_H - gap * count)

    def breaking(self, place: int) -> Generator[Any, Any, None]:
        station = self.line.stations[place]
        while True:
            yield self.env.timeout(self.rng.expovariate(1 / station.breaks_every_h))
            with self.machines[place].request(priority=0) as broken:
                yield broken
                yield self.env.timeout(self.rng.expovariate(1 / station.broken_h))

    def part(self, serial: str) -> Generator[Any, Any, None]:
        visits = self.told.visits.setdefault(serial, [])
        visits.append(self._wait_from(serial, None, self.env.now, self.env.now, 10))
        place = 0
        while place < len(self.line.stations):
            station = self.line.stations[place]
            with self.machines[place].request(priority=1) as turn:
                yield turn
                begun = self.env.now
                visits[-1] = replace(visits[-1], leave_us=us_of(begun))
                yield self.env.timeout(self.rng.gammavariate(4, station.work_h / 4))
            number, draw = 10 * (place + 1), self.rng.random()
            if draw < station.scrap:
                visits.append(self._gone(serial, number, begun))
                return
            place += draw >= station.scrap + station.rework
            visits.append(self._wait_from(serial, number, begun, self.env.now, 10 * place + 10))
        visits[-1] = self._gone(serial, visits[-1].step, begun)
        self.told.released_us[serial] = us_of(self.env.now)

    def _wait_from(
        self, serial: str, step: int | None, begun: float, ended: float, goes_to: int
    ) -> Passed:
        return Passed(
            serial=serial, step=step, begin_us=us_of(begun), end_us=us_of(ended),
            leave_us=NEVER_US, goes_to=goes_to,
        )  # fmt: skip

    def _gone(self, serial: str, step: int | None, begun: float) -> Passed:
        now_us = us_of(self.env.now)
        return Passed(
            serial=serial, step=step, begin_us=us_of(begun), end_us=now_us, leave_us=now_us,
            goes_to=None,
        )  # fmt: skip


def simulated(line: Line, weeks: int, seed: int) -> Told:
    """So many weeks of a line, from empty."""
    cell = _Cell(line, seed)
    cell.env.process(cell.starts(weeks))
    for place, station in enumerate(line.stations):
        if station.breaks_every_h:
            cell.env.process(cell.breaking(place))
    cell.env.run(until=weeks * WEEK_H)
    return cell.told


def plan_of(line: Line) -> tuple[Planned, ...]:
    """The stations as the steps of a route card."""
    return tuple(
        Planned(
            number=10 * place + 10, name=f"Step {place + 1}", work_h=station.work_h, queue_h=4
        )
        for place, station in enumerate(line.stations)
    )


def known_at(told: Told, at_us: int, plan: Sequence[Planned]) -> Record:
    """What the record held before an instant, as a store cut off there would."""
    released = {serial: us for serial, us in told.released_us.items() if us < at_us}
    return record_of(plan, _cut(told, at_us), released)


def _cut(told: Told, at_us: int) -> Iterable[Passed]:
    for visits in told.visits.values():
        for one in visits:
            if one.begin_us >= at_us:
                break
            ended = one.end_us < at_us
            yield replace(
                one,
                end_us=one.end_us if ended else NEVER_US,
                leave_us=one.leave_us if one.leave_us < at_us else NEVER_US,
                goes_to=one.goes_to if ended else None,
            )


def week_us(number: int) -> tuple[int, int]:
    """Start and end of a week of the simulation, Monday 00:00 to Monday 00:00, site time."""
    start = MONDAY + timedelta(weeks=number)
    return wall_us(start, ZONE), wall_us(start + timedelta(weeks=1), ZONE)


SMALL = Line((Station(1, 2.0, 0.1), Station(2, 4.0, 0.1, 0.25), Station(1, 2.5)), 14)
"""A little line with a step that scraps one part in four."""


def route_of(line: Line, product: str, target: float | None) -> str:
    """The line as a route card's file."""
    text = f'[product]\ncode = "{product}"\nname = "Ring"\n'
    text += f"target_per_week = {target}\n" if target is not None else ""
    for step in plan_of(line):
        text += f'[[step]]\nnumber = {step.number}\nname = "{step.name}"\nkind = "machining"\n'
        text += f"planned_hours = {step.work_h}\nqueue_hours = {step.queue_h}\n"
    return text


def history_of(told: Told, product: str, before_us: int = NEVER_US) -> str:
    """The history file of what was told before an instant."""
    rows = []
    for serial, visits in told.visits.items():
        rows.append((visits[0].begin_us, serial, "create", "", ""))
        for one in visits[1:]:
            rows.append((one.begin_us, serial, "begin", str(one.step), ""))
            if one.end_us < NEVER_US:
                outcome = _outcome(one, serial in told.released_us)
                rows.append((one.end_us, serial, "end", str(one.step), outcome))
    lines = [
        f"{iso_text(us, 'UTC')},{serial},{product},{act},{step},{outcome},,,,,,,"
        for us, serial, act, step, outcome in rows
        if us < before_us
    ]
    return "\n".join((HEADER, *lines)) + "\n"


def _outcome(one: Passed, released: bool) -> str:
    if one.goes_to is None:
        return "pass" if released else "scrap"
    return "rework" if one.goes_to == one.step else "pass"
