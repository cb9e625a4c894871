"""The demo's furnaces in a store: what the pages read, what people may do, what is told on."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import select

from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.core.errors import Refused
from ringwright.core.instants import midnight_us
from ringwright.floor.standing import read_floor
from ringwright.flow.loads import loads_of
from ringwright.furnaces.queries import Which, read_furnace, read_recipes, read_run, read_runs
from ringwright.furnaces.rules import Run
from ringwright.heat.judge import as_json, judge
from ringwright.heatruns.board import Board, read_board
from ringwright.heatruns.readings import trace_of
from ringwright.heatruns.review import Accept, Close
from ringwright.heatruns.running import OpenRun
from ringwright.ledger.service import Ledger, Read
from ringwright.parts.tables import PartNow, Visit
from ringwright.replaying import compare
from ringwright.trace.question import Question
from ringwright.trace.touched import read_touched
from tests.demo.stores import at_work
from tests.demo.story import DAY_US, NOW
from tests.make.floor import actor

HOUR_US = DAY_US // 24


def board_of(ledger: Ledger) -> Board:
    with ledger.read() as read:
        return read_board(read)


def run_in(ledger: Ledger, state: str) -> Run:
    """The newest run in that state."""
    with ledger.read() as read:
        return read_runs(read.connection, read.site.id, Which(states=[state], most=1))[0]


def test_the_furnace_page_shows_one_that_runs_and_one_whose_survey_failed(
    told_url: str,
) -> None:
    board = board_of(at_work(told_url)[0])
    runs, fails = board.lines

    assert (runs.code, runs.word) == ("INF-1", "running")
    assert runs.run is not None
    assert len(runs.run.batches) >= 1
    assert not runs.against
    assert (fails.code, fails.word) == ("INF-2", "blocked")
    assert [one.why for one in fails.against] == [
        "failed its temperature uniformity survey on 2026-10-29"
    ]
    assert sorted(run.state for run in board.to_decide) == ["for review", "held"]
    assert board.soon == []  # the one whose window runs out soon is on hold
    assert [one.step.number for one in board.soon_held] == [70]
    inside = [one for one in board.waiting if one.deadline_us and one.step.number == 70]
    assert len(inside) >= 3
    assert not [one for one in inside if one.deadline_us and one.deadline_us < NOW]


def test_every_judgement_is_what_judging_the_kept_readings_again_says(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    with ledger.read() as read:
        runs = read_runs(read.connection, read.site.id, Which())
        recipes = {
            (one.code, one.revision): one
            for revisions in read_recipes(read.connection, read.site.id).values()
            for one in revisions
        }
        again = {
            run.code: _judged(read, run, recipes[run.recipe, run.revision]) for run in runs
        }
    judged = {run.code: run.judgement for run in runs if run.judgement is not None}

    assert len(judged) > 40
    assert judged == {code: again[code] for code in judged}
    assert all(judged[run.code]["verdict"] == "met" for run in runs if run.state == "accepted")
    assert all(run.accepted_by not in run.hands for run in runs if run.state == "accepted")


def _judged(read: Read, run: Run, recipe: Any) -> Any:
    trace = trace_of(read.connection, read.site.id, run)
    return as_json(judge(trace, recipe)) if trace is not None else None


def test_from_the_furnace_every_blade_of_its_runs_since_the_last_good_survey_is_listed(
    told_url: str,
) -> None:
    ledger, _ = at_work(told_url)
    with ledger.read() as read:
        past = read_furnace(read.connection, read.site.id, "INF-2")
        assert past is not None
        good = past.last_good("survey")
        assert good is not None
        since_us = midnight_us(good.found.on, read.site.zone)
        question = Question(kind="station", value="INF-2", from_us=since_us)
        touched = set(read_touched(read, question).serials)
        runs = read_runs(read.connection, read.site.id, Which(furnace="INF-2"))
    ended = [max(run.times.values()) for run in runs]
    wanted = {
        serial
        for run, end_us in zip(runs, ended, strict=True)
        if run.started_us and end_us >= since_us  # the day it was surveyed counts whole
        for serial in run.parts
    }

    assert good.found.on < "2026-10-15"
    assert len(wanted) > 60
    assert touched == wanted


def test_loads_read_off_visits_are_the_runs(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    wanted = (Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us)
    with ledger.read() as read:
        query = select(*wanted).where(Visit.station.like("INF-%"), Visit.known_to_us >= 2**62)
        loads = loads_of(read.connection.execute(query).all())
        runs = read_runs(read.connection, read.site.id, Which())
        sheet = read_floor(read, "HF22-BLADE")
        running = {run.code: set(run.parts) for run in runs if run.started_us}

    found = sorted(sorted(load.serials) for load in loads)
    assert found == sorted(sorted(parts) for parts in running.values())
    standing = {run.code: set(run.parts) for run in runs if run.state in STANDING}
    on_floor = [set(load.serials) for load in sheet.loads if load.station.startswith("INF")]
    assert len(standing) == 3
    assert all(parts in on_floor for parts in standing.values())


STANDING = ("running", "for review", "held")


def accept(ledger: Ledger, run: str) -> dict[str, Any]:
    by = actor("inspector-4", "inspector")
    command = Accept(
        run=run, key="by-hand", gas="dry", thermocouples="as drawn", coupons="bright"
    )
    return ledger.execute(None, command, by)


def test_a_run_that_a_person_accepts_is_theirs_with_its_blades(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    code = run_in(ledger, "for review").code
    answer = accept(ledger, code)

    later, said = at_work(told_url, NOW + 3 * DAY_US)

    with later.read() as read:
        run = read_run(read.connection, read.site.id, code)
        assert run is not None
        where = select(PartNow.serial, PartNow.place, PartNow.step).where(
            PartNow.serial.in_(run.parts)
        )
        places = {tuple(row[1:]) for row in read.connection.execute(where)}
    assert answer["state"] == "accepted"
    assert (run.state, run.accepted_by) == ("accepted", "inspector-4")
    assert places == {("waiting", 80)}  # the story goes on without them
    assert said[-1].endswith("events added.")
    assert compare(told_url)[1] is None


def test_a_cycle_with_a_blade_that_a_person_holds_runs_out_and_is_theirs_to_accept(
    told_url: str,
) -> None:
    ledger, _ = at_work(told_url)
    run = run_in(ledger, "running")
    ledger.execute(None, _held(run.parts[0]), actor("quality-engineer", "quality-engineer"))

    for hours in (2, 30):
        later, said = at_work(told_url, NOW + hours * HOUR_US)

    with later.read() as read:
        again = read_run(read.connection, read.site.id, run.code)
        after = read_runs(read.connection, read.site.id, Which(furnace="INF-1"))
    assert again is not None
    assert again.state == "for review"
    assert after[0].code > run.code  # the next one is told all the same
    assert not set(after[0].parts) & set(run.parts)
    assert said[-1].endswith("events added.")
    assert compare(told_url)[1] is None


def _held(serial: str) -> Any:
    given = {"serial": serial, "act": "hold", "reason": "looked at by hand", "key": "by-hand"}
    return Book(booking=make_booking(given, None))


def test_a_person_s_run_takes_the_number_and_the_furnace(told_url: str) -> None:
    """The story's next run bears the number that a person's run took: it is left out."""
    ledger, _ = at_work(told_url, NOW + 2 * DAY_US)
    by = actor("maker", "maker")
    free = next(line for line in board_of(ledger).lines if line.run is None)
    mine = ledger.execute(None, OpenRun(furnace=free.code, recipe="INFLATE-22", key="mine"), by)

    later, said = at_work(told_url, NOW + 6 * DAY_US)

    with later.read() as read:
        run = read_run(read.connection, read.site.id, mine["run"])
        told = read_runs(read.connection, read.site.id, Which(furnace=free.code))
    assert run is not None
    assert (run.state, run.parts) == ("loading", ())
    assert told[0].code == run.code  # none is opened beside it
    assert said[-1].endswith("events added.")
    assert compare(told_url)[1] is None


def test_told_on_what_stood_there_is_decided_by_the_story(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    held, reviewed = run_in(ledger, "held").code, run_in(ledger, "for review").code

    later, _ = at_work(told_url, NOW + 6 * DAY_US)

    with later.read() as read:
        states = {
            code: run.state
            for code in (held, reviewed)
            if (run := read_run(read.connection, read.site.id, code))
        }
        survey = read_furnace(read.connection, read.site.id, "INF-2").latest("survey")  # type: ignore[union-attr]
    assert states == {held: "closed", reviewed: "accepted"}
    assert survey is not None
    assert survey.found.good


def test_the_held_run_is_closed_by_hand_once_its_blades_have_their_sentence(
    told_url: str,
) -> None:
    ledger, _ = at_work(told_url)
    held = run_in(ledger, "held").code
    by = actor("quality-engineer", "quality-engineer")

    with pytest.raises(Refused, match="still waits for its sentence"):
        ledger.execute(None, Close(run=held, reason="looked at", key="close"), by)
