"""The things on the invented shop floor: parts, lines of waiting parts, stations."""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from ringwright.core.calendar import HOUR_US
from ringwright.routecards.card import RouteCard, Step
from ringwright.routecards.toml import parse_route
from ringwright.sites.site import SiteFile
from ringwright.sites.toml import parse_site

PRODUCTS: Final = ("HF22-BLADE", "HF22-CASE", "PT68-BLADE")
_HERE: Final = Path(__file__).parent


def demo_site() -> SiteFile:
    """The site file of Holmfell Rotor Works."""
    return parse_site((_HERE / "site.toml").read_text(encoding="utf-8"), "site.toml")


def demo_routes() -> tuple[RouteCard, ...]:
    """The route cards of its three products."""
    return tuple(
        parse_route((_HERE / f"{code}.toml").read_text(encoding="utf-8"), f"{code}.toml")
        for code in PRODUCTS
    )


@dataclass(slots=True, eq=False)
class Part:
    """One part on its way."""

    serial: str
    card: RouteCard
    lot: str
    place: int = 0
    """Place in the route of the step it is at or will begin next."""
    ready_us: int = 0
    """Since when it waits."""
    here_us: int = 0
    """Since when it stands before its station."""
    held: str = ""
    """Reason of the open hold."""
    busy: bool = False
    """True while a visit is open."""
    gone: bool = False
    """Released or scrapped."""
    visits: dict[int, int] = field(default_factory=dict)
    risk: float = 1.0
    actor: str = ""
    station: str = ""
    size: float = 0.0
    """How heavy this one is among its like, in standard deviations."""

    @property
    def step(self) -> Step:
        """The step it is at or will begin next."""
        return self.card.steps[self.place]

    def may_repeat(self, first: int) -> bool:
        """True when no step from `first` to here would be visited more often than allowed."""
        steps = self.card.steps[self.card.index[first] : self.place + 1]
        return all(
            step.max_visits is None or self.visits.get(step.number, 0) < step.max_visits
            for step in steps
        )


def _here(part: Part) -> int:
    return part.here_us


@dataclass(slots=True, eq=False)
class Line:
    """The parts that wait for one step of one product, oldest first."""

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
        insort(self.parts, part, key=_here)


@dataclass(slots=True, eq=False)
class Place:
    """One station: free, busy, or out of use."""

    code: str
    capacity: int
    busy: bool = False
    out: bool = False
    free_us: int = 0
    """When the work now in it will be done, as far as anybody knows."""


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
        loads = max(1, sum(place.free_us <= soon for place in places))
        if after.group.shutting or not places:
            return False
        if len(after.parts) + line.in_work >= loads * after.group.capacity:
            return False
        cleaned = now + int(line.step.planned_hours * 1.5 * HOUR_US)
        start = max(cleaned, min(place.free_us for place in places))
        within = now + int(0.3 * after.step.window.max_hours * HOUR_US)
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
        waited = now - line.parts[0].here_us
        window = line.step.window
        if line.fed_by is not None and line.fed_by.in_work:
            return False  # what is being cleaned goes in with it, or would be left behind
        if line.fed_by is not None and closing - now < 2.5 * HOUR_US:
            return True
        if window is not None and waited > 0.25 * window.max_hours * HOUR_US:
            return True
        return waited > line.step.queue_hours * HOUR_US // 2


def build_floor(
    site: SiteFile, cards: tuple[RouteCard, ...]
) -> tuple[dict[str, Group], dict[tuple[str, int], Line]]:
    """Groups by name and lines by product and place in the route."""
    groups: dict[str, Group] = {}
    for station in site.stations:
        group = groups.setdefault(station.group, Group(station.group))
        group.places.append(Place(station.code, station.capacity))
    lines: dict[tuple[str, int], Line] = {}
    for card in cards:
        following: Line | None = None
        for place in reversed(range(len(card.steps))):
            step = card.steps[place]
            line = Line(step, group=groups[step.station_group])
            if following is not None and following.step.window is not None:
                line.feeds, following.fed_by = following, line
            lines[card.product, place] = following = line
            groups[step.station_group].lines.append(line)
    for group in groups.values():
        group.timed = group.capacity > 1 or any(line.feeds for line in group.lines)
    return groups, lines
