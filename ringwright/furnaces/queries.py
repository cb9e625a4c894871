"""Furnaces, recipes and runs, as the record has them."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, func, select, union_all

from ringwright.db import FOREVER_US
from ringwright.furnaces.card import Channel, Columns, Furnace, Proof, Proved
from ringwright.furnaces.project import run_of
from ringwright.furnaces.rules import UNDECIDED, FurnacePast, ProofOnRecord, Run
from ringwright.furnaces.tables import (
    FurnaceNow,
    FurnaceProof,
    FurnaceRun,
    RecipeRevision,
    RunPart,
)
from ringwright.heat.recipe import Recipe
from ringwright.heat.toml import recipe_from


def furnace_of(data: dict[str, Any]) -> Furnace:
    """A furnace of its stored fields."""
    rest = {
        **data,
        "positions": tuple(data["positions"]),
        "channels": tuple(Channel(**one) for one in data["channels"]),
        "proofs": {what: Proof(**one) for what, one in data["proofs"].items()},
    }
    return Furnace(**rest)


def read_furnaces(
    connection: Connection, site_id: int, known_before_us: int = FOREVER_US
) -> dict[str, FurnacePast]:
    """Code to furnace with what was proved of it, by code; those out of use too."""
    rows = connection.execute(
        select(FurnaceNow).where(FurnaceNow.site_id == site_id).order_by(FurnaceNow.code)
    )
    proofs = _proofs(connection, site_id, known_before_us)
    return {
        row.code: FurnacePast(
            furnace=furnace_of(json.loads(row.data)),
            proofs=proofs.get(row.code, []),
            renewed=json.loads(row.renewed),
        )
        for row in rows
    }


def _proofs(
    connection: Connection, site_id: int, known_before_us: int
) -> dict[str, list[ProofOnRecord]]:
    table = FurnaceProof
    query = (
        select(table)
        .where(table.site_id == site_id, table.known_us < known_before_us)
        .order_by(table.code, table.number)
    )
    found: dict[str, list[ProofOnRecord]] = {}
    for row in connection.execute(query):
        one = ProofOnRecord(
            number=row.number,
            at_us=row.at_us,
            by=row.actor,
            found=Proved(**json.loads(row.data)),
        )
        found.setdefault(row.code, []).append(one)
    return found


def read_furnace(connection: Connection, site_id: int, code: str) -> FurnacePast | None:
    """One furnace; None where the code is none's."""
    return read_furnaces(connection, site_id).get(code)


def is_furnace(connection: Connection, site_id: int, station: str) -> bool:
    """True for a station that is a furnace in use."""
    query = select(FurnaceNow.data).where(
        FurnaceNow.site_id == site_id, FurnaceNow.code == station
    )
    data = connection.execute(query).scalar()
    return data is not None and not json.loads(data)["withdrawn"]


def read_columns(connection: Connection, site_id: int, code: str) -> Columns | None:
    """How the furnace's recorder writes its files, as last said."""
    query = select(FurnaceNow.columns).where(
        FurnaceNow.site_id == site_id, FurnaceNow.code == code
    )
    data = json.loads(connection.execute(query).scalar() or "null")
    return Columns(**data) if data else None


def read_uses(
    connection: Connection,
    site_id: int,
    past: FurnacePast,
    channels: Collection[Channel] | None = None,
) -> dict[str, int]:
    """Channel to the runs begun with its thermocouple since it was renewed.

    Counted in the store, from the earliest renewal on; `channels`: these alone.
    """
    asked = past.furnace.channels if channels is None else channels
    since = {one.code: past.renewed.get(one.code, 0) for one in asked}
    if not since:
        return {}
    run = FurnaceRun
    moments = sorted(set(since.values()))
    counts = [func.count(case((run.started_us >= us, 1))) for us in moments]
    query = select(*counts).where(
        run.site_id == site_id,
        run.furnace == past.furnace.code,
        run.started_us >= moments[0],
        run.started_us < FOREVER_US,
    )
    found = dict(zip(moments, connection.execute(query).one(), strict=True))
    return {code: int(found[us]) for code, us in since.items()}


def read_recipes(connection: Connection, site_id: int) -> dict[str, list[Recipe]]:
    """Code to revisions of a recipe, the newest last."""
    query = select(RecipeRevision).where(RecipeRevision.site_id == site_id)
    found: dict[str, list[Recipe]] = {}
    for row in connection.execute(query.order_by(RecipeRevision.code, RecipeRevision.number)):
        found.setdefault(row.code, []).append(recipe_from(json.loads(row.data)))
    return found


def read_recipe(
    connection: Connection, site_id: int, code: str, revision: str
) -> Recipe | None:
    """One revision of a recipe; None where there is none."""
    query = select(RecipeRevision.data).where(
        RecipeRevision.site_id == site_id,
        RecipeRevision.code == code,
        RecipeRevision.revision == revision,
    )
    data = connection.execute(query).scalar()
    return recipe_from(json.loads(data)) if data else None


def read_run(connection: Connection, site_id: int, code: str) -> Run | None:
    """One run as it stands; None where there is none."""
    query = select(FurnaceRun).where(FurnaceRun.site_id == site_id, FurnaceRun.code == code)
    row = connection.execute(query).first()
    return run_of(row) if row else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Which:
    """Which runs are asked for; what is empty asks nothing."""

    states: Collection[str] = ()
    furnace: str = ""
    recipe: str = ""
    revision: str = ""
    started: bool = False
    """True: only those whose cycle began."""
    begun: tuple[int, int] | None = None
    """A half-open window [µs]: runs whose cycle went on at some time within it."""
    most: int | None = None
    after: int = 0
    """So many of the newest are passed over."""


def read_runs(connection: Connection, site_id: int, which: Which) -> list[Run]:
    """The runs, the newest first."""
    table = FurnaceRun
    query = select(table).where(*_rules(site_id, which))
    query = query.order_by(table.opened_us.desc(), table.number.desc())
    if which.most is not None:
        query = query.limit(which.most).offset(which.after)
    return [run_of(row) for row in connection.execute(query)]


def count_runs(connection: Connection, site_id: int, which: Which) -> dict[str, int]:
    """How many such runs there are, by state; none that has no run."""
    state = FurnaceRun.state.concat("")
    query = select(state, func.count()).where(*_rules(site_id, which)).group_by(state)
    return {row[0]: row[1] for row in connection.execute(query)}


def _rules(site_id: int, which: Which) -> list[ColumnElement[bool]]:
    table = FurnaceRun
    rules = [table.site_id == site_id]
    if which.states:
        # Of a recipe's runs nearly all are decided: by the recipe they are found in order.
        state = table.state.concat("") if which.recipe else table.state
        rules.append(state.in_(which.states))
    for column, wanted in (
        (table.furnace, which.furnace),
        (table.recipe, which.recipe),
        (table.revision, which.revision),
    ):
        if wanted:
            rules.append(column == wanted)
    if which.started:
        rules.append(table.started_us.is_not(None))
    if which.begun is not None:
        # Two ways into the index of the ends, not one through all runs that ever ended.
        late = (table.ended_us > which.begun[0], table.ended_us.is_(None))
        codes = [select(table.code).where(table.site_id == site_id, rule) for rule in late]
        rules += [table.started_us < which.begun[1], table.code.in_(union_all(*codes))]
    return rules


def next_run_code(connection: Connection, site_id: int, furnace: str) -> str:
    """INF-1-0001, INF-1-0002 …: the site's writers go one at a time, so none comes twice.

    One past the highest, since a record that was loaded may lack some.
    """
    query = select(FurnaceRun.code).where(
        FurnaceRun.site_id == site_id, FurnaceRun.furnace == furnace
    )
    ends = (code.rpartition("-")[2] for code in connection.execute(query).scalars())
    highest = max((int(end) for end in ends if end.isascii() and end.isdigit()), default=0)
    return f"{furnace}-{highest + 1:04d}"


def runs_of(
    connection: Connection, site_id: int, serials: Sequence[str], *, undecided: bool = False
) -> dict[str, list[tuple[str, str]]]:
    """Serial to (run, position) of each run it is or was in, the oldest first."""
    query = (
        select(RunPart.serial, RunPart.run, RunPart.position)
        .join(
            FurnaceRun,
            (FurnaceRun.site_id == RunPart.site_id) & (FurnaceRun.code == RunPart.run),
        )
        .where(RunPart.site_id == site_id, RunPart.serial.in_(serials))
        .order_by(FurnaceRun.opened_us, FurnaceRun.number)
    )
    if undecided:
        query = query.where(FurnaceRun.state.in_(UNDECIDED))
    found: dict[str, list[tuple[str, str]]] = {}
    for row in connection.execute(query):
        found.setdefault(row.serial, []).append((row.run, row.position))
    return found
