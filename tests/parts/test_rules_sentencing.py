"""Stops, sentences and what they do to a part; scrap until somebody saw it made unusable."""

from __future__ import annotations

from typing import Any

import pytest

from ringwright.bench.acts import Inspect, Sentence, Stop, Witness
from ringwright.core.errors import Forbidden, Refused
from ringwright.flow.service import read_week_numbers
from ringwright.parts.tables import Hold, Life, Nonconformity, Reading, Visit
from ringwright.replaying import compare
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

BOTH = signed(DELEGATE, "qe-1", "quality-engineer")
DOCUMENT = {"document": "DA-114", "scope": "one blade, trailing edge", "expires": "2026-12-31"}


@pytest.fixture
def stopped(floor: Floor) -> tuple[Floor, int]:
    """A part stopped at its inspection, and the number of its nonconformity."""
    floor.bring_to("A", 30)
    told = floor.do(
        Stop(serial="A", key=floor.key(), defect="porosity", place_on_part="root"), INSPECTOR
    )
    assert told["event"]["act"] == "stop"
    return floor, told["event"]["site_seq"]


def sentence(floor: Floor, number: int, decision: str, who: Any, **given: Any) -> Any:
    act = Sentence(
        serial="A", key=floor.key(), nonconformity=number, decision=decision, **given
    )
    return floor.do(act, who)


def scrap(floor: Floor, number: int, who: Any = QUALITY, **given: Any) -> Any:
    usual = {"defect": "porosity", "caused_step": 20, "kept": "locked-up"}
    return sentence(floor, number, "scrap", who, **{**usual, **given})


def test_a_stop_pauses_the_visit_holds_the_part_and_opens_a_nonconformity(
    stopped: tuple[Floor, int],
) -> None:
    floor, number = stopped
    part = floor.part("A")

    assert (part.place, part.step, part.paused) == ("in work", 30, True)
    assert part.hold == f"nonconformity {number}: porosity"
    assert part.nonconformities == 1
    for act, given in (
        ("resume", {}),
        ("end", {"step": 30, "outcome": "pass"}),
        ("end", {"step": 30, "outcome": "rework"}),
    ):
        with pytest.raises(Refused, match="waits for its sentence"):
            floor.book(act, "A", SUPERVISOR, **given)
    with pytest.raises(Refused, match="its sentence lifts the hold"):
        floor.book("unhold", "A", SUPERVISOR)


def test_a_rework_sends_the_part_on_its_card_and_back_to_the_raising_step(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped

    told = sentence(floor, number, "rework", QUALITY, card="RW-WELD")

    assert (told["part"]["place"], told["part"]["step"]) == ("waiting", 20)
    assert told["part"]["hold"] is None
    assert floor.visit("A", 20)["part"]["step"] == 30
    assert floor.visit("A", 30, who=INSPECTOR)["part"]["step"] == 40
    assert compare(store_url)[1] is None


def test_a_rework_needs_a_card_that_is_listed_for_the_step(
    stopped: tuple[Floor, int],
) -> None:
    floor, number = stopped

    with pytest.raises(Refused, match="say which rework card"):
        sentence(floor, number, "rework", QUALITY)
    with pytest.raises(Refused, match="lists no rework card RW-NONE"):
        sentence(floor, number, "rework", QUALITY, card="RW-NONE")


def test_scrap_stands_with_its_defect_cause_and_place(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped

    told = scrap(floor, number)

    assert told["part"]["place"] == "scrapped"
    life = [Life.scrap_defect, Life.scrap_place, Life.found_step, Life.caused_step]
    assert floor.rows(life) == [("porosity", "root", 30, 20)]
    assert floor.part("A").kept == "locked-up"
    with floor.ledger.read(CODE) as read:
        numbers = read_week_numbers(read, "OAR", "2026-W40")
    assert (numbers.scrapped, numbers.output, sum(numbers.wip.values())) == (1, 0, 0)
    assert compare(store_url)[1] is None


@pytest.mark.parametrize(
    ("left_out", "told"),
    [
        ({"defect": None}, "its defect and the step"),
        ({"caused_step": None}, "its defect and the step"),
        ({"kept": None}, "marked or locked up"),
        ({"kept": "on the bench"}, "marked or locked up"),
        ({"caused_step": 99}, "has no step 99"),
    ],
)
def test_a_scrap_that_is_not_fully_told_is_refused(
    stopped: tuple[Floor, int], left_out: dict[str, Any], told: str
) -> None:
    floor, number = stopped

    with pytest.raises(Refused, match=told):
        scrap(floor, number, **left_out)

    assert floor.part("A").place == "in work"


def test_scrap_is_still_whole_until_somebody_saw_it_made_unusable(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped
    scrap(floor, number)
    whole = [Life.serial], Life.scrapped_us.is_not(None), Life.witnessed_us.is_(None)
    assert floor.rows(*whole) == [("A",)]

    with pytest.raises(Refused, match="how the part was made unusable"):
        floor.do(Witness(serial="A", key=floor.key(), how=" "), INSPECTOR)
    with pytest.raises(Forbidden):
        floor.do(Witness(serial="A", key=floor.key(), how="sawn"), MAKER)
    floor.do(Witness(serial="A", key=floor.key(), how="sawn in two"), INSPECTOR)

    assert floor.rows(*whole) == []
    with pytest.raises(Refused, match="witnessed already"):
        floor.do(Witness(serial="A", key=floor.key(), how="again"), INSPECTOR)
    assert compare(store_url)[1] is None


def test_only_scrap_is_witnessed(floor: Floor) -> None:
    floor.book("create", "A")

    with pytest.raises(Refused, match="nothing to witness"):
        floor.do(Witness(serial="A", key="k", how="sawn"), INSPECTOR)


def test_nothing_more_is_booked_on_scrap(stopped: tuple[Floor, int]) -> None:
    floor, number = stopped
    scrap(floor, number)

    for act, given in (("begin", {"step": 30}), ("hold", {}), ("send", {})):
        with pytest.raises(Refused, match="A is scrapped"):
            floor.book(act, "A", SUPERVISOR, **given)


def test_a_withdrawn_stop_lets_the_visit_go_on_and_needs_a_reason(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped
    with pytest.raises(Refused, match="why nothing is wrong"):
        sentence(floor, number, "withdrawn", QUALITY)

    sentence(floor, number, "withdrawn", QUALITY, reason="stain, wiped off")

    part = floor.part("A")
    assert (part.place, part.step, part.hold, part.nonconformities) == ("in work", 30, None, 0)
    floor.book("resume", "A", INSPECTOR)
    told = floor.book("end", "A", INSPECTOR, step=30, outcome="pass")
    assert told["part"]["step"] == 40
    assert compare(store_url)[1] is None


def test_a_repair_is_the_delegates_and_returns_the_part_to_the_step(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped
    with pytest.raises(Forbidden):
        sentence(floor, number, "repair", QUALITY, **DOCUMENT)

    told = sentence(floor, number, "repair", BOTH, **DOCUMENT)

    assert (told["part"]["place"], told["part"]["step"]) == ("waiting", 30)
    decided = floor.rows([Nonconformity.decision, Nonconformity.document])
    assert ("repair", "DA-114") in decided
    assert floor.visit("A", 20)["part"]["step"] == 30  # any earlier step may be begun
    assert compare(store_url)[1] is None


def test_a_concession_is_the_delegates_passes_the_step_and_is_no_first_pass(
    stopped: tuple[Floor, int], store_url: str
) -> None:
    floor, number = stopped
    with pytest.raises(Forbidden):
        sentence(floor, number, "concession", QUALITY, **DOCUMENT)

    told = sentence(floor, number, "concession", BOTH, **DOCUMENT)

    assert (told["part"]["place"], told["part"]["step"]) == ("waiting", 40)
    with floor.ledger.read(CODE) as read:
        steps = {s.number: s for s in read_week_numbers(read, "OAR", "2026-W40").steps}
    assert (steps[30].first_visits, steps[30].first_passes) == (1, 0)
    assert compare(store_url)[1] is None


@pytest.mark.parametrize("decision", ["repair", "concession"])
@pytest.mark.parametrize(
    ("left_out", "told"),
    [("document", "document number"), ("scope", "scope"), ("expires", "expiry or quantity")],
)
def test_a_repair_or_concession_needs_its_document_scope_and_limit(
    stopped: tuple[Floor, int], decision: str, left_out: str, told: str
) -> None:
    floor, number = stopped
    given = {name: text for name, text in DOCUMENT.items() if name != left_out}

    with pytest.raises(Refused, match=told):
        sentence(floor, number, decision, DELEGATE, **given)


def test_who_worked_on_the_part_may_not_sentence_it(floor: Floor) -> None:
    quality_at_work = actor("qe-1", "quality-engineer")
    floor.book("create", "A")
    floor.visit("A", 10, who=quality_at_work)
    number = floor.do(Stop(serial="A", key="stop", defect="dent"), MAKER)["event"]["site_seq"]

    with pytest.raises(Forbidden, match="worked on A and may not sentence it"):
        sentence(floor, number, "withdrawn", QUALITY, reason="fine")
    other = actor("qe-2", "quality-engineer")
    sentence(floor, number, "withdrawn", other, reason="fine")
    assert floor.part("A").hold is None


def test_a_sentence_names_an_open_nonconformity_and_a_known_decision(
    stopped: tuple[Floor, int],
) -> None:
    floor, number = stopped

    with pytest.raises(Refused, match="no open nonconformity"):
        sentence(floor, number + 1000, "withdrawn", QUALITY, reason="x")
    with pytest.raises(Refused, match="is none of"):
        sentence(floor, number, "use as is", QUALITY)


def test_a_hold_placed_for_another_reason_outlives_the_sentence(floor: Floor) -> None:
    floor.bring_to("A", 30)
    floor.book("hold", "A", INSPECTOR, reason="customer asks")
    stop = floor.do(Stop(serial="A", key="stop", defect="dent"), INSPECTOR)

    sentence(floor, stop["event"]["site_seq"], "withdrawn", QUALITY, reason="no dent")

    assert floor.part("A").hold == "customer asks"


def test_two_stops_need_two_sentences(stopped: tuple[Floor, int]) -> None:
    floor, first = stopped
    second = floor.do(Stop(serial="A", key="again", defect="dent"), INSPECTOR)
    sentence(floor, first, "withdrawn", QUALITY, reason="stain")

    with pytest.raises(Refused, match="waits for its sentence"):
        floor.book("end", "A", INSPECTOR, step=30, outcome="pass")
    sentence(floor, second["event"]["site_seq"], "withdrawn", QUALITY, reason="stain")
    assert floor.part("A").nonconformities == 0


def test_a_released_part_found_bad_is_no_output_any_more(floor: Floor, store_url: str) -> None:
    floor.bring_to("A", 40)
    floor.book("end", "A", MAKER, step=40, outcome="pass")
    floor.clock.at_us += MINUTE_US
    asked_us = floor.clock.at_us
    stop = floor.do(Stop(serial="A", key="stop", defect="crack"), INSPECTOR)

    scrap(floor, stop["event"]["site_seq"], signed(QUALITY, "man-1", "manager"), defect="crack")

    with floor.ledger.read(CODE) as read:
        now = read_week_numbers(read, "OAR", "2026-W40")
    with floor.ledger.read(CODE, asked_us) as read:
        then = read_week_numbers(read, "OAR", "2026-W40")
    assert (now.output, now.scrapped) == (0, 1)
    assert (then.output, then.scrapped) == (1, 0)
    assert compare(store_url)[1] is None


def test_the_time_of_a_stop_is_no_touch_time(stopped: tuple[Floor, int]) -> None:
    floor, number = stopped
    floor.clock.at_us += 600 * MINUTE_US
    sentence(floor, number, "withdrawn", QUALITY, reason="stain")
    floor.book("resume", "A", INSPECTOR)
    floor.book("end", "A", INSPECTOR, step=30, outcome="pass")

    (touch_us,) = floor.rows([Visit.touch_us], Visit.step == 30)[0]

    assert touch_us == 2 * MINUTE_US


def test_a_stop_at_the_inspection_keeps_the_readings_given_with_it(floor: Floor) -> None:
    floor.bring_to("A", 30)
    floor.do(Stop(serial="A", key="s", defect="short", readings={"chord": 9.5}), INSPECTOR)

    assert floor.rows([Reading.characteristic, Reading.value, Reading.inside]) == [
        ("chord", 9.5, False)
    ]
    assert floor.rows([Hold.serial], Hold.to_us >= 2**62) == [("A",)]


def test_an_inspection_passes_only_fully_read_and_inside(floor: Floor) -> None:
    floor.bring_to("A", 30)

    def passed(key: str, readings: dict[str, float]) -> Any:
        return floor.do(Inspect(serial="A", key=key, readings=readings), INSPECTOR)

    with pytest.raises(Refused, match="not read yet: chord"):
        passed("a", {})
    with pytest.raises(Refused, match=r"outside its limits: chord 12\.10 mm"):
        passed("b", {"chord": 12.1})
    assert passed("c", {"chord": 12.0})["part"]["step"] == 40


def test_an_inspection_ends_with_a_listed_rework_on_its_card(floor: Floor) -> None:
    floor.bring_to("A", 30)

    with pytest.raises(Refused, match="say which rework card"):
        floor.do(Inspect(serial="A", key="a", outcome="rework"), INSPECTOR)
    with pytest.raises(Refused, match="anything else is a stop"):
        floor.do(Inspect(serial="A", key="b", outcome="scrap"), QUALITY)
    told = floor.do(Inspect(serial="A", key="c", outcome="rework", card="RW-WELD"), INSPECTOR)

    assert told["part"]["step"] == 20
    assert floor.visit("A", 20, who=MAKER_2)["part"]["step"] == 30
