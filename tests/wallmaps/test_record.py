"""Wall plans and sets of readings on record: who may, when, and what is refused."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import pytest
from sqlalchemy import delete, text

from ringwright.attachments.tables import Attachment
from ringwright.attachments.verify import verify_attachments
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.gauges.service import CheckGauge
from ringwright.replaying import compare
from ringwright.sites.gauging import Calibrate, SetGauge, SetMaster
from ringwright.sites.site import Calibration, Gauge, Master
from ringwright.wallmaps.board import THIN_AHEAD, read_case, read_walls
from ringwright.wallmaps.service import KeepWall, SetWallPlan
from tests.make.cases import CaseShop, open_case_shop
from tests.make.floor import CODE, MAKER, MINUTE_US, QUALITY
from tests.make.walls import eccentric, make_plan, wall_of


@pytest.fixture
def shop(store_url: str) -> Iterator[CaseShop]:
    found = open_case_shop(store_url)
    yield found
    found.floor.ledger.store.close()


def test_a_set_is_kept_with_its_step_plan_and_who_read_it(shop: CaseShop) -> None:
    answer = shop.read_at("C-1", 40, source="ut.csv", file_digest="ab" * 32)
    (one,) = shop.sets("C-1")
    assert (one.number, one.step, one.revision, one.readings) == (answer["entry"], 40, "1", 90)
    assert (one.actor, one.method, one.source, one.counts) == (
        "maker-1", "ultrasonic", "ut.csv", True,
    )  # fmt: skip


def test_the_same_key_answers_as_it_did_and_keeps_once(shop: CaseShop) -> None:
    first = shop.read_at("C-1", 40, key="once")
    again = shop.keep("C-1", wall_of(make_plan(), 40), key="once")
    assert again == first
    assert len(shop.sets("C-1")) == 1


def test_readings_out_of_the_visit_are_refused(shop: CaseShop) -> None:
    readings = wall_of(make_plan(), 40)
    with pytest.raises(Missing, match="no part C-9"):
        shop.keep("C-9", readings)
    shop.bring_to("C-1", 30)
    with pytest.raises(Refused, match="at step 30; its plan reads the wall at step 20, 40, 60"):
        shop.keep("C-1", readings)
    shop.floor.book("end", "C-1", MAKER, step=30, outcome="pass")
    with pytest.raises(Refused, match="no open visit"):
        shop.keep("C-1", readings)
    assert shop.sets("C-1") == []


def test_a_screen_that_saw_another_step_is_told_to_look_again(shop: CaseShop) -> None:
    shop.bring_to("C-1", 40)
    with pytest.raises(Clash, match="at step 40 now, not at 20"):
        shop.keep("C-1", wall_of(make_plan(), 20), step=20)


def test_the_very_same_readings_are_not_kept_twice_but_new_ones_are(shop: CaseShop) -> None:
    shop.read_at("C-1", 40)
    with pytest.raises(Refused, match="in the record already"):
        shop.keep("C-1", wall_of(make_plan(), 40))
    shop.keep("C-1", wall_of(make_plan(), 40, eccentric(0.1, 10)))
    assert len(shop.sets("C-1")) == 2


def test_a_gauge_on_the_register_is_named_in_date_and_fine_enough(shop: CaseShop) -> None:
    for code, u in (("UT-1", 0.02), ("UT-2", 0.2)):
        gauge = Gauge(code=code, kind="ultrasonic", unit="mm", uncertainty=u)
        shop.floor.do(SetGauge(gauge=gauge, key=f"{code}-set"), QUALITY)
    with pytest.raises(Refused, match="say with which one"):
        shop.read_at("C-1", 40)
    readings = wall_of(make_plan(), 40)
    with pytest.raises(Refused, match="decides nothing"):
        shop.keep("C-1", readings, gauge="UT-1")
    for code in ("UT-1", "UT-2"):
        good = Calibration(gauge=code, on="2026-09-01", due="2027-09-01", certificate="K-1")
        shop.floor.do(Calibrate(calibration=good, key=f"{code}-cal"), QUALITY)
    with pytest.raises(Refused, match="UT-2"):
        shop.keep("C-1", readings, gauge="UT-2")  # 2 x 0.2 over a quarter of 0.3
    with pytest.raises(Refused, match="read with a cmm"):
        shop.keep("C-1", readings, gauge="UT-1", method="coordinate")
    shop.keep("C-1", readings, gauge="UT-1")
    assert shop.sets("C-1")[0].u_mm == 0.02
    block = Master(code="BLOCK", gauge_kind="ultrasonic", unit="mm", value=5.0, allowed=0.05)
    shop.floor.do(SetMaster(master=block, key="block"), QUALITY)
    failed = CheckGauge(gauge="UT-1", master="BLOCK", value=5.2, key="check")
    shop.floor.do(failed, QUALITY)
    with shop.floor.ledger.read(CODE) as read:
        assert "UT-1 failed its check on master BLOCK" in read_case(read, "C-1").doubt


def test_who_may_not_measure_keeps_nothing(shop: CaseShop) -> None:
    shop.bring_to("C-1", 40)
    nobody = dataclasses.replace(MAKER, roles=frozenset({"planner"}))
    command = KeepWall(
        serial="C-1", readings=wall_of(make_plan(), 40), method="ultrasonic", key="x"
    )
    with pytest.raises(Forbidden):
        shop.floor.do(command, nobody)


def test_a_withdrawn_set_does_not_count_but_did_as_of_before(shop: CaseShop) -> None:
    entry = shop.read_at("C-1", 40)["entry"]
    shop.floor.clock.at_us += MINUTE_US
    before_us = shop.floor.clock.now_us()
    with pytest.raises(Refused, match="say why"):
        shop.withdraw("C-1", entry, " ")
    shop.withdraw("C-1", entry)
    (one,) = shop.sets("C-1")
    assert (one.counts, one.withdrawn_why, one.withdrawn_by) == (False, "wrong zero", "qe-1")
    assert [one.counts for one in shop.sets("C-1", before_us)] == [True]
    with pytest.raises(Refused, match="withdrawn already"):
        shop.withdraw("C-1", entry)
    with pytest.raises(Refused, match="no set of readings"):
        shop.withdraw("C-1", 1)
    shop.keep("C-1", wall_of(make_plan(), 40))  # withdrawn ones may be handed in again


def test_a_plan_is_kept_once_a_revision_and_must_fit_the_route(shop: CaseShop) -> None:
    plan = make_plan()

    def set_plan(key: str, **changes: object) -> dict[str, object]:
        changed = dataclasses.replace(plan, **changes)  # type: ignore[arg-type]
        return shop.floor.do(SetWallPlan(plan=changed, key=key), QUALITY)

    assert set_plan("a")["added"] is False
    with pytest.raises(Clash, match="new revision"):
        set_plan("b", length_mm=301.0)
    assert set_plan("c", revision="2", gap_mm=50.0)["added"] is True
    with pytest.raises(Refused, match="no step 70"):
        set_plan("d", revision="3", steps=(70,))
    with pytest.raises(Refused, match="no product"):
        set_plan("e", product="NONE", revision="3")


def test_a_set_stays_judged_by_the_plan_of_its_day(shop: CaseShop) -> None:
    shop.read_at("C-1", 40)
    tight = dataclasses.replace(make_plan(), revision="2", effective_from="2026-09-28")
    zones = tuple(dataclasses.replace(z, lower_mm=z.nominal_mm) for z in tight.zones)
    plan = dataclasses.replace(tight, zones=zones)
    shop.floor.do(SetWallPlan(plan=plan, key="p2"), QUALITY)
    shop.read_at("C-2", 40, eccentric(0.05, 0))
    with shop.floor.ledger.read(CODE) as read:
        states = {line.serial: line.state for line in read_walls(read).lines}
    assert states["C-1"] == "inside"
    assert states["C-2"] == "outside"


def test_a_thin_wall_is_told_before_the_last_cut_and_first(shop: CaseShop) -> None:
    for place in range(3):
        serial = f"P-{place}"
        shop.read_at(serial, 40, eccentric(0.05, 30.0 * place))
        shop.read_at(serial, 60, eccentric(0.05 + 0.01 * place, 30.0 * place))
    shop.read_at("C-1", 40, eccentric(0.05, 0))
    shop.read_at("C-2", 40, eccentric(0.29, 140))
    with shop.floor.ledger.read(CODE) as read:
        found = read_walls(read, "X-CASE")
        case = read_case(read, "C-2")
        earlier = read_case(read, "P-0", 40)
    # P-0 to P-2 were checked at the last step and not released: they are in work too.
    assert found.lines[0].serial == "C-2"
    assert found.lines[0].state == THIN_AHEAD
    first = found.lines[0].first
    assert first is not None
    assert (first.point.reading.angle_deg, first.cases) == (140.0, 3)
    assert case.shift is not None
    assert case.shift.least_after_mm > case.shift.least_before_mm
    assert case.takes_readings
    assert [(step.first.step, step.last.step) for step in earlier.steps] == [(40, 60)]
    assert earlier.learned == {}  # only two other cases: too few


def test_rows_are_those_of_a_replay(shop: CaseShop, store_url: str) -> None:
    entry = shop.read_at("C-1", 40)["entry"]
    shop.withdraw("C-1", entry)
    assert compare(store_url)[1] is None
    with shop.floor.ledger.store.read() as connection:
        assert verify_attachments(connection) == (1, None)


def test_lost_readings_are_noticed_by_the_audit(sqlite_url: str) -> None:
    shop = open_case_shop(sqlite_url)
    entry = shop.read_at("C-1", 40)["entry"]
    store = shop.floor.ledger.store
    with store.engine.begin() as connection:
        connection.execute(text("DROP TRIGGER attachment_no_delete"))
        connection.execute(delete(Attachment))
    with store.read() as connection:
        fault = verify_attachments(connection)[1]
    assert fault is not None
    assert f"of event {entry} is missing" in fault.why
