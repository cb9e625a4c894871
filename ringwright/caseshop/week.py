"""The week of the machines, read from one snapshot: cases on and off, hours, stops."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from sqlalchemy import select

from ringwright.caseshop.queries import Ground, Stay, read_ground, read_hours, read_stays
from ringwright.core.calendar import Interval, iso_text, week_of, working_us
from ringwright.db import FOREVER_US
from ringwright.flow.service import week_bounds
from ringwright.ledger.service import Read, last_entry_us
from ringwright.machines.queries import read_logs
from ringwright.machines.rules import (
    CUTTING,
    SET_UP,
    STOPPED,
    Span,
    clipped,
    hours_in,
    spans_of,
)
from ringwright.parts.tables import PartNow
from ringwright.sites.site import Station

HOUR_US: Final = 3_600_000_000
LOOK_BACK_US: Final = 14 * 24 * HOUR_US
"""How long before the week a case may have gone on."""


@dataclass(frozen=True, kw_only=True)
class OnMachine:
    """One case on one machine, with what the spindle's log says of it."""

    stay: Stay
    begin_us: int
    end_us: int
    """Now, while it is on."""
    spans: tuple[Span, ...]
    """Of the whole stay so far, also before the week."""
    planned_set_up_h: float | None
    planned_spindle_h: float | None

    @property
    def hours(self) -> float:
        """Hours on the machine, closed ones too."""
        return (self.end_us - self.begin_us) / HOUR_US

    @property
    def set_up_h(self) -> float:
        """Hours of set-up logged."""
        return hours_in(self.spans, SET_UP)

    @property
    def cutting_h(self) -> float:
        """Hours of cutting logged."""
        return hours_in(self.spans, CUTTING)

    @property
    def stopped_h(self) -> float:
        """Hours stopped."""
        return hours_in(self.spans, STOPPED)

    @property
    def left_h(self) -> float | None:
        """Planned hours of set-up and spindle still to do; None without a plan."""
        if self.planned_set_up_h is None or self.planned_spindle_h is None or not self.stay.on:
            return None
        planned = self.planned_set_up_h + self.planned_spindle_h
        return max(0.0, planned - self.set_up_h - self.cutting_h)


@dataclass(frozen=True, kw_only=True)
class MachineWeek:
    """One machine in one week."""

    code: str
    name: str
    working: tuple[Interval, ...]
    gone_h: float
    """Working hours of the week gone."""
    left_h: float
    """Working hours of it to come."""
    cases: tuple[OnMachine, ...]
    spans: tuple[Span, ...]
    """What the spindle did in the week."""

    @property
    def now(self) -> OnMachine | None:
        """The case that is on."""
        return next((one for one in self.cases if one.stay.on), None)

    @property
    def stopped_now(self) -> Span | None:
        """The stop in force."""
        last = self.spans[-1] if self.spans else None
        return last if last and last.open and last.state == STOPPED else None

    @property
    def off(self) -> int:
        """Cases that went off in the week."""
        return sum(one.stay.end_us == one.end_us for one in self.cases)

    def hours(self, state: str) -> float:
        """Hours of the week in one state."""
        return hours_in(self.spans, state)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Stops of a week for one reason."""

    machine: str
    reason: str
    times: int
    hours: float
    share: float
    """Of all hours stopped among those counted."""

    @property
    def width(self) -> float:
        """The share in per cent, for its bar."""
        return round(self.share * 100, 2)


@dataclass(frozen=True, kw_only=True)
class CaseWeek:
    """Everything the machine week shows but what comes next."""

    site: str
    site_name: str
    zone: str
    week: str
    start_us: int
    end_us: int
    now_us: int
    as_of: bool
    head_seq: int
    head_hash: str
    last_entry_us: int | None
    machines: tuple[MachineWeek, ...]

    @property
    def until_us(self) -> int:
        """The end of the week, or now if earlier."""
        return min(self.end_us, max(self.now_us, self.start_us))

    @property
    def over(self) -> bool:
        """True once the week has ended."""
        return self.now_us >= self.end_us

    @property
    def present(self) -> bool:
        """True for the week that goes on, asked as of now."""
        return self.start_us <= self.now_us < self.end_us and not self.as_of

    @cached_property
    def stops(self) -> tuple[Stop, ...]:
        """By machine and reason, the most hours first."""
        return stops_of((one.code, one.spans) for one in self.machines)

    def hours(self, state: str) -> float:
        """Hours of all machines in one state."""
        return sum(one.hours(state) for one in self.machines)


def stops_of(found: Iterable[tuple[str, Sequence[Span]]]) -> tuple[Stop, ...]:
    """Stops counted and added up by machine and reason, the most hours first."""
    times: Counter[tuple[str, str]] = Counter()
    us: Counter[tuple[str, str]] = Counter()
    for code, spans in found:
        for span in spans:
            if span.state == STOPPED:
                times[code, span.reason] += 1
                us[code, span.reason] += span.us
    whole = sum(us.values()) or 1
    stops = [
        Stop(
            machine=code, reason=reason, times=times[code, reason], hours=total / HOUR_US,
            share=total / whole,
        )
        for (code, reason), total in us.items()
    ]  # fmt: skip
    return tuple(sorted(stops, key=lambda one: (-one.hours, one.machine, one.reason)))


def read_case_week(read: Read, week: str | None = None) -> CaseWeek:
    """The machines in one site week; None is the present one. Raises Refused for no week."""
    site = read.site
    week = week or week_of(read.now_us, site.zone, site.week_starts)
    start_us, end_us = week_bounds(read, week)
    return CaseWeek(
        site=site.code,
        site_name=site.name,
        zone=site.zone,
        week=week,
        start_us=start_us,
        end_us=end_us,
        now_us=read.now_us,
        as_of=read.as_of_us is not None,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
        last_entry_us=last_entry_us(read),
        machines=_Gathered(read, read_ground(read), start_us, end_us).machines(),
    )


class _Gathered:
    """What the store answered of one week."""

    def __init__(self, read: Read, ground: Ground, start_us: int, end_us: int) -> None:
        self.read, self.ground, self.start_us, self.end_us = read, ground, start_us, end_us
        self.until_us = min(end_us, max(read.now_us, start_us))
        self.hours = read_hours(read, ground.stations, start_us, end_us)
        self.stays = read_stays(read, ground, start_us, end_us)
        codes = [one.code for one in ground.stations]
        window = (start_us - LOOK_BACK_US, end_us)
        logs = read_logs(read.connection, read.site.id, codes, window, read.known_before_us)
        self.spans = {code: spans_of(log, self.until_us) for code, log in logs.items()}
        self.products = _products(read, [one.serial for one in self.stays])

    def machines(self) -> tuple[MachineWeek, ...]:
        """Every machine of the shop."""
        return tuple(self._machine(one) for one in self.ground.stations)

    def _machine(self, station: Station) -> MachineWeek:
        working = self.hours[station.code]
        spans = self.spans[station.code]
        return MachineWeek(
            code=station.code,
            name=station.name,
            working=working,
            gone_h=working_us(working, self.start_us, self.until_us) / HOUR_US,
            left_h=working_us(working, self.until_us, self.end_us) / HOUR_US,
            cases=tuple(
                self._case(one, spans) for one in self.stays if one.station == station.code
            ),
            spans=tuple(clipped(spans, self.start_us, self.until_us)),
        )

    def _case(self, stay: Stay, spans: Sequence[Span]) -> OnMachine:
        end_us = min(stay.end_us, self.until_us)
        plan = self.ground.plans.get(self.products.get(stay.serial, ""))
        need = plan.by_step.get(stay.step) if plan else None
        open_end = stay.end_us if stay.end_us != FOREVER_US else self.until_us
        return OnMachine(
            stay=stay,
            begin_us=stay.begin_us,
            end_us=max(end_us, stay.begin_us),
            spans=tuple(clipped(spans, stay.begin_us, open_end)),
            planned_set_up_h=need.set_up_h if need else None,
            planned_spindle_h=need.spindle_h if need else None,
        )


def _products(read: Read, serials: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for start in range(0, len(serials), 500):
        chunk = serials[start : start + 500]
        query = select(PartNow.serial, PartNow.product).where(
            PartNow.site_id == read.site.id, PartNow.serial.in_(chunk)
        )
        found |= {row.serial: row.product for row in read.connection.execute(query)}
    return found


def week_json(week: CaseWeek) -> dict[str, Any]:
    """The machine week as the API answers it: the numbers of the page."""
    zone = week.zone
    return {
        "week": week.week,
        "from": iso_text(week.start_us, zone),
        "to": iso_text(week.end_us, zone),
        "machines": [
            {
                "machine": one.code,
                "working_h_gone": one.gone_h,
                "working_h_left": one.left_h,
                "set_up_h": one.hours(SET_UP),
                "cutting_h": one.hours(CUTTING),
                "stopped_h": one.hours(STOPPED),
                "cases": [_case_json(case, zone) for case in one.cases],
            }
            for one in week.machines
        ],
        "stops": [
            {
                "machine": one.machine,
                "reason": one.reason,
                "times": one.times,
                "hours": one.hours,
            }
            for one in week.stops
        ],
    }


def _case_json(case: OnMachine, zone: str) -> dict[str, Any]:
    return {
        "serial": case.stay.serial,
        "step": case.stay.step,
        "on": iso_text(case.begin_us, zone),
        "off": None if case.stay.on else iso_text(case.stay.end_us, zone),
        "hours": case.hours,
        "planned_set_up_h": case.planned_set_up_h,
        "set_up_h": case.set_up_h,
        "planned_spindle_h": case.planned_spindle_h,
        "cutting_h": case.cutting_h,
        "stopped_h": case.stopped_h,
        "left_h": case.left_h,
    }
