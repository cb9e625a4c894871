"""One run of a shop until the end of the week, event by event.

Queues are the floor's: raised parts first, then first come. Work at a stage pauses while its
group is closed; a load begins while it is open, runs through by the clock, and is taken out
once the group is open again.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from heapq import heappop, heappush
from math import inf
from typing import Final

from ringwright.queueing.luck import Luck
from ringwright.queueing.shop import RELEASED, Clock, Load, Shop

DONE, COME, LOOK, OFF = range(4)
_LAST: Final = 1 << 40
"""Orders what is no part's event behind those that are, at one instant."""
_SLIP: Final = 1e-9
Event = tuple[float, int, int, int, int, tuple[int, ...]]
"""When, whose, in which order it was said, what, at which group, which parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """More capacity at one group: hours added to its clock, or a server beside for a while."""

    group: int
    more: tuple[tuple[float, float], ...] = ()
    beside_h: float = 0.0

    def window(self, clock: Clock) -> tuple[float, float]:
        """From when to when it can make any difference at the group itself."""
        if self.more:
            return self.more[0][0], self.more[-1][1]
        return 0.0, clock.finish(0.0, self.beside_h)


class Walk:
    """One run. Asked with an extra, it walks only what that can touch, after the run without.

    `came` has the instants at which each part came to the places of its way, `out` those of the
    releases with their parts, `wanted` from when each group of `extras` would have used its.
    """

    def __init__(
        self, shop: Shop, luck: Luck, extras: tuple[Extra, ...] = (), before: Walk | None = None
    ) -> None:
        self._shop, self._luck, self._before = shop, luck, before
        self._events: list[Event] = []
        self._said = 0
        self._place = [0] * (len(shop.parts) + len(luck.coming))
        self.came: list[list[float]] = [[] for _ in self._place]
        self.out: list[tuple[float, int]] = []
        self.wanted = [inf for _ in shop.groups]
        self._extra = extras[0] if before else None
        self._beside = extras[0].group if before and extras[0].beside_h else -1
        self._inside = shop.after[extras[0].group] if before else None
        self._set_up(() if before else extras)
        self._begin()
        self._go()

    def _set_up(self, extras: tuple[Extra, ...]) -> None:
        """Groups with nothing in work, lanes in which nothing waits."""
        shop, groups = self._shop, range(len(self._shop.groups))
        self._visits = self._luck.visits
        self._lane_of, self._by_load = shop.lane_of, shop.loads
        self._clocks = [group.clock for group in shop.groups]
        self._open_to = [-inf for _ in groups]
        self._free = [group.servers for group in shop.groups]
        self._lanes: list[list[tuple[int, float, int]]] = [
            [] for _ in range(len(shop.groups) + len(shop.stages))
        ]
        self._loads = [len(shop.lanes[group]) > 1 for group in groups]
        self._due = [inf] * len(self._lanes)
        self._looks = [-inf for _ in groups]
        self._back: dict[int, tuple[tuple[int, ...], float]] = {}
        self._running: dict[int, tuple[tuple[int, ...], float, float]] = {}
        self._dead: set[int] = set()
        self._windows = {one.group: one.window(self._clocks[one.group]) for one in extras}
        self._until_h = max((to_h for _, to_h in self._windows.values()), default=-inf)

    @property
    def events(self) -> int:
        """What the run cost."""
        return self._said

    @property
    def released(self) -> int:
        """Parts released by the end of the week."""
        return len(self.out)

    def _begin(self) -> None:
        extra = self._extra
        if extra and extra.more:
            self._clocks[extra.group] = self._clocks[extra.group].with_more(extra.more)
        elif extra:
            self._free[extra.group] += 1
            self._say(self._clocks[extra.group].finish(0.0, extra.beside_h), OFF, extra.group)
        self._put_in_work()
        self._put_before()
        for group in range(len(self._shop.groups)):
            self._fill(group, 0.0)
        for group, (from_h, _) in self._windows.items():
            self._say(from_h, LOOK, group)

    def _put_before(self) -> None:
        """Who waits now, and who is created later."""
        shop = self._shop
        for number, part in enumerate(shop.parts):
            if not part.in_work and self._touches(number):
                self._join(number, part.stage, part.since_h)
        for number, one in enumerate(self._luck.coming, len(shop.parts)):
            if self._touches(number):
                self._say(one.at_h, COME, shop.stages[one.stage].group, (number,))

    def _touches(self, number: int) -> bool:
        """Whether a part starts inside; who comes in later is told of by the run before."""
        if self._inside is None or self._before is None:
            return True
        for place, at_h in enumerate(self._before.came[number]):
            stage = self._visits[number][place][0]
            group = self._shop.stages[stage].group
            if group in self._inside:
                if place == 0:
                    return True
                self._place[number] = place
                self._say(at_h, COME, group, (number,))
                return False
        return False

    def _put_in_work(self) -> None:
        jobs: dict[tuple[int, str], list[int]] = {}
        for number, part in enumerate(self._shop.parts):
            if part.in_work:
                self.came[number].append(part.since_h)
                if self._touches(number):
                    key = (part.stage, part.load or f" {number}")
                    jobs.setdefault(key, []).append(number)
        for numbers in jobs.values():
            self._start(tuple(numbers), self._luck.visit(numbers[0], 0)[1], 0.0)

    def _say(self, at_h: float, what: int, group: int, parts: tuple[int, ...] = ()) -> int:
        self._said += 1
        if at_h <= self._shop.end_h:
            whose = parts[0] if parts else _LAST
            heappush(self._events, (at_h, whose, self._said, what, group, parts))
        return self._said

    def _go(self) -> None:
        events, dead = self._events, self._dead
        while events:
            at_h, _, said, what, group, parts = heappop(events)
            if what == DONE:
                if said in dead:
                    continue
                self._free[group] += 1
                self._running.pop(said, None)
                for part in parts:
                    self._onward(part, at_h)
            elif what == COME:
                self._join(parts[0], self._visits[parts[0]][self._place[parts[0]]][0], at_h)
            elif what == OFF:
                self._take_off(group, at_h)
            self._fill(group, at_h)

    def _onward(self, part: int, at_h: float) -> None:
        place = self._place[part] = self._place[part] + 1
        visits = self._visits[part]
        stage = visits[place][0] if place < len(visits) else self._luck.visit(part, place)[0]
        if stage >= 0:
            self._join(part, stage, at_h)
            self._fill(self._shop.stages[stage].group, at_h)
        elif stage == RELEASED:
            self.out.append((at_h, part))

    def _join(self, part: int, stage: int, at_h: float) -> None:
        """The part now waits before a stage."""
        self.came[part].append(at_h)
        lane = self._lane_of[stage]
        raised = self._shop.parts[part].raised if part < len(self._shop.parts) else 0
        heappush(self._lanes[lane], (-raised, at_h, part))
        if lane in self._by_load and at_h + self._by_load[lane].patience_h < self._due[lane]:
            group = self._shop.stages[stage].group
            self._be_patient(lane, self._by_load[lane], at_h, group)

    def _be_patient(self, lane: int, load: Load, since_h: float, group: int) -> None:
        self._due[lane] = max(since_h + load.patience_h, 0.0)
        self._say(self._due[lane], LOOK, group)

    def _opens(self, group: int, at_h: float) -> bool:
        """Whether the group works then; asked in the order of time."""
        if at_h < self._open_to[group]:
            return True
        clock = self._clocks[group]
        place = bisect_right(clock.ends, at_h)
        if place == len(clock.ends) or clock.begins[place] > at_h:
            return False
        self._open_to[group] = clock.ends[place]
        return True

    def _fill(self, group: int, at_h: float) -> None:
        """Begin whatever can be begun at a group."""
        free = self._free
        if free[group] > 0 and (self._loads[group] or self._lanes[group] or self._back):
            if self._opens(group, at_h):
                while free[group] > 0 and (job := self._take(group, at_h)):
                    self._start(*job, at_h)
            else:
                self._look_in(group, at_h)
        if at_h <= self._until_h and group in self._windows:
            self._note(group, at_h)

    def _look_in(self, group: int, at_h: float) -> None:
        """Come back when the group opens."""
        open_h = self._clocks[group].next_open(at_h)
        if self._looks[group] < open_h:
            self._looks[group] = open_h
            self._say(open_h, LOOK, group)

    def _note(self, group: int, at_h: float) -> None:
        """Note from when an extra would have been used: something waits, or stands paused."""
        from_h, to_h = self._windows[group]
        if from_h <= at_h <= to_h and self.wanted[group] == inf:
            closed = not self._opens(group, at_h)
            paused = closed and self._free[group] < self._shop.groups[group].servers
            if paused or self._ready(group, at_h) >= 0:
                self.wanted[group] = at_h

    def _ready(self, group: int, at_h: float) -> int:
        """The lane to be served next; -1 where none can."""
        best, found = (1, inf, 0), -1
        for lane in self._shop.lanes[group]:
            waiting = self._lanes[lane]
            if waiting and waiting[0] < best and self._enough(lane, len(waiting), at_h):
                best, found = waiting[0], lane
        return found

    def _enough(self, lane: int, waiting: int, at_h: float) -> bool:
        load = self._by_load.get(lane)
        return load is None or waiting >= load.usual or at_h >= self._due[lane] - _SLIP

    def _take(self, group: int, at_h: float) -> tuple[tuple[int, ...], float] | None:
        """The parts to begin with and their work: what was given back, else who comes first."""
        if group in self._back:
            return self._back.pop(group)
        lane = self._ready(group, at_h) if self._loads[group] else group
        waiting = self._lanes[lane] if lane >= 0 else ()
        if not waiting:
            return None
        load = self._by_load.get(lane)
        if load is None:
            part = heappop(waiting)[2]
            return (part,), self._visits[part][self._place[part]][1]
        parts = tuple(heappop(waiting)[2] for _ in range(min(load.most, len(waiting))))
        self._due[lane] = inf
        if waiting:
            self._be_patient(lane, load, min(one[1] for one in waiting), group)
        return parts, self._visits[parts[0]][self._place[parts[0]]][1]

    def _start(self, parts: tuple[int, ...], work_h: float, at_h: float) -> None:
        stage = self._shop.stages[self._visits[parts[0]][self._place[parts[0]]][0]]
        group, end_h = stage.group, at_h + work_h
        if end_h > self._open_to[group]:
            clock = self._clocks[group]
            end_h = clock.next_open(end_h) if stage.load else clock.finish(at_h, work_h)
        self._free[group] -= 1
        said = self._say(end_h, DONE, group, parts)
        if group == self._beside:
            self._running[said] = (parts, at_h, work_h)

    def _take_off(self, group: int, at_h: float) -> None:
        """The server beside goes; what it was at goes back, with what is left of its work."""
        if self._free[group] > 0 or not self._running:
            self._free[group] -= 1
            return
        said = max(self._running)
        parts, since_h, work_h = self._running.pop(said)
        self._dead.add(said)
        stage = self._visits[parts[0]][self._place[parts[0]]][0]
        by_clock = self._shop.stages[stage].load is not None
        done_h = at_h - since_h if by_clock else self._clocks[group].worked(since_h, at_h)
        self._back[group] = (parts, max(work_h - done_h, 0.0))
