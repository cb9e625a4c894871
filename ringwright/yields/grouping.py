"""Yields told apart by week, lot, station, furnace, shift, revision or product."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from ringwright.core.proportion import wilson
from ringwright.ledger.service import Read
from ringwright.yields import groups as statements
from ringwright.yields.model import Cohort, Group
from ringwright.yields.rules import NO_SHARE, Share, rolled, share
from ringwright.yields.scope import Scope
from ringwright.yields.tally import Counts, StepTally


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is told apart, within what."""

    scope: Scope
    by: str
    step: int | None
    in_loads: frozenset[tuple[str, int]]
    products: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Weekly:
    """What has been read by week already."""

    tallies: Mapping[int, StepTally]
    exits: Mapping[int, tuple[int, int]]
    cohorts: Mapping[int, Cohort]


@dataclass
class _Cells:
    """One group: its counts by step, its exits, its cohort."""

    steps: dict[int, Counts] = field(default_factory=dict)
    released: int = 0
    scrapped: int = 0
    cohort: Cohort | None = None


def read_groups(read: Read, asked: Asked, weekly: Weekly) -> tuple[Group, ...]:
    """The groups of a dimension; weeks cost no further statement."""
    if asked.by == "week":
        return _weeks(asked, weekly)
    cells = _read(read, asked)
    found = [_group(asked, key, cell) for key, cell in cells.items()]
    return tuple(sorted(found, key=lambda group: _order(asked, group)))


def _weeks(asked: Asked, weekly: Weekly) -> tuple[Group, ...]:
    found = []
    for place, (start_us, _, name) in enumerate(asked.scope.weeks):
        if start_us < asked.scope.start_us:
            continue
        released, scrapped = weekly.exits.get(place, (0, 0))
        steps = {
            step: tally.weeks[place]
            for step, tally in weekly.tallies.items()
            if place in tally.weeks
        }
        cohort = weekly.cohorts.get(place, Cohort())
        cell = _Cells(steps, released, scrapped, cohort)
        found.append(_group(asked, name, cell))
    return tuple(found)


def _read(read: Read, asked: Asked) -> dict[str, _Cells]:
    run, by, scope = read.connection.execute, asked.by, asked.scope
    if by == "product":
        scope = replace(scope, product=None)
    steps = frozenset(
        pair for pair in asked.in_loads if scope.product in (None, pair[0])
    )  # fmt: skip
    cells: dict[str, _Cells] = {}
    for row in run(statements.visits_by(read, scope, by)):
        cell = cells.setdefault(row.key or "", _Cells())
        cell.steps.setdefault(row.step, Counts()).add(row)
    for row in run(statements.loads_by(read, scope, steps, by)):
        counts = cells[row.key or ""].steps[row.step]
        counts.loads, counts.first_loads = int(row.loads), int(row.first_loads)
    for row in run(statements.exits_by(read, scope, by)):
        cell = cells.setdefault(row.key or "", _Cells())
        setattr(cell, row.kind, row.n)
    if by not in ("station", "furnace"):
        for row in run(statements.cohort_by(read, scope, by)):
            cells.setdefault(row.key or "", _Cells()).cohort = Cohort(
                created=row.created, released=int(row.released), scrapped=int(row.scrapped)
            )
    return cells


def _group(asked: Asked, key: str, cell: _Cells) -> Group:
    product = key if asked.by == "product" else asked.scope.product
    firsts = {number: counts for number, counts in cell.steps.items() if counts.firsts}
    step = asked.step if asked.by != "product" else None
    if step is None and len(cell.steps) == 1:
        step = next(iter(cell.steps))
    counts = cell.steps.get(step, Counts()) if step is not None else None
    in_loads = (product, step) in asked.in_loads
    exits = cell.released + cell.scrapped
    return Group(
        key=key,
        visits=sum(counts.visits for counts in cell.steps.values()),
        first_visits=sum(counts.firsts for counts in cell.steps.values()),
        first_pass=counts.first_pass(in_loads) if counts is not None else NO_SHARE,
        step=step,
        rolled=rolled(counts.passes / counts.firsts for counts in firsts.values()),
        steps=len(firsts),
        rework=_rework(asked, product, cell.steps),
        final=share(cell.released, exits),
        cohort=cell.cohort,
    )


def _rework(asked: Asked, product: str | None, steps: Mapping[int, Counts]) -> Share:
    """Reworks over visits; where steps are worked in loads these count, not their visits."""
    visits = sum(counts.visits for counts in steps.values())
    reworks = sum(counts.reworks for counts in steps.values())
    in_loads = {number for number in steps if (product, number) in asked.in_loads}
    if not visits or not in_loads:
        return share(reworks, visits)
    counted = sum(
        counts.loads if number in in_loads else counts.visits
        for number, counts in steps.items()
    )
    low, high = wilson(reworks / visits * counted, counted)
    return Share(value=reworks / visits, low=low, high=high, n=visits, loads=counted)


def _order(asked: Asked, group: Group) -> tuple[Any, ...]:
    """Products as they came, stations in the order of their steps, the rest by name."""
    if asked.by == "product":
        return (asked.products.index(group.key) if group.key in asked.products else 0,)
    step = group.step if asked.by == "station" and group.step is not None else 0
    return (not group.key, step, group.key)
