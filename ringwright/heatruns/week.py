"""The week of the furnaces, read from one snapshot: use, load, cycle times, what came out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from ringwright.core.calendar import Interval, week_of, working_intervals, working_us
from ringwright.flow.service import week_bounds
from ringwright.flow.sheet import quantile
from ringwright.furnaces.card import Furnace
from ringwright.furnaces.queries import read_recipes
from ringwright.furnaces.rules import ABORTED, FINISHED, Run, stands
from ringwright.heatruns.queries import read_positions, run_visits, runs_between
from ringwright.ledger.service import Read, last_entry_us
from ringwright.sites.queries import read_calendars, read_stations
from ringwright.sites.site import Station
from ringwright.yields.rules import NO_SHARE, Share, share

MINUTE_US: Final = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """Parts that went through runs, their visits ended in the week."""

    visits: int = 0
    """All of them, those that had been at the step before too."""
    first: int = 0
    """First visits of a part at its step."""
    passed: int = 0
    """First visits that ended with a pass; a concession is no first pass."""
    runs: int = 0
    """Runs that the first visits came in."""
    share: Share = NO_SHARE
    """Passed over first. Parts of one load fail together, so that the interval counts runs;
    of one position, which holds one part of a load, it counts parts."""

    @property
    def again(self) -> int:
        """Visits of parts that had been at the step before."""
        return self.visits - self.first


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycles:
    """Runs, and how long their cycles took."""

    begun: int = 0
    """Runs whose cycle began in the week."""
    finished: int = 0
    """Runs whose cycle ran to its end in the week."""
    aborted: int = 0
    """Runs whose cycle was broken off in the week."""
    not_met: int = 0
    """Of the finished: the trace did not meet the recipe, or a thermocouple failed."""
    minutes: tuple[float, ...] = ()
    """Cycle time of each finished run, begin to end, ascending."""
    over_min: tuple[float, ...] = ()
    """The same less the planned minutes of its recipe, where that has any, ascending."""

    @property
    def median_min(self) -> float | None:
        """Median cycle time; None without a finished run."""
        return quantile(self.minutes, 0.5) if self.minutes else None

    @property
    def longest_min(self) -> float | None:
        """The longest cycle time."""
        return self.minutes[-1] if self.minutes else None

    @property
    def median_over_min(self) -> float | None:
        """Median of cycle time less plan."""
        return quantile(self.over_min, 0.5) if self.over_min else None

    @property
    def longest_over_min(self) -> float | None:
        """The most that a cycle took beyond its plan."""
        return self.over_min[-1] if self.over_min else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much of the time gone a furnace was in a cycle."""

    gone_us: int = 0
    """The week, or what of it has gone."""
    in_cycle_us: int = 0
    working_us: int = 0
    """Working time gone, by the calendar of the furnace's station."""
    in_cycle_working_us: int = 0

    @property
    def share(self) -> float | None:
        """In a cycle, of all hours gone; None before the week."""
        return self.in_cycle_us / self.gone_us if self.gone_us else None

    @property
    def working_share(self) -> float | None:
        """In a cycle, of the working hours gone; None where none has gone."""
        return self.in_cycle_working_us / self.working_us if self.working_us else None

    def plus(self, other: Use) -> Use:
        """Both together."""
        return Use(
            gone_us=self.gone_us + other.gone_us,
            in_cycle_us=self.in_cycle_us + other.in_cycle_us,
            working_us=self.working_us + other.working_us,
            in_cycle_working_us=self.in_cycle_working_us + other.in_cycle_working_us,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """Parts loaded and positions offered, over the runs begun in the week."""

    loaded: int = 0
    positions: int = 0

    @property
    def share(self) -> float | None:
        """Load factor; None where no run began."""
        return self.loaded / self.positions if self.positions else None


@dataclass(frozen=True, kw_only=True)
class FurnaceWeek:
    """One furnace in one week."""

    code: str
    name: str
    use: Use
    fill: Fill
    cycles: Cycles
    passed: Passed
    positions: tuple[tuple[str, Passed], ...]
    """Of each position, in the order of the furnace."""
    runs: tuple[Run, ...]
    """Those whose cycle went on at some time of the week, the oldest first."""
    working: tuple[Interval, ...]
    """When its station works, over the whole week."""


@dataclass(frozen=True, kw_only=True)
class RecipeWeek:
    """One revision of a recipe in one week, over all furnaces."""

    code: str
    revision: str
    planned_min: float | None
    cycles: Cycles
    passed: Passed


@dataclass(frozen=True, kw_only=True)
class WeekOfFurnaces:
    """Everything the furnace week shows but the next loads."""

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
    furnaces: tuple[FurnaceWeek, ...]
    recipes: tuple[RecipeWeek, ...]
    passed: Passed
    """All furnaces together."""
    planned: Mapping[tuple[str, str], float | None]
    """Recipe and revision to the shortest cycle that it asks [min]."""

    @property
    def until_us(self) -> int:
        """The end of the week, or now if earlier."""
        return min(self.end_us, max(self.now_us, self.start_us))

    @property
    def over(self) -> bool:
        """True once the week has ended."""
        return self.now_us >= self.end_us

    @cached_property
    def use(self) -> Use:
        """All furnaces together: the hours of each counted."""
        total = Use()
        for one in self.furnaces:
            total = total.plus(one.use)
        return total

    @cached_property
    def fill(self) -> Fill:
        """All furnaces together."""
        return Fill(
            loaded=sum(one.fill.loaded for one in self.furnaces),
            positions=sum(one.fill.positions for one in self.furnaces),
        )

    @property
    def begun(self) -> int:
        """Runs begun in all furnaces."""
        return sum(one.cycles.begun for one in self.furnaces)


def read_furnace_week(read: Read, week: str | None = None) -> WeekOfFurnaces:
    """The furnaces in one site week; None is the present one. Raises Refused for no week."""
    site = read.site
    week = week or week_of(read.now_us, site.zone, site.week_starts)
    start_us, end_us = week_bounds(read, week)
    gathered = _Gathered(read, start_us, end_us)
    return WeekOfFurnaces(
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
        furnaces=gathered.furnaces(),
        recipes=gathered.recipes(),
        passed=passed_of(gathered.visits, by_run=True),
        planned=gathered.planned,
    )


def passed_of(visits: Sequence[Any], *, by_run: bool) -> Passed:
    """What came of some visits; with `by_run` the interval counts runs, else parts."""
    first = [one for one in visits if one.first]
    good = sum(one.outcome == "pass" for one in first)
    runs = len({one.run for one in first})
    return Passed(
        visits=len(visits),
        first=len(first),
        passed=good,
        runs=runs,
        share=share(good, len(first), runs if by_run else None),
    )


class _Gathered:
    """What the store answered of one week."""

    def __init__(self, read: Read, start_us: int, end_us: int) -> None:
        self.read, self.start_us, self.end_us = read, start_us, end_us
        self.until_us = min(end_us, max(read.now_us, start_us))
        self.visits = read.connection.execute(run_visits(read, start_us, end_us)).all()
        self.runs = runs_between(read, start_us, end_us)
        self.set_to = read_positions(read)
        self.stations = {one.code: one for one in read_stations(read.connection, read.site.id)}
        revisions = read_recipes(read.connection, read.site.id)
        self.planned = {
            (code, one.revision): one.planned_min
            for code, found in revisions.items()
            for one in found
        }
        self._working: dict[str, tuple[Interval, ...]] = {}

    def furnaces(self) -> tuple[FurnaceWeek, ...]:
        """Those on the register, and those out of use that had a run in the week."""
        named = {one.furnace for one in self.runs} | {one.furnace for one in self.visits}
        return tuple(
            self._furnace(code)
            for code, said in self.set_to.items()
            if not said[-1][1].withdrawn or code in named
        )

    def _furnace(self, code: str) -> FurnaceWeek:
        runs = [one for one in self.runs if one.furnace == code]
        visits = [one for one in self.visits if one.furnace == code]
        station = self.stations.get(code, Station(code=code))
        working = self._hours_of(station)
        begun = [one for one in runs if self._within(one.started_us)]
        return FurnaceWeek(
            code=code,
            name=station.name,
            use=self._use(runs, working),
            fill=Fill(
                loaded=sum(len(one.load) for one in begun),
                positions=sum(len(self._as_it_was(one).positions) for one in begun),
            ),
            cycles=self._cycles(runs),
            passed=passed_of(visits, by_run=True),
            positions=self._positions(code, visits),
            runs=tuple(runs),
            working=working,
        )

    def _within(self, us: int | None) -> bool:
        return us is not None and self.start_us <= us < self.end_us

    def _hours_of(self, station: Station) -> tuple[Interval, ...]:
        """When the station works in the week; many stations share one calendar."""
        if station.calendar not in self._working:
            site = self.read.site
            calendars = read_calendars(
                self.read.connection, site.id, station.calendar or None,
                self.read.known_before_us,
            )  # fmt: skip
            self._working[station.calendar] = working_intervals(
                calendars, self.start_us, self.end_us, site.zone
            )
        return self._working[station.calendar]

    def _use(self, runs: Iterable[Run], working: Sequence[Interval]) -> Use:
        spans: list[Interval] = []
        for run in runs:
            # An end may be told a few minutes ahead: what two runs share counts once.
            last_us = spans[-1][1] if spans else self.start_us
            began = max(run.started_us or 0, last_us)
            ended = self.until_us if run.ended_us is None else min(run.ended_us, self.until_us)
            spans.append((began, max(began, ended)))
        return Use(
            gone_us=self.until_us - self.start_us,
            in_cycle_us=sum(end - begin for begin, end in spans),
            working_us=working_us(working, self.start_us, self.until_us),
            in_cycle_working_us=sum(working_us(working, *span) for span in spans),
        )

    def _as_it_was(self, run: Run) -> Furnace:
        """The furnace as it was set when the run began."""
        said = self.set_to[run.furnace]
        then = [one for at_us, one in said if at_us <= (run.started_us or 0)]
        return then[-1] if then else said[0][1]

    def _cycles(self, runs: Sequence[Run]) -> Cycles:
        finished = [one for one in runs if self._within(one.times.get(FINISHED))]
        minutes, over = [], []
        for run in finished:
            took = (run.times[FINISHED] - (run.started_us or 0)) / MINUTE_US
            plan = self.planned.get((run.recipe, run.revision))
            minutes.append(took)
            over += [] if plan is None else [took - plan]
        return Cycles(
            begun=sum(self._within(one.started_us) for one in runs),
            finished=len(finished),
            aborted=sum(self._within(one.times.get(ABORTED)) for one in runs),
            not_met=sum(
                one.judgement is not None and not stands(one.judgement) for one in finished
            ),
            minutes=tuple(sorted(minutes)),
            over_min=tuple(sorted(over)),
        )

    def _positions(self, code: str, visits: Sequence[Any]) -> tuple[tuple[str, Passed], ...]:
        there = self.set_to[code][-1][1].positions
        names = dict.fromkeys((*there, *(one.position for one in visits)))
        return tuple(
            (name, passed_of([one for one in visits if one.position == name], by_run=False))
            for name in names
        )

    def recipes(self) -> tuple[RecipeWeek, ...]:
        """The revisions that had a run or a part's visit end in the week."""
        named = {(one.recipe, one.revision) for one in self.runs}
        named |= {(one.recipe, one.revision) for one in self.visits}
        return tuple(self._recipe(*pair) for pair in sorted(named))

    def _recipe(self, code: str, revision: str) -> RecipeWeek:
        def own(one: Any) -> bool:
            return (one.recipe, one.revision) == (code, revision)

        return RecipeWeek(
            code=code,
            revision=revision,
            planned_min=self.planned.get((code, revision)),
            cycles=self._cycles([one for one in self.runs if own(one)]),
            passed=passed_of([one for one in self.visits if own(one)], by_run=True),
        )
