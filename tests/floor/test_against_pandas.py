"""Waiting, in work, late and held, worked out a second time in pandas from the exported file.

Outside voice: pandas (group, last row, first passage), which reads the history file that the
record exports and knows nothing of the floor. The rules are the project's contract: a part
stands at the step it is in work at, else at the one awaited; it is late when it has been there
longer than planned (planned hours in work, queue hours waiting).
"""

from __future__ import annotations

import io
import random
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pandas as pd
import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.export import history_csv
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.db import Store
from ringwright.floor.model import Standing
from ringwright.floor.standing import read_floor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.floor import CODE, SITE
from tests.make.histories import START, Route, lines, random_history, random_route

PLAN_H = {"waiting": 3.0, "in work": 1.5}
"""As the random routes say it, for every step."""
Counts = Counter[tuple[int, str]]


@dataclass(frozen=True)
class Figures:
    """Parts by step and state."""

    standing: Counts
    late: Counts
    held: Counts


def by_pandas(text: str, route: Route, at: datetime) -> Figures:
    """The floor of a product at an instant, from the rows before it."""
    rows = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    rows["at"] = pd.to_datetime(rows["at"], utc=True, format="ISO8601")
    rows = rows[(rows["at"] < at) & (rows["product"] == route.product)]
    moves = rows[rows["act"].isin(["create", "begin", "end"])]
    last = moves.groupby("serial", sort=False).tail(1)
    holds = rows[rows["act"].isin(["hold", "unhold"])].groupby("serial").tail(1)
    held = set(holds.loc[holds["act"] == "hold", "serial"])
    standing, late, on_hold = Counts(), Counts(), Counts()
    for row in last.to_dict("records"):
        step = _step(row["act"], row["step"], row["outcome"], route.steps)
        if step is None:
            continue
        state = "in work" if row["act"] == "begin" else "waiting"
        place = (step, state)
        standing[place] += 1
        late[place] += int((at - row["at"]).total_seconds() > PLAN_H[state] * 3600)
        on_hold[place] += int(row["serial"] in held)
    return Figures(+standing, +late, +on_hold)


def _step(act: str, step: str, outcome: str, steps: list[int]) -> int | None:
    if act == "create":
        return steps[0]
    if act == "begin" or outcome in ("rework", "repair"):
        return int(step)
    place = steps.index(int(step)) + 1
    return steps[place] if outcome != "scrap" and place < len(steps) else None


def by_the_floor(parts: Iterable[Standing]) -> Figures:
    """The same figures as the page reads them."""
    standing, late, on_hold = Counts(), Counts(), Counts()
    for part in parts:
        place = (part.step, "in work" if part.in_work else "waiting")
        standing[place] += 1
        late[place] += int(part.late)
        on_hold[place] += int(part.hold is not None)
    return Figures(+standing, +late, +on_hold)


@pytest.mark.parametrize("seed", range(4))
def test_the_floor_counts_as_pandas_does_from_the_exported_file(
    new_store_url: Callable[[], str], seed: int
) -> None:
    dice = random.Random(seed)
    route = random_route(dice, "OAR")
    now = START + timedelta(days=dice.uniform(6, 20))
    clock = FixedClock(int((START + timedelta(days=60)).timestamp() * 1_000_000))
    ledger = open_ledger(Store(new_store_url()), clock)
    ledger.open_site(CODE)
    ledger.execute(CODE, ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute(CODE, LoadRoute(card=parse_route(route.toml(), "route")), SYSTEM)
    ledger.execute(CODE, LoadHistory(rows=lines(random_history(dice, route, 60))), SYSTEM)
    at_us = int(now.timestamp() * 1_000_000)

    with ledger.read(CODE) as read:
        text = history_csv(read)
    with ledger.read(CODE, at_us) as read:
        ours = by_the_floor(read_floor(read, "OAR").parts)
    theirs = by_pandas(text, route, datetime.fromtimestamp(at_us / 1_000_000, UTC))
    ledger.store.close()

    assert sum(theirs.standing.values()) > 0
    assert ours == theirs
