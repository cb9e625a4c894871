"""What is recorded of welds, and what lies outside the ring that keeps it from being."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.bench.acts import Inspect, Sentence, Stop
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Clash, Forbidden, Missing, Refused, SecondNeeded
from ringwright.ledger.rebuild import rebuild
from ringwright.welds.service import SetWeldPlan
from ringwright.welds.tables import WeldDefect, WeldPass, WeldRing, WeldVerdict
from tests.make.floor import (
    DELEGATE,
    INSPECTOR,
    MAKER,
    MAKER_2,
    QUALITY,
    SUPERVISOR,
    actor,
)
from tests.make.second import signed
from tests.make.welds import WeldShop, open_weld_shop, plan

OTHER = actor("insp-2", "inspector")
STRANGER = actor("insp-3", "inspector")


def test_no_part_leaves_the_radiograph_with_an_open_weld(shop: WeldShop) -> None:
    floor = shop.floor
    shop.welded("R-1")
    with pytest.raises(Refused, match="weld 1-OUT is to radiograph, ") as refused:
        floor.book("end", "R-1", INSPECTOR, step=30, outcome="pass")
    assert refused.value.code == "welds-open"
    with pytest.raises(Refused, match="to radiograph"):
        floor.do(Inspect(serial="R-1", key=floor.key()), INSPECTOR)

    shop.film("R-1", "A")
    with pytest.raises(Refused, match="weld 1-OUT is to read"):
        floor.book("end", "R-1", INSPECTOR, step=30, outcome="pass")
    shop.read("R-1", "A")

    floor.book("end", "R-1", INSPECTOR, step=30, outcome="pass")
    floor.visit("R-1", 40)
    floor.visit("R-1", 50, who=OTHER)
    assert floor.part("R-1").place == "released"


def test_a_repair_counts_as_rework_and_comes_back(shop: WeldShop) -> None:
    shop.welded("R-1")
    shop.film("R-1", "A")
    shop.read("R-1", "A", bad=("2-OUT",))
    shop.repaired("R-1", "2-OUT", "B")

    ring = shop.ring("R-1")
    assert ring.films["B"].welds == ("2-OUT", "2-IN")
    shop.read("R-1", "B")
    shop.floor.book("end", "R-1", INSPECTOR, step=30, outcome="pass")
    verdicts = shop.floor.rows(
        [WeldVerdict.weld, WeldVerdict.passed, WeldVerdict.accepted, WeldVerdict.again],
        WeldVerdict.weld.in_(("2-IN", "2-OUT")),
    )
    assert sorted(verdicts) == [
        ("2-IN", 0, True, False), ("2-IN", 0, True, True),
        ("2-OUT", 0, False, False), ("2-OUT", 1, True, False),
    ]  # fmt: skip
    assert shop.floor.rows([WeldDefect.weld, WeldDefect.kind]) == [("2-OUT", "2011")]
    assert shop.floor.rows([WeldRing.open, WeldRing.repairs]) == [(0, 1)]


def test_at_the_limit_the_part_is_held_with_the_reading(shop: WeldShop) -> None:
    shop.welded("R-1")
    shop.film("R-1", "A")
    shop.read("R-1", "A", bad=("2-OUT",))
    for film in ("B", "C"):
        shop.repaired("R-1", "2-OUT", film)
        answer = shop.read("R-1", film, bad=("2-OUT",))

    assert answer["held"]
    assert "repaired 2 times" in str(shop.floor.part("R-1").hold)
    with pytest.raises(Refused, match="on hold"):
        shop.tell("R-1", "weld-excavated", weld="2-OUT", depth_mm=1)
    shop.floor.book("unhold", "R-1", SUPERVISOR)
    shop.floor.book("end", "R-1", INSPECTOR, step=30, outcome="rework")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    with pytest.raises(Refused, match="the most that WP-1 allows") as refused:
        shop.tell("R-1", "weld-excavated", weld="2-OUT", depth_mm=1)
    assert refused.value.code == "repair-limit"


def test_the_design_authority_may_let_a_weld_go_that_was_read(shop: WeldShop) -> None:
    floor = shop.floor
    shop.welded("R-1")
    shop.film("R-1", "A", *plan().welds[:6])
    ring = shop.ring("R-1")
    assert len(ring.films["A"].welds) == 6
    shop.read("R-1", "A", bad=("2-OUT",))
    stop = Stop(serial="R-1", defect="lack of fusion", key=floor.key())
    number = floor.do(stop, INSPECTOR)["event"]["site_seq"]
    sentence = Sentence(
        serial="R-1", nonconformity=number, decision="concession", document="C-7",
        scope="weld 2-OUT", quantity=1, key=floor.key(),
    )  # fmt: skip
    by = signed(DELEGATE, "qe-1", "quality-engineer")
    with pytest.raises(
        Refused, match="weld 4-OUT is to radiograph, weld 4-IN is to radiograph"
    ):
        floor.do(sentence, by)

    shop.film("R-1", "B", "4-OUT", "4-IN")
    shop.read("R-1", "B")
    floor.do(sentence, by)

    floor.visit("R-1", 40)
    floor.visit("R-1", 50, who=OTHER)
    assert floor.part("R-1").place == "released"


def test_a_pass_is_not_corrected_into_the_record(shop: WeldShop) -> None:
    floor = shop.floor
    shop.welded("R-1")
    answer = floor.book("end", "R-1", INSPECTOR, step=30, outcome="rework", defect="typo")
    wrong = answer["event"]["site_seq"]
    change = Correct(
        serial="R-1", entry=wrong, changes={"outcome": "pass"}, reason="typo", key=floor.key()
    )
    with pytest.raises(Refused, match="to radiograph"):
        floor.do(change, signed(SUPERVISOR, "qe-1", "quality-engineer"))


def test_products_without_a_weld_plan_are_untouched(shop: WeldShop) -> None:
    shop.floor.bring_to("O-1", 20)
    shop.floor.book("end", "O-1", MAKER, step=20, outcome="pass")
    assert shop.floor.part("O-1").step == 30
    with pytest.raises(Missing, match="OAR has no weld plan in force"):
        shop.tell("O-1", "welds-made", welds=["1-OUT"])


def test_a_part_welded_before_the_plan_is_untouched(store_url: str) -> None:
    shop = open_weld_shop(store_url, plan(effective_from='"2027-01-01"'))
    shop.waiting("R-1")
    shop.floor.visit("R-1", 20)
    shop.floor.visit("R-1", 30, who=INSPECTOR)
    assert shop.floor.part("R-1").step == 40
    shop.floor.ledger.store.close()


def test_whoever_may_not_weld_is_refused(shop: WeldShop) -> None:
    shop.waiting("R-1")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    shop.fit("R-1")
    with pytest.raises(Forbidden, match="maker-2 holds no authorisation for weld-tig"):
        shop.make("R-1", who=MAKER_2)


def test_whoever_may_not_read_films_is_refused(shop: WeldShop) -> None:
    shop.welded("R-1")
    shop.film("R-1", "A")
    with pytest.raises(Forbidden, match="RT-2"):
        shop.read("R-1", "A", who=STRANGER)
    shop.read("R-1", "A", who=OTHER)


def test_roles_record_their_own_part_of_it(shop: WeldShop) -> None:
    shop.waiting("R-1")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    with pytest.raises(Forbidden):
        shop.make("R-1", who=INSPECTOR)
    with pytest.raises(Forbidden):
        shop.tell("R-1", "penetrant-read", MAKER, clear=["1-OUT"])
    with pytest.raises(Forbidden):
        shop.floor.do(SetWeldPlan(plan=plan(), key="p"), MAKER)


def test_welding_wants_the_part_at_its_step(shop: WeldShop) -> None:
    shop.waiting("R-1")
    with pytest.raises(Refused, match="R-1 is waiting; begin step 20 at the Bench first"):
        shop.fit("R-1")


def test_the_same_key_is_recorded_once(shop: WeldShop) -> None:
    shop.waiting("R-1")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    shop.fit("R-1")
    said: dict[str, Any] = {"welds": ["1-OUT"], "filler_lot": "F-1", "procedure": "WP-1"}
    said |= {"oxygen_ppm": 20, "colour": "silver"}
    first = shop.tell("R-1", "welds-made", key="twice", **said)

    assert shop.tell("R-1", "welds-made", key="twice", **said) == first
    assert shop.floor.rows([WeldPass.weld]) == [("1-OUT",)]
    with pytest.raises(Clash):
        shop.tell("R-1", "welds-made", key="twice", **{**said, "welds": ["1-IN"]})


def test_the_second_of_two_looks_again(shop: WeldShop) -> None:
    shop.waiting("R-1")
    shop.floor.book("begin", "R-1", MAKER, step=20)
    shop.fit("R-1")
    with pytest.raises(Clash, match="somebody acted on the ring of R-1 first"):
        shop.tell("R-1", "vanes-fitted", vanes=[], seen=0)


def test_a_verdict_is_withdrawn_by_two_and_stays_on_record(shop: WeldShop) -> None:
    shop.welded("R-1")
    shop.film("R-1", "A")
    entry = shop.read("R-1", "A", bad=("1-OUT",))["entry"]
    with pytest.raises(SecondNeeded):
        shop.tell("R-1", "weld-entry-withdrawn", SUPERVISOR, entry=entry, reason="other ring")

    by = signed(SUPERVISOR, "qe-1", "quality-engineer")
    shop.tell("R-1", "weld-entry-withdrawn", by, entry=entry, reason="other ring's film")

    assert shop.ring("R-1").welds["1-OUT"].state == "to read"
    kept = shop.floor.rows([WeldVerdict.withdrawn_us], WeldVerdict.weld == "1-OUT")
    assert kept == [(shop.floor.clock.at_us,)]
    shop.read("R-1", "A")
    assert shop.ring("R-1").done


def test_a_rebuilt_ring_is_the_same(shop: WeldShop) -> None:
    shop.welded("R-1")
    shop.film("R-1", "A")
    shop.read("R-1", "A", bad=("2-OUT",))
    shop.repaired("R-1", "2-OUT", "B")
    ledger, columns = shop.floor.ledger, list(WeldVerdict.__table__.columns)
    before = shop.floor.rows(columns)

    rebuild(ledger.store, ledger.registry, ledger.projecting, lambda _text: None)

    assert before
    assert shop.floor.rows(columns) == before


def test_a_plan_names_steps_of_its_route_card(shop: WeldShop) -> None:
    with pytest.raises(Refused, match="welding_step: step 10 of RING is machining"):
        shop.floor.do(
            SetWeldPlan(plan=plan(revision='"2"', welding_step="10"), key="p"), QUALITY
        )
    with pytest.raises(Clash, match="at revision 1 is there already"):
        shop.floor.do(SetWeldPlan(plan=plan(vanes="5"), key="q"), QUALITY)
