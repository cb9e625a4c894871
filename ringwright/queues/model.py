"""What the Queues page shows, as data."""

from __future__ import annotations

from dataclasses import dataclass

from ringwright.flow.model import Account
from ringwright.kit.cutoff import Snapshot
from ringwright.queueing.hours import Hours
from ringwright.queueing.line import Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """One part that waits at a station group now."""

    serial: str
    product: str
    step: int
    step_name: str
    since_us: int
    hold: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A station group over the span: its hours, what waits, how long it waited."""

    code: str
    stations: tuple[str, ...]
    hours: Hours
    waiting: tuple[Waiting, ...]
    """Parts that wait now, the longest first."""
    mean_queue: float
    """Parts that waited, on the mean over the span."""
    mean_wait_us: int | None
    """Mean wait of the parts whose wait ended in the span; None: none did."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductLine:
    """One product's line against its bounds; rates an hour of the clock."""

    product: str
    line: Line | None
    """None where too little is known: no station, or no time at any step."""
    neck: str
    """Station group with the least rate for this product."""
    wip: float
    exits: int
    rate_per_h: float
    planned: tuple[int, ...]
    """Steps without a visit in the span, which count with their planned hours."""

    @property
    def cycle_h(self) -> float | None:
        """Hours in the cell by Little's law: WIP over rate."""
        return self.wip / self.rate_per_h if self.rate_per_h else None


@dataclass(frozen=True, slots=True, kw_only=True)
class QueuesSheet:
    """Everything from one snapshot."""

    drawn: Snapshot
    weeks: int
    from_us: int
    groups: tuple[Group, ...]
    """Those with the most use first."""
    lines: tuple[ProductLine, ...]
    accounts: tuple[tuple[str, Account], ...]
    """What became of each product's parts over the span, by its code."""
    no_station: int
    """Visits in the span that name no station: their hours are nobody's."""

    @property
    def neck(self) -> Group | None:
        """The station group with the most use, if any was used."""
        first = self.groups[0] if self.groups else None
        return first if first and first.hours.use else None
