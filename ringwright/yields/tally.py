"""Rows of counts, put together: by step, by week, by load, by group. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ringwright.parts.outline import Outline
from ringwright.yields.model import LoadYield, Mark, Point, Reasons, Thread, Trend
from ringwright.yields.rules import Share, compared, has_limits, limits, share


@dataclass(slots=True)
class Counts:
    """Visits ended, first ones, those that passed, those ended in rework or scrap."""

    visits: int = 0
    firsts: int = 0
    passes: int = 0
    reworks: int = 0
    scraps: int = 0
    first_loads: int = 0
    """Loads that the first visits came in."""
    loads: int = 0
    """Loads that all visits came in."""

    def add(self, row: Any) -> None:
        """Add a row of counts as the store gave it."""
        self.visits += row.visits
        self.firsts += row.firsts
        self.passes += row.passes
        self.reworks += row.reworks
        self.scraps += row.scraps

    def first_pass(self, in_loads: bool) -> Share:
        """First visits passed over first visits."""
        return share(self.passes, self.firsts, self.first_loads if in_loads else None)

    def rework(self, in_loads: bool) -> Share:
        """Visits ended in rework or repair over visits ended."""
        return share(self.reworks, self.visits, self.loads if in_loads else None)

    def scrap(self, in_loads: bool) -> Share:
        """Visits ended in scrap over visits ended."""
        return share(self.scraps, self.visits, self.loads if in_loads else None)


@dataclass(slots=True)
class LoadCounts(Counts):
    """One load: its counts, and its parts scrapped in the window."""

    lost: int = 0
    lost_here: int = 0


LoadKey = tuple[int, str, int]
"""Step, station, first begin [us]."""


@dataclass
class StepTally:
    """What happened at one step, week by week and in the window."""

    weeks: dict[int, Counts] = field(default_factory=dict)
    window: Counts = field(default_factory=Counts)
    before: Counts = field(default_factory=Counts)


@dataclass(slots=True)
class LoadWeek(LoadCounts):
    """What of one load ended in one week."""

    key: LoadKey = (0, "", 0)
    week: int = 0

    def add_counts(self, counts: Sequence[int]) -> None:
        """Add visits, firsts, passes, reworks, scraps, lost and lost here, in that order."""
        visits, firsts, passes, reworks, scraps, lost, lost_here = counts
        self.visits += visits
        self.firsts += firsts
        self.passes += passes
        self.reworks += reworks
        self.scraps += scraps
        self.lost += lost
        self.lost_here += lost_here


def chained(rows: Iterable[Any]) -> list[LoadWeek]:
    """Rows of visits by step, station, begin and week, put together by load and week.

    The rows come in that order. A new load starts where a begin is at or after the last end so
    far; without a station, with each new begin (`flow/loads.py`). Rows that do not count are
    left out once they have told where their load began.
    """
    found: dict[tuple[LoadKey, int], LoadWeek] = {}
    key, last_us, ends_us = (0, "", 0), 0, 0
    # Taken apart at once: a row asked for its columns one by one costs more than the query.
    for step, station, begin_us, week, end_us, *counts in rows:
        within = begin_us == last_us or (station != "" and begin_us < ends_us)
        if not (found and within and (step, station) == key[:2]):
            key, ends_us = (step, station, begin_us), end_us
        last_us, ends_us = begin_us, max(ends_us, end_us)
        load = found.get((key, week))
        if load is None:
            load = found[key, week] = LoadWeek(key=key, week=week)
        load.add_counts(counts)
    return [load for load in found.values() if load.visits]


def tally_steps(
    visits: Iterable[Any], loads: Sequence[LoadWeek], first_week: int
) -> dict[int, StepTally]:
    """Counts by step; weeks before `first_week` are those before the window."""
    steps: dict[int, StepTally] = {}
    for row in visits:
        tally = steps.setdefault(row.step, StepTally())
        tally.weeks.setdefault(row.week, Counts()).add(row)
        (tally.window if row.week >= first_week else tally.before).add(row)
    seen: dict[tuple[int, bool, bool], set[LoadKey]] = {}
    for load in loads:
        step, within = load.key[0], load.week >= first_week
        week = steps[step].weeks[load.week]
        week.loads += 1
        seen.setdefault((step, within, False), set()).add(load.key)
        if load.firsts:
            week.first_loads += 1
            seen.setdefault((step, within, True), set()).add(load.key)
    for (step, within, first), keys in seen.items():
        counts = steps[step].window if within else steps[step].before
        if first:
            counts.first_loads = len(keys)
        else:
            counts.loads = len(keys)
    return steps


def tally_loads(rows: Iterable[LoadWeek], first_week: int) -> dict[LoadKey, LoadCounts]:
    """Counts by load: of its visits ended in the window, and of its parts scrapped in it."""
    found: dict[LoadKey, LoadCounts] = {}
    for row in rows:
        load = found.setdefault(row.key, LoadCounts())
        if row.week >= first_week:
            load.add(row)
        load.lost += row.lost
        load.lost_here += row.lost_here
    return found


def yields_of_loads(rows: Iterable[LoadWeek], step: int | None, first_week: int
                    ) -> tuple[LoadYield, ...]:  # fmt: skip
    """The loads of one step that had first visits, in the order of time."""
    found: dict[LoadKey, list[LoadWeek]] = {}
    for row in rows:
        if row.key[0] == step and row.firsts:
            found.setdefault(row.key, []).append(row)
    loads = [
        LoadYield(
            station=key[1],
            begin_us=key[2],
            first_visits=sum(row.firsts for row in weeks),
            first_passes=sum(row.passes for row in weeks),
            in_window=weeks[-1].week >= first_week,
        )
        for key, weeks in found.items()
    ]
    return tuple(sorted(loads, key=lambda load: (load.begin_us, load.station)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """So many parts with one defect at one place, found at one step and caused at another."""

    defect: str
    place: str | None
    found_step: int | None
    caused_step: int | None
    parts: int


def rework_rows(visits: Iterable[Any], sentenced: Iterable[Any], first_week: int
                ) -> list[Reason]:  # fmt: skip
    """All reworks of the window; those without a sentence have neither place nor cause."""
    left: Counter[tuple[str, int]] = Counter()
    for row in visits:
        if row.again is not None and row.week >= first_week:
            left[row.again, row.step] += int(row.reworks)
    rows = []
    for row in sentenced:
        left[row.defect, row.found_step] -= row.parts
        rows.append(
            Reason(defect=row.defect, place=row.place, found_step=row.found_step,
                   caused_step=row.caused_step, parts=row.parts)
        )  # fmt: skip
    plain = [
        Reason(defect=defect, place=None, found_step=step, caused_step=None, parts=parts)
        for (defect, step), parts in left.items() if parts
    ]  # fmt: skip
    return rows + plain


def worst_load(loads: Mapping[LoadKey, LoadCounts], step: int) -> LoadKey | None:
    """The load of a step that lost most parts to it, where that is more than one."""
    ranked = sorted(
        (key for key, load in loads.items() if key[0] == step and load.lost_here > 1),
        key=lambda key: (-loads[key].lost_here, key),
    )
    return ranked[0] if ranked else None


def trend_of(names: Sequence[str], shares: Sequence[Share], before: Share, now: Share,
             first_week: int) -> Trend:  # fmt: skip
    """A share by week with its limits: round the weeks before, else round all weeks shown."""
    from_before = before.value is not None and not before.small
    centre = before if from_before else _together(shares)
    points = [
        _point(names[place], found, centre, in_window=place >= first_week)
        for place, found in enumerate(shares)
    ]
    return Trend(
        points=tuple(points),
        before=before,
        centre=centre,
        from_before=from_before,
        verdict=compared(now, before),
    )


def _point(week: str, found: Share, centre: Share, *, in_window: bool) -> Point:
    if centre.value is None or not has_limits(centre.value) or not found.counted:
        return Point(week=week, in_window=in_window, share=found, lower=None, upper=None)
    low, high = limits(centre.value, found.counted)
    return Point(week=week, in_window=in_window, share=found, lower=low, upper=high)


def _together(shares: Sequence[Share]) -> Share:
    n = sum(found.n for found in shares)
    part = round(sum((found.value or 0.0) * found.n for found in shares))
    in_loads = any(found.loads is not None for found in shares)
    loads = sum(found.loads or 0 for found in shares)
    return share(part, n, loads if in_loads else None)


def reasons_of(what: str, rows: Sequence[Any], outline: Outline) -> Reasons:
    """Rows of (defect, place, found, caused, parts) as lists that each add up to the total."""
    defects: Counter[str] = Counter()
    places: Counter[str] = Counter()
    found: Counter[int | None] = Counter()
    caused: Counter[int | None] = Counter()
    threads: Counter[tuple[int | None, int | None]] = Counter()
    marks: Counter[tuple[str, int | None]] = Counter()
    for row in rows:
        zone = outline.zone_of(row.place)
        defects[row.defect or ""] += row.parts
        places[zone.name if zone else (row.place or "").strip()] += row.parts
        found[row.found_step] += row.parts
        caused[row.caused_step] += row.parts
        threads[row.caused_step, row.found_step] += row.parts
        marks[zone.name if zone else "", row.caused_step] += row.parts
    return Reasons(
        what=what,
        total=sum(defects.values()),
        by_defect=_ranked(defects),
        by_place=_ranked(places),
        by_found=_ranked(found),
        by_caused=_ranked(caused),
        threads=tuple(
            Thread(caused=pair[0], found=pair[1], parts=parts)
            for pair, parts in _ranked(threads)
        ),
        marks=tuple(
            Mark(zone=zone, caused=step, parts=parts)
            for (zone, step), parts in _ranked(marks)
        ),
        not_placed=sum(parts for (zone, _), parts in marks.items() if not zone),
    )  # fmt: skip


def _ranked(counts: Counter[Any]) -> tuple[tuple[Any, int], ...]:
    """Most first; equals in a fixed order."""
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], _plain(item[0]))))


def _plain(key: Any) -> tuple[str, ...]:
    parts = key if isinstance(key, tuple) else (key,)
    return tuple("" if p is None else f"{p:09}" if isinstance(p, int) else p for p in parts)
