"""A longer search runs in a process of its own, shows how far it is, stops, and is kept."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from ringwright.balance.answer import build
from ringwright.balance.limits import Limits
from ringwright.balance.pool import Blade, Pool
from ringwright.balance.work import Work
from ringwright.core.errors import Missing, Refused
from ringwright.sets.run_question import RunQuestion, question_data, question_of
from ringwright.sets.run_store import BROKEN_OFF, DONE, STOPPED, RunNow, add_run
from ringwright.sets.runs import SILENT_US, Asking, read_run, start_run, stop_run
from tests.make.sets import CODE, PRODUCT, RingHall, finished, open_hall

ASKING = Asking(site=CODE, product=PRODUCT, pool="", actor="planner-1")


@pytest.fixture
def hall(store_url: str) -> Iterator[RingHall]:
    shop = open_hall(store_url, finished(1))
    yield shop
    shop.ledger.store.close()


def pool(count: int) -> Pool:
    return Pool(
        blades=tuple(
            Blade(serial=b.serial, moment_g_mm=b.moment, frequency_hz=b.tone)
            for b in finished(count)
        )
    )


def question(count: int = 40, **more: object) -> RunQuestion:
    limits = Limits(slots=8, frequency_spread_hz=1.5)
    return RunQuestion(pool=pool(count), limits=limits, **more)  # type: ignore[arg-type]


def ended(hall: RingHall, code: str) -> RunNow:
    for _ in range(300):
        found = read_run(hall.ledger, CODE, code)
        if not found.going:
            return found
        time.sleep(0.1)
    raise AssertionError(f"the run did not end: {found.state}, {found.doing}")


def test_a_run_answers_what_the_command_answers(hall: RingHall) -> None:
    asked = question(sets=2)

    found = ended(hall, start_run(hall.ledger, ASKING, asked))

    assert found.state == DONE
    assert found.answer is not None
    work = Work(clock=time.monotonic)
    by_command = build(asked.pool, asked.limits, work, sets=2)
    assert [one["slots"] for one in found.answer["sets"]] == [
        list(asked.pool.serials(one.places)) for one in by_command.sets
    ]
    assert found.answer["bound"]["max_sets"] >= 2


def test_a_run_that_is_impossible_says_why(hall: RingHall) -> None:
    limits = Limits(slots=8, opposite_g_mm=0.001)
    asked = RunQuestion(pool=pool(8), limits=limits, sets=1)

    found = ended(hall, start_run(hall.ledger, ASKING, asked))

    assert found.state == DONE
    assert found.answer is not None
    assert found.answer["smallest"] > 0


def test_a_stopped_run_keeps_the_best_it_has(hall: RingHall) -> None:
    big = RunQuestion(pool=pool(200), limits=Limits(slots=100), sets=1, effort=5)
    code = start_run(hall.ledger, ASKING, big)
    while read_run(hall.ledger, CODE, code).state != "running":
        time.sleep(0.05)
    time.sleep(1.5)
    begun = time.monotonic()

    stop_run(hall.ledger, CODE, code)
    found = ended(hall, code)

    assert found.state == STOPPED
    assert time.monotonic() - begun < 15
    assert found.answer is not None
    assert len(found.answer["sets"][0]["slots"]) == 100


def test_runs_take_turns_and_one_that_waits_can_be_stopped(hall: RingHall) -> None:
    big = RunQuestion(pool=pool(200), limits=Limits(slots=100), sets=1, effort=5)
    first = start_run(hall.ledger, ASKING, big)
    second = start_run(hall.ledger, ASKING, question(sets=1))

    assert read_run(hall.ledger, CODE, second).state == "queued"
    stop_run(hall.ledger, CODE, second)
    stop_run(hall.ledger, CODE, first)

    assert ended(hall, second).state == STOPPED


def test_a_run_lost_with_its_server_is_told_as_broken_off(hall: RingHall) -> None:
    long_ago = hall.clock.now_us() - SILENT_US - 1
    values = {
        "site_id": 1, "code": "abc123", "state": "running", "product": PRODUCT, "pool": "",
        "question": "{}", "answer": None, "share": 0.4, "doing": "ordering",
        "stop_asked": False, "actor": "planner-1", "at_us": long_ago, "heard_us": long_ago,
    }  # fmt: skip
    with hall.ledger.store.write(1) as connection:
        add_run(connection, values)

    found = read_run(hall.ledger, CODE, "abc123")

    assert found.state == BROKEN_OFF
    assert "start the run again" in found.doing


def test_an_unknown_run_and_a_senseless_ceiling_are_refused(hall: RingHall) -> None:
    for code in ("nothing", "../x", ""):
        with pytest.raises(Missing):
            read_run(hall.ledger, CODE, code)
    for seconds in (0.0, -1.0, 1e9):
        with pytest.raises(Refused):
            start_run(hall.ledger, ASKING, question(seconds=seconds))


def test_a_question_is_kept_whole_and_can_be_repeated() -> None:
    limits = Limits(
        slots=8,
        disc_g_mm=3 + 4j,
        locks={3: "RB-3"},
        excluded=frozenset({"RB-9"}),
        alternate=True,
    )
    asked = RunQuestion(pool=pool(20), limits=limits, effort=5, seed=7, prove=True)

    assert question_of(question_data(asked)) == asked
