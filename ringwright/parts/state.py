"""A part as its facts have left it so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

from ringwright.core.errors import Refused
from ringwright.parts.rows import (
    ConditionRow,
    HoldRow,
    LifeRow,
    LinkRow,
    NonconformityRow,
    ReadingRow,
    TrackedRow,
    VisitRow,
)
from ringwright.routecards.card import RouteCard

WAITING, IN_WORK, RELEASED = "waiting", "in work", "released"
FITTED, SENT, SCRAPPED = "fitted", "sent", "scrapped"
ACCEPTING = frozenset({"inspection", "dispatch"})
"""Kinds of step at which no work is done on the part: what was done is accepted there."""


@dataclass(slots=True)
class Part:
    """Where a part stands: its place in the flow, its hold, its open visit, its rows."""

    serial: str
    card: RouteCard | None = None
    place: str = ""
    awaited: int | None = None
    """The step it waits for; None in work or when it waits for none."""
    left_us: int = 0
    """When it began to wait: the previous end, or its creation."""
    last_outcome: str | None = None
    last_step: int | None = None
    paused_since_us: int | None = None
    run: str | None = None
    """The furnace run that it is in work with, if any."""
    visits_at: dict[int, int] = field(default_factory=dict)
    passed: set[int] = field(default_factory=set)
    skipped: set[int] = field(default_factory=set)
    open_nonconformities: list[NonconformityRow] = field(default_factory=list)
    rework: tuple[int, ...] = ()
    """Steps still to do on the rework card, the raising step last."""
    workers: set[str] = field(default_factory=set)
    """Who worked on it since it last passed an inspection."""
    whereabouts: str | None = None
    priority: int = 0
    sought: bool = False
    mark: str | None = None
    lot: str | None = None
    kept: str | None = None
    last_seq: int = 0
    last_at_us: int = -(2**62)
    last_place: tuple[int, int] = (-(2**62), 0)
    """(instant, entry number) of the fact folded last: facts are folded in that order."""
    unexplained: bool = False
    """A fact known so far makes no sense yet; one learned later will explain it."""
    visits: list[VisitRow] = field(default_factory=list)
    readings: list[ReadingRow] = field(default_factory=list)
    holds: list[HoldRow] = field(default_factory=list)
    nonconformities: list[NonconformityRow] = field(default_factory=list)
    lives: list[LifeRow] = field(default_factory=list)
    links: list[LinkRow] = field(default_factory=list)
    conditions: list[ConditionRow] = field(default_factory=list)

    @property
    def route(self) -> RouteCard:
        """Its route card; raises Refused before creation."""
        if self.card is None:
            raise Refused(f"there is no part {self.serial}; create it first")
        return self.card

    @property
    def life(self) -> LifeRow:
        """When it came and how it went."""
        return self.lives[0]

    @property
    def open_visit(self) -> VisitRow | None:
        """The visit in work, if one is open."""
        return self.visits[-1] if self.place == IN_WORK else None

    @property
    def hands(self) -> frozenset[str]:
        """Who worked on it since it last passed an inspection, or is at work on it now."""
        visit = self.open_visit
        if visit is None or visit.step is None:
            return frozenset(self.workers)
        at_work = self.route.by_number[visit.step].kind not in ACCEPTING
        return frozenset(self.workers | ({visit.actor} if at_work else set()))

    @property
    def open_hold(self) -> HoldRow | None:
        """The hold that keeps it from moving, if any."""
        return self.holds[-1] if self.holds and self.holds[-1].to_us >= 2**62 else None

    def open_condition(self, kind: str, value: str | None = None) -> ConditionRow | None:
        """The condition of that kind (and value) that holds now, if any."""
        for row in reversed(self.conditions):
            open_ = row.to_us >= 2**62 and row.kind == kind
            if open_ and (value is None or row.value == value):
                return row
        return None

    @property
    def reservation(self) -> str | None:
        """The set it is kept for, if any."""
        row = self.open_condition("reservation")
        return None if row is None else row.value

    @property
    def step(self) -> int | None:
        """The step it is in work at, else the one it waits for."""
        return self.visits[-1].step if self.place == IN_WORK else self.awaited

    def tracked(self) -> tuple[list[TrackedRow], ...]:
        """All rows, by table."""
        return cast(
            tuple[list[TrackedRow], ...],
            (
                self.visits,
                self.readings,
                self.holds,
                self.nonconformities,
                self.lives,
                self.links,
                self.conditions,
            ),
        )
