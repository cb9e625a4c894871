"""The furnaces of the demo's story: every load a run, judged by what its recorder wrote."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from ringwright.core.calendar import parse_instant
from ringwright.heat.back_test import EARLY, FALSE_ALARM, MISSED, QUIET, PastRun, back_test
from ringwright.heat.judge import as_json, judge
from ringwright.heat.trace import Trace
from ringwright.heatruns.breaking import broken_min
from seed_demo.furnaces import CODES, MOST_USES, PROOFS, furnace_of, recipe_of
from seed_demo.plant import demo_site
from seed_demo.shown import Shown, plan_shown
from seed_demo.story import simulate
from seed_demo.told import Told
from seed_demo.traces import STUCK, cycle_from, trace_of
from tests.demo.furnace_story import RunTold, runs_of
from tests.demo.story import DAY_US, NOW, START, parts_of, product_of, told

OSLO = ZoneInfo("Europe/Oslo")
HOUR_US = DAY_US // 24
WEEKS = 10
CLASS_4_C = 10.0
"""AMS 2750, 10 degC either side (from memory; see tests/heat/test_classes.py)."""


def day(us: int) -> str:
    return datetime.fromtimestamp(us / 1e6, OSLO).date().isoformat()


def test_every_blade_is_inflated_in_a_run_and_each_run_is_one_load() -> None:
    begun: dict[str, set[str]] = defaultdict(set)
    for one in parts_of(told(WEEKS)):
        if one.kind == "begin" and one.station in CODES:
            begun[one.data["run"]].add(one.subject)
    runs = runs_of(told(WEEKS))

    assert len(runs) > 15 * WEEKS
    assert {code: set(run.load) for code, run in runs.items() if code in begun} == begun
    assert sum(run.state == "loading" for run in runs.values()) == len(runs) - len(begun) <= 1
    assert sum(map(len, begun.values())) / len(begun) > 3


def test_what_is_said_of_a_run_is_what_its_trace_says() -> None:
    for run in runs_of(told(WEEKS)).values():
        if run.judgement is not None:
            trace, recipe = trace_of(cycle_from(run.cycle)), recipe_of(run.revision)
            assert run.judgement == as_json(judge(trace, recipe))
            assert run.samples == trace.size
        assert run.state != "accepted" or (
            run.met and run.by["run-accepted"] != run.by["run-opened"]
        )


def test_the_runs_that_went_wrong_hold_their_blades_until_each_has_its_sentence() -> None:
    """One not met, one with a dead thermocouple, one aborted, and few of them."""
    runs = {code: run for code, run in runs_of(told(WEEKS)).items() if run.state == "closed"}
    sentenced: dict[str, list[str]] = defaultdict(list)
    stopped: dict[str, str] = {}
    for one in parts_of(told(WEEKS)):
        if one.kind == "begin":
            stopped[one.subject] = one.data.get("run", "")
        elif one.kind == "sentence" and stopped.get(one.subject) in runs:
            sentenced[stopped[one.subject]].append(one.subject)
            assert one.at_us < runs[stopped[one.subject]].at_us["run-closed"]

    why = [
        "aborted"
        if run.judgement is None
        else f"{run.judgement['verdict']}, {len(run.judgement['channels_failed'])} failed"
        for run in runs.values()
    ]
    assert {"aborted", "not met, 0 failed", "met, 1 failed"} == set(why)
    assert 3 <= len(runs) <= 6
    assert {code: sorted(serials) for code, serials in sentenced.items()} == {
        code: sorted(run.load) for code, run in runs.items()
    }


def test_no_run_begins_in_a_furnace_that_is_not_proved_or_with_worn_thermocouples() -> None:
    """Worked out from the facts alone: the newest word on each proof, uses since renewal."""
    last: dict[tuple[str, str], dict[str, Any]] = {}
    uses: dict[tuple[str, str], int] = defaultdict(int)
    furnace_at = {code: run.furnace for code, run in runs_of(told(WEEKS)).items()}
    begun = 0
    for one in told(WEEKS):
        if one.kind == "furnace-proved":
            last[one.subject, one.data["proof"]["what"]] = one.data["proof"]
        elif one.kind == "thermocouple-renewed":
            uses[one.subject, one.data["channel"]] = 0
        elif one.kind == "run-started":
            furnace, begun = furnace_at[one.subject], begun + 1
            for what in PROOFS:
                found = last[furnace, what]
                assert found["good"], (one, found)
                assert found["on"] <= day(one.at_us) <= found["due"], (one, found)
            for channel in furnace_of(furnace).channels:
                assert uses[furnace, channel.code] < MOST_USES
                uses[furnace, channel.code] += 1
    assert begun > 15 * WEEKS
    assert any(one.kind == "thermocouple-renewed" for one in told(WEEKS))


def test_what_is_proved_is_good_by_its_limit_and_is_proved_again_in_time() -> None:
    proved: dict[tuple[str, str], list[dict[str, Any]]] = defaultdict(list)
    for one in told(WEEKS):
        if one.kind == "furnace-proved":
            proof = one.data["proof"]
            proved[one.subject, proof["what"]].append(proof)
            limit = {"survey": CLASS_4_C, "accuracy": 2.2, "leak": 5.0, "gas": 99.995}
            within = proof["value"] >= limit["gas"] if proof["what"] == "gas" else (
                proof["value"] <= limit[proof["what"]]
            )  # fmt: skip
            assert proof["good"] is within, proof
    assert proved.keys() == {(code, what) for code in CODES for what in PROOFS}
    for found in proved.values():
        for before, after in pairwise(found):
            assert after["on"] <= before["due"]


DAYS = (
    "2026-10-26T06:30:00+01:00",  # Monday, when people have just come in
    "2026-10-26T14:00:00+01:00",
    "2026-10-28T02:10:00+01:00",
    "2026-10-30T23:00:00+01:00",
    "2026-10-31T10:00:00+01:00",  # Saturday morning
    "2026-11-01T15:00:00+01:00",  # Sunday
)


def standing(shown: str) -> tuple[tuple[Told, ...], Shown]:
    """Three weeks of a story that is first shown at that moment."""
    now = parse_instant(shown)
    monday = datetime.fromtimestamp(now / 1e6, OSLO).replace(hour=0, minute=0, second=0)
    monday -= timedelta(days=monday.weekday() + 21)
    start = round(monday.timestamp() * 1e6)
    story = simulate(start_us=start, until_us=now, shown_us=now)
    return tuple(story), plan_shown(demo_site(), now)


@pytest.mark.slow
@pytest.mark.parametrize("shown", DAYS)
def test_on_the_day_it_is_first_loaded_something_of_each_kind_stands_there(shown: str) -> None:
    story, plan = standing(shown)
    runs = runs_of(story)
    states: dict[str, list[RunTold]] = defaultdict(list)
    for run in runs.values():
        states[run.state].append(run)
    last = {one.subject: one.data["proof"] for one in story if is_survey(one)}
    shut = {one.subject for one in story if one.kind == "shut"}

    (held,) = states["held"]
    assert (held.furnace, held.met) == ("INF-2", False)
    assert len(states["for review"]) in (1, 2)  # on Monday morning the last two
    assert {run.furnace for run in states["running"]} == {"INF-1"}
    assert (last["INF-2"]["good"], last["INF-2"]["on"]) == (False, day(plan.survey_us))
    assert last["INF-2"]["value"] > CLASS_4_C
    assert timedelta(0) < since(plan.survey_us, shown) < timedelta(hours=26)
    assert last["INF-1"]["good"]
    assert "station:INF-2" in shut


def is_survey(one: Told) -> bool:
    return one.kind == "furnace-proved" and one.data["proof"]["what"] == "survey"


def since(us: int, shown: str) -> timedelta:
    return timedelta(microseconds=parse_instant(shown) - us)


@pytest.mark.slow
@pytest.mark.parametrize("shown", [DAYS[2], DAYS[3], "2026-10-29T10:20:00+01:00"])
def test_on_a_working_day_a_cleaned_blade_waits_whose_window_is_nearly_over(shown: str) -> None:
    story, plan = standing(shown)
    cleaned: dict[str, int] = {}
    for one in parts_of(story):
        if product_of(one) != "HF22-BLADE":
            continue
        if one.kind == "end" and one.data["step"] == 60:
            cleaned[one.subject] = one.at_us
        elif one.kind == "begin" and one.data["step"] == 70:
            cleaned.pop(one.subject, None)
    loaded = {serial for run in runs_of(story).values() for serial in run.load}
    left = [
        us + DAY_US - plan.shown_us for serial, us in cleaned.items() if serial not in loaded
    ]

    assert min(left) > 0
    assert sum(us < 2 * HOUR_US for us in left) == 1
    assert sum(us > 12 * HOUR_US for us in left) >= 2


@pytest.mark.slow
def test_told_on_the_survey_is_passed_and_the_held_run_is_closed() -> None:
    now = NOW + 6 * DAY_US
    story = tuple(simulate(start_us=START, until_us=now, shown_us=NOW))
    before = runs_of(tuple(one for one in story if one.at_us < NOW))
    after = runs_of(story)

    (held,) = (code for code, run in before.items() if run.state == "held")
    assert after[held].state == "closed"
    assert all(run.state != "for review" for code, run in after.items() if code in before)
    surveys = [one.data["proof"] for one in story if is_survey(one) and one.subject == "INF-2"]
    assert [proof["good"] for proof in surveys[-3:]] == [True, False, True]
    assert any(run.furnace == "INF-2" for code, run in after.items() if code not in before)
    late = [one for one in story if one.data.get("defect") == "window ran out"]
    assert len(late) == 1
    again = [
        one for one in story if one.subject == late[0].subject and one.at_us > late[0].at_us
    ]
    begun = [one.data["step"] for one in again if one.kind == "begin"]
    assert begun[:2] == [60, 70]


def past_run(run: RunTold) -> PastRun:
    """The run as the back test reads it, without thermocouples that failed."""
    trace = trace_of(cycle_from(run.cycle))
    assert run.judgement is not None
    failed = run.judgement["channels_failed"]
    worked = {n: read for n, read in trace.temperatures_c.items() if n not in failed}
    return PastRun(
        run=run.code,
        began_us=run.at_us["run-started"],
        ended_us=run.at_us["run-finished"],
        trace=Trace(at_s=trace.at_s, temperatures_c=worked, pressure_kpa=trace.pressure_kpa),
        met=run.met,
        limit_min=None if run.met else broken_min(trace, recipe_of(run.revision)),
    )


@pytest.mark.slow
def test_the_corridor_of_good_runs_flags_the_bad_ones_before_their_limit_breaks() -> None:
    """Over half a year, each revision of the recipe for itself; false alarms as it promises.

    A run whose zone ages or whose regulator stuck is met and flagged too: a good run by its
    trace, and no false alarm to who knows the furnace.
    """
    story = tuple(simulate(start_us=START, until_us=NOW, shown_us=NOW))
    runs = [run for run in runs_of(story).values() if run.judgement is not None]
    quiet = bad = early = alarms = 0
    for revision in ("1", "2"):
        tested = back_test([past_run(run) for run in runs if run.revision == revision])
        bad, early = bad + tested.bad, early + tested.count(EARLY)
        quiet, alarms = quiet + tested.count(QUIET), alarms + tested.count(FALSE_ALARM)
        assert tested.count(MISSED) == 0
        assert tested.median_early_min is not None
        assert tested.median_early_min > 10
    (worst,) = (run for run in runs if is_worst(run))

    assert len(runs) > 400
    assert bad >= 5
    assert early == bad
    assert alarms / (alarms + quiet) < 0.1
    assert worst.state == "accepted"


def is_worst(run: RunTold) -> bool:
    cycle = cycle_from(run.cycle)
    return cycle.fate == STUCK and cycle.stuck_min > 15
