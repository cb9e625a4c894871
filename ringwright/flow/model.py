"""Read models of the week: what the page, the command and the API all render."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.flow.acts import Act


@dataclass(frozen=True, kw_only=True)
class Proportion:
    """A proportion with its Wilson 95 % interval and its n; all None when n is 0."""

    value: float | None
    low: float | None
    high: float | None
    n: int


@dataclass(frozen=True, kw_only=True)
class CycleTime:
    """Release less creation of the parts released in the week [h]."""

    n: int
    median: float | None
    mean: float | None
    p90: float | None
    plan: float


@dataclass(frozen=True, kw_only=True)
class StepWeek:
    """One step in one week, over visits that ended in it."""

    number: int
    name: str
    visits: int
    first_visits: int
    first_passes: int
    first_pass_yield: Proportion
    rework_ratio: float | None
    touch_h_median: float | None
    queue_h_median: float | None


@dataclass(frozen=True, kw_only=True)
class StepHours:
    """One step in one week by the clock and in working hours of its station group [h].

    Medians are over the visits ended in the week; None without any.
    """

    number: int
    name: str
    touch: float | None
    touch_worked: float | None
    """Begin to end in working hours, no more than the touch itself."""
    touch_plan: float | None
    """Planned hours are hours of work: the same either way."""
    queue: float | None
    queue_worked: float | None
    queue_plan: float | None
    queue_plan_worked: float | None
    """Planned queue by the share of the week that the group works."""


@dataclass(frozen=True, kw_only=True)
class Cohort:
    """Parts created in the week and what became of them as of now."""

    created: int
    released: int
    scrapped: int
    open: int


@dataclass(frozen=True, kw_only=True)
class WeekNumbers:
    """The numbers of one product and one week (`week --json`)."""

    product: str
    week: str
    start_us: int
    end_us: int
    zone: str
    target: float | None
    output: int
    scrapped: int
    created: int
    wip: dict[int, int]
    cycle_time_h: CycleTime
    steps: tuple[StepWeek, ...]
    rolled_throughput_yield: float | None
    rolled_missing: tuple[str, ...]
    """Names of the steps without a first visit in the week."""
    final_yield: Proportion
    cohort: Cohort
    used: int = 0
    """Parts used in the making of others."""


@dataclass(frozen=True, kw_only=True)
class Account:
    """Opening, created and reopened against released, scrapped, used and closing."""

    opening: int
    """In the cell when the week began, without those reopened."""
    created: int
    reopened: int
    """Gone by then as was known then, and taken back in the week."""
    released: int
    scrapped: int
    used: int
    """Gone into another part, or parted, as for a test."""
    closing: int

    @property
    def came(self) -> int:
        """Every part that has to be accounted for."""
        return self.opening + self.created + self.reopened

    @property
    def off_by(self) -> int:
        """0 when every part is accounted for."""
        return self.came - self.released - self.scrapped - self.used - self.closing


@dataclass(frozen=True, kw_only=True)
class StepStanding:
    """The parts at one step at the moment of the snapshot."""

    number: int
    name: str
    waiting: int
    in_work: int
    held: int
    over_plan: int
    """Parts longer at the step than planned (waiting: queue hours; in work: planned hours)."""
    oldest_h: float | None
    oldest_serial: str | None


@dataclass(frozen=True, kw_only=True)
class ScrapReason:
    """How many parts were scrapped in the week for one defect."""

    defect: str
    count: int
    found_at: str
    caused_at: str


@dataclass(frozen=True, kw_only=True)
class LittlesLaw:
    """Mean WIP against rate of exits times mean time in the cell, over some weeks.

    The two agree when the record is whole: a part whose end was never booked, or a back-dated
    creation, shows as a gap. Source: J. D. C. Little, Operations Research 9 (1961) 383-387.
    """

    weeks: int
    mean_wip: float | None
    exits_per_day: float | None
    mean_days: float | None
    """Mean time in the cell of all exits: released, scrapped and used [d]."""

    @property
    def predicted_wip(self) -> float | None:
        """Rate times time."""
        if self.exits_per_day is None or self.mean_days is None:
            return None
        return self.exits_per_day * self.mean_days


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One product on the Week page: its numbers and the points of its promise line."""

    numbers: WeekNumbers
    name: str
    promised_now: float | None
    """Target times working time gone over working time of the week; None without target."""
    releases_us: tuple[int, ...]
    """Instants of release within the week, ascending, up to the snapshot."""
    standing: tuple[StepStanding, ...]
    scrap: tuple[ScrapReason, ...]
    account: Account
    cycle_time_working_h: CycleTime
    """As the cycle time, in working hours of the shift calendar; the plan is the sum of what
    `hours` plans in working hours."""
    law: LittlesLaw
    restated: bool
    """True when a release once counted in this week has been revoked."""
    hours: tuple[StepHours, ...] = ()
    """The steps of the card in force, by the clock and worked."""


@dataclass(frozen=True, kw_only=True)
class WeekSheet:
    """Everything the Week page shows, from one snapshot."""

    site: str
    site_name: str
    zone: str
    week: str
    start_us: int
    end_us: int
    now_us: int
    """The moment the numbers speak of: now, or the as-of time."""
    as_of: bool
    head_seq: int
    head_hash: str
    last_entry_us: int | None
    working: tuple[tuple[int, int], ...]
    """Working intervals of the week [us UTC), ascending, merged."""
    strips: tuple[Strip, ...]
    acts: tuple[Act, ...] = ()
    """What is to be acted on, ranked; of the week under way alone."""
