"""Random histories: every yield the same from SQL on both stores and from pandas.

The outside voice is pandas, networkx and statsmodels (`tests/outside/yield_reference.py`).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pandas as pd
import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.db import Store
from ringwright.flow.loads import load_code
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.yields.json_form import yield_json
from ringwright.yields.model import Question
from ringwright.yields.service import read_yield
from tests.make.histories import START, Route, lines, random_history
from tests.outside import yield_reference as outside

FIRST, LAST = "2026-W40", "2026-W41"
NOW = START + timedelta(days=60)
SHIFTS = "".join(
    f'[[calendar.shift]]\nname = "{name}"\n'
    f'days = ["mon-sun"]\nstart = "{start}"\nend = "{end}"\n'
    for name, start, end in (
        ("early", "06:00", "14:00"), ("late", "14:00", "22:00"), ("night", "22:00", "06:00"),
    )
)  # fmt: skip


def us(moment: datetime) -> int:
    return round((moment - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(microseconds=1))


class Shop:
    """A random history, in a store and as tables."""

    def __init__(self, seed: int, url: str) -> None:
        dice = random.Random(f"yields {seed}")
        self.route = Route("Y", [10, 20, 30, 40], target=9)
        self.in_loads = {20, 30} if seed % 2 else {30}
        self.zone = dice.choice(("Europe/Oslo", "America/St_Johns"))
        self.rows = random_history(dice, self.route, 70)
        self._dress(dice)
        self.ledger = self._open(url)
        self.told = self.as_told()

    def _dress(self, dice: random.Random) -> None:
        """Lots for parts, stations for visits; a few of either are not recorded."""
        for row in self.rows:
            if row["act"] == "create":
                row["lot"] = dice.choice(("L-1", "L-2", "L-3"))
            if row["act"] == "begin":
                names = ("F-1", "F-2", "F-3") if int(row["step"]) in self.in_loads else ("M-1",)
                row["station"] = dice.choice((*names, ""))

    def _open(self, url: str) -> Ledger:
        ledger = open_ledger(Store(url), FixedClock(us(NOW)))
        ledger.open_site("S")
        site = f'[site]\ncode = "S"\nname = "S"\nzone = "{self.zone}"\n'
        site += '[[calendar]]\ncode = "shop"\n' + SHIFTS
        ledger.execute("S", ExtendSite(file=parse_site(site, "site")), SYSTEM)
        text = self.route.toml()
        for step in self.in_loads:
            head, tail = text.split(f"number = {step}\n")
            text = f"number = {step}\n".join((head, tail.replace("machining", "heat-cycle", 1)))
        ledger.execute("S", LoadRoute(card=parse_route(text, "route")), SYSTEM)
        ledger.execute("S", LoadHistory(rows=lines(self.rows)), SYSTEM)
        return ledger

    def as_told(self, before: datetime | None = None) -> outside.Told:
        return outside.told(self.rows, self.route.steps, self.in_loads, self.zone, before)

    def ask(self, as_of: datetime | None = None, **more: Any) -> dict[str, Any]:
        question = Question(first=FIRST, last=LAST, **more)
        with self.ledger.read("S", None if as_of is None else us(as_of)) as read:
            return yield_json(read_yield(read, question))

    @property
    def span(self) -> tuple[pd.Timestamp, pd.Timestamp]:
        return outside.window(FIRST, LAST, self.zone)


@pytest.fixture(params=[0, 1])
def shop(request: pytest.FixtureRequest, store_url: str) -> Iterator[Shop]:
    made = Shop(request.param, store_url)
    yield made
    made.ledger.store.close()


def same(answer: Any, wanted: Any, path: str = "") -> None:
    """Every number that the outside voice gives, to nine digits."""
    if isinstance(wanted, dict):
        for name, value in wanted.items():
            same(answer[name], value, f"{path}.{name}")
    elif isinstance(wanted, list):
        assert len(answer) == len(wanted), path
        for place, value in enumerate(wanted):
            same(answer[place], value, f"{path}[{place}]")
    elif isinstance(wanted, float):
        assert answer == pytest.approx(wanted, rel=1e-9, abs=1e-9), path
    else:
        assert answer == wanted, path


def test_every_yield_of_a_window_is_what_pandas_makes_of_the_events(shop: Shop) -> None:
    wanted = outside.numbers(shop.told, shop.span)

    same(shop.ask(), wanted)
    assert wanted["steps"][0]["first_visits"] > 10
    assert wanted["final_yield"]["n"] > 5
    loads = {row["number"]: row["first_pass_yield"]["loads"] for row in shop.ask()["steps"]}
    assert all((loads[step] is not None) == (step in shop.in_loads) for step in loads)


def test_narrowed_to_a_lot_a_station_or_a_shift_likewise(shop: Shop) -> None:
    told = shop.told
    visits, lives = told.visits, told.lives
    been = lives.serial.isin(set(visits[visits.station == "F-1"].serial))
    early = outside.shift_of(told, visits, "at_end") == "early"

    of_lot = told.kept(visits.part_lot == "L-2", lives.lot == "L-2")
    same(shop.ask(lot="L-2"), outside.numbers(of_lot, shop.span))
    at_station = told.kept(visits.station == "F-1", been)
    same(shop.ask(station="F-1"), outside.numbers(at_station, shop.span))
    in_shift = outside.numbers(told.kept(early), shop.span)["steps"]
    same(shop.ask(shift="early")["steps"], in_shift)


@pytest.mark.parametrize("by", ["lot", "station", "shift"])
def test_told_apart_likewise(shop: Shop, by: str) -> None:
    wanted = outside.groups(shop.told, shop.span, by)
    found = {group["key"]: group for group in shop.ask(by=by)["groups"]}

    assert wanted
    assert set(wanted) <= set(found)
    same({key: found[key] for key in wanted}, wanted)


def test_weeks_and_their_limits_likewise(shop: Shop) -> None:
    answer = shop.ask()
    assert [point["week"] for point in answer["weeks"]][-2:] == [FIRST, LAST]
    for point in answer["weeks"]:
        span = outside.window(point["week"], point["week"], shop.zone)
        same(point["final_yield"], outside.numbers(shop.told, span)["final_yield"])
    before = outside.window("2026-W32", "2026-W39", shop.zone)
    wanted = [row["first_pass_yield"] for row in outside.numbers(shop.told, before)["steps"]]
    same([step["before"] for step in answer["steps"]], wanted)
    by_week = {group["key"]: group for group in answer["groups"]}
    for week in (FIRST, LAST):
        own = outside.numbers(shop.told, outside.window(week, week, shop.zone))
        same(by_week[week]["rolled_throughput_yield"], own["rolled_throughput_yield"])
        same(by_week[week]["cohort"], own["cohort"])


def test_without_a_load_its_parts_are_out_of_everything(shop: Shop) -> None:
    visits = shop.told.visits
    loads = visits[(visits.load >= 0) & (visits.station != "")].groupby("load")
    own = loads.get_group(loads.size().idxmax())
    assert len(own) > 1
    code = load_code(own.station.iloc[0], us(own.at_begin.min().to_pydatetime()), shop.zone)
    out = set(own.serial)
    kept = shop.told.kept(~visits.serial.isin(out), ~shop.told.lives.serial.isin(out))

    answer = shop.ask(without=code)

    same(answer, outside.numbers(kept, shop.span))
    assert answer["without"] == code


def test_as_of_a_moment_only_what_was_known_then_counts(shop: Shop) -> None:
    start, end = shop.span
    for share in (0.3, 0.8):
        moment = (start + (end - start) * share).to_pydatetime()
        same(shop.ask(as_of=moment), outside.numbers(shop.as_told(moment), shop.span))


def test_reasons_add_up_to_what_was_scrapped_and_reworked(shop: Shop) -> None:
    answer = shop.ask()
    ended = shop.told.visits[
        (shop.told.visits.at_end >= shop.span[0]) & (shop.told.visits.at_end < shop.span[1])
    ]
    wanted = {
        "scrap": ended[ended.outcome == "scrap"],
        "rework": ended[ended.outcome.isin(outside.AGAIN)],
    }
    for what, visits in wanted.items():
        reasons = answer[what]
        assert reasons["total"] == len(visits) > 0
        for name in ("by_defect", "by_place", "by_found", "by_caused", "threads"):
            assert sum(row["parts"] for row in reasons[name]) == len(visits), name
        found = {row["of"]: row["parts"] for row in reasons["by_found"]}
        assert found == visits.groupby("step").size().to_dict()
