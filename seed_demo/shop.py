"""The invented factory at work: a SimPy model with a queue before every step.

Everything depends on the past alone, so a longer run begins like a shorter one. The stations
themselves are in `stations.py`, what people decide in `office.py` and `quality.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from random import Random
from typing import Any, Final

import simpy

from ringwright.core.calendar import SECOND_US
from ringwright.routecards.card import RouteCard
from ringwright.sites.site import Calendar, Shift, SiteFile
from seed_demo.faults import STARTS, Fault
from seed_demo.hours import Hours
from seed_demo.plant import (
    DONE,
    LINE,
    SCRAP,
    WAY,
    Line,
    Part,
    build_floor,
)
from seed_demo.shown import DAY_US, MINUTE_US, RUNS, plan_shown
from seed_demo.told import Told

__all__ = ["MINUTE_US", "Shop"]

TICK_US: Final = 20 * MINUTE_US
OFFICE: Final = Shift(days=(0, 1, 2, 3, 4), start="07:00", end="16:00")
CREWS: Final = 3

Act = Callable[..., None]


class Shop:
    """Stations, queues and crews of one week, and what is told of them."""

    def __init__(
        self,
        site: SiteFile,
        cards: tuple[RouteCard, ...],
        start_us: int,
        shown_us: int,
        acts: dict[str, Act],
    ) -> None:
        self.env: Any = simpy.Environment(initial_time=start_us)
        self.zone = site.zone
        self.shown = plan_shown(site, shown_us)
        self.random = Random(0)  # noqa: S311 - a story, not a secret
        self.cards = {card.product: card for card in cards}
        self.hours = Hours(site.calendars, site.zone, start_us)
        self.past_hours = Hours(site.calendars, site.zone, start_us - 14 * DAY_US)
        """For who has to think of a night whose day before lies in the week before."""
        closed = tuple(day for calendar in site.calendars for day in calendar.closed)
        office = Calendar(code="office", shifts=(OFFICE,), closed=closed)
        self.office = Hours((office,), site.zone, start_us)
        self.groups, self.lines = build_floor(site, cards)
        self.places = {place.code: place for g in self.groups.values() for place in g.places}
        hot = self.places[RUNS].group
        self.places[RUNS].kept_free = self.shown.kept_free
        hot.early, hot.eager = self.shown.early, self.shown.eager
        self.parts: dict[str, Part] = {}
        self.stock: dict[str, list[Part]] = {card.product: [] for card in cards}
        self.in_work: dict[str, int] = dict.fromkeys(self.stock, 0)
        self.told: list[Told] = []
        self.pending: dict[int, tuple[int, str, tuple[Any, ...]]] = {}
        """What people mean to do later: number to (instant, act, what it is about)."""
        self.counts: dict[str, int] = {}
        self.sets: dict[str, dict[str, Any]] = {}
        """Sets that are reserved and not gone: product, slots, what is fitted."""
        self.doubted: dict[str, str] = {}
        """Lot to the containment that its parts come into as soon as they are out of work."""
        self.carriers: dict[str, str] = {}
        """Trolley to where it stands."""
        self.bins: dict[str, Any] = {}
        """Kind of swarf to the container that takes it; `sent`: those at the melter."""
        self.trolleys: dict[str, list[Part]] = {}
        """Trolley to the parts it was loaded with last."""
        self.taken: list[tuple[str, str, int, int]] = []
        """This week's readings: gauge, serial, which fact of the part, when."""
        self.runs: dict[str, dict[str, Any]] = {}
        """Furnace runs that are not decided: their blades, their cycle."""
        self.states: dict[str, dict[str, Any]] = {}
        """Furnace to how worn its thermocouples are, how a zone ages, what its next run is."""
        self.checked_us: dict[str, int] = {}
        """Gauge to when it was last found good this week."""
        self._acts = acts
        self._people = {
            role: [person.code for person in site.people if role in person.roles]
            for role in ("maker", "inspector")
        }
        self._hot = {one.code for one in site.people if "furnace" in one.authorisations}

    @property
    def now(self) -> int:
        """The present instant [us]."""
        instant: int = self.env.now
        return instant

    def count(self, name: str) -> int:
        """The next number of that name, from 1."""
        self.counts[name] = self.counts.get(name, 0) + 1
        return self.counts[name]

    def open(self) -> None:
        """Let the week begin: every part on its way and every plan goes on."""
        for group in self.groups.values():
            group.bell = self.env.event()
        for part in list(self.parts.values()):
            if part.state == WAY:
                self._at(max(part.due_us, self.now), self._arrive, part, part.ready_us)
        for number, (at_us, act, given) in sorted(self.pending.items()):
            self._at(at_us, self._act, number, act, given)
        self.env.process(self._look_round())

    def _at(self, at_us: int, act: Act, *given: Any) -> None:
        event = self.env.timeout(at_us - self.env.now)
        event.callbacks.append(lambda _event: act(*given))

    def later(self, at_us: int, act: str, *given: Any) -> None:
        """Somebody means to do `act` then; `given` is plain data, so that it can be kept."""
        number = self.count("plans")
        self.pending[number] = (at_us, act, given)
        self._at(at_us, self._act, number, act, given)

    def _act(self, number: int, act: str, given: tuple[Any, ...]) -> None:
        del self.pending[number]
        self.do(act, *given)

    def do(self, act: str, *given: Any) -> None:
        """Somebody does it now."""
        self._acts[act](self, *given)

    def tell(self, part: Part, kind: str, actor: str, at_us: int = 0, **data: Any) -> None:
        """Tell a fact of a part, now or at an instant still to come."""
        station = data.pop("station", "")
        ref = data.pop("ref", -1)
        self.told.append(
            Told(at_us or self.env.now, "part", part.serial, kind, actor, station, data, ref)
        )
        part.told += 1

    def tell_of(self, subject_kind: str, subject: str, kind: str, actor: str, **d: Any) -> None:
        """Tell a fact of something that is no part, now or at an instant still to come."""
        at_us = d.pop("at_us", self.env.now)
        self.told.append(Told(at_us, subject_kind, subject, kind, actor, "", d))

    def hours_of(self, planned_h: float, spread: float) -> int:
        """How long work takes: about as planned, seldom much longer [us, whole seconds]."""
        drawn = planned_h * 3600 * self.random.lognormvariate(-0.03, spread)
        return max(60, round(drawn)) * SECOND_US

    def crew(self, role: str, at_us: int = 0) -> str:
        """Somebody of that role on the shift."""
        people = self._people[role]
        size = len(people) // CREWS
        turn = self.hours.turn(at_us or self.env.now)[0]
        return people[turn * size + self.random.randrange(size)]

    def furnace_hand(self) -> str:
        """A maker on the shift who may run a furnace."""
        people = self._people["maker"]
        size = len(people) // CREWS
        turn = self.hours.turn(self.env.now)[0]
        crew = [one for one in people[turn * size : (turn + 1) * size] if one in self._hot]
        return self.random.choice(crew)

    def first_of(self, role: str, turn: int) -> str:
        """The first of that role on a shift: who opens it."""
        people = self._people[role]
        return people[turn * (len(people) // CREWS)]

    def hands(self, part: Part) -> str:
        """The role that works on the part at its step."""
        return "inspector" if part.step.kind == "inspection" else "maker"

    def line_of(self, part: Part) -> Line:
        """The line that the part waits in, or will."""
        return self.lines[part.card.product, part.step.number]

    def queue(self, part: Part) -> None:
        """The part waits for its step: on its trolley first, unless a window runs."""
        now = self.env.now
        part.ready_us, part.state = now, WAY
        line = self.line_of(part)
        if part.lot in self.doubted and line.may_wait:
            self.do("contain", part.serial, self.doubted[part.lot])
        if line.may_wait:
            hours = part.step.queue_hours * (0.2 + 0.9 * self.random.random())
            part.due_us = now + round(hours * 3600) * SECOND_US
            self._at(part.due_us, self._arrive, part, now)
        else:
            part.due_us = now
            self._arrive(part, now)

    def _arrive(self, part: Part, ready_us: int) -> None:
        """The part stands before its station, unless it was set aside on the way."""
        if part.aside or part.ready_us != ready_us or part.state != WAY:
            return
        part.state, part.due_us = LINE, self.env.now
        line = self.line_of(part)
        line.join(part)
        self.ring(line)

    def ring(self, line: Line) -> None:
        """Call the idle stations of the line's group."""
        group = line.group
        assert group is not None
        if group.bell.callbacks:
            bell, group.bell = group.bell, self.env.event()
            bell.succeed()

    def one_is_kept_back(self) -> None:
        """No more is cleaned early: one part waits too long already."""
        self.places[RUNS].group.early = (0, 0)

    def set_aside(self, part: Part, why: str) -> None:
        """Nobody works on the part until `take_back`."""
        if part.state == LINE:
            self.line_of(part).leave(part)
            part.state = WAY
        part.aside.append(why)

    def take_back(self, part: Part, why: str) -> None:
        """That reason is gone; without another one the part goes on."""
        part.aside.remove(why)
        if not part.aside and part.state == WAY:
            self._arrive(part, part.ready_us)

    def _look_round(self) -> Generator[Any, None, None]:
        """Loads that have waited long enough, cleaning that may begin, people coming in."""
        while True:
            opened = self.hours.next_open(self.env.now)
            if opened > self.env.now:
                yield self.env.timeout(opened - self.env.now)
            everything = opened == self.hours.opening(opened)
            for group in self.groups.values():
                if everything or group.timed:
                    self.ring(group.lines[0])
            yield self.env.timeout(TICK_US)

    def end(
        self, part: Part, outcome: str, by: str, fault: Fault | None = None, run: str = ""
    ) -> None:
        """The visit ends, by the acceptance of a furnace run too, and the part goes on."""
        data: dict[str, Any] = {"step": part.step.number, "outcome": outcome}
        if run:
            data["run"] = run
        if fault is not None:
            data["defect"], data["card"] = fault.defect, fault.card
        if outcome == "pass" and part.step.number == part.card.last:
            self.do("last end", part)
        part.ended = part.told
        self.tell(part, "end", by, station=part.station, **data)
        self.go_on(part, outcome, fault)

    def go_on(self, part: Part, outcome: str, fault: Fault | None) -> None:
        """Where the outcome of a visit, or a sentence, sends the part."""
        card, step = part.card, part.step.number
        if outcome == "scrap":
            self.scrap(part)
            return
        if outcome in ("rework", "repair"):
            assert fault is not None
            listed = card.rework_card(fault.card)
            assert listed is not None
            if outcome == "rework":
                part.rework = [*(n for n in listed.repeat if n != step), step]
            part.place = card.index[listed.repeat[0]]
        elif step == card.last:
            self.release(part)
            return
        else:
            part.rework = part.rework[1:]
            following = part.rework[0] if part.rework else card.after(step)
            assert following is not None
            part.place = card.index[following]
        self.queue(part)
        self.do("moved on", part)

    def scrap(self, part: Part) -> None:
        """The part is out of the flow for good."""
        part.state, part.gone_us = SCRAP, self.env.now
        self.in_work[part.card.product] -= 1

    def release(self, part: Part) -> None:
        """The part is output, and lies in the rack of its kind."""
        product = part.card.product
        part.state, part.ready_us = DONE, self.env.now
        self.in_work[product] -= 1
        self.stock[product].append(part)
        rack = f"{STARTS[product].rack}{1 + self.count('racks ' + product) // 24 % 9}"
        self.move(part, rack, part.actor, 2)

    def move(self, part: Part, to: str, by: str, minutes: int = 0) -> None:
        """The part lies somewhere else."""
        part.lies = to
        self.tell(part, "move", by, self.env.now + minutes * MINUTE_US, to=to)
