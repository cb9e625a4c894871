"""What is counted, and the conditions that narrow visits and parts to it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, cast

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Text,
    and_,
    case,
    column,
    literal,
    or_,
    select,
    values,
)
from sqlalchemy.orm import aliased

from ringwright.flow.queries import HOUR_US, believed
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life, Visit
from ringwright.routecards.tables import RouteRevision

Span = tuple[int, int, str]
"""Start, end [us], name."""
WEEK_US: Final = 7 * 24 * HOUR_US
LONGEST_LOAD_US: Final = WEEK_US
"""How far before the weeks asked for a load may have begun and still be known whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What is counted: a product, its weeks, and what narrows them."""

    product: str | None
    """None: all products."""
    weeks: tuple[Span, ...]
    """Ascending; those before the window come first."""
    start_us: int
    """Where the window begins; the weeks before it are there to compare with."""
    lot: str | None = None
    station: str | None = None
    revision: str | None = None
    shifts: tuple[Span, ...] = ()
    """The shifts worked in all these weeks, where one is asked for or told apart."""
    shift: str | None = None
    without: tuple[str, ...] = ()
    """Serials that are left out of everything."""

    @property
    def from_us(self) -> int:
        """Where the first week begins."""
        return self.weeks[0][0]

    @property
    def end_us(self) -> int:
        """Where the last week ends."""
        return self.weeks[-1][1]


def _runs(weeks: tuple[Span, ...]) -> list[tuple[int, int, int, bool]]:
    """Weeks put together where they have 7 x 24 hours: start, end, first place, even."""
    found: list[tuple[int, int, int, bool]] = []
    for place, (start_us, end_us, _) in enumerate(weeks):
        even = end_us - start_us == WEEK_US
        if found and even and found[-1][3]:
            found[-1] = (found[-1][0], end_us, found[-1][2], True)
        else:
            found.append((start_us, end_us, place, even))
    return found


@dataclass(frozen=True)
class Narrowing:
    """The conditions of one statement."""

    read: Read
    scope: Scope
    joins: bool = True
    """False: shifts are asked for row by row, so that no row is left out."""

    @cached_property
    def shifts(self) -> Any:
        """The shifts of the scope as rows: name, start, end."""
        columns = (
            column("name", Text),
            column("start_us", BigInteger),
            column("end_us", BigInteger),
        )
        rows = [(name, start_us, end_us) for start_us, end_us, name in self.scope.shifts]
        # A site without any shift still needs one row to be a table.
        return values(*columns, name="shift").data(rows or [("", 0, 0)]).cte("shift")

    def week(self, instant: Any) -> ColumnElement[int]:
        """The place of an instant's week among the weeks of the scope.

        Weeks of 7 x 24 hours in a row are told apart by division; a week in which the clock
        changes stands for itself.
        """
        runs = _runs(self.scope.weeks)
        places = [
            (end_us, place + (instant - start_us) // WEEK_US if even else literal(place))
            for start_us, end_us, place, even in runs
        ]
        if len(places) == 1:
            return cast("ColumnElement[int]", places[0][1])
        return case(
            *((instant < end_us, place) for end_us, place in places[:-1]), else_=places[-1][1]
        )

    def in_shift(self, instant: Any) -> list[Any]:
        """Joins a moment to the shift that it falls in."""
        return [instant >= self.shifts.c.start_us, instant < self.shifts.c.end_us]

    def happened(self, instant: Any, known_us: Any, start_us: int) -> Any:
        """True for a moment from `start_us` to the last week's end that was known by then."""
        inside = and_(instant >= start_us, instant < self.scope.end_us)
        if self.read.as_of_us is None:
            return inside
        return and_(inside, known_us < self.read.known_before_us)

    def ended(self, start_us: int) -> list[Any]:
        """Visits that ended from an instant on, in the weeks of the scope."""
        rules = [
            believed(self.read, Visit),
            Visit.step.is_not(None),
            self.happened(Visit.end_us, Visit.end_known_us, start_us),
        ]
        return [*rules, self._product(Visit.product)]

    def _product(self, column: Any) -> Any:
        """The product; of all products each, since the indexes of moments begin with it."""
        if self.scope.product is not None:
            return column == self.scope.product
        every = select(RouteRevision.product).where(RouteRevision.site_id == self.read.site.id)
        return column.in_(every)

    def visits(self, v: Any) -> list[Any]:
        """What narrows visits: `v` is the table of visits, or rows made from it."""
        scope, rules = self.scope, []
        if scope.station is not None:
            rules.append(v.station == scope.station)
        if scope.revision is not None:
            rules.append(v.revision == scope.revision)
        if scope.lot is not None:
            rules.append(self._of_lot(v.serial, v.part_lot, scope.lot))
        return rules + self._either(v.serial, v.end_us)

    def lives(self, instant: Any) -> list[Any]:
        """What narrows parts; a shift is the one in which the instant fell."""
        scope = self.scope
        rules = [believed(self.read, Life), self._product(Life.product)]
        if scope.revision is not None:
            rules.append(Life.revision == scope.revision)
        if scope.lot is not None:
            rules.append(self._of_lot(Life.serial, Life.lot, scope.lot))
        if scope.station is not None:
            there = aliased(Visit, name="visit_at")
            rules.append(self._some_visit(there, Life.serial, there.station == scope.station))
        return rules + self._either(Life.serial, instant)

    def counted(self, v: Any, start_us: int) -> Any:
        """The same as one condition on a row that stays: does this visit count?"""
        rules = [v.end_us >= start_us, *replace(self, joins=False).visits(v)]
        return and_(*rules)

    def _either(self, serial: Any, instant: Any) -> list[Any]:
        rules: list[Any] = []
        if self.scope.without:
            rules.append(serial.not_in(self.scope.without))
        if self.scope.shift is None:
            return rules
        own = [*self.in_shift(instant), self.shifts.c.name == self.scope.shift]
        if self.joins:
            return rules + own
        return [*rules, select(self.shifts.c.name).where(*own).exists()]

    def _of_lot(self, serial: Any, own: Any, lot: str) -> Any:
        """Parts made from a lot, or that used it at some visit."""
        used = aliased(Visit, name="visit_lot")
        return or_(own == lot, self._some_visit(used, serial, used.lot == lot))

    def _some_visit(self, other: Any, serial: Any, rule: Any) -> Any:
        known = self.read.known_before_us
        return (
            select(other.serial)
            .where(
                other.site_id == self.read.site.id,
                other.serial == serial,
                other.known_to_us >= known,
                other.known_from_us < known,
                rule,
            )
            .exists()
        )
