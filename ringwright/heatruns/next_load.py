"""When each furnace is free next, and which waiting parts would fill it in time.

A proposal: nothing here is booked, and whoever loads the furnace decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from typing import Final

from ringwright.flow.moment import to_the_minute
from ringwright.furnaces.card import Furnace
from ringwright.furnaces.queries import Which, read_furnaces, read_recipes, read_runs, runs_of
from ringwright.furnaces.rules import LOADING, OPEN, FurnacePast, Run
from ringwright.heat.classes import furnace_class
from ringwright.heat.filling import suggest
from ringwright.heat.loads import FreeSlot, Runnable, SuggestedRun, Suggestion, WaitingPart
from ringwright.heat.recipe import Recipe, Use
from ringwright.heatruns.load_order import earliest_first
from ringwright.heatruns.queries import stopped_serials
from ringwright.heatruns.ready import why_not_ready
from ringwright.heatruns.waiting import ForFurnace, read_waiting
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.sites.queries import read_shut, read_stations

MINUTE_US: Final = 60_000_000
LYING: Final = 0
"""The step of what lies in a run already; no route card has such a one."""
SECONDS: Final = 1.0
"""How long the search may take while somebody waits for the page. Two furnaces and twenty parts
take a fifth of it; with forty parts of forty deadlines it is met, and the answer says so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextFree:
    """When one furnace is free next."""

    furnace: str
    name: str
    free_us: int | None
    """None while nobody can say: it is blocked, or its run's recipe tells no time."""
    run: Run | None = None
    """The run that takes it now."""
    plan_over: bool = False
    """Its run has gone on for longer than its recipe plans."""
    against: tuple[str, ...] = ()
    """What keeps it from being loaded, each as the rest of a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One part of a suggested load: where it goes."""

    position: str
    part: ForFurnace


@dataclass(frozen=True, slots=True, kw_only=True)
class NextLoad:
    """A run to be made up, its parts in the order they go in."""

    furnace: str
    recipe: str
    begin_us: int
    end_us: int
    places: tuple[Place, ...]
    empty: int
    """Positions left."""
    run: str = ""
    """The run that is being loaded already; empty: a new one."""


@dataclass(frozen=True, kw_only=True)
class NextLoads:
    """The next runs of all furnaces, and who is left."""

    now_us: int
    free: tuple[NextFree, ...]
    """Every furnace in use, those that are free first."""
    loads: tuple[NextLoad, ...]
    """In the order of their beginning."""
    over: tuple[ForFurnace, ...]
    """Their window is over already."""
    doomed: tuple[ForFurnace, ...]
    """No furnace that could take them is free before their window is over."""
    crowded: tuple[ForFurnace, ...]
    """Their window will be over, for no place is left in time; no plan makes more windows
    where `proved` says so."""
    waiting: tuple[ForFurnace, ...]
    """Left for later, with time enough."""
    kept_out: tuple[ForFurnace, ...]
    """Held, stopped, or of no recipe and furnace here."""
    proved: bool
    """True when nothing better exists: windows first, then parts that go first, then loads."""

    @property
    def missed(self) -> tuple[ForFurnace, ...]:
        """Parts that will miss their window whatever is done, or for want of a place."""
        return (*self.doomed, *self.crowded)


NEXT: Final = Remembered[NextLoads]()
SEARCHED: Final = Remembered[Suggestion]()
"""By what was asked: a booking that touches none of it asks nothing anew."""


def suggested(read: Read) -> NextLoads:
    """The next loads as of now, to the minute; worked out once for a head of the record."""
    minute = to_the_minute(read)
    return NEXT.answer(minute, "next loads", lambda: _suggested(minute))


def _suggested(read: Read) -> NextLoads:
    hall = _Hall(read)
    slots = [hall.slot(one) for one in hall.free if one.free_us is not None]
    able = {one.serial: one for one in hall.parts if any(_takes(slot, one) for slot in slots)}
    over = [one for one in hall.parts if (one.left_us(read.now_us) or 0) < 0]
    doomed = [one for one in able.values() if one not in over and _too_late(slots, one)]
    asked = [one for one in able.values() if one not in over and one not in doomed]
    found = hall.ask(slots, asked)
    return NextLoads(
        now_us=read.now_us,
        free=tuple(hall.free),
        loads=tuple(hall.load(one, able) for one in found.runs if hall.new(one)),
        over=tuple(over),
        doomed=tuple(doomed),
        crowded=tuple(able[one] for one in found.missed if one in able),
        waiting=tuple(able[one] for one in found.waiting if one in able),
        kept_out=tuple(
            one for one in hall.everybody if one.serial not in able and one not in over
        ),
        proved=found.proved,
    )


def _takes(slot: FreeSlot, part: ForFurnace) -> bool:
    use = Use(product=part.product, step=part.step.number)
    return any(use in one.uses for one in slot.recipes)


def _too_late(slots: Sequence[FreeSlot], part: ForFurnace) -> bool:
    """True where every furnace that could take the part is free too late."""
    if part.deadline_us is None:
        return False
    return min(one.free_from_us for one in slots if _takes(one, part)) > part.deadline_us


class _Hall:
    """The furnaces, their runs and recipes, and the parts that wait, of one snapshot."""

    def __init__(self, read: Read) -> None:
        connection, site_id = read.connection, read.site.id
        self.read = read
        pasts = read_furnaces(connection, site_id, read.known_before_us)
        self.pasts = {c: one for c, one in pasts.items() if not one.furnace.withdrawn}
        self.stations = {one.code: one for one in read_stations(connection, site_id)}
        revisions = read_recipes(connection, site_id)
        self.revisions = {
            (code, one.revision): one for code, found in revisions.items() for one in found
        }
        shut = [f"recipe:{code}" for code in revisions]
        shut += [f"station:{code}" for code in self.pasts]
        self.shut = {row.subject: row for row in read_shut(connection, site_id, shut)}
        self.recipes = [
            found[-1] for code, found in revisions.items() if f"recipe:{code}" not in self.shut
        ]
        open_runs = read_runs(connection, site_id, Which(states=OPEN))
        self.runs = {run.furnace: run for run in open_runs}
        self.everybody = read_waiting(read)
        self.parts = self._loadable()
        self.free = sorted(
            (self._next_free(code, past) for code, past in self.pasts.items()),
            key=lambda one: (one.free_us is None, one.free_us or 0, one.furnace),
        )

    def _loadable(self) -> list[ForFurnace]:
        """Those that may go in: not held, not stopped, in no run's load yet."""
        serials = [one.serial for one in self.everybody]
        lying = runs_of(self.read.connection, self.read.site.id, serials, undecided=True)
        self.everybody = [one for one in self.everybody if one.serial not in lying]
        stopped = set(self.read.connection.execute(stopped_serials(self.read)).scalars())
        return [one for one in self.everybody if not one.hold and one.serial not in stopped]

    def _next_free(self, code: str, past: FurnacePast) -> NextFree:
        now_us, run = self.read.now_us, self.runs.get(code)
        station = self.stations.get(code)
        found = NextFree(
            furnace=code, name=station.name if station else "", free_us=now_us, run=run
        )
        against = why_not_ready(self.read, past)
        closed = self.shut.get(f"station:{code}")
        if closed is not None:
            against.append(f"is shut: {closed.reason}")
        if against:
            return replace(found, free_us=None, against=tuple(against))
        if run is None or run.state == LOADING:
            return found
        recipe = self.revisions.get((run.recipe, run.revision))
        if recipe is None or recipe.planned_min is None:
            return replace(found, free_us=None)
        planned_us = (run.started_us or now_us) + round(recipe.planned_min * MINUTE_US)
        return replace(found, free_us=max(planned_us, now_us), plan_over=planned_us < now_us)

    def slot(self, one: NextFree, only: str = "") -> FreeSlot:
        """The furnace as the search sees it; `only` names the one recipe it may run."""
        furnace = self.pasts[one.furnace].furnace
        assert one.free_us is not None
        return FreeSlot(
            furnace=furnace.code,
            free_from_us=one.free_us,
            capacity=len(furnace.positions),
            recipes=tuple(
                self._runnable(furnace, recipe, one.run)
                for recipe in self.recipes
                if recipe.planned_min and may_run(furnace, recipe)
                if not only or recipe.code == only
            ),
        )

    def _runnable(self, furnace: Furnace, recipe: Recipe, run: Run | None) -> Runnable:
        station = self.stations.get(furnace.code)
        group = station.group if station else ""
        here = {
            Use(product=one.product, step=one.step.number)
            for one in self.parts
            if one.step.station_group in ("", group)
        }
        uses = [one for one in recipe.uses if one in here]
        if run is not None and run.state == LOADING and run.recipe == recipe.code:
            uses.append(Use(product=_lying_in(run), step=LYING))
        return Runnable(recipe=recipe.code, minutes=recipe.planned_min or 0.0, uses=tuple(uses))

    def ask(self, slots: Sequence[FreeSlot], parts: Iterable[ForFurnace]) -> Suggestion:
        """The suggestion, with every load that is being made up begun now as it lies."""
        waiting = [
            WaitingPart(
                serial=one.serial,
                product=one.product,
                step=one.step.number,
                ready_us=min(one.since_us, self.read.now_us),
                deadline_us=one.deadline_us,
                priority=one.priority,
            )
            for one in parts
        ]
        first = max((one.priority for one in waiting), default=0)
        lying = list(self._lying(first + 1))
        found = _best(slots, [*waiting, *lying])
        if not {one.serial for one in lying} & set(found.missed):
            return found
        # More windows could be made by taking parts out again, which is nobody's wish here.
        narrow = {one.furnace: one.run.recipe for one in self._being_loaded() if one.run}
        slots = [
            self.slot(one, narrow.get(one.furnace, ""))
            for one in self.free
            if one.free_us is not None
        ]
        return _best(slots, [*waiting, *lying])

    def _being_loaded(self) -> list[NextFree]:
        return [
            one
            for one in self.free
            if one.free_us is not None and one.run and one.run.state == LOADING
        ]

    def _lying(self, priority: int) -> Iterable[WaitingPart]:
        """Parts that lie in a run already: they can go into nothing but that run, now."""
        for one in self._being_loaded():
            assert one.run is not None
            for serial in one.run.load:
                yield WaitingPart(
                    serial=serial,
                    product=_lying_in(one.run),
                    step=LYING,
                    ready_us=self.read.now_us,
                    deadline_us=self.read.now_us,
                    priority=priority,
                )

    def new(self, run: SuggestedRun) -> bool:
        """False for a run that only begins what lies in it already."""
        lying = self._load_of(run)
        return any(one not in lying for one in run.serials)

    def _load_of(self, run: SuggestedRun) -> Mapping[str, str]:
        """What lies in the run already; nothing where it is a new one."""
        there = self.runs.get(run.furnace)
        if there is None or there.state != LOADING or run.begin_us > self.read.now_us:
            return {}
        return there.load if there.recipe == run.recipe else {}

    def load(self, run: SuggestedRun, parts: Mapping[str, ForFurnace]) -> NextLoad:
        """The suggested run with a position for each part that is still to go in."""
        lying = self._load_of(run)
        taken = set(lying.values())
        positions = self.pasts[run.furnace].furnace.positions
        empty = [one for one in positions if one not in taken]
        going = [parts[one] for one in run.serials if one not in lying]
        there = self.runs.get(run.furnace)
        return NextLoad(
            furnace=run.furnace,
            recipe=run.recipe,
            begin_us=run.begin_us,
            end_us=run.end_us,
            places=tuple(
                Place(position=place, part=part)
                for place, part in zip([*empty, *repeat("", len(going))], going, strict=False)
            ),
            empty=run.empty,
            run=there.code if there and lying else "",
        )


def may_run(furnace: Furnace, recipe: Recipe) -> bool:
    """True where the furnace is as uniform as the recipe asks (AMS 2750 classes)."""
    if recipe.furnace_class is None:
        return True
    if furnace.furnace_class is None:
        return False
    mine, asked = map(furnace_class, (furnace.furnace_class, recipe.furnace_class))
    return mine.uniformity_c <= asked.uniformity_c


def _best(slots: Sequence[FreeSlot], parts: Sequence[WaitingPart]) -> Suggestion:
    def work() -> Suggestion:
        return earliest_first(suggest(slots, parts, seconds=SECONDS), slots, parts)

    return SEARCHED.kept((tuple(slots), tuple(parts)), work)


def _lying_in(run: Run) -> str:
    """A made-up product that no part can be of: what lies in a run."""
    return f"\x00{run.code}"
