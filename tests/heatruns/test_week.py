"""The week of the furnaces, from a history worked by hand.

Week 2026-W40 at Skarvik: Monday 28 September 00:00 to Monday 5 October 00:00, site time. Three
positions; the recipe plans 60 minutes (its soak), its ramp says no time.

| run | begun | minutes | load | came to |
|---|---|---|---|---|
| 1 | Mon 10:00 | 130 | S-1 left, S-2 middle | met, accepted: both pass |
| 2 | Tue 08:00 | 120 | S-3 left, S-4 middle, S-5 right | too cold: S-3, S-5 rework, S-4 scrap |
| 3 | Wed 08:00 | 140 | S-3 right | met, accepted: passed, but not for the first time |
| 4 | Sun 23:00 | 130 | S-6 left | met, accepted on Monday |
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ringwright.assembly import SYSTEM
from ringwright.core.instants import parse_instant
from ringwright.furnaces.service import Renew, SetFurnace
from ringwright.heatruns.week import FurnaceWeek, WeekOfFurnaces, read_furnace_week
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Calendar, Shift, Station
from tests.make.floor import CODE, MINUTE_US, QUALITY
from tests.make.furnaces import FURNACE, HOT, Hall, open_hall
from tests.make.heat_weeks import at, begin, end, sentence

WEEK = "2026-W40"
SUNDAY = "2026-10-04T23:00:00+02:00"


@pytest.fixture
def store_url(sqlite_url: str) -> str:
    """What is told costs seconds; that both stores count it alike is asked once."""
    return sqlite_url


@pytest.fixture
def told(hall: Hall) -> Hall:
    """The four runs."""
    return tell(hall)


def tell(hall: Hall) -> Hall:
    first = begin(hall, "2026-09-28T10:00:00+02:00", ["S-1", "S-2"])
    end(hall, first, 130)
    hall.accept(first)
    second = begin(hall, "2026-09-29T08:00:00+02:00", ["S-3", "S-4", "S-5"])
    end(hall, second, 120, held_at_c=880.0)
    sentence(hall, "S-3", "rework")
    sentence(hall, "S-4", "scrap")
    sentence(hall, "S-5", "rework")
    hall.close(second)
    at(hall, "2026-09-30T06:00:00+02:00")
    hall.floor.book("begin", "S-3", step=10)
    hall.floor.book("end", "S-3", step=10, outcome="pass")
    third = begin(hall, "2026-09-30T08:00:00+02:00", {"S-3": "right"})
    end(hall, third, 140)
    hall.accept(third)
    hall.floor.do(Renew(furnace=FURNACE, channel="tc2_c", key=hall.floor.key()), QUALITY)
    fourth = begin(hall, SUNDAY, ["S-6"])
    end(hall, fourth, 130)
    hall.accept(fourth)
    return hall


def week_of(hall: Hall, week: str | None = WEEK, as_of: str = "") -> WeekOfFurnaces:
    with hall.floor.ledger.read(CODE, parse_instant(as_of) if as_of else None) as read:
        return read_furnace_week(read, week)


def one(hall: Hall, week: str = WEEK, as_of: str = "") -> FurnaceWeek:
    found = week_of(hall, week, as_of).furnaces
    assert [each.code for each in found] == [FURNACE]
    return found[0]


@pytest.mark.postgres
def test_both_stores_count_all_of_it_alike(told: Hall, postgres_url: str) -> None:
    other = open_hall(postgres_url)
    other.ready()
    tell(other)

    for week in (WEEK, "2026-W41"):
        assert week_of(other, week).furnaces == week_of(told, week).furnaces
        assert week_of(other, week).recipes == week_of(told, week).recipes
    then = "2026-09-29T09:00:00+02:00"
    assert one(other, WEEK, then) == one(told, WEEK, then)
    assert one(other).cycles.finished == 3
    other.floor.ledger.store.close()


def test_use_is_the_time_in_a_cycle_of_all_hours(told: Hall) -> None:
    """130 + 120 + 140 minutes, and 60 of the last run's; the week has 7 x 24 hours."""
    use = one(told).use

    assert use.in_cycle_us == (130 + 120 + 140 + 60) * MINUTE_US
    assert use.share == pytest.approx(450 / (7 * 24 * 60))
    assert one(told, "2026-W41").use.in_cycle_us == 70 * MINUTE_US


def test_of_the_present_week_only_the_hours_gone_count(hall: Hall) -> None:
    run = begin(hall, "2026-09-28T10:00:00+02:00", ["S-1"])
    at(hall, "2026-09-28T12:00:00+02:00")
    hall.floor.clock.at_us += MINUTE_US

    use = one(hall).use
    assert hall.run(run).state == "running"
    assert use.share == pytest.approx(2 / 12)


def test_working_hours_are_those_of_the_station_s_calendar(told: Hall) -> None:
    """Monday to Friday 09:00 to 11:00: an hour of runs 1, 2 and 80 minutes of run 3."""
    shift = Shift(days=(0, 1, 2, 3, 4), start="09:00", end="11:00")
    told.floor.do(SetGroundRule(thing=Calendar(code="hot", shifts=(shift,)), key="c1"), SYSTEM)
    station = Station(code=FURNACE, name="Hot", group="furnaces", calendar="hot", capacity=3)
    told.floor.do(SetGroundRule(thing=station, key="c2"), SYSTEM)

    use = one(told).use
    assert use.working_us == 5 * 120 * MINUTE_US
    assert use.in_cycle_working_us == (60 + 60 + 80) * MINUTE_US
    assert use.working_share == pytest.approx(200 / 600)


def test_the_load_factor_is_over_the_runs_begun(told: Hall) -> None:
    """2 + 3 + 1 + 1 parts of 4 x 3 positions."""
    fill = one(told).fill

    assert (fill.loaded, fill.positions) == (7, 12)
    assert fill.share == pytest.approx(7 / 12)
    assert one(told, "2026-W41").fill.share is None


def test_a_furnace_set_anew_keeps_the_positions_its_runs_had(told: Hall) -> None:
    wide = replace(HOT, positions=("a", "b", "c", "d", "e"))
    told.floor.do(SetFurnace(furnace=wide, key="wide"), QUALITY)

    assert one(told).fill.positions == 12


def test_cycle_times_are_those_of_the_runs_finished_in_the_week(told: Hall) -> None:
    """130, 120, 140: median 130, 70 over plan; run 4 ended on the Monday after."""
    cycles = one(told).cycles

    assert (cycles.begun, cycles.finished, cycles.aborted, cycles.not_met) == (4, 3, 0, 1)
    assert cycles.minutes == (120.0, 130.0, 140.0)
    assert (cycles.median_min, cycles.longest_min) == (130.0, 140.0)
    assert (cycles.median_over_min, cycles.longest_over_min) == (70.0, 80.0)
    assert one(told, "2026-W41").cycles.minutes == (130.0,)
    recipe = week_of(told).recipes[0]
    assert (recipe.code, recipe.planned_min, recipe.cycles.median_min) == ("SLOW", 60.0, 130.0)


def test_an_aborted_run_has_no_cycle_time(hall: Hall) -> None:
    run = begin(hall, "2026-09-28T10:00:00+02:00", ["S-1"])
    at(hall, "2026-09-28T10:30:00+02:00")
    hall.abort(run)

    cycles = one(hall).cycles
    assert (cycles.begun, cycles.finished, cycles.aborted) == (1, 0, 1)
    assert cycles.median_min is None
    assert one(hall).use.in_cycle_us == 30 * MINUTE_US


def test_what_passed_first_time_counts_first_visits_and_its_interval_counts_runs(
    told: Hall,
) -> None:
    """S-1, S-2 passed; S-3, S-4, S-5 did not; S-3 came again and passed then.

    Wilson's 95 % interval of a share of 0.4 of 2 loads, z^2 = 3.8415 (E. B. Wilson, JASA 22,
    1927): (0.4 + 0.9604) / 2.9207 plus and minus 1.96 sqrt(0.12 + 0.2401) / 2.9207.
    """
    passed = one(told).passed

    assert (passed.visits, passed.first, passed.passed, passed.again) == (6, 5, 2, 1)
    assert (passed.share.value, passed.share.loads) == (0.4, 2)
    assert passed.share.low == pytest.approx(0.0631, abs=1e-4)
    assert passed.share.high == pytest.approx(0.8685, abs=1e-4)
    assert passed.share.small
    assert week_of(told).recipes[0].passed == passed
    assert one(told, "2026-W41").passed.first == 1


def test_a_position_counts_its_parts(told: Hall) -> None:
    """Left: S-1 passed, S-3 not. Middle: S-2 passed, S-4 not. Right: S-5 not, S-3 again."""
    found = dict(one(told).positions)

    assert [(n, p.passed, p.first, p.again) for n, p in found.items()] == [
        ("left", 1, 2, 0), ("middle", 1, 2, 0), ("right", 0, 1, 1),
    ]  # fmt: skip
    assert found["left"].share.loads is None
    assert found["right"].share.value == 0.0


def test_the_week_as_known_in_its_middle(told: Hall) -> None:
    """As of Tuesday 09:00 run 2 was running and nobody knew how it would end."""
    found = one(told, WEEK, "2026-09-29T09:00:00+02:00")

    assert [run.state for run in found.runs] == ["accepted", "running"]
    assert found.cycles.minutes == (130.0,)
    assert (found.passed.first, found.passed.passed) == (2, 2)
    assert found.use.share == pytest.approx((130 + 60) / (33 * 60))
    # The first moment of all: no furnace was known.
    assert week_of(told, WEEK, "2026-09-28T06:00:30+02:00").furnaces == ()


def test_a_furnace_out_of_use_is_shown_in_the_weeks_it_worked_in(told: Hall) -> None:
    told.floor.do(SetFurnace(furnace=replace(HOT, withdrawn=True), key="w"), QUALITY)

    assert len(week_of(told).furnaces) == 1
    assert week_of(told, "2026-W39").furnaces == ()
