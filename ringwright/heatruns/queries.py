"""Runs as the record has them: as of a moment, with the visits of their parts, by week."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, func, or_, select

from ringwright.core.facts import Registry
from ringwright.db import FOREVER_US
from ringwright.flow.queries import Sql, believed
from ringwright.furnaces.card import Furnace
from ringwright.furnaces.facts import FACTS, FurnaceSet, RunFact
from ringwright.furnaces.queries import Which, furnace_of, read_runs
from ringwright.furnaces.rules import Run, fold
from ringwright.furnaces.tables import FurnaceNow, FurnaceRun, RunPart
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import fetch_entries
from ringwright.parts.tables import PartNow, Visit
from ringwright.routecards.tables import RouteRevision

WEEK_US: Final = 7 * 24 * 3600 * 1_000_000

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


def run_visits(read: Read, start_us: int, end_us: int) -> Sql:
    """Visits that a run began and that ended in the window, with run, furnace and position.

    A part's visit is the run's when it is at the step that the run does on it and began while
    the cycle went on, which it does at the run's start.
    """
    ended = func.coalesce(FurnaceRun.ended_us, FOREVER_US)
    return (
        select(
            FurnaceRun.code.label("run"),
            FurnaceRun.furnace,
            FurnaceRun.recipe,
            FurnaceRun.revision,
            RunPart.serial,
            RunPart.position,
            Visit.first,
            Visit.outcome,
        )
        .join(
            RunPart, and_(RunPart.site_id == FurnaceRun.site_id, RunPart.run == FurnaceRun.code)
        )
        .join(
            Visit,
            and_(
                Visit.site_id == RunPart.site_id,
                Visit.serial == RunPart.serial,
                Visit.step == RunPart.step,
                Visit.begin_us >= FurnaceRun.started_us,
                or_(Visit.begin_us < ended, Visit.begin_us == FurnaceRun.started_us),
            ),
        )
        .where(
            FurnaceRun.site_id == read.site.id,
            # Serials first: from them to their runs is the short way, the other leads through
            # all runs that ever were. The visits of each are then found by serial too.
            RunPart.serial.in_(_ended_serials(read, start_us, end_us)),
            believed(read, Visit),
            _ended_within(read, Visit.end_us + 0, start_us, end_us),
        )
        .order_by(FurnaceRun.number, RunPart.serial)
    )


def _ended_serials(read: Read, start_us: int, end_us: int) -> Sql:
    """Parts with a visit that ended in the window; its index has the product first."""
    products = select(RouteRevision.product).where(RouteRevision.site_id == read.site.id)
    return select(Visit.serial).where(
        believed(read, Visit),
        Visit.product.in_(products),
        _ended_within(read, Visit.end_us, start_us, end_us),
    )


def _ended_within(read: Read, end: Any, start_us: int, end_us: int) -> ColumnElement[bool]:
    within = and_(end >= start_us, end < end_us)
    if read.as_of_us is None:
        return within
    return and_(within, Visit.end_known_us < read.known_before_us)


def runs_between(read: Read, start_us: int, end_us: int) -> list[Run]:
    """The runs whose cycle went on at some time within the window, the oldest first.

    As of a past moment each is as what was known by then leaves it.
    """
    connection, site_id = read.connection, read.site.id
    if read.as_of_us is None:
        return read_runs(connection, site_id, Which(begun=(start_us - 1, end_us)))[::-1]
    # An end may be told late: then the run was still believed to go on.
    near = read_runs(connection, site_id, Which(begun=(start_us - WEEK_US, end_us)))
    known = _as_known(read, [run.code for run in reversed(near)])
    return [run for run in known if _went_on(run, start_us, end_us)]


def _went_on(run: Run, start_us: int, end_us: int) -> bool:
    began, ended = run.started_us, run.ended_us
    return began is not None and began < end_us and (ended is None or ended >= start_us)


def _as_known(read: Read, codes: list[str]) -> Iterable[Run]:
    histories = fetch_entries(
        read.connection, _REGISTRY, read.site.id, RunFact.subject_kind, codes
    )
    for code in codes:
        known = [one for one in histories[code] if one.known_us < read.known_before_us]
        if known:
            yield fold(code, known)


def read_positions(read: Read) -> dict[str, list[tuple[int, Furnace]]]:
    """Furnace to what it was set to, each from when on, the oldest first, by furnace."""
    codes = read.connection.execute(
        select(FurnaceNow.code)
        .where(FurnaceNow.site_id == read.site.id)
        .order_by(FurnaceNow.code)
    ).scalars()
    histories = fetch_entries(
        read.connection, _REGISTRY, read.site.id, FurnaceSet.subject_kind, list(codes)
    )
    found: dict[str, list[tuple[int, Furnace]]] = {}
    for code, entries in sorted(histories.items()):
        said = [
            (one.at_us, furnace_of(one.data["furnace"]))
            for one in entries
            if one.kind == FurnaceSet.kind and one.known_us < read.known_before_us
        ]
        if said:
            found[code] = said
    return found


def waiting_parts(read: Read) -> Sql:
    """Every part that waits for its next step."""
    return select(PartNow).where(*_waiting(read))


def stopped_serials(read: Read) -> Sql:
    """Waiting parts with an open nonconformity: none of them may be loaded."""
    return select(PartNow.serial).where(*_waiting(read), PartNow.nonconformities > 0)


def _waiting(read: Read) -> tuple[ColumnElement[bool], ...]:
    """By product too, which the index of places begins with: few wait of all that ever were."""
    products = select(RouteRevision.product).where(RouteRevision.site_id == read.site.id)
    return (
        PartNow.site_id == read.site.id,
        PartNow.place == "waiting",
        PartNow.product.in_(products),
    )
