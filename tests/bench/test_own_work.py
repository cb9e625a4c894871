"""Nobody accepts their own work, on whatever path, unless authorised for self-inspection.

ISO 9001:2015, 8.6 asks that a release be traceable to who authorised it (from memory); that it
be somebody else than who did the work is the shop's rule.
"""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import Inspect, Sentence, Stop, Witness
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Forbidden
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Actor
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import ROLES, Person
from tests.make.floor import (
    CODE,
    DELEGATE,
    INSPECTOR,
    MAKER,
    MAKER_2,
    MINUTE_US,
    QUALITY,
    SUPERVISOR,
    Floor,
    actor,
)
from tests.make.second import signed

OTHER = actor("insp-2", "inspector")
ROLE = Actor(
    code="inspector", roles=frozenset({"inspector"}), self_inspection=True, person=False
)
DISPATCHED = """
[product]
code = "TILLER"
name = "Tiller"
[[step]]
number = 10
name = "Form"
kind = "forming"
[[step]]
number = 20
name = "Measure"
kind = "inspection"
[[step]]
number = 30
name = "Polish"
kind = "finishing"
[[step]]
number = 40
name = "Release"
kind = "dispatch"
"""


def own_at_inspection(floor: Floor) -> None:
    """insp-1 welded the part and stands before its inspection, begun a minute ago."""
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.visit("A", 20, who=INSPECTOR)
    floor.book("begin", "A", OTHER, step=30)


def test_not_by_a_pass_at_the_bench(sqlite_floor: Floor) -> None:
    own_at_inspection(sqlite_floor)

    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        sqlite_floor.do(Inspect(serial="A", key="p", readings={"chord": 11.0}), INSPECTOR)
    sqlite_floor.do(Inspect(serial="A", key="p", readings={"chord": 11.0}), OTHER)


def test_not_under_another_name(floor: Floor) -> None:
    own_at_inspection(floor)
    given = {"step": 30, "outcome": "pass"}

    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.book("end", "A", INSPECTOR, by="insp-2", **given)
    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.book("end", "A", OTHER, by="insp-1", **given)
    trusted = actor("insp-2", "inspector", self_inspection=True)
    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.book("end", "A", trusted, by="insp-1", **given)
    assert floor.book("end", "A", ROLE, by="insp-1", **given)["part"]["step"] == 40


def test_whoever_is_authorised_may_be_named_by_another(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    own_at_inspection(floor)
    given = {"step": 30, "outcome": "pass", "by": "insp-1"}
    may = Person(code="insp-1", roles=("inspector",), authorisations=("self-inspection",))
    floor.do(SetGroundRule(thing=may, key="may"), SYSTEM)

    assert floor.book("end", "A", OTHER, **given)["part"]["step"] == 40


def test_not_by_booking_it_back_in_time(floor: Floor) -> None:
    """A hold after the begin used to make the end a late one, which nobody asked."""
    own_at_inspection(floor)
    begun_us = floor.clock.at_us
    floor.clock.at_us += 10 * MINUTE_US
    floor.book("hold", "A", SUPERVISOR, reason="look")
    given = {"step": 30, "outcome": "pass", "at_us": begun_us + MINUTE_US}

    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.book("end", "A", INSPECTOR, **given)
    assert floor.book("end", "A", OTHER, **given)["part"]["step"] == 40


def test_not_by_a_concession_or_repair(floor: Floor) -> None:
    both = Actor(code="boss", roles=frozenset({"maker", "design-authority"}))
    floor.book("create", "A")
    floor.book("begin", "A", both, step=10)

    for outcome in ("concession", "repair"):
        with pytest.raises(Forbidden, match="boss worked on A and may not sentence it"):
            floor.book(
                "end", "A", signed(both, "qe-1", "quality-engineer"), step=10, outcome=outcome
            )
    told = floor.book(
        "end", "A", signed(DELEGATE, "qe-1", "quality-engineer"), step=10, outcome="repair"
    )
    assert told["part"]["place"] == "waiting"


def test_not_by_a_sentence_while_still_at_work_on_it(floor: Floor) -> None:
    floor.book("create", "A")
    floor.book("begin", "A", QUALITY, step=10)
    stop = floor.do(Stop(serial="A", key="s", defect="dent"), QUALITY)["event"]["site_seq"]
    withdrawn: dict[str, Any] = {"decision": "withdrawn", "reason": "fine", "key": "w"}
    sentence = Sentence(serial="A", nonconformity=stop, **withdrawn)

    with pytest.raises(Forbidden, match="qe-1 worked on A and may not sentence it"):
        floor.do(sentence, QUALITY)
    floor.do(sentence, actor("qe-2", "quality-engineer"))


def test_a_sentence_is_no_work_on_the_part(floor: Floor) -> None:
    """The one delegate and the one quality engineer decide on the same part twice."""
    floor.book("create", "A")
    for number in (1, 2):
        floor.book("begin", "A", MAKER, step=10)
        stop = floor.do(Stop(serial="A", key=f"s{number}", defect="dent"), MAKER)
        told = floor.do(
            Sentence(
                serial="A",
                key=f"w{number}",
                nonconformity=stop["event"]["site_seq"],
                decision="repair",
                document="DA-1",
                scope="this",
                quantity=1,
            ),
            signed(DELEGATE, "qe-1", "quality-engineer"),
        )

    assert told["part"]["place"] == "waiting"


def test_a_witness_is_neither_who_made_nor_who_scrapped_it(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10, who=INSPECTOR)
    floor.book("begin", "A", MAKER, step=20)
    floor.book("end", "A", QUALITY, step=20, outcome="scrap", defect="burnt")
    see = Witness(serial="A", key="w", how="sawn in two")

    with pytest.raises(Forbidden, match="insp-1 worked on A and may not be its witness"):
        floor.do(see, INSPECTOR)
    with pytest.raises(Forbidden, match="qe-1 worked on A and may not be its witness"):
        floor.do(see, QUALITY)
    floor.do(see, OTHER)


def test_who_sentenced_it_to_scrap_is_not_its_witness(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    floor.bring_to("A", 30)
    stop = floor.do(Stop(serial="A", key="s", defect="dent"), INSPECTOR)["event"]["site_seq"]
    scrap: dict[str, Any] = {"defect": "dent", "caused_step": 20, "kept": "marked", "key": "d"}
    floor.do(Sentence(serial="A", nonconformity=stop, decision="scrap", **scrap), QUALITY)

    with pytest.raises(Forbidden, match="qe-1 scrapped A"):
        floor.do(Witness(serial="A", key="w", how="sawn"), QUALITY)
    floor.do(Witness(serial="A", key="w", how="sawn"), INSPECTOR)


def test_not_by_a_release_at_dispatch(floor: Floor) -> None:
    floor.do(LoadRoute(card=parse_route(DISPATCHED, "route")), SYSTEM)
    floor.book("create", "T", product="TILLER")
    floor.visit("T", 10)
    floor.visit("T", 20, who=INSPECTOR)
    floor.visit("T", 30)
    floor.book("begin", "T", MAKER, step=40)

    with pytest.raises(Forbidden, match="maker-1 worked on T and may not release it"):
        floor.book("end", "T", MAKER, step=40, outcome="pass")
    assert (
        floor.book("end", "T", MAKER_2, step=40, outcome="pass")["part"]["place"] == "released"
    )


def test_the_end_of_ones_work_is_no_acceptance(sqlite_floor: Floor) -> None:
    sqlite_floor.bring_to("A", 40)

    told = sqlite_floor.book("end", "A", MAKER, step=40, outcome="pass")

    assert told["part"]["place"] == "released"


def test_not_by_correcting_a_rework_into_a_pass(floor: Floor) -> None:
    floor.book("create", "A")
    floor.visit("A", 10)
    floor.visit("A", 20, who=SUPERVISOR)
    floor.visit("A", 30, "rework", INSPECTOR)
    end = floor.rows([Event.site_seq])[-1][0]
    wrong: dict[str, Any] = {
        "serial": "A",
        "entry": end,
        "reason": "wrong key",
        "changes": {"outcome": "pass"},
    }

    with pytest.raises(Forbidden, match="sup-1 worked on A"):
        floor.do(
            Correct(key="c", **wrong),
            signed(SUPERVISOR, "qe-1", "quality-engineer"),
        )
    floor.do(
        Correct(key="c", **wrong),
        signed(QUALITY, "sup-2", "supervisor"),
    )
    assert floor.part("A").step == 40
    assert floor.ledger.head(CODE)[0] == end + 1


def test_not_by_putting_ones_work_behind_the_pass(floor: Floor) -> None:
    """A correction that names a worker as who passed the inspection is refused."""
    own_at_inspection(floor)
    end = floor.book("end", "A", OTHER, step=30, outcome="pass")["event"]["site_seq"]

    with pytest.raises(Forbidden, match="insp-1 worked on A"):
        floor.do(
            Correct(
                serial="A", key="c", entry=end, reason="mixed up", changes={"by": "insp-1"}
            ),
            signed(SUPERVISOR, "qe-1", "quality-engineer"),
        )


@pytest.mark.parametrize("outcome", ["repair", "concession"])
@pytest.mark.parametrize("role", [role for role in ROLES if role != "design-authority"])
def test_no_inspector_nor_anybody_but_the_delegate_records_a_repair_or_concession(
    sqlite_floor: Floor, role: str, outcome: str
) -> None:
    """By an end, by a sentence, by a correction; the second person does not make up for it."""
    floor = sqlite_floor
    who = signed(actor("x-1", role), "da-1", "design-authority")
    floor.bring_to("A", 30)
    passed = floor.rows([Event.site_seq], Event.kind == "end")[-1][0]
    papers: dict[str, Any] = {"document": "DA-1", "scope": "this", "quantity": 1}
    change = {"outcome": outcome}

    with pytest.raises(Forbidden):
        floor.book("end", "A", who, step=30, outcome=outcome)
    with pytest.raises(Forbidden):
        floor.do(Correct(serial="A", key="c", entry=passed, reason="so", changes=change), who)
    stop = floor.do(Stop(serial="A", key="s", defect="dent"), INSPECTOR)["event"]["site_seq"]
    with pytest.raises(Forbidden):
        floor.do(
            Sentence(serial="A", key="d", nonconformity=stop, decision=outcome, **papers), who
        )
    assert floor.part("A").last_seq == stop
