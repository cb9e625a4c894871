"""Weld plans and rings into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Table, select

from ringwright.core.facts import Entry
from ringwright.db import FOREVER_US, table_of
from ringwright.ledger.projecting import Plain, Row, Rows
from ringwright.welds.card import WeldPlan
from ringwright.welds.facts import VanesFitted
from ringwright.welds.rules import FindPlan, fold
from ringwright.welds.state import AT_LIMIT, TO_READ, Reading, Ring, Weld
from ringwright.welds.tables import (
    VanePosition,
    WeldDefect,
    WeldFilm,
    WeldPass,
    WeldPlanRevision,
    WeldRing,
    WeldVerdict,
)
from ringwright.welds.toml import plan_from


class WeldPlanProjector(Plain):
    """Every revision of a weld plan."""

    subject_kind = "weld-plan"
    tables: tuple[Table, ...] = (table_of(WeldPlanRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a revision."""
        del lens
        rows: list[Row] = []
        for entry in entries:
            plan, since = entry.data["plan"], entry.data["effective_us"]
            revision = plan["weld_plan"]["revision"]
            told = (revision, since, entry.known_us, entry.actor, _text(plan))
            rows.append((site_id, subject, entry.seq, *told))
        return {"weld_plan": rows}


@lru_cache(maxsize=256)
def parsed_plan(data: str) -> WeldPlan:
    """The plan of a stored row."""
    return plan_from(json.loads(data))


def plan_finder(connection: Connection, site_id: int) -> FindPlan:
    """A function from product and revision to its weld plan, reading each once."""
    known: dict[tuple[str, str], WeldPlan | None] = {}

    def find(product: str, revision: str) -> WeldPlan | None:
        if (product, revision) not in known:
            query = select(WeldPlanRevision.data).where(
                WeldPlanRevision.site_id == site_id,
                WeldPlanRevision.product == product,
                WeldPlanRevision.revision == revision,
            )
            data = connection.execute(query).scalar()
            known[product, revision] = parsed_plan(data) if data else None
        return known[product, revision]

    return find


class RingProjector:
    """A ring as it stands, and what was made, radiographed and read of it."""

    subject_kind = "ring"
    tables: tuple[Table, ...] = tuple(
        table_of(one)
        for one in (WeldRing, VanePosition, WeldPass, WeldFilm, WeldVerdict, WeldDefect)
    )

    def lens(self, connection: Connection, site_id: int) -> FindPlan:
        """The weld plans of the site."""
        return plan_finder(connection, site_id)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """The ring's row; one for each position, pass, film, verdict and defect."""
        ring = fold(subject, entries, lens)
        rows: Rows = {table.name: [] for table in self.tables}
        rows["weld_ring"].append(_ring_row(site_id, ring, entries[0].known_us))
        for told in _tellings(subject, entries, lens, ring):
            key = (site_id, subject)
            rows["vane_position"] += _positions(key, told)
            rows["weld_film"] += _films(key, told)
            rows["weld_pass"] += _passes(key, told)
            rows["weld_verdict"] += _verdicts(key, told)
            rows["weld_defect"] += _found(key, told)
        return rows


@dataclass(frozen=True, slots=True)
class _Telling:
    """A ring, and which entry of it is told; None: all that stand."""

    ring: Ring
    only: int | None
    until_us: int
    """When what is told was withdrawn."""

    def tells(self, number: int) -> bool:
        """True for an entry whose rows are wanted."""
        return self.only is None or self.only == number


def _tellings(
    serial: str, entries: Sequence[Entry], find: FindPlan, ring: Ring
) -> Iterator[_Telling]:
    """The ring now; and for each entry withdrawn, the ring as it stood with it."""
    yield _Telling(ring, None, FOREVER_US)
    for wrong, by in ring.withdrawn:
        before = [entry for entry in entries if entry.seq < by.seq]
        yield _Telling(fold(serial, before, find), wrong.seq, by.known_us)


def _ring_row(site_id: int, ring: Ring, begun_us: int) -> Row:
    plan, welds = ring.ruled, ring.welds.values()
    done_us = FOREVER_US
    if ring.done:
        done_us = max(weld.readings[-1].known_us for weld in welds)
    return (
        site_id,
        ring.serial,
        plan.product,
        plan.revision,
        len(welds),
        len(ring.open),
        len(ring.in_state(TO_READ)),
        len(ring.in_state(AT_LIMIT)),
        sum(weld.repairs for weld in welds),
        begun_us,
        done_us,
        ring.last_seq,
    )


def _films(key: tuple[int, str], told: _Telling) -> Iterator[Row]:
    product = told.ring.ruled.product
    for film in told.ring.films.values():
        if told.tells(film.entry):
            yield (
                *key, film.entry, film.code, product, film.at_us, film.known_us, told.until_us,
                film.radiographer, film.technique, film.technique_class, film.iqi,
                film.wire, film.good, film.file, _text(list(film.welds)),
            )  # fmt: skip


def _passes(key: tuple[int, str], told: _Telling) -> Iterator[Row]:
    product = told.ring.ruled.product
    for weld in told.ring.welds.values():
        for one in weld.passes:
            if told.tells(one.entry):
                when = (one.at_us, one.known_us, told.until_us)
                yield (
                    *key, one.entry, weld.code, product, one.number, *when, one.welder,
                    one.procedure, one.filler_lot, one.oxygen_ppm, one.colour,
                )  # fmt: skip


def _verdicts(key: tuple[int, str], told: _Telling) -> Iterator[Row]:
    for weld, one in _readings(told):
        when = (one.at_us, one.known_us, told.until_us)
        yield (
            *key, one.entry, weld.code, told.ring.ruled.product, one.film, one.passed, *when,
            one.reader, one.accepted, one.again,
        )  # fmt: skip


def _found(key: tuple[int, str], told: _Telling) -> Iterator[Row]:
    for weld, one in _readings(told):
        when = (one.at_us, one.known_us, told.until_us)
        for place, defect in enumerate(one.defects):
            yield (
                *key, one.entry, weld.code, place, told.ring.ruled.product, one.passed, *when,
                defect["kind"], defect["size_mm"], defect["at_mm"],
            )  # fmt: skip


def _readings(told: _Telling) -> Iterator[tuple[Weld, Reading]]:
    for weld in told.ring.welds.values():
        for one in weld.readings:
            if told.tells(one.entry):
                yield weld, one


def _positions(key: tuple[int, str], told: _Telling) -> Iterator[Row]:
    for entry, _ in told.ring.events:
        if entry.kind != VanesFitted.kind or not told.tells(entry.seq):
            continue
        when = (entry.at_us, entry.known_us, told.until_us, entry.actor)
        for one in entry.data["vanes"]:
            lies = (float(one["radial_mm"]), float(one["axial_mm"]))
            yield (*key, entry.seq, one["vane"], *when, *lies, entry.data.get("gauge") or "")


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


PROJECTORS = (WeldPlanProjector(), RingProjector())
