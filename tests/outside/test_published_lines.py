"""A line whose answer is known, simulated by SimPy and told to the record; events in pm4py.

M/M/3 with lambda 6/h and mu 3/h: L = 2.8889, Lq = 0.8889 (Erlang C; Gross, Shortle, Thompson,
Harris, "Fundamentals of Queueing Theory", 4th ed., section 2.4; the figures recomputed).
Little's law: J. D. C. Little, Operations Research 9 (1961) 383-387.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable, Generator
from math import factorial

import pandas as pd
import pytest
import simpy

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.core.instants import iso_text, parse_instant
from ringwright.db import Store
from ringwright.flow.law import time_in_cell
from ringwright.flow.queries import HOUR_US, Window
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site

ZERO_US = parse_instant("2026-01-05T00:00:00Z")
RATE, SERVICE, SERVERS = 6.0, 3.0, 3
WARM_H, HORIZON_H = 100, 700
ROUTE = '[product]\ncode = "MM3"\nname = "Line"\n[[step]]\nnumber = 1\nname = "Do"\n'


def erlang_c_mean_number() -> float:
    """Mean number in an M/M/c system."""
    load = RATE / SERVICE
    use = load / SERVERS
    tail = load**SERVERS / factorial(SERVERS) / (1 - use)
    empty = 1 / (sum(load**k / factorial(k) for k in range(SERVERS)) + tail)
    return tail * empty * use / (1 - use) + load


def simulated(seed: int) -> list[dict[str, str]]:
    """The line's own events as history rows, in the order they happened."""
    dice, env = random.Random(seed), simpy.Environment()
    servers, rows = simpy.Resource(env, SERVERS), []

    def tell(serial: str, act: str, step: str = "", outcome: str = "") -> None:
        at = iso_text(round(ZERO_US + env.now * HOUR_US), "UTC")
        rows.append(
            {"at": at, "serial": serial, "product": "MM3", "act": act, "step": step,
             "outcome": outcome}
        )  # fmt: skip

    def part(serial: str) -> Generator[simpy.Event, None, None]:
        tell(serial, "create")
        with servers.request() as turn:
            yield turn
            tell(serial, "begin", "1")
            yield env.timeout(dice.expovariate(SERVICE))
            tell(serial, "end", "1", "scrap" if dice.random() < 0.1 else "pass")

    def arrivals() -> Generator[simpy.Event, None, None]:
        number = 0
        while True:
            yield env.timeout(dice.expovariate(RATE))
            number += 1
            env.process(part(f"M{number}"))

    env.process(arrivals())
    env.run(until=HORIZON_H)
    return rows


def open_line(url: str, rows: list[dict[str, str]]) -> Ledger:
    ledger = open_ledger(Store(url), FixedClock(ZERO_US + 10_000 * HOUR_US))
    ledger.open_site("EX")
    site = '[site]\ncode = "EX"\nname = "Example"\nzone = "UTC"\n'
    route = ROUTE + 'kind = "machining"\n'
    ledger.execute("EX", ExtendSite(file=parse_site(site, "site")), SYSTEM)
    ledger.execute("EX", LoadRoute(card=parse_route(route, "route")), SYSTEM)
    ledger.execute("EX", LoadHistory(rows=enumerate(rows, start=2)), SYSTEM)
    return ledger


def law(ledger: Ledger) -> tuple[float, float]:
    """(mean WIP, rate of exits times their mean time) after the warm-up."""
    start, end = ZERO_US + WARM_H * HOUR_US, ZERO_US + HORIZON_H * HOUR_US
    window = Window(products=("MM3",), start_us=start, end_us=end)
    with ledger.read() as read:
        row = read.connection.execute(time_in_cell(read, window)).one()
    return float(row.part_time) / (end - start), float(row.exit_time) / (end - start)


@pytest.mark.slow
def test_littles_law_holds_on_a_simulated_line(new_sqlite_url: Callable[[], str]) -> None:
    seen, made = [], []
    for seed in range(8):
        ledger = open_line(new_sqlite_url(), simulated(seed))
        wip, product = law(ledger)
        ledger.store.close()
        seen.append(wip)
        made.append(product)
        # The two differ only by the parts at the edges of the window: a few part-hours.
        assert product == pytest.approx(wip, abs=12 / (HORIZON_H - WARM_H))

    exact = erlang_c_mean_number()
    assert exact == pytest.approx(2.8889, abs=5e-5)
    error = statistics.stdev(seen) / len(seen) ** 0.5
    assert statistics.mean(seen) == pytest.approx(exact, abs=3 * error)
    assert error < 0.15


def intervals(rows: list[dict[str, str]]) -> pd.DataFrame:
    """The ended parts in pm4py's own words: intervals, the creation one without length."""
    log = pd.DataFrame(rows)
    log["at"] = pd.to_datetime(log["at"], utc=True)
    moments = log.pivot_table(index="serial", columns="act", values="at", aggfunc="first")
    moments = moments.dropna(subset=["end"]).join(
        log[log.act == "end"].set_index("serial").outcome
    )
    made = moments.assign(activity="create", start=moments.create, stop=moments.create)
    done = moments.assign(activity="Do", start=moments.begin, stop=moments.end)
    both = pd.concat([made, done]).reset_index().sort_values(["serial", "start", "stop"])
    names = {"serial": "case:concept:name", "activity": "concept:name",
             "start": "start_timestamp", "stop": "time:timestamp"}  # fmt: skip
    return both.rename(columns=names)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # the library warns about itself while it is imported
def test_pm4py_finds_the_same_durations_touch_and_queue(sqlite_url: str) -> None:
    import pm4py

    rows = [row for row in simulated(99) if row["at"] < "2026-01-12"]
    ledger = open_line(sqlite_url, rows)
    with ledger.read() as read:
        numbers = read_week_numbers(read, "MM3", "2026-W02")
    ledger.store.close()
    log, (step,), cycle = intervals(rows), numbers.steps, numbers.cycle_time_h
    good = log[log.outcome == "pass"]

    durations_h = pd.Series(pm4py.get_all_case_durations(good)) / 3600
    times = pm4py.insert_case_service_waiting_time(log, start_timestamp_key="start_timestamp")
    cases = times.groupby("case:concept:name").first()
    service_s = pm4py.get_service_time(
        log, aggregation_measure="median", start_timestamp_key="start_timestamp"
    )

    assert step.visits == len(cases) > cycle.n == len(durations_h) > 800
    assert cycle.mean == pytest.approx(durations_h.mean(), rel=1e-9)
    assert cycle.median == pytest.approx(durations_h.median(), rel=1e-9)
    assert cycle.p90 == pytest.approx(durations_h.quantile(0.9), rel=1e-9)
    assert step.touch_h_median == pytest.approx(service_s["Do"] / 3600, abs=1e-9)
    waits_h = cases["@@waiting_time"] / 3600
    assert step.queue_h_median == pytest.approx(waits_h.median(), abs=1e-9)
    assert waits_h.mean() > 0.05  # a line without a queue would prove nothing
