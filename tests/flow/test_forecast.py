"""The forecast read from a store: what counts, what does not, and the same answer again."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.cli import main
from ringwright.core.calendar import HOUR_US, iso_text, wall_us
from ringwright.core.clock import FixedClock
from ringwright.core.errors import Missing, Refused
from ringwright.db import Store
from ringwright.flow.forecast import forecast_json, in_100, read_forecast
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.line import (
    MONDAY,
    SMALL,
    ZONE,
    Told,
    history_of,
    route_of,
    simulated,
    week_us,
)

SITE = f'[site]\ncode = "S"\nname = "Somewhere"\nzone = "{ZONE}"\n'
WEEKS = 9
NOW_US = week_us(WEEKS)[0]
# Week 8 of the simulation, the last of October: the site's clocks go back on its Sunday.
WEEK, WEEK_BEFORE, WEEK_AFTER = "2025-W43", "2025-W42", "2025-W44"
TUESDAY_US = wall_us(MONDAY + timedelta(weeks=7, days=1, hours=10), ZONE)


@pytest.fixture(scope="module")
def told() -> Told:
    """Nine weeks of a little line."""
    return simulated(SMALL, WEEKS, 3)


def opened(url: str, history: str | None, *routes: str, now_us: int = NOW_US) -> Ledger:
    """A store with a site without calendar, these routes and this history."""
    ledger = open_ledger(Store(url), FixedClock(now_us))
    ledger.open_site("S")
    ledger.execute("S", ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    for route in routes or (route_of(SMALL, "RING", 10),):
        ledger.execute("S", LoadRoute(card=parse_route(route, "route")), SYSTEM)
    if history:
        ledger.execute("S", LoadHistory(rows=read_csv(history)), SYSTEM)
    return ledger


def asked(
    ledger: Ledger, as_of_us: int | None = TUESDAY_US, week: str = WEEK, **more: Any
) -> dict[str, Any]:
    """What `forecast --json` says."""
    with ledger.read("S", as_of_us) as read:
        return forecast_json(read_forecast(read, more.pop("product", "RING"), week, **more))


@pytest.fixture
def ledger(sqlite_url: str, told: Told) -> Iterator[Ledger]:
    """The whole record, on SQLite."""
    found = opened(sqlite_url, history_of(told, "RING"))
    yield found
    found.store.close()


def test_a_store_cut_off_at_a_time_answers_as_the_full_one_does_as_of_then(
    new_store_url: Callable[[], str], told: Told
) -> None:
    full = opened(new_store_url(), history_of(told, "RING"))
    cut = opened(new_store_url(), history_of(told, "RING", TUESDAY_US))

    for week in (WEEK_BEFORE, WEEK, WEEK_AFTER):
        assert asked(full, week=week) == asked(cut, week=week)
    assert asked(full) != asked(full, None)
    for one in (full, cut):
        one.store.close()


def test_an_event_at_the_moment_itself_does_not_count(ledger: Ledger, told: Told) -> None:
    start_us, end_us = week_us(7)
    last_us = max(us for us in told.released_us.values() if start_us <= us < end_us)

    at, after = asked(ledger, last_us), asked(ledger, last_us + 1)

    assert after["released_so_far"] == at["released_so_far"] + 1


def test_the_same_seed_gives_the_same_answer_and_another_one_nearly(ledger: Ledger) -> None:
    one, again, other = asked(ledger), asked(ledger, seed=1), asked(ledger, seed=2)

    assert one == again
    assert other["mean"] != one["mean"]
    assert other["mean"] == pytest.approx(one["mean"], abs=1.0)


def test_a_forecast_names_its_fields_and_they_hang_together(ledger: Ledger) -> None:
    found = asked(ledger)

    assert list(found) == [
        "product", "week", "as_of", "released_so_far", "mean", "median", "low_80", "high_80",
        "target", "probability_of_target",
    ]  # fmt: skip
    assert found["released_so_far"] <= found["low_80"] <= found["median"] <= found["high_80"]
    assert found["low_80"] < found["mean"] < found["high_80"]
    assert found["as_of"] == iso_text(TUESDAY_US, ZONE)
    assert found["target"] == 10
    assert 0 < found["probability_of_target"] < 1


def test_a_week_that_is_over_is_what_was_released(ledger: Ledger, told: Told) -> None:
    start_us, end_us = week_us(6)
    out = sum(start_us <= us < end_us for us in told.released_us.values())

    found = asked(ledger, week=WEEK_BEFORE)

    ends = ("released_so_far", "mean", "median", "low_80", "high_80")
    assert [found[name] for name in ends] == [out] * 5
    assert found["probability_of_target"] == float(out >= 10)


def test_next_week_counts_nothing_of_this_one_and_starts_not_created_yet(
    ledger: Ledger,
) -> None:
    found = asked(ledger, week=WEEK_AFTER)

    # Fourteen are started a week and three in ten are lost; few stand in the cell by Tuesday.
    assert found["released_so_far"] == 0
    assert 6 < found["mean"] < 14
    with ledger.read("S", TUESDAY_US) as read:
        assert read_forecast(read, "RING", WEEK_AFTER).starts > 2


def test_a_closed_weekend_adds_nothing(ledger: Ledger) -> None:
    saturday_us = wall_us(MONDAY + timedelta(weeks=7, days=5, hours=3), ZONE)
    sunday_us = wall_us(MONDAY + timedelta(weeks=7, days=6, hours=20), ZONE)

    one, other = asked(ledger, saturday_us), asked(ledger, sunday_us)

    assert one["low_80"] == one["high_80"] == one["released_so_far"]
    # The clocks go back in the night between; the answer is the same.
    assert {**one, "as_of": ""} == {**other, "as_of": ""}


def test_without_a_target_there_is_no_probability(sqlite_url: str, told: Told) -> None:
    ledger = opened(sqlite_url, history_of(told, "RING"), route_of(SMALL, "RING", None))

    found = asked(ledger)

    assert (found["target"], found["probability_of_target"]) == (None, None)
    assert found["low_80"] < found["high_80"]
    ledger.store.close()


def test_an_empty_history_forecasts_nothing_and_says_that_it_cannot_say(
    sqlite_url: str,
) -> None:
    ledger = opened(sqlite_url, None)

    found = asked(ledger)

    assert (found["low_80"], found["high_80"], found["probability_of_target"]) == (0, 0, 0.0)
    with ledger.read("S", TUESDAY_US) as read:
        assert not read_forecast(read, "RING", WEEK).can_say
        with pytest.raises(Missing):
            read_forecast(read, "NONE", WEEK)
        with pytest.raises(Refused):
            read_forecast(read, "RING", "2025-W60")
    ledger.store.close()


def test_a_held_part_holds_its_share_of_the_week_back(sqlite_url: str, told: Told) -> None:
    """No hold was ever lifted here, so what is held now does not leave within the week."""
    friday_us = wall_us(MONDAY + timedelta(weeks=7, days=3, hours=8), ZONE)
    known = replace(told)
    standing = [
        serial for serial, visits in known.visits.items()
        if visits[0].begin_us < friday_us and visits[-1].leave_us >= friday_us
    ]  # fmt: skip
    history = history_of(known, "RING", friday_us)
    rows = [f"{iso_text(friday_us, 'UTC')},{serial},RING,hold,,,,,,,,," for serial in standing]
    free = opened(sqlite_url, history + "\n".join(rows) + "\n")

    before, held = asked(free, friday_us), asked(free, friday_us + 1)

    assert held["mean"] < before["mean"]
    with free.read("S", friday_us + 1) as read:
        deciding = read_forecast(read, "RING", WEEK).deciding
    assert {one.serial for one in deciding} == set(standing)
    assert all(one.held and one.chance == 0 for one in deciding)
    free.store.close()


def test_the_command_prints_it_and_refuses_in_one_line(
    sqlite_url: str,
    ledger: Ledger,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", sqlite_url)
    as_of = iso_text(TUESDAY_US, ZONE)
    order = ["forecast", "--product", "RING", "--week", WEEK, "--as-of", as_of]

    assert main([*order, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == asked(ledger)
    assert main(order) == 0
    assert "in 100 for 10 or more" in capsys.readouterr().out
    for wrong in (
        ["--product", "NONE"],
        ["--week", "W40"],
        ["--as-of", "noon"],
        ["--seed", "-1"],
    ):
        assert main([*order, *wrong]) == 2
        assert len(capsys.readouterr().err.splitlines()) == 1


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.0, "0 in 100"), (0.004, "under 1 in 100"), (0.0375, "4 in 100"),
     (0.996, "over 99 in 100"), (1.0, "100 in 100")],
)  # fmt: skip
def test_a_chance_is_told_in_whole_hundredths(chance: float, words: str) -> None:
    assert in_100(chance) == words


def test_the_simulated_weeks_are_those_of_the_calendar() -> None:
    assert week_us(7)[1] - week_us(7)[0] == (7 * 24 + 1) * HOUR_US
