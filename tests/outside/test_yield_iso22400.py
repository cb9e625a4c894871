"""The ratios of ISO 22400-2 on two worked examples, and where our rule differs.

Formulae as the published ontology of the standard gives them: first pass yield GP / IP, quality
ratio GQ / PQ, fall-off ratio SQ / PQ of the first operation. The examples are arithmetic from
those definitions. Scrap and rework ratio of the standard are over parts; ours are over visits,
so that a part looked at twice counts twice, and the page says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory
from ringwright.core.clock import FixedClock
from ringwright.core.instants import iso_text
from ringwright.db import Store
from ringwright.flow.queries import HOUR_US
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.yields.json_form import yield_json
from ringwright.yields.model import Question
from ringwright.yields.service import read_yield
from tests.outside.test_event_log import ROUTE, ZERO_US, rows

Ask = Callable[[list[dict[str, str]]], dict[str, Any]]


@pytest.fixture
def ask(sqlite_url: str) -> Iterator[Ask]:
    """Loads a history into an empty store and asks for the yields of its week."""
    ledger = open_ledger(Store(sqlite_url), FixedClock(ZERO_US + 1000 * HOUR_US))
    ledger.open_site("EX")
    site = '[site]\ncode = "EX"\nname = "Example"\nzone = "UTC"\n'
    ledger.execute("EX", ExtendSite(file=parse_site(site, "site")), SYSTEM)
    ledger.execute("EX", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)

    def asked(history: list[dict[str, str]]) -> dict[str, Any]:
        ledger.execute("EX", LoadHistory(rows=enumerate(history, start=2)), SYSTEM)
        with ledger.read() as read:
            return yield_json(read_yield(read, Question(first="2026-W40", last="2026-W40")))

    yield asked
    ledger.store.close()


def inspection(answer: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = answer["steps"][-1]
    return found


def test_five_parts_six_inspections_first_pass_counts_each_serial_once(ask: Ask) -> None:
    answer = ask(rows())
    step = inspection(answer)

    assert step["visits"] == 6
    assert (step["first_pass_yield"]["value"], step["first_pass_yield"]["n"]) == (3 / 5, 5)
    assert answer["final_yield"]["value"] == 4 / 5
    assert step["fall_off_ratio"] == 1 / 5
    # Over parts the standard's ratios are 1/5 each; over the six visits ours are 1/6.
    assert answer["scrap"]["total"] / answer["final_yield"]["n"] == 1 / 5
    assert answer["rework"]["total"] / step["first_visits"] == 1 / 5
    assert (step["scrap_ratio"]["value"], step["rework_ratio"]["value"]) == (1 / 6, 1 / 6)


def test_of_a_hundred_parts_reworked_ones_lift_the_final_yield_alone(ask: Ask) -> None:
    fates = [["pass"]] * 90 + [["rework", "pass"]] * 6 + [["scrap"]] * 4
    history: list[dict[str, str]] = []
    for number, fate in enumerate(fates):
        visits = [("10", "pass"), ("20", "pass"), *(("30", outcome) for outcome in fate)]
        for place, (number_of, outcome) in enumerate(visits):
            for act, late in (("begin", 0.0), ("end", 0.5)):
                at = iso_text(round(ZERO_US + (1 + place + late) * HOUR_US), "UTC")
                history.append({
                    "at": at, "serial": f"H{number}", "product": "LOG", "act": act,
                    "step": number_of, "outcome": outcome if act == "end" else "", "defect": "",
                })  # fmt: skip
        created = iso_text(ZERO_US, "UTC")
        history.append({"at": created, "serial": f"H{number}", "product": "LOG",
                        "act": "create", "step": "", "outcome": "", "defect": ""})  # fmt: skip
    history.sort(key=lambda told: told["at"])

    answer = ask(history)

    step = inspection(answer)
    assert step["first_pass_yield"]["value"] == 0.90
    assert answer["final_yield"]["value"] == 0.96
    assert step["fall_off_ratio"] == 0.04
    assert answer["rework"]["total"] / step["first_visits"] == 0.06
    assert answer["rolled_throughput_yield"] == pytest.approx(0.90)
