"""A worked example of five parts on a line of three stations, checked to the last digit.

Source: a worked event log, computed by hand from the definitions; its mean WIP is Little's law,
J. D. C. Little, "A Proof for the Queuing Formula L = lambda W", Operations Research 9 (1961)
383-387. The quantities below are printed with the example: cycle times 6, 9, 11 (scrap), 19 and
15 h; time-average WIP 60/21; touch 36 h, queue 24 h; first-pass yield of the inspection 3/5,
final yield 4/5; WIP at 5, 9, 10 and 20 h: 5, 3, 3, 1.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.core.instants import iso_text, parse_instant
from ringwright.db import Store
from ringwright.flow.law import time_in_cell
from ringwright.flow.queries import HOUR_US, Window
from ringwright.flow.service import read_week_numbers, read_wip, week_json
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site

DATA = Path(__file__).parent / "data" / "event_log.csv"
ZERO_US = parse_instant("2026-09-28T00:00:00Z")
STEPS = {"forming": 10, "heat_cycle": 20, "inspection": 30}
RELEASES_H = {"B001": 0, "B002": 0, "B003": 1, "B004": 2, "B005": 3}
ROUTE = '[product]\ncode = "LOG"\nname = "Example"\n' + "".join(
    f'[[step]]\nnumber = {number}\nname = "{name}"\nkind = "{kind}"\n'
    for (name, number), kind in zip(
        STEPS.items(), ("forming", "heat-cycle", "inspection"), strict=True
    )
)


def row(
    hour: float, serial: str, act: str, step: str = "", outcome: str = ""
) -> dict[str, str]:
    at = iso_text(round(ZERO_US + hour * HOUR_US), "UTC")
    return {"at": at, "serial": serial, "product": "LOG", "act": act, "step": step,
            "outcome": outcome, "defect": "crack" if outcome == "scrap" else ""}  # fmt: skip


def rows() -> list[dict[str, str]]:
    found = [row(hour, serial, "create") for serial, hour in RELEASES_H.items()]
    with DATA.open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            step = str(STEPS[line["step"]])
            found.append(row(float(line["start_h"]), line["serial"], "begin", step))
            end = float(line["end_h"])
            found.append(row(end, line["serial"], "end", step, line["outcome"]))
    return found


@pytest.fixture
def line(store_url: str) -> Iterator[Ledger]:
    ledger = open_ledger(Store(store_url), FixedClock(ZERO_US + 1000 * HOUR_US))
    ledger.open_site("EX")
    site = '[site]\ncode = "EX"\nname = "Example"\nzone = "UTC"\n'
    ledger.execute("EX", ExtendSite(file=parse_site(site, "site")), SYSTEM)
    ledger.execute("EX", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    ledger.execute("EX", LoadHistory(rows=enumerate(rows(), start=2)), SYSTEM)
    yield ledger
    ledger.store.close()


@pytest.fixture
def week(line: Ledger) -> dict[str, Any]:
    with line.read() as read:
        return week_json(read_week_numbers(read, "LOG", "2026-W40"))


def test_wip_at_a_moment_is_half_open(line: Ledger) -> None:
    # An event at t itself has not happened at t; a moment later it has.
    with line.read() as read:
        at = {h: read_wip(read, "LOG", ZERO_US + h * HOUR_US + 1) for h in (5, 9, 10, 20)}

    assert {hour: sum(found.values()) for hour, found in at.items()} == {
        5: 5,
        9: 3,
        10: 3,
        20: 1,
    }


def test_mean_wip_is_the_rate_of_all_exits_times_their_mean_time(line: Ledger) -> None:
    window = Window(products=("LOG",), start_us=ZERO_US, end_us=ZERO_US + 21 * HOUR_US + 1)
    with line.read() as read:
        found = read.connection.execute(time_in_cell(read, window)).one()

    mean_wip = float(found.part_time) / (21 * HOUR_US)
    assert mean_wip == pytest.approx(60 / 21)
    assert (found.exits, float(found.exit_time) / HOUR_US) == (5, 60)
    assert pytest.approx(mean_wip) == 5 / 21 * 12
    # The trap: good parts alone give 4/21 x 12.25 = 2.333, which is not the WIP.
    assert pytest.approx(mean_wip, rel=0.1) != 4 / 21 * 12.25


def test_cycle_times_are_those_of_the_released_parts(week: dict[str, Any]) -> None:
    cycle = week["cycle_time_h"]

    assert (cycle["n"], cycle["mean"], cycle["median"]) == (4, 12.25, 12.0)
    assert cycle["p90"] == pytest.approx(15 + 0.7 * 4)  # position 2.7 of 6, 9, 15, 19


def test_each_serial_counts_once_in_the_first_pass_yield(week: dict[str, Any]) -> None:
    inspection = week["steps"][-1]

    assert (inspection["visits"], inspection["first_visits"]) == (6, 5)
    assert inspection["first_pass_yield"]["value"] == 3 / 5
    assert inspection["rework_ratio"] == 1 / 6
    assert (week["final_yield"]["value"], week["final_yield"]["n"]) == (4 / 5, 5)
    assert week["rolled_throughput_yield"] == pytest.approx(1 * 1 * 3 / 5)


def test_touch_and_queue_add_up_to_the_time_in_the_cell(line: Ledger) -> None:
    from sqlalchemy import func, select

    from ringwright.parts.tables import Visit

    with line.read() as read:
        total = select(func.sum(Visit.touch_us), func.sum(Visit.queue_us))
        touch, queue = read.connection.execute(total).one()

    assert touch is not None
    assert queue is not None
    assert (float(touch) / HOUR_US, float(queue) / HOUR_US) == (36, 24)


def hundred() -> list[dict[str, str]]:
    """100 parts inspected: 90 pass at once, 6 are reworked and then pass, 4 are scrapped."""
    ends = [["pass"]] * 90 + [["rework", "pass"]] * 6 + [["scrap"]] * 4
    found = []
    for number, outcomes in enumerate(ends):
        serial = f"Y{number:03d}"
        found.append(row(0, serial, "create"))
        for again, outcome in enumerate(outcomes):
            found.append(row(1 + again, serial, "begin", "10"))
            found.append(row(1.5 + again, serial, "end", "10", outcome))
    return found


def test_reworked_parts_do_not_lift_the_first_pass_yield(store_url: str) -> None:
    # Definitions by their ISO 22400-2 names; arithmetic: 90/100, 96/100, 6 of 106 visits.
    ledger = open_ledger(Store(store_url), FixedClock(ZERO_US + 1000 * HOUR_US))
    ledger.open_site("EX")
    site = '[site]\ncode = "EX"\nname = "Example"\nzone = "UTC"\n'
    ledger.execute("EX", ExtendSite(file=parse_site(site, "site")), SYSTEM)
    one_step = '[product]\ncode = "LOG"\nname = "Y"\n[[step]]\nnumber = 10\nname = "Look"\n'
    card = parse_route(one_step + 'kind = "inspection"\n', "route")
    ledger.execute("EX", LoadRoute(card=card), SYSTEM)
    ledger.execute("EX", LoadHistory(rows=enumerate(hundred(), start=2)), SYSTEM)
    with ledger.read() as read:
        week = week_json(read_week_numbers(read, "LOG", "2026-W40"))
    ledger.store.close()

    (step,) = week["steps"]
    assert (step["first_pass_yield"]["value"], step["first_pass_yield"]["n"]) == (0.90, 100)
    assert (week["final_yield"]["value"], week["scrapped"], week["output"]) == (0.96, 4, 96)
    assert step["rework_ratio"] == pytest.approx(6 / 106)
