"""The things on the invented shop floor: parts, lines of waiting parts, stations, trolleys."""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any, Final

from ringwright.core.calendar import HOUR_US
from ringwright.routecards.card import ReworkCard, RouteCard, Step
from ringwright.routecards.toml import parse_route
from ringwright.sites.site import SiteFile
from ringwright.sites.toml import parse_site
from seed_demo.hours import Span

EAGER: Final = 0.5
"""The share of a window that a part may wait when its furnace is the only one left."""
PRODUCTS: Final = ("HF22-BLADE", "HF22-CASE", "PT68-BLADE")
WAY, LINE, WORK, DONE, SENT, SCRAP = "way", "line", "work", "done", "sent", "scrap"
"""On its way to a station, before it, in work (or stopped there), in stock, gone, scrapped."""


def _read(name: str) -> str:
    return files("seed_demo").joinpath("cards", name).read_text(encoding="utf-8")


def demo_site() -> SiteFile:
    """The site file of Holmfell Rotor Works."""
    return parse_site(_read("site.toml"), "site.toml")


def demo_routes() -> tuple[RouteCard, ...]:
    """The route cards of its three products."""
    return tuple(parse_route(_read(f"{code}.toml"), f"{code}.toml") for code in PRODUCTS)


@dataclass(slots=True, eq=False)
class Part:
    """One part on its way. All but the card is plain data, so that a week can be kept."""

    serial: str
    card: RouteCard
    lot: str
    trolley: str
    place: int = 0
    """Place in the route of the step it is at or will begin next."""
    state: str = WAY
    ready_us: int = 0
    """Since when it waits."""
    due_us: int = 0
    """When it will stand before its station."""
    aside: list[str] = field(default_factory=list)
    """Why it may not be worked on: a hold, containments, a search."""
    visits: dict[int, int] = field(default_factory=dict)
    rework: list[int] = field(default_factory=list)
    """Steps still to do on its rework card, the raising step last."""
    risk: float = 1.0
    """How many times likelier a fault is at the next inspection that can find it."""
    cause: int = 0
    """The step at which its load went wrong, until that is found or passed; 0: none."""
    blame: int = 0
    """That step, where it is what the last stop found."""
    size: float = 0.0
    """How heavy this one is among its like, in standard deviations."""
    told: int = 0
    """How many facts have been told of it."""
    stop: int = -1
    """Which of them was the stop that waits for its sentence."""
    raised: bool = False
    actor: str = ""
    station: str = ""
    lies: str = ""
    furnace: str = ""
    furnace_us: int = 0
    """Where and when it was inflated last."""
    scale: str = ""
    """Where its mass moment was read last."""
    ended: int = -1
    """Which of the facts told of it was its last end."""
    gone_us: int = 0
    read: dict[str, float] = field(default_factory=dict)
    """What a set is built on, by role."""

    @property
    def step(self) -> Step:
        """The step it is at or will begin next."""
        return self.card.steps[self.place]

    def may_follow(self, card: ReworkCard) -> bool:
        """True when no step of the rework card would be visited more often than allowed."""
        steps = map(self.card.by_number.__getitem__, (*card.repeat, card.raised_at))
        return all(
            step.max_visits is None or self.visits.get(step.number, 0) < step.max_visits
            for step in steps
        )


KEPT: Final = tuple(name for name in Part.__slots__ if name not in ("card",))


def keep_part(part: Part) -> list[Any]:
    """The part as plain data."""
    kept = [part.card.product, *(getattr(part, name) for name in KEPT)]
    kept[1 + KEPT.index("visits")] = sorted(part.visits.items())
    return kept


def part_from(kept: Sequence[Any], cards: dict[str, RouteCard]) -> Part:
    """The part that `keep_part` wrote."""
    fields = dict(zip(KEPT, kept[1:], strict=True))
    fields["visits"] = {int(step): count for step, count in fields["visits"]}
    return Part(card=cards[kept[0]], **fields)


@dataclass(slots=True, eq=False)
class Line:
    """The parts that wait for one step of one product: raised ones first, then the oldest."""

    step: Step
    feeds: Line | None = None
    """The line of the next step, when that must begin soon after this one ends."""
    fed_by: Line | None = None
    """The line whose step must have ended shortly before."""
    group: Group | None = None
    parts: list[Part] = field(default_factory=list)
    in_work: int = 0

    def join(self, part: Part) -> None:
        """The part now waits here."""
        insort(self.parts, part, key=_urgency)

    def leave(self, part: Part) -> None:
        """The part is taken out of the line, if it stands there."""
        if part in self.parts:
            self.parts.remove(part)

    @property
    def may_wait(self) -> bool:
        """True when parts may stand here for days: no window would run out."""
        return self.step.window is None


def _urgency(part: Part) -> tuple[bool, int]:
    return (not part.raised, part.due_us)


@dataclass(slots=True, eq=False)
class Job:
    """What a station has in work until `done_us`."""

    product: str
    step: int
    serials: list[str]
    done_us: int
    fault: int = -1
    """What will be found wrong, by its place among the step's faults; -1: nothing."""
    run: str = ""
    """The furnace run that it is."""


@dataclass(slots=True, eq=False)
class Place:
    """One station: free, busy, or out of use."""

    code: str
    capacity: int
    group: Group
    job: Job | None = None
    out: bool = False
    kept_free: Span = (0, 0)
    """While it takes no work, so that it is free when that is over."""

    def free_at(self, now: int) -> int:
        """When it can take work next, as things stand."""
        free = max(now, self.job.done_us) if self.job else now
        begin, end = self.kept_free
        return end if begin <= free < end else free


@dataclass(slots=True, eq=False)
class Group:
    """Stations that do the same work, and the lines before them."""

    name: str
    places: list[Place] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    shutting: bool = False
    """True while no more parts are cleaned for it, so that it can be shut empty."""
    timed: bool = False
    """True when it may start work because time has passed, not only because a part came."""
    early: Span = (0, 0)
    """While a part is cleaned for it though nothing is free to take it."""
    eager: Span = (0, 0)
    """While parts are cleaned for it longer before it is free than at other times."""
    bell: Any = None
    """The SimPy event that its idle stations wait for."""

    @property
    def capacity(self) -> int:
        """Parts to a load."""
        return self.places[0].capacity

    def may_feed(self, line: Line, now: int, closing: int) -> bool:
        """True when a part cleaned now will find a furnace well within its window."""
        after = line.feeds
        assert after is not None
        assert after.group is not None
        assert after.step.window is not None
        places = [place for place in after.group.places if not place.out]
        soon = now + 2 * HOUR_US
        loads = max(1, sum(place.free_at(now) <= soon for place in places))
        if after.group.shutting or not places:
            return False
        cleaned_for = len(after.parts) + line.in_work
        if _within(now, after.group.early) and not line.in_work:
            return True
        if cleaned_for >= loads * after.group.capacity:
            return False
        cleaned = now + int(line.step.planned_hours * 1.5 * HOUR_US)
        start = max(cleaned, min(place.free_at(now) for place in places))
        share = EAGER if _within(now, after.group.eager) else 0.3
        within = now + int(share * after.step.window.max_hours * HOUR_US)
        return start < within and start < closing - 3 * HOUR_US

    @property
    def cleaned_waiting(self) -> bool:
        """True while cleaned parts wait for it or are being cleaned for it."""
        fed = [line for line in self.lines if line.step.window is not None]
        return any(line.parts or (line.fed_by and line.fed_by.in_work) for line in fed)

    def may_start(self, line: Line, now: int, closing: int) -> bool:
        """True when this line's next load, or part, should go in now."""
        if not line.parts:
            return False
        if line.feeds is not None:
            return self.may_feed(line, now, closing)
        if line.fed_by is None and self.cleaned_waiting:
            return False
        if self.capacity == 1 or len(line.parts) >= self.capacity:
            return True
        waited = now - line.parts[0].due_us
        window = line.step.window
        if line.fed_by is not None and line.fed_by.in_work:
            return False  # what is being cleaned goes in with it, or would be left behind
        if line.fed_by is not None and closing - now < 2.5 * HOUR_US:
            return True
        if window is not None and waited > 0.25 * window.max_hours * HOUR_US:
            return True
        return waited > line.step.queue_hours * HOUR_US // 2


def _within(now: int, span: Span) -> bool:
    return span[0] <= now < span[1]


def build_floor(
    site: SiteFile, cards: Sequence[RouteCard]
) -> tuple[dict[str, Group], dict[tuple[str, int], Line]]:
    """Groups by name and lines by product and step number."""
    groups: dict[str, Group] = {}
    for station in site.stations:
        group = groups.setdefault(station.group, Group(station.group))
        group.places.append(Place(station.code, station.capacity, group))
    lines: dict[tuple[str, int], Line] = {}
    for card in cards:
        following: Line | None = None
        for step in reversed(card.steps):
            line = Line(step, group=groups[step.station_group])
            if following is not None and following.step.window is not None:
                line.feeds, following.fed_by = following, line
            lines[card.product, step.number] = following = line
            groups[step.station_group].lines.append(line)
    for group in groups.values():
        group.timed = group.capacity > 1 or any(line.feeds for line in group.lines)
    return groups, lines
