"""The invented factory at work: a discrete-event model with a queue before every step.

Every event depends on the past alone, so a longer run begins with the rows of a shorter one.
"""

from __future__ import annotations

from collections.abc import Callable
from heapq import heappop, heappush
from itertools import count, pairwise
from random import Random
from typing import Any, Final

from ringwright.core.calendar import HOUR_US, SECOND_US
from ringwright.demo.faults import (
    BAD_LOAD_CHANCE,
    BAD_LOAD_RISK,
    FAULTS,
    SUSPECT_LOT_RISK,
    Fault,
)
from ringwright.demo.floor import Group, Line, Part, Place, build_floor
from ringwright.demo.hours import Hours, Span
from ringwright.demo.readings import draw_reading
from ringwright.demo.rows import Pen
from ringwright.routecards.card import RouteCard
from ringwright.sites.site import Calendar, Shift, SiteFile

MINUTE_US: Final = 60 * SECOND_US
TICK_US: Final = 20 * MINUTE_US
LONG_US: Final = 6 * HOUR_US
"""Work longer than this is handed over from crew to crew."""
OFFICE: Final = Shift(days=(0, 1, 2, 3, 4), start="07:00", end="16:00")
CREWS: Final = 3

Stop = Callable[[int, Part, Fault], None]


class Factory:
    """Queues, stations, crews and the heap of what happens next."""

    def __init__(
        self, site: SiteFile, cards: tuple[RouteCard, ...], seed: int, start: int
    ) -> None:
        self.random = Random(seed)  # noqa: S311 - a story, not a secret
        self.pen = Pen(site.zone)
        self.hours = Hours(site.calendars, site.zone, start)
        closed = tuple(day for calendar in site.calendars for day in calendar.closed)
        office = Calendar(code="office", shifts=(OFFICE,), closed=closed)
        self.office = Hours((office,), site.zone, start)
        self.groups, self.lines = build_floor(site, cards)
        self.finished: dict[str, list[Part]] = {card.product: [] for card in cards}
        self.in_work: dict[str, int] = dict.fromkeys(self.finished, 0)
        self._people = {
            role: [person.code for person in site.people if role in person.roles]
            for role in ("maker", "inspector")
        }
        self._heap: list[tuple[int, int, Callable[..., None], tuple[Any, ...]]] = []
        self._order = count()
        self.doubted: dict[str, str] = {}
        """Lots in doubt, each with the reason its parts are held for."""
        self.on_stop: Stop | None = None
        self.later(self.hours.next_open(start), self._tick, True)

    def later(self, at_us: int, act: Callable[..., None], *given: Any) -> None:
        """Let `act(at_us, *given)` happen then."""
        heappush(self._heap, (at_us, next(self._order), act, given))

    @property
    def next_us(self) -> int:
        """When the next thing happens."""
        return self._heap[0][0]

    def step_on(self) -> None:
        """Let the next thing happen."""
        at_us, _, act, given = heappop(self._heap)
        act(at_us, *given)

    def hours_of(self, planned_h: float, spread: float) -> int:
        """How long work takes: about as planned, seldom much longer [us, whole seconds]."""
        drawn = planned_h * 3600 * self.random.lognormvariate(-0.03, spread)
        return max(60, round(drawn)) * SECOND_US

    def crew(self, now: int, role: str) -> str:
        """Somebody of that role on the shift."""
        people = self._people[role]
        size = len(people) // CREWS
        return people[self.hours.turn(now)[0] * size + self.random.randrange(size)]

    def queue(self, now: int, part: Part) -> None:
        """The part waits for its step: on a trolley first, unless a window runs."""
        part.ready_us, part.busy = now, False
        if part.lot in self.doubted and self.may_hold(part):
            self.hold(now, part, self.doubted[part.lot])
        elif self.line_of(part).step.window is not None:
            self._arrive(now, part, now)
        else:
            hours = part.step.queue_hours * (0.2 + 0.9 * self.random.random())
            self.later(now + round(hours * 3600) * SECOND_US, self._arrive, part, now)

    def _arrive(self, now: int, part: Part, ready_us: int) -> None:
        """The part stands before its station, unless it was held on the way."""
        if part.held or part.ready_us != ready_us:
            return
        part.here_us = now
        line = self.line_of(part)
        line.join(part)
        assert line.group is not None
        self.dispatch(now, line.group)

    def line_of(self, part: Part) -> Line:
        """The line that the part waits in, or will."""
        return self.lines[part.card.product, part.place]

    def may_hold(self, part: Part) -> bool:
        """True when it waits, is not held yet, and no window would run out meanwhile."""
        return not part.busy and not part.held and self.line_of(part).step.window is None

    def hold(self, now: int, part: Part, reason: str) -> None:
        """The waiting part must not move."""
        line = self.line_of(part)
        if part in line.parts:
            line.parts.remove(part)
        part.held = reason
        part.risk = max(part.risk, SUSPECT_LOT_RISK)
        self.pen.write(now, part, "hold", "quality-engineer", reason=reason)

    def dispatch(self, now: int, group: Group) -> None:
        """Put waiting parts on free stations, those whose window runs first."""
        if not self.hours.is_open(now):
            return
        closing = self.hours.closing(now)
        if closing - now < 10 * MINUTE_US:
            return
        for place in group.places:
            if place.busy or place.out:
                continue
            ready = [line for line in group.lines if group.may_start(line, now, closing)]
            if not ready:
                return
            line = min(ready, key=lambda one: (one.step.window is None, one.parts[0].here_us))
            load, line.parts = line.parts[: place.capacity], line.parts[place.capacity :]
            self._begin(now, place, line, load)

    def _begin(self, now: int, place: Place, line: Line, load: list[Part]) -> None:
        place.busy = True
        line.in_work += len(load)
        role = "inspector" if line.step.kind == "inspection" else "maker"
        by = self.crew(now, role)
        for part in load:
            part.visits[line.step.number] = part.visits.get(line.step.number, 0) + 1
            part.actor, part.station, part.busy = by, place.code, True
            self.pen.write(now, part, "begin", by, station=place.code)
        if place.capacity > 1 or line.step.kind == "heat-cycle":
            self._run(now, place, line, load)
        else:
            self._visit(now, place, line, load[0])

    def _run(self, now: int, place: Place, line: Line, load: list[Part]) -> None:
        """A load runs through by itself; people take it out when they are there."""
        done = now + self.hours_of(line.step.planned_hours, 0.04)
        opened = self.hours.next_open(done)
        if opened > done:
            done = opened + self.random.randrange(300, 2400) * SECOND_US
        place.free_us = done
        if self.random.random() < BAD_LOAD_CHANCE:
            for part in load:
                part.risk = BAD_LOAD_RISK
        self.later(done, self._unload, place, line, load)

    def _unload(self, now: int, place: Place, line: Line, load: list[Part]) -> None:
        by = self.crew(now, "maker")
        for part in load:
            part.actor = by
            self._finish(now, part, self._fault(part))
        self._free(now, place, line, len(load))

    def _visit(self, now: int, place: Place, line: Line, part: Part) -> None:
        """One part on one station, paused over breaks, shift changes and closed days."""
        work = self.hours_of(line.step.planned_hours, 0.22)
        since = now
        spans = self._cut(now, work)
        for before, after in pairwise(spans):
            self.later(before[1], self._pause, part)
            late = self.random.randrange(0, 480) * SECOND_US
            since = min(after[0] + late, after[1] - SECOND_US)
            self.later(since, self._resume, part)
        done = spans[-1][1]
        fault = self._fault(part)
        reads = line.step.characteristics
        for place_of, read in enumerate(reads, start=1):
            at_us = since + (done - since) * (place_of + 2) // (len(reads) + 3)
            at_us -= at_us % SECOND_US
            outside = fault is not None and fault.reads == read.code
            self.later(max(at_us, since), self._read, part, read, outside)
        place.free_us = done
        self.later(done, self._leave, place, line, part, fault)

    def _cut(self, now: int, work_us: int) -> list[Span]:
        """The spans that the work takes, cut where a break falls or a crew changes."""
        spans = self.hours.spans(now, work_us)
        if work_us > LONG_US:
            spans = [piece for span in spans for piece in self._by_crew(*span)]
        elif len(spans) == 1 and work_us > 20 * MINUTE_US and self.random.random() < 0.03:
            half = now + work_us // 2 // SECOND_US * SECOND_US
            again = half + self.random.randrange(600, 2400) * SECOND_US
            if again + work_us < self.hours.closing(now):
                spans = [(now, half), (again, again + work_us - (half - now))]
        return spans

    def _by_crew(self, begin: int, finish: int) -> list[Span]:
        pieces: list[Span] = []
        while True:
            change = self.hours.turn(begin)[1]
            if change >= finish - 30 * MINUTE_US:
                return [*pieces, (begin, finish)]
            pieces.append((begin, change))
            begin = change

    def _pause(self, now: int, part: Part) -> None:
        self.pen.write(now, part, "pause", part.actor)

    def _resume(self, now: int, part: Part) -> None:
        role = "inspector" if part.step.kind == "inspection" else "maker"
        part.actor = self.crew(now, role)
        self.pen.write(now, part, "resume", part.actor, station=part.station)

    def _read(self, now: int, part: Part, read: Any, outside: bool) -> None:
        value = draw_reading(self.random, part, read, outside)
        self.pen.write(
            now, part, "measure", part.actor,
            characteristic=read.code, value=value, unit=read.unit, station=part.station,
        )  # fmt: skip

    def _leave(
        self, now: int, place: Place, line: Line, part: Part, fault: Fault | None
    ) -> None:
        self._finish(now, part, fault)
        self._free(now, place, line, 1)

    def _free(self, now: int, place: Place, line: Line, parts: int) -> None:
        place.busy = False
        line.in_work -= parts
        assert line.group is not None
        self.dispatch(now, line.group)

    def _fault(self, part: Part) -> Fault | None:
        """What is found wrong at this step, if anything; an inspection clears the doubt."""
        draw, risk = self.random.random(), 1.0
        if part.step.kind == "inspection":
            risk, part.risk = part.risk, 1.0
        for fault in FAULTS.get((part.card.product, part.step.number), ()):
            draw -= fault.chance * risk
            if draw < 0:
                return fault
        return None

    def _finish(self, now: int, part: Part, fault: Fault | None) -> None:
        if fault is None:
            self.end(now, part, "pass", part.actor)
        elif fault.outcome == "rework" and part.may_repeat(fault.back_to or part.step.number):
            self.end(now, part, "rework", part.actor, fault)
        else:
            self.pen.write(now, part, "pause", part.actor, reason=f"stopped: {fault.defect}")
            if not part.held:
                part.held = f"nonconformity: {fault.defect}"
                self.pen.write(now, part, "hold", part.actor, reason=part.held)
            assert self.on_stop is not None
            self.on_stop(now, part, fault)

    def end(
        self, now: int, part: Part, outcome: str, by: str, fault: Fault | None = None
    ) -> None:
        """The visit ends, and the part goes where its outcome sends it."""
        defect = fault.defect if fault and outcome != "pass" else ""
        self.pen.write(
            now, part, "end", by, outcome=outcome, defect=defect, station=part.station
        )
        if outcome == "scrap":
            part.gone = True
            self.in_work[part.card.product] -= 1
        elif outcome in ("rework", "repair"):
            assert fault is not None
            part.place = part.card.index[fault.back_to or part.step.number]
            self.queue(now, part)
        elif part.step.number == part.card.last:
            part.gone = True
            self.in_work[part.card.product] -= 1
            self.finished[part.card.product].append(part)
        else:
            part.place += 1
            self.queue(now, part)

    def _tick(self, now: int, everything: bool) -> None:
        """Look round: loads that have waited long enough, cleaning that may begin."""
        for group in self.groups.values():
            if everything or group.timed:
                self.dispatch(now, group)
        then = self.hours.next_open(now + TICK_US)
        self.later(then, self._tick, then > now + TICK_US)
