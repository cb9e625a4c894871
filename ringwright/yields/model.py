"""The yields of one product over some weeks: what page, files and API show."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.flow.model import Account
from ringwright.yields.rules import Share, share

DIMENSIONS = ("week", "lot", "furnace", "station", "shift", "revision", "product")
SCRAP, REWORK = "scrap", "rework"
TOUCH, QUEUE, ELAPSED, CYCLE = "touch", "queue", "elapsed", "cycle"
HOURS = (TOUCH, QUEUE, ELAPSED, CYCLE)
"""In work without pauses; waiting for it; from begin to end; both waiting and from begin to
end, or without a step from creation to release."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked, as it stands in the address; None is the usual."""

    product: str | None = None
    first: str | None = None
    """First week, such as 2026-W32."""
    last: str | None = None
    step: int | None = None
    lot: str | None = None
    station: str | None = None
    shift: str | None = None
    revision: str | None = None
    without: str | None = None
    """A load that is left out of everything."""
    by: str | None = None
    what: str | None = None
    """Whether reasons are those of scrap or of rework."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One week on a p-chart; limits only where there is something to compare with."""

    week: str
    in_window: bool
    share: Share
    lower: float | None
    upper: float | None

    @property
    def outside(self) -> bool:
        """True for a point beyond its limits; one on a limit is inside. Never for a small n."""
        value = self.share.value
        if value is None or self.share.small or self.lower is None or self.upper is None:
            return False
        return value < self.lower or value > self.upper


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A share by week, against the weeks before the window."""

    points: tuple[Point, ...]
    before: Share
    """Of the weeks before the window, taken together."""
    centre: Share
    """What the limits stand round: the weeks before, else all weeks shown."""
    from_before: bool
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StepYield:
    """One step over the window."""

    number: int
    name: str
    in_loads: bool
    visits: int
    first_visits: int
    first_passes: int
    first_pass: Share
    rework: Share
    scrap: Share
    """Visits ended in scrap over visits ended (ISO 22400-2 scrap ratio, per step)."""
    fall_off: float | None
    """Visits ended in scrap over first visits ended at the first step (ISO 22400-2)."""
    rolled: float | None
    """Rolled throughput yield up to and with this step."""
    trend: Trend


@dataclass(frozen=True, slots=True, kw_only=True)
class Cohort:
    """Parts created in the window and what became of them as of now."""

    created: int = 0
    released: int = 0
    scrapped: int = 0

    @property
    def open(self) -> int:
        """Neither released nor scrapped yet."""
        return self.created - self.released - self.scrapped

    @property
    def floor(self) -> Share:
        """Released of created: their yield if all open ones were lost."""
        return share(self.released, self.created)

    @property
    def ceiling(self) -> Share:
        """Not scrapped of created: their yield if all open ones came through."""
        return share(self.created - self.scrapped, self.created)


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """Parts whose loss was caused at one step and found at another; None: not recorded."""

    caused: int | None
    found: int | None
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Parts by where the defect lay and which step caused it; zone "": not placed."""

    zone: str
    caused: int | None
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Reasons:
    """Why parts were scrapped, or visits ended in rework: each list adds up to the total."""

    what: str
    total: int
    by_defect: tuple[tuple[str, int], ...]
    by_place: tuple[tuple[str, int], ...]
    """As recorded; "" where none was."""
    by_found: tuple[tuple[int | None, int], ...]
    by_caused: tuple[tuple[int | None, int], ...]
    threads: tuple[Thread, ...]
    marks: tuple[Mark, ...]
    not_placed: int
    """No place was recorded, or the drawing has no such zone."""

    @property
    def placed(self) -> int:
        """Those that the drawing shows."""
        return self.total - self.not_placed


@dataclass(frozen=True, slots=True, kw_only=True)
class WorstLoad:
    """The load of a step whose parts were scrapped most often for what the step caused."""

    step: int
    station: str
    begin_us: int
    code: str
    lost: int
    """Parts of it scrapped in the window."""
    lost_here: int
    """Of these, for what the step caused."""
    first_pass_without: Share


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadYield:
    """The first visits of one load of the step that is looked at, in the weeks shown."""

    station: str
    begin_us: int
    first_visits: int
    first_passes: int
    in_window: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """The hours of one visit, one load or one part."""

    name: str
    """The part's serial, or the load's code."""
    of_load: bool
    station: str
    begin_us: int
    end_us: int
    hours: float
    visits: int
    in_window: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One lot, furnace, station, shift, revision, product or week."""

    key: str
    visits: int
    first_visits: int
    first_pass: Share
    """At the step asked for; without one, absent unless the group is at one step only."""
    step: int | None
    """The step that the first-pass yield is of."""
    rolled: float | None
    steps: int
    """How many steps had a first visit: what the rolled yield is the product of."""
    rework: Share
    final: Share
    cohort: Cohort | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """The load that was left out of everything."""

    code: str
    step: int | None
    station: str
    begin_us: int
    parts: int


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldSheet:
    """Everything the Yield page shows, from one snapshot."""

    question: Question
    site: str
    site_name: str
    zone: str
    product: str
    name: str
    family: str
    products: tuple[str, ...]
    weeks: tuple[str, ...]
    """Those of the window."""
    start_us: int
    end_us: int
    now_us: int
    as_of: bool
    running: bool
    """The window reaches into a week that is not over."""
    head_seq: int
    head_hash: str
    steps: tuple[StepYield, ...]
    rolled: float | None
    rolled_missing: tuple[str, ...]
    final: Share
    final_trend: Trend
    released: int
    scrapped: int
    cohort: Cohort
    scrap: Reasons
    reworked: Reasons
    worst: WorstLoad | None
    by: str
    groups: tuple[Group, ...]
    loads: tuple[LoadYield, ...]
    """Of the step asked for, in the order of time, the weeks before the window too."""
    left_out: LeftOut | None
    account: Account
    """Of the whole product over these weeks, whatever narrows the rest."""

    @property
    def reasons(self) -> Reasons:
        """Those that the page draws."""
        return self.reworked if self.question.what == REWORK else self.scrap

    @property
    def narrowed(self) -> bool:
        """True when less than the whole product is counted."""
        q = self.question
        return any((q.lot, q.station, q.shift, q.revision, q.without))

    def step(self, number: int | None) -> StepYield | None:
        """One step of the route, or None."""
        return next((step for step in self.steps if step.number == number), None)
