"""From the load to the acceptance: what each step of a furnace run asks, and what it books."""

from __future__ import annotations

import pytest
from sqlalchemy import insert, select

from ringwright.attachments.content import judged
from ringwright.attachments.rules import TRACE_MEDIA, media_of
from ringwright.bench.acts import Sentence, Stop
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.flow.loads import loads_of
from ringwright.furnaces.service import Renew
from ringwright.furnaces.tables import FurnaceRun
from ringwright.heat.packing import pack
from ringwright.heatruns.running import Unload
from ringwright.ledger.verify import audit
from ringwright.parts.tables import Nonconformity, Visit
from ringwright.replaying import compare
from ringwright.trace.queries import read_touches
from ringwright.trace.question import Question
from tests.make.floor import CODE, INSPECTOR, MAKER, MINUTE_US, QUALITY, SUPERVISOR
from tests.make.furnaces import FURNACE, Hall

HOUR_US = 60 * MINUTE_US


def place(hall: Hall, serial: str) -> tuple[str, int | None]:
    """Where a part stands."""
    part = hall.floor.part(serial)
    return part.place, part.step


def test_a_load_begins_together_and_passes_together(hall: Hall) -> None:
    run = hall.whole_run("S-1", "S-2")

    assert hall.run(run).state == "for review"
    assert place(hall, "S-1") == ("in work", 20)
    answer = hall.accept(run)

    assert answer["state"] == "accepted"
    assert place(hall, "S-1") == place(hall, "S-2") == ("waiting", 30)
    rows = hall.floor.rows((Visit.station, Visit.outcome), Visit.step == 20)
    assert rows == [(FURNACE, "pass")] * 2


def test_each_part_keeps_its_position(hall: Hall) -> None:
    hall.waiting("S-1", "S-2", "S-3")
    run = hall.open()

    hall.load(run, "S-1", "right")
    answer = hall.load(run, "S-2")
    hall.load(run, "S-3")

    assert answer["position"] == "left"
    assert hall.run(run).load == {"S-1": "right", "S-2": "left", "S-3": "middle"}


def test_a_full_furnace_takes_no_more(hall: Hall) -> None:
    hall.waiting("S-1", "S-2", "S-3", "S-4")
    run = hall.open()
    for serial in ("S-1", "S-2", "S-3"):
        hall.load(run, serial)

    with pytest.raises(Refused, match="full: 3 positions"):
        hall.load(run, "S-4")
    with pytest.raises(Refused, match="position left holds S-1"):
        hall.load(run, "S-4", "left")
    with pytest.raises(Refused, match="no position 'roof'"):
        hall.load(run, "S-4", "roof")


def test_a_part_that_does_not_wait_for_the_recipe_s_step_stays_out(hall: Hall) -> None:
    hall.floor.book("create", "S-9", product="SAIL")
    run = hall.open()

    with pytest.raises(Refused, match="waits for step 10; SLOW does step 20 of SAIL"):
        hall.load(run, "S-9")
    with pytest.raises(Missing, match="no part S-77"):
        hall.load(run, "S-77")


def test_a_held_part_stays_out(hall: Hall) -> None:
    hall.waiting("S-1")
    hall.floor.book("hold", "S-1", reason="look at the seam")

    with pytest.raises(Refused, match="on hold"):
        hall.load(hall.open(), "S-1")


def test_a_part_lies_in_one_run_only(hall: Hall) -> None:
    run = hall.whole_run("S-1")
    hall.floor.book("create", "S-2", product="SAIL")
    second = hall.open()

    with pytest.raises(Refused, match=rf"S-1 is in work|lies in {run}"):
        hall.load(second, "S-1")


def test_a_furnace_has_one_run_at_a_time(hall: Hall) -> None:
    run = hall.open()

    with pytest.raises(Clash, match=f"taken by {run}, which is loading"):
        hall.open()


def test_nothing_starts_while_a_proof_is_lacking(bare: Hall) -> None:
    bare.waiting("S-1")
    bare.prove("leak")
    run = bare.open()
    bare.load(run, "S-1")

    with pytest.raises(Refused, match="no temperature uniformity survey on record"):
        bare.start(run)
    assert place(bare, "S-1") == ("waiting", 20)
    bare.prove()
    assert bare.start(run)["state"] == "running"


@pytest.mark.parametrize(
    ("days", "starts"), [(7, True), (8, False)], ids=["last day", "day after"]
)
def test_an_overdue_proof_blocks_the_furnace(hall: Hall, days: int, starts: bool) -> None:
    """The leak rate of 28 September holds seven days: to 5 October inclusive."""
    hall.floor.clock.at_us += days * 24 * HOUR_US
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")

    if starts:
        assert hall.start(run)["state"] == "running"
    else:
        with pytest.raises(Refused, match="overdue for its leak rate since 2026-10-06"):
            hall.start(run)


def test_a_failed_survey_blocks_the_furnace_and_names_the_last_good_one(hall: Hall) -> None:
    """AMS 2750 class 4: 10 degC either side (value from memory, see tests/heat)."""
    hall.floor.clock.at_us += 24 * HOUR_US
    answer = hall.prove(value=11.0, on="2026-09-29", note="rear left is hot")
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")

    assert answer["good"] is False
    assert answer["last_good"] == "2026-09-28"
    with pytest.raises(Refused, match="failed its temperature uniformity survey"):
        hall.start(run)


def test_a_worn_thermocouple_blocks_until_it_is_renewed(hall: Hall) -> None:
    for number in range(3):
        run = hall.whole_run(f"S-{number}")
        hall.accept(run)
    hall.waiting("S-9")
    run = hall.open()
    hall.load(run, "S-9")

    with pytest.raises(Refused, match="tc2_c has been used in 3 runs, 3 at most"):
        hall.start(run)
    hall.floor.do(Renew(furnace=FURNACE, channel="tc2_c", key=hall.floor.key()), QUALITY)
    assert hall.start(run)["state"] == "running"


def test_a_cycle_held_too_cold_stops_every_part_for_review(hall: Hall) -> None:
    run = hall.whole_run("S-1", "S-2", held_at_c=880.0)

    assert hall.run(run).state == "held"
    for serial in ("S-1", "S-2"):
        assert hall.floor.part(serial).hold is not None
    with pytest.raises(Refused, match="is held"):
        hall.accept(run)
    with pytest.raises(Refused, match="still waits for its sentence"):
        hall.close(run)


def test_an_aborted_cycle_stops_every_part(hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")
    hall.start(run)

    hall.abort(run)

    assert hall.run(run).state == "aborted"
    assert hall.floor.part("S-1").hold is not None


def test_a_run_given_up_before_it_began_leaves_its_parts_waiting(hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")

    hall.abort(run, "wrong recipe")

    assert place(hall, "S-1") == ("waiting", 20)
    assert hall.floor.part("S-1").hold is None
    hall.load(hall.open(), "S-1")


def test_a_blade_stopped_by_itself_keeps_the_others_waiting_until_it_is_decided(
    hall: Hall,
) -> None:
    run = hall.whole_run("S-1", "S-2", "S-3")
    key = hall.floor.key
    hall.floor.do(Stop(serial="S-2", defect="skin torn", key=key()), INSPECTOR)

    with pytest.raises(Refused, match="S-2 is held; decide that first"):
        hall.accept(run)
    (number,) = hall.floor.rows((Nonconformity.number,), Nonconformity.serial == "S-2")[0]
    again = Sentence(
        serial="S-2",
        key=key(),
        nonconformity=number,
        decision="rework",
        reason="torn at the edge",
    )
    hall.floor.do(again, QUALITY)
    hall.accept(run)

    assert hall.run(run).state == "accepted"
    assert place(hall, "S-1") == place(hall, "S-3") == ("waiting", 30)
    assert place(hall, "S-2") == ("waiting", 20)


def test_the_load_of_a_run_is_its_own_though_the_next_began_before_its_review(
    hall: Hall,
) -> None:
    """The load is read off the visits (see `ringwright.flow.loads`)."""
    first = hall.whole_run("S-1", "S-2")
    second = hall.whole_run("S-3")
    wanted = (Visit.serial, Visit.step, Visit.station, Visit.run, Visit.begin_us, Visit.end_us)
    hall.accept(first)
    with hall.floor.ledger.read(CODE) as read:
        rows = read.connection.execute(select(*wanted).where(Visit.step == 20)).all()
        touched = read_touches(read, Question(kind="run", value=first))

    assert [load.serials for load in loads_of(rows)] == [("S-1", "S-2"), ("S-3",)]
    assert [one.serial for one in touched] == ["S-1", "S-2"]
    assert hall.run(second).state == "for review"


def test_a_run_is_numbered_past_the_highest(hall: Hall) -> None:
    """Also where a loaded record lacks some of the runs before."""
    with hall.floor.ledger.read(CODE) as read:
        site_id = read.site.id
    texts = dict.fromkeys(("recipe", "revision", "data"), "")
    figures = dict.fromkeys(("opened_us", "number", "last_seq"), 1)
    row = {"code": "HF-1-0041", "furnace": FURNACE, "state": "closed"}
    with hall.floor.ledger.store.write(site_id) as connection:
        connection.execute(
            insert(FurnaceRun).values(site_id=site_id, **row, **texts, **figures)
        )

    assert hall.open() == "HF-1-0042"


def test_who_ran_it_may_not_accept_it(hall: Hall) -> None:
    run = hall.whole_run("S-1")

    with pytest.raises(Forbidden):
        hall.accept(run, MAKER)
    both = type(MAKER)(code=MAKER.code, roles=frozenset({"maker", "inspector"}))
    with pytest.raises(Refused, match="and may not accept"):
        hall.accept(run, both)


@pytest.mark.parametrize("lacking", ["gas", "thermocouples", "coupons"])
def test_what_was_not_looked_at_is_not_accepted(hall: Hall, lacking: str) -> None:
    run = hall.whole_run("S-1")

    with pytest.raises(Refused, match="say "):
        hall.accept(run, **{lacking: " "})
    assert hall.run(run).state == "for review"


def test_a_part_in_a_run_is_not_passed_by_itself(hall: Hall) -> None:
    hall.whole_run("S-1")

    with pytest.raises(Refused, match="whose acceptance ends this step"):
        hall.floor.book("end", "S-1", step=20, outcome="pass")


def test_a_single_part_is_not_begun_at_a_furnace(hall: Hall) -> None:
    hall.waiting("S-1")

    with pytest.raises(Refused, match="load the part into a run"):
        hall.floor.book("begin", "S-1", step=20, station=FURNACE)


def test_who_accepts_did_not_work_on_the_part(hall: Hall) -> None:
    """Common practice, no source: the reviewer of a cycle may inspect the part afterwards."""
    hall.accept(hall.whole_run("S-1"), INSPECTOR)

    hall.floor.book("begin", "S-1", INSPECTOR, step=30)
    answer = hall.floor.book("end", "S-1", INSPECTOR, step=30, outcome="pass")
    assert answer["part"]["place"] == "released"


def test_readings_of_another_day_are_not_taken(hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")
    hall.start(run)

    with pytest.raises(Refused, match="wholly outside"):
        hall.keep(run, hall.trace(since_s=hall.started_s - 86_400))


def test_the_same_readings_are_kept_once(hall: Hall) -> None:
    run = hall.whole_run("S-1")

    with pytest.raises(Refused, match="in the record already"):
        hall.keep(run, hall.trace())


def test_somebody_who_acted_first_is_named(hall: Hall) -> None:
    hall.waiting("S-1")
    run = hall.open()
    seen = hall.run(run).last_seq
    hall.load(run, "S-1")

    with pytest.raises(Clash, match="somebody acted"):
        hall.floor.do(
            Unload(run=run, serial="S-1", seen=seen, key=hall.floor.key()), SUPERVISOR
        )


def test_the_record_replays_to_the_same_rows(hall: Hall, store_url: str) -> None:
    hall.accept(hall.whole_run("S-1", "S-2"))
    hall.whole_run("S-3", held_at_c=850.0)

    assert compare(store_url)[1] is None
    with hall.floor.ledger.store.read() as connection:
        assert audit(connection)[1] is None


def test_what_is_packed_is_known_as_a_trace_and_nobody_uploads_one() -> None:
    packed = pack(Hall.trace(object.__new__(Hall), since_s=1.0))

    assert media_of(packed) == TRACE_MEDIA
    with pytest.raises(Refused, match="of no kind that is kept"):
        judged(packed)


@pytest.mark.parametrize(("minutes", "goes_in"), [(240, True), (241, False)])
def test_a_part_whose_window_has_run_out_stays_out(
    hall: Hall, minutes: int, goes_in: bool
) -> None:
    """Cleaned at step 10, it must begin step 20 within four hours; the edge is inside."""
    hall.waiting("S-1")
    cleaned_us = hall.floor.clock.at_us
    run = hall.open()
    hall.floor.clock.at_us = cleaned_us + (minutes - 1) * MINUTE_US

    if goes_in:
        assert hall.load(run, "S-1")["position"] == "left"
    else:
        with pytest.raises(Refused, match="window of S-1 ran out"):
            hall.load(run, "S-1")


def test_a_window_that_runs_out_in_the_furnace_keeps_the_cycle_from_starting(
    hall: Hall,
) -> None:
    hall.waiting("S-1")
    run = hall.open()
    hall.load(run, "S-1")
    hall.floor.clock.at_us += 4 * HOUR_US

    with pytest.raises(Refused, match="Take it out of the load"):
        hall.start(run)
    assert place(hall, "S-1") == ("waiting", 20)
