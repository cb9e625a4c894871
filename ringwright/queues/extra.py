"""What an hour more at each station group would release this week, from one snapshot."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Final

import numpy as np

from ringwright.core.calendar import HOUR_US, week_of
from ringwright.floor.queries import open_conditions, open_holds, shut_things, standing_parts
from ringwright.flow.hours import GroupHours, read_hours
from ringwright.flow.loads import LOAD_KINDS, loads_of
from ringwright.flow.service import moment_of, week_bounds
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.outlook.worked import weeks_back
from ringwright.parts.conditions import PRIORITY
from ringwright.queueing.extra import Gains, gains
from ringwright.queueing.shop import (
    ENDLESS,
    GONE,
    RELEASED,
    Clock,
    Coming,
    Group,
    Load,
    Shop,
    Stage,
    Standing,
)
from ringwright.queues import queries
from ringwright.routecards.card import Step
from ringwright.routecards.queries import read_revisions
from ringwright.sites.site import Station

LEARN_WEEKS: Final = 6
"""How far back visits are learned from, and weeks of starts looked at."""
FEW: Final = 8
"""Visits of a step, or releases in all, from which they say something."""
DAY_US: Final = 24 * HOUR_US
_BACK_US: Final = 14 * DAY_US
_WEEK_US: Final = 7 * DAY_US
Key = tuple[str, int]
"""Product and step number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraSheet:
    """The answer, and what it stands on."""

    drawn: Snapshot
    week: str
    end_us: int
    parts: int
    """Parts in the cell that may move."""
    held: int
    releases: int
    """Released in the weeks learned from."""
    planned: tuple[Key, ...]
    """Steps with too few visits, which count with their planned hours."""
    gains: Gains | None
    """None where it cannot be said yet."""


def read_extra(read: Read) -> ExtraSheet:
    """An hour more at each group, by the end of the week that the snapshot's moment lies in."""
    site = read.site
    week = week_of(read.now_us, site.zone, site.week_starts)
    end_us = week_bounds(read, week)[1]
    since_us = read.now_us - LEARN_WEEKS * _WEEK_US
    rows = read.connection.execute(queries.visits_ended(read, since_us)).all()
    hours = read_hours(read, [since_us - _BACK_US], end_us)
    learned = _Learned(read, rows, hours)
    standing, held = _standing(read)
    shop = _shop(read, learned, standing, end_us)
    releases = sum(counts[RELEASED] for counts in learned.onward.values())
    return ExtraSheet(
        drawn=snapshot_of(read),
        week=week,
        end_us=end_us,
        parts=len(shop.parts),
        held=held,
        releases=releases,
        planned=tuple(key for key in learned.steps if not learned.work_h(key)),
        gains=gains(shop) if releases >= FEW and len(shop.groups) > 1 else None,
    )


class _Learned:
    """What the visits of the last weeks say of each step of each product."""

    def __init__(self, read: Read, rows: Sequence[Any], hours: GroupHours) -> None:
        self.hours = hours
        self.steps: dict[Key, Step] = {}
        for revision in read_revisions(read.connection, read.site.id):
            if revision.effective_us <= read.now_us:
                self.steps |= {(revision.product, s.number): s for s in revision.card.steps}
        self._work_h: dict[Key, list[float]] = defaultdict(list)
        self._across_h: dict[Key, list[float]] = defaultdict(list)
        """Of loads that stood there over closed hours: when they were done nobody knows."""
        self.onward: dict[Key, Counter[int]] = defaultdict(Counter)
        """By step number, or RELEASED or GONE."""
        self.created = [row for row in rows if row.step is None and row.next_step is not None]
        self._loaded: dict[Key, list[Any]] = defaultdict(list)
        for row in rows:
            if (row.product, row.step) in self.steps:
                self._add(row, (row.product, row.step))

    def _add(self, row: Any, key: Key) -> None:
        whole_us = row.end_us - row.begin_us
        worked_us = self.hours.worked_us(row.station, row.begin_us, row.end_us)
        if self.in_loads(key):
            self._loaded[key].append(row)
            told = self._work_h if worked_us == whole_us else self._across_h
            told[key].append(whole_us / HOUR_US)
        elif row.touch_us is not None:
            self._work_h[key].append(min(row.touch_us, worked_us) / HOUR_US)
        ends = RELEASED if row.outcome in ("pass", "concession") else GONE
        self.onward[key][ends if row.next_step is None else row.next_step] += 1

    def in_loads(self, key: Key) -> bool:
        """True for a step that is worked in loads."""
        return self.steps[key].kind in LOAD_KINDS

    def load(self, key: Key, room: int) -> Load | None:
        """How its loads are made up: the usual size, and how long parts waited for it."""
        if not self.in_loads(key):
            return None
        rows = self._loaded[key]
        if len(rows) < FEW:
            return Load(usual=1, most=max(room, 1), patience_h=0.0)
        sizes = [len(load.serials) for load in loads_of(rows)]
        waits_h = [(row.queue_us or 0) / HOUR_US for row in rows]
        usual = max(1, min(int(median(sizes)), room))
        return Load(
            usual=usual,
            most=max(usual, min(int(np.quantile(sizes, 0.95)), room)),
            patience_h=float(np.quantile(waits_h, 0.9)),
        )

    def work_h(self, key: Key) -> tuple[float, ...]:
        """Past work at a step, ascending; none where there is too little of it."""
        known = self._work_h[key]
        if len(known) < FEW:
            known = known + self._across_h[key]
        return tuple(sorted(known)) if len(known) >= FEW else ()


@dataclass(frozen=True, slots=True)
class _Stands:
    row: Any
    raised: int


def _standing(read: Read) -> tuple[list[_Stands], int]:
    """The parts that may move, those that came first first; and how many are held."""
    run, at_us = read.connection.execute, moment_of(read)
    held = {row.serial for row in run(open_holds(read, at_us, None))}
    raised = {
        row.serial: int(row.value)
        for row in run(open_conditions(read, at_us, None))
        if row.kind == PRIORITY
    }
    rows = sorted(
        run(standing_parts(read, at_us, None)).all(), key=lambda r: (r.since_us, r.serial)
    )
    free = [_Stands(row, raised.get(row.serial, 0)) for row in rows if row.serial not in held]
    return free, len(rows) - len(free)


class _Groups:
    """The station groups that steps are done at, in the order of the routes."""

    def __init__(self, read: Read, learned: _Learned) -> None:
        run, self._now_us = read.connection.execute, read.now_us
        shut = {r.code for r in run(shut_things(read, moment_of(read))) if r.kind == "station"}
        self.hours = learned.hours
        self.stations: dict[str, list[Station]] = defaultdict(list)
        for one in self.hours.stations:
            self.stations[one.group or one.code].append(one)
        self._home = {s.code: code for code, some in self.stations.items() for s in some}
        named = (self.code_of(step) for step in learned.steps.values())
        self.codes = tuple(dict.fromkeys((*named, "")))
        loads = {self.code_of(s) for key, s in learned.steps.items() if learned.in_loads(key)}
        self.groups = tuple(
            self._group(code, [s for s in self.stations.get(code, ()) if s.code not in shut],
                        code in loads)
            for code in self.codes
        )  # fmt: skip

    def code_of(self, step: Step) -> str:
        """The group of a step: that named, or that of the station named; else none."""
        named = step.station_group
        return named if named in self.stations else self._home.get(named, "")

    def _group(self, code: str, stations: Sequence[Station], loads: bool) -> Group:
        """A station takes one load at a time; else as many parts as it has room for."""
        spans = [
            ((a - self._now_us) / HOUR_US, (b - self._now_us) / HOUR_US)
            for a, b in self.hours.intervals(code)
            if b > self._now_us - DAY_US
        ]
        servers = len(stations) if loads else sum(one.capacity for one in stations)
        about = (max(a, -24.0) for a, b in spans if a <= 0 < b)
        ends = (min(b, 24.0) for a, b in spans if a <= 0 < b)
        return Group(
            code=code,
            servers=servers if code else ENDLESS,
            clock=Clock(tuple(spans)),
            round_the_clock=next(ends, 0.0) - next(about, 0.0) >= 24.0 - 1e-9,
        )


def _shop(read: Read, learned: _Learned, standing: Sequence[_Stands], end_us: int) -> Shop:
    now_us = read.now_us
    groups = _Groups(read, learned)
    place = {key: number for number, key in enumerate(learned.steps)}
    stages = tuple(_stage(learned, groups, key, place) for key in learned.steps)
    return Shop(
        groups=groups.groups,
        stages=stages,
        parts=tuple(_parts(read, standing, groups.hours, stages, place)),
        weeks=tuple(_weeks(read, learned, place, end_us)),
        end_h=(end_us - now_us) / HOUR_US,
    )


def _stage(learned: _Learned, groups: _Groups, key: Key, place: Mapping[Key, int]) -> Stage:
    step, product = learned.steps[key], key[0]
    code = groups.code_of(step)
    went: dict[int, float] = defaultdict(float)
    for goes, count in learned.onward[key].items():
        went[place.get((product, goes), GONE) if goes >= 0 else goes] += count
    # Half a visit of the plan, as in the forecast: where nothing is known yet, parts go on.
    after = [number for one, number in learned.steps if one == product and number > key[1]]
    went[place[(product, min(after))] if after else RELEASED] += 0.5
    room = max((one.capacity for one in groups.stations.get(code, ())), default=1)
    return Stage(
        product=product,
        number=key[1],
        group=groups.codes.index(code),
        work_h=learned.work_h(key) or (step.planned_hours,),
        onward=tuple(sorted(went.items())),
        load=learned.load(key, room),
    )


def _parts(
    read: Read,
    standing: Sequence[_Stands],
    hours: GroupHours,
    stages: Sequence[Stage],
    place: Mapping[Key, int],
) -> Iterable[Standing]:
    now_us, zone_loads = read.now_us, {n for n, one in enumerate(stages) if one.load}
    for one in standing:
        row = one.row
        stage = place.get((row.product, row.step))
        if stage is None:
            continue
        by_clock = stage in zone_loads
        age_us = now_us - row.since_us
        if row.in_work and not by_clock:
            age_us = hours.worked_us(row.station, row.since_us, now_us)
        yield Standing(
            stage=stage,
            since_h=min((row.since_us - now_us) / HOUR_US, 0.0),
            in_work=bool(row.in_work),
            age_h=max(age_us, 0) / HOUR_US,
            raised=one.raised,
            load=f"{row.station} {row.since_us // HOUR_US}" if by_clock else "",
        )


def _weeks(
    read: Read, learned: _Learned, place: Mapping[Key, int], end_us: int
) -> Iterable[tuple[Coming, ...]]:
    """What was created in the same stretch of the past weeks; whole ones only."""
    zone, first_us = read.site.zone, min((r.begin_us for r in learned.created), default=0)
    for back in range(1, LEARN_WEEKS):
        from_us, to_us = (weeks_back(us, back, zone) for us in (read.now_us, end_us))
        if from_us < first_us:
            break
        yield tuple(
            Coming(
                stage=place[(row.product, row.next_step)],
                at_h=(row.begin_us - from_us) / HOUR_US,
            )
            for row in learned.created
            if from_us <= row.begin_us < to_us and (row.product, row.next_step) in place
        )
