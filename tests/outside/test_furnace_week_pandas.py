"""Random weeks of two furnaces: every figure of the furnace week the same from pandas.

What was done is written down beside the record as it is booked, and worked out again from
those notes by pandas, with Wilson's interval by statsmodels
`proportion_confint(method="wilson")`. The week is that of the change to winter time in Oslo
(25 October 2026, 169 hours).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from statsmodels.stats.proportion import proportion_confint

from ringwright.assembly import SYSTEM
from ringwright.furnaces.service import ReviseRecipe, SetFurnace
from ringwright.heat.recipe import SOAK
from ringwright.heatruns.week import Passed, WeekOfFurnaces, read_furnace_week
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Calendar, Shift, Station
from tests.make.floor import CODE, MINUTE_US, QUALITY
from tests.make.furnaces import CYCLE, FURNACE, HOT, Hall, open_hall
from tests.make.heat_weeks import at, begin, end, sentence

WEEK, ZONE = "2026-W43", ZoneInfo("Europe/Oslo")
START = pd.Timestamp("2026-10-19", tz=ZONE)
END = pd.Timestamp("2026-10-26", tz=ZONE)
OTHER = "HF-2"
PLANS = {("SLOW", "1"): 60.0, ("SLOW", "2"): 75.0}


@dataclass
class Notes:
    """What was done, as somebody would write it down."""

    runs: list[dict[str, Any]] = field(default_factory=list)
    parts: list[dict[str, Any]] = field(default_factory=list)


def tell(hall: Hall, dice: random.Random) -> Notes:
    """A fortnight of runs in both furnaces, some too cold, some broken off."""
    notes, number = Notes(), 0
    furnaces = {FURNACE: ("left", "middle", "right"), OTHER: ("front", "rear")}
    for code, positions in furnaces.items():
        hot = replace(HOT, code=code, positions=positions, proofs={}, channels=HOT.channels[:1])
        hall.floor.do(SetFurnace(furnace=hot, key=f"set-{code}"), QUALITY)
    now = START - pd.Timedelta(days=2)
    while now < END + pd.Timedelta(days=1):
        now += pd.Timedelta(minutes=dice.randrange(150, 900))
        if now > START + pd.Timedelta(days=3) and not any(
            r["revision"] == "2" for r in notes.runs
        ):
            _revise(hall)
        code = dice.choice(list(furnaces))
        places = dice.sample(furnaces[code], dice.randrange(1, len(furnaces[code]) + 1))
        load = {f"P-{number + n:03}": place for n, place in enumerate(places)}
        number += len(load)
        now = _one_run(hall, dice, notes, (code, load, now))
    return notes


def _revise(hall: Hall) -> None:
    segments = tuple(
        replace(one, min_minutes=75.0) if one.kind == SOAK else one for one in CYCLE.segments
    )
    revised = replace(CYCLE, revision="2", segments=segments)
    hall.floor.do(ReviseRecipe(recipe=revised, key="rev-2"), QUALITY)


def _one_run(
    hall: Hall,
    dice: random.Random,
    notes: Notes,
    what: tuple[str, dict[str, str], pd.Timestamp],
) -> pd.Timestamp:
    code, load, now = what
    began = now + pd.Timedelta(minutes=70)
    run = begin(hall, _us(began), load, furnace=code)
    revision = hall.run(run).revision
    minutes, way = dice.randrange(140, 260), dice.choice(("good", "good", "cold", "broken"))
    over = began + pd.Timedelta(minutes=minutes)
    if way == "broken":
        at(hall, _us(over))
        hall.abort(run)
    else:
        end(hall, run, minutes, 900.0 if way == "good" else 880.0)
    row = {"run": run, "furnace": code, "revision": revision, "began": began, "over": over}
    notes.runs.append({**row, "way": way, "load": len(load), "places": len(_places(code))})
    for serial, place in load.items():
        outcome = "pass" if way == "good" else dice.choice(("rework", "scrap"))
        if way != "good":
            sentence(hall, serial, outcome)
        else:
            continue
        notes.parts.append({**row, "place": place, "outcome": outcome, "at": _now(hall)})
    if way == "good":
        hall.accept(run)
        for place in load.values():
            notes.parts.append({**row, "place": place, "outcome": "pass", "at": _now(hall)})
    else:
        hall.close(run)
    return max(_now(hall), over)


def _places(code: str) -> tuple[str, ...]:
    return ("left", "middle", "right") if code == FURNACE else ("front", "rear")


def _us(moment: pd.Timestamp) -> int:
    return moment.value // 1000


def _now(hall: Hall) -> pd.Timestamp:
    return pd.Timestamp(hall.floor.clock.at_us, unit="us", tz="UTC").tz_convert(ZONE)


@pytest.fixture(params=range(4))
def told(request: pytest.FixtureRequest, sqlite_url: str) -> tuple[Notes, WeekOfFurnaces]:
    """Notes and answer of one seed."""
    hall = open_hall(sqlite_url)
    station = Station(code=OTHER, name="Hot 2", group="furnaces", calendar="day", capacity=2)
    shift = Shift(days=(0, 1, 2, 3, 4, 5, 6), start="22:00", end="06:00")
    for thing in (Calendar(code="day", shifts=(shift,)), station):
        hall.floor.do(SetGroundRule(thing=thing, key=f"g-{thing.code}"), SYSTEM)
    notes = tell(hall, random.Random(f"furnace week {request.param}"))
    with hall.floor.ledger.read(CODE) as read:
        week = read_furnace_week(read, WEEK)
    hall.floor.ledger.store.close()
    return notes, week


def overlap_h(begin: Any, end: Any) -> float:
    clipped = end.clip(upper=END) - begin.clip(lower=START)
    return float(clipped.clip(lower=pd.Timedelta(0)).dt.total_seconds().sum()) / 3600


def in_week(moments: Any) -> Any:
    return (moments >= START) & (moments < END)


def test_use_load_and_cycle_times_are_those_of_pandas(
    told: tuple[Notes, WeekOfFurnaces],
) -> None:
    notes, week = told
    every = pd.DataFrame(notes.runs)
    assert week.end_us - week.start_us == 169 * 60 * MINUTE_US

    for one in week.furnaces:
        runs = every[every.furnace == one.code]
        begun, over = runs[in_week(runs.began)], runs[in_week(runs.over)]
        assert one.use.share == pytest.approx(overlap_h(runs.began, runs.over) / 169)
        assert (one.fill.loaded, one.fill.positions) == (begun.load.sum(), begun.places.sum())
        assert one.cycles.begun == len(begun)
        assert one.cycles.aborted == (over.way == "broken").sum()
        finished = over[over.way != "broken"]
        assert one.cycles.not_met == (finished.way == "cold").sum()
        took = (finished.over - finished.began) / pd.Timedelta(minutes=1)
        plan = finished.revision.map(lambda revision: PLANS["SLOW", revision])
        expected = (took.median(), took.max(), (took - plan).median(), (took - plan).max())
        answer = (
            one.cycles.median_min, one.cycles.longest_min,
            one.cycles.median_over_min, one.cycles.longest_over_min,
        )  # fmt: skip
        assert answer == pytest.approx(expected)


def test_working_hours_are_those_of_pandas_across_the_change_of_the_clock(
    told: tuple[Notes, WeekOfFurnaces],
) -> None:
    """Nights from 22 to 6: minute by minute, the hour that came twice counted twice."""
    notes, week = told
    other = next(one for one in week.furnaces if one.code == OTHER)
    minutes = pd.date_range(START, END, freq="min", inclusive="left")
    working = pd.Series((minutes.hour >= 22) | (minutes.hour < 6), index=minutes)
    inside = pd.Series(False, index=minutes)
    for run in notes.runs:
        if run["furnace"] == OTHER:
            inside |= (minutes >= run["began"]) & (minutes < run["over"])

    assert working.sum() == 7 * 8 * 60 + 60
    assert other.use.working_us == working.sum() * MINUTE_US
    assert other.use.in_cycle_working_us == (working & inside).sum() * MINUTE_US


def test_yields_and_their_intervals_are_those_of_pandas_and_statsmodels(
    told: tuple[Notes, WeekOfFurnaces],
) -> None:
    notes, week = told
    every = pd.DataFrame(notes.parts)
    ended = every[in_week(every["at"])]

    check(week.passed, ended, by_run=True)
    assert {one.code for one in week.furnaces} == {FURNACE, OTHER}
    for furnace in week.furnaces:
        mine = ended[ended.furnace == furnace.code]
        check(furnace.passed, mine, by_run=True)
        for place, passed in furnace.positions:
            check(passed, mine[mine.place == place], by_run=False)
    assert {one.revision for one in week.recipes} <= {"1", "2"}
    for recipe in week.recipes:
        check(recipe.passed, ended[ended.revision == recipe.revision], by_run=True)


def check(passed: Passed, rows: pd.DataFrame, *, by_run: bool) -> None:
    """One group's figures."""
    good, n = int((rows.outcome == "pass").sum()), len(rows)
    assert (passed.passed, passed.first, passed.again) == (good, n, 0)
    if not n:
        assert passed.share.value is None
        return
    rests_on = rows.run.nunique() if by_run else n
    low, high = proportion_confint(good / n * rests_on, rests_on, alpha=0.05, method="wilson")
    answer = (passed.share.value, passed.share.low, passed.share.high)
    assert answer == pytest.approx((good / n, low, high), abs=1e-12)
