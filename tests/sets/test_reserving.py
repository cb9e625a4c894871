"""A set is reserved whole or not at all, and no blade is in two sets."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import insert
from sqlalchemy.exc import IntegrityError

from ringwright.assembly import registry
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Clash, Forbidden, Missing, Refused
from ringwright.replaying import compare
from ringwright.sets.building import Fit, HandOver, PlaceWeights, SendSet, SetRotor, TakeOut
from ringwright.sets.queries import read_rotor, read_set, read_sets
from ringwright.sets.service import GiveBack, Mend, Propose, Reserve
from ringwright.sets.tables import Reservation
from tests.make.sets import CODE, PRODUCT, SLOTS, RingHall, finished, open_hall

FIRST = tuple(f"RB-{n}" for n in range(1, SLOTS + 1))
OTHERS = tuple(f"RB-{n}" for n in range(SLOTS + 1, 2 * SLOTS + 1))


@pytest.fixture
def hall(store_url: str) -> Iterator[RingHall]:
    """Twenty released blades."""
    shop = open_hall(store_url, finished(20))
    yield shop
    shop.ledger.store.close()


def reserve(hall: RingHall, slots: tuple[str, ...] = FIRST, **more: object) -> str:
    command = Reserve(key=hall.key(), product=PRODUCT, slots=slots, **more)  # type: ignore[arg-type]
    return str(hall.act("planner", command)["set"])


def handed_over(hall: RingHall) -> str:
    code = reserve(hall)
    hall.act("planner", HandOver(key=hall.key(), set=code, to="build bay 2"))
    return code


def fit(hall: RingHall, code: str, slot: int, serial: str) -> dict[str, object]:
    return hall.act("maker", Fit(key=hall.key(), set=code, slot=slot, serial=serial))


def test_a_reserved_set_names_its_blades_and_each_blade_its_set(hall: RingHall) -> None:
    code = reserve(hall)

    assert code == "RH8-S001"
    assert hall.set(code).slots == list(FIRST)
    assert {hall.part(serial).reservation for serial in FIRST} == {code}
    assert hall.part("RB-20").reservation is None
    assert hall.set(code).readings["RB-1"]["moment"] == finished(1)[0].moment


def test_a_taken_blade_spoils_the_whole_reservation(hall: RingHall) -> None:
    reserve(hall)
    head = hall.ledger.head(CODE)

    with pytest.raises(Clash, match="RB-8 is reserved for RH8-S001"):
        reserve(hall, ("RB-8", *OTHERS[:7]))

    assert hall.part("RB-9").reservation is None
    assert hall.ledger.head(CODE) == head


@pytest.mark.parametrize(
    ("acts", "why"),
    [
        ([("supervisor", {"act": "hold", "reason": "dropped"})], "on hold: dropped"),
        ([("planner", {"act": "send", "step": 40})], "sent, not released"),
    ],
)
def test_what_is_not_free_is_named_with_its_reason(
    hall: RingHall, acts: list[tuple[str, dict[str, object]]], why: str
) -> None:
    for role, given in acts:
        hall.book(role, serial="RB-3", **given)

    with pytest.raises(Clash, match=f"RB-3 is {why}"):
        reserve(hall)


def test_a_blade_polished_after_weighing_cannot_enter_a_set(store_url: str) -> None:
    shop = open_hall(store_url, finished(8), weigh_last=False)

    with pytest.raises(Clash, match="its moment lapsed at step 30"):
        reserve(shop)
    shop.ledger.store.close()


def test_an_unknown_blade_one_twice_and_too_many_are_refused(hall: RingHall) -> None:
    with pytest.raises(Missing, match="no part RB-99"):
        reserve(hall, ("RB-99", *FIRST[1:]))
    with pytest.raises(Refused, match="RB-1 stands in two slots"):
        reserve(hall, ("RB-1", "RB-1", *FIRST[2:]))
    with pytest.raises(Refused, match="has 8 slots, not 9"):
        reserve(hall, (*FIRST, "RB-9"))


def test_a_blade_booked_on_since_the_screen_was_drawn_is_a_clash(hall: RingHall) -> None:
    seen = {serial: hall.part(serial).last_seq for serial in FIRST}
    hall.book("supervisor", serial="RB-2", act="hold", reason="look again")
    hall.book("supervisor", serial="RB-2", act="unhold")

    with pytest.raises(Clash, match="acted on RB-2 since you looked"):
        reserve(hall, seen=seen)


def test_the_row_of_a_reservation_is_unique_in_the_database(hall: RingHall) -> None:
    reserve(hall)

    row = {"site_id": 1, "set_code": "OTHER", "serial": "RB-1", "slot": 1}
    with pytest.raises(IntegrityError), hall.ledger.store.write(1) as connection:
        connection.execute(insert(Reservation).values(row))


def test_a_set_given_back_frees_its_blades_for_another(hall: RingHall) -> None:
    code = reserve(hall)

    hall.act("planner", GiveBack(key=hall.key(), set=code, reason="the order is off"))

    assert hall.part("RB-1").reservation is None
    assert (hall.set(code).state, hall.set(code).reason) == ("given back", "the order is off")
    assert reserve(hall) == "RH8-S002"


def test_a_set_is_given_back_with_a_reason_by_a_planner_and_once(hall: RingHall) -> None:
    code = reserve(hall)

    with pytest.raises(Refused, match="reason"):
        hall.act("planner", GiveBack(key=hall.key(), set=code, reason=" "))
    with pytest.raises(Forbidden):
        hall.act("inspector", GiveBack(key=hall.key(), set=code, reason="no"))
    hall.act("planner", GiveBack(key=hall.key(), set=code, reason="yes"))
    with pytest.raises(Refused, match="is given back"):
        hall.act("planner", GiveBack(key=hall.key(), set=code, reason="again"))


def test_a_proposal_takes_no_blade_until_it_is_reserved(hall: RingHall) -> None:
    told = hall.act("planner", Propose(key=hall.key(), product=PRODUCT, slots=FIRST))
    assert hall.part("RB-1").reservation is None

    assert reserve(hall, proposal=told["set"]) == told["set"]

    assert hall.set(told["set"]).state == "reserved"


def test_a_reserved_blade_is_not_sent_nor_corrected_away(hall: RingHall) -> None:
    reserve(hall)
    entry = hall.part("RB-1").last_seq

    with pytest.raises(Refused, match="reserved for RH8-S001"):
        hall.book("planner", serial="RB-1", act="send", step=40)
    wrong = Correct(serial="RB-1", key=hall.key(), entry=entry, void=True, reason="by mistake")
    with pytest.raises(Refused, match="mend the set or give it back"):
        hall.act("supervisor", wrong)


def test_mending_frees_what_leaves_and_keeps_what_enters(hall: RingHall) -> None:
    code = reserve(hall)
    slots = ("RB-20", "RB-3", "RB-2", *FIRST[3:])

    hall.act("planner", Mend(key=hall.key(), set=code, slots=slots, reason="RB-1 was dropped"))

    assert hall.part("RB-1").reservation is None
    assert hall.part("RB-20").reservation == code
    assert hall.set(code).slots == list(slots)
    assert hall.set(code).readings["RB-20"]["moment"] is not None


def test_a_lost_blade_can_be_mended_away_though_it_is_scrapped(hall: RingHall) -> None:
    code = reserve(hall)
    hall.book("supervisor", serial="RB-1", act="hold", reason="cracked")

    slots = ("RB-20", *FIRST[1:])
    hall.act("planner", Mend(key=hall.key(), set=code, slots=slots, reason="cracked"))

    assert hall.part("RB-1").reservation is None


def test_a_set_that_lacks_a_blade_is_not_handed_over(hall: RingHall) -> None:
    code = reserve(hall)
    hall.book("supervisor", serial="RB-5", act="hold", reason="lot in doubt")

    with pytest.raises(Clash, match="lacks 1: RB-5 is on hold"):
        hall.act("planner", HandOver(key=hall.key(), set=code, to="build"))


def test_blades_are_fitted_as_they_stand_and_the_set_is_sent_whole(hall: RingHall) -> None:
    code = handed_over(hall)
    for slot, serial in enumerate(("RB-2", "RB-1", *FIRST[2:]), 1):
        told = fit(hall, code, slot, serial)
        assert told["planned_slot"] == FIRST.index(serial) + 1
    assert (hall.set(code).state, hall.part("RB-1").place) == ("fitted", "fitted")

    hall.act("planner", SendSet(key=hall.key(), set=code))

    assert {hall.part(serial).place for serial in FIRST} == {"sent"}
    assert hall.set(code).state == "sent"


def test_a_foreign_blade_a_full_slot_and_a_blade_twice_are_refused(hall: RingHall) -> None:
    code = handed_over(hall)
    fit(hall, code, 1, "RB-1")

    with pytest.raises(Refused, match="RB-20 is no blade of"):
        fit(hall, code, 2, "RB-20")
    with pytest.raises(Refused, match="slot 1 holds RB-1"):
        fit(hall, code, 1, "RB-2")
    with pytest.raises(Refused, match="RB-1 stands in slot 1 already"):
        fit(hall, code, 2, "RB-1")
    with pytest.raises(Refused, match="slots 1 to 8, not 9"):
        fit(hall, code, 9, "RB-2")


def test_a_set_is_not_fitted_before_it_is_handed_over(hall: RingHall) -> None:
    with pytest.raises(Refused, match="hand it over first"):
        fit(hall, reserve(hall), 1, "RB-1")


def test_a_blade_taken_out_is_free_to_stand_elsewhere(hall: RingHall) -> None:
    code = handed_over(hall)
    fit(hall, code, 1, "RB-2")

    out = TakeOut(key=hall.key(), set=code, slot=1, serial="RB-2", reason="wrong slot")
    hall.act("maker", out)
    fit(hall, code, 2, "RB-2")

    assert hall.set(code).fitted == {2: "RB-2"}
    with pytest.raises(Refused, match="partly fitted: RB-2 in slot 2"):
        hall.act("planner", GiveBack(key=hall.key(), set=code, reason="no"))


def test_weights_are_placed_on_a_fitted_set_and_fall_with_a_blade_out(hall: RingHall) -> None:
    code = handed_over(hall)
    for slot, serial in enumerate(FIRST, 1):
        fit(hall, code, slot, serial)

    weights = ((45.0, 120.0), (90.0, 60.0))
    hall.act("maker", PlaceWeights(key=hall.key(), set=code, weights=weights))
    assert [one["angle_deg"] for one in hall.set(code).weights] == [45.0, 90.0]

    out = TakeOut(key=hall.key(), set=code, slot=1, serial="RB-1", reason="loose")
    hall.act("maker", out)
    assert hall.set(code).weights == ()


def test_a_set_is_known_as_it_was_then(hall: RingHall) -> None:
    code = reserve(hall)
    before = hall.clock.now_us()
    hall.clock.at_us += 60_000_000
    hall.act("planner", GiveBack(key=hall.key(), set=code, reason="later"))

    with hall.ledger.read(CODE, before + 1) as then:
        assert read_set(then, code).state == "reserved"
        assert [found.state for found in read_sets(then, PRODUCT)] == ["reserved"]
    with hall.ledger.read(CODE, before) as earlier, pytest.raises(Missing):
        read_set(earlier, code)


def test_a_rotor_is_entered_by_the_design_authority_and_known_from_then(
    hall: RingHall,
) -> None:
    rotor = {"mass_kg": 60.0, "speed_rpm": 3500.0, "grade_mm_s": 6.3, "masses_g": [2.0, 5.0]}
    command = SetRotor(key=hall.key(), product=PRODUCT, rotor=rotor, reason="drawing 7")

    with pytest.raises(Forbidden):
        hall.act("planner", command)
    hall.act("design-authority", command)

    hall.clock.at_us += 1
    with hall.ledger.read(CODE) as read:
        assert read_rotor(read, PRODUCT).grade_mm_s == 6.3
        assert read_rotor(read, PRODUCT).share_g_mm is None


@pytest.mark.parametrize("wrong", [{"mass_kg": -1.0}, {"speed": 3.0}, {"view": "above"}])
def test_a_rotor_that_cannot_be_is_refused(hall: RingHall, wrong: dict[str, object]) -> None:
    command = SetRotor(key=hall.key(), product=PRODUCT, rotor=wrong, reason="drawing 7")

    with pytest.raises(Refused):
        hall.act("design-authority", command)


def test_sets_are_rebuilt_from_the_record_alike(hall: RingHall, store_url: str) -> None:
    code = handed_over(hall)
    fit(hall, code, 3, "RB-3")
    reserve(hall, OTHERS)

    told, difference = compare(store_url)

    assert difference is None
    assert told > 0


def test_the_same_reservation_twice_is_one_and_another_body_a_clash(hall: RingHall) -> None:
    once = Reserve(key="once", product=PRODUCT, slots=FIRST)
    first = hall.act("planner", once)

    assert hall.act("planner", once) == first
    with pytest.raises(Clash, match="was used for another"):
        hall.act("planner", Reserve(key="once", product=PRODUCT, slots=OTHERS))


def test_everything_of_a_set_is_known_to_the_registry() -> None:
    kinds = {kind for subject, kind in registry().kinds() if subject == "set"}

    assert kinds >= {"propose", "reserve", "give-back", "hand-over", "fit", "return"}
