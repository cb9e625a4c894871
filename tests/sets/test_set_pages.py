"""The pages of one set: handed over, fitted by scan, put right, given back, weighed in."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.make.set_screen import FIRST, SetScreen, posts_of, seen_in
from tests.make.sets import CODE, SLOTS, finished, open_hall


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[SetScreen]:
    """Twenty released blades; eight of them reserved; the planner at the screen."""
    hall = open_hall(sqlite_url, finished(20))
    yield SetScreen(sqlite_url, hall)
    hall.ledger.store.close()


@pytest.fixture
def build(screen: SetScreen) -> SetScreen:
    """The set handed over, and a maker at the screen."""
    screen.hand_over()
    screen.who = "maker-1"
    return screen


def fill(build: SetScreen, *, leave: int = 0) -> None:
    for serial in FIRST[: SLOTS - leave]:
        assert build.scan(serial).status_code == 303


def test_a_set_is_handed_over_from_its_page(screen: SetScreen) -> None:
    drawn = screen.see().text
    assert f"{screen.code} is reserved." in seen_in(drawn)
    seen = screen.hall.set(screen.code).last_seq

    answer = screen.send("/act", key="h", act="hand-over", to="build bay 2", seen=seen)

    told = screen.follow(answer)
    assert f"{screen.code} is handed over." in told
    assert "build bay 2" in told
    assert screen.hall.set(screen.code).to == "build bay 2"


def test_who_looked_before_another_acted_decides_anew(screen: SetScreen) -> None:
    seen = screen.hall.set(screen.code).last_seq
    screen.hand_over()

    answer = screen.send("/act", key="h", act="hand-over", to="bay 9", seen=seen)

    assert answer.status_code == 409
    assert "acted on" in seen_in(answer.text)
    assert screen.hall.set(screen.code).to == "bay 2"


def test_a_maker_hands_nothing_over_and_nothing_is_booked(screen: SetScreen) -> None:
    head, screen.who = screen.hall.ledger.head(CODE), "maker-1"

    answer = screen.send("/act", key="h", act="hand-over", to="bay 9")

    assert answer.status_code == 403
    assert "Nothing was booked." in seen_in(answer.text)
    assert screen.hall.ledger.head(CODE) == head


def test_each_scan_fits_the_slot_that_is_due_and_names_the_next(build: SetScreen) -> None:
    assert "Slot 1: RB-1" in seen_in(build.see("/fit").text)

    told = build.follow(build.scan("RB-1"))

    assert "stands in slot 1, as planned." in told
    assert "Slot 2: RB-2" in told
    assert build.fitted() == {1: "RB-1"}
    assert build.hall.part("RB-1").place == "fitted"


def test_the_last_scan_makes_the_set_fitted(build: SetScreen) -> None:
    fill(build)

    assert build.hall.set(build.code).state == "fitted"
    assert "Every slot is full." in seen_in(build.see("/fit").text)


@pytest.mark.parametrize("scanned", ["5", "S5", "slot 05"])
def test_a_slot_that_is_scanned_is_the_one_that_is_due(build: SetScreen, scanned: str) -> None:
    told = build.follow(build.scan(scanned))

    assert "Slot 5: RB-5" in told
    assert build.fitted() == {}

    build.scan("RB-5", slot=5)
    assert build.fitted() == {5: "RB-5"}


def test_two_blades_in_each_others_slots_are_shown_before_anyone_leaves(
    build: SetScreen,
) -> None:
    planned = seen_in(build.see().text).split("Residual, as planned ")[1].split(" g·mm")[0]
    build.scan("RB-2", slot=1)
    told = build.follow(build.scan("RB-1", slot=2))

    assert "2 blades stand in other slots" in told
    assert "Before you leave" in told
    assert "RB-2 stands in slot 1, planned for slot 2." in told
    assert "RB-1 stands in slot 2, planned for slot 1." in told
    now, was = told.split("As it stands the residual becomes ")[1].split("; planned is ")[:2]
    assert was.startswith(planned)
    assert now.split(" g·mm")[0] != planned


def test_the_residual_that_is_shown_is_the_sum_over_the_slots(build: SetScreen) -> None:
    """Unbalance is a vector of mass times radius (ISO 21940-2), summed here by hand."""
    moments = {one.serial: one.moment for one in finished(20)}
    build.scan("RB-2", slot=1)
    build.scan("RB-1", slot=2)
    order = ["RB-2", "RB-1", *FIRST[2:]]
    expected = abs(sum(moments[s] * 1j ** (4 * k / SLOTS) for k, s in enumerate(order)))

    told = seen_in(build.see("/fit").text)

    now = told.split("As it stands the residual becomes ")[1].split(" g·mm")[0]
    assert float(now.replace(",", "")) == pytest.approx(expected, abs=0.51)


def test_exchanged_blades_are_put_right_by_taking_both_out(build: SetScreen) -> None:
    build.scan("RB-2", slot=1)
    build.scan("RB-1", slot=2)

    for slot, serial in ((1, "RB-2"), (2, "RB-1")):
        answer = build.send(
            "/take-out", key=f"o{slot}", stands=f"{slot}={serial}", reason="wrong slot"
        )
        assert answer.status_code == 303
    assert build.fitted() == {}
    assert build.hall.part("RB-1").place == "released"

    build.scan("RB-1", slot=1)
    told = build.follow(build.scan("RB-2", slot=2))

    assert build.fitted() == {1: "RB-1", 2: "RB-2"}
    assert "Before you leave" not in told


def test_a_blade_of_no_set_is_refused_and_nothing_is_booked(build: SetScreen) -> None:
    head = build.hall.ledger.head(CODE)

    answer = build.scan("RB-20")

    told = seen_in(answer.text)
    assert answer.status_code == 422
    assert f"RB-20 is no blade of {build.code}" in told
    assert "Nothing was booked." in told
    assert "Slot 1: RB-1" in told
    assert build.hall.ledger.head(CODE) == head


def test_a_blade_that_stands_already_is_refused(build: SetScreen) -> None:
    build.scan("RB-1")

    answer = build.scan("RB-1")

    assert answer.status_code == 422
    assert "RB-1 stands in slot 1 already" in seen_in(answer.text)
    assert build.fitted() == {1: "RB-1"}


def test_a_key_that_comes_twice_fits_once(build: SetScreen) -> None:
    assert build.scan("RB-1", slot=1, key="once").status_code == 303
    head = build.hall.ledger.head(CODE)
    again = build.send("/fit", key="once", slot=1, scan="RB-1")

    assert again.status_code == 303, seen_in(again.text)
    assert build.hall.ledger.head(CODE) == head
    assert build.fitted() == {1: "RB-1"}


def test_a_slot_that_another_screen_filled_is_not_swapped_for_the_next(
    build: SetScreen,
) -> None:
    build.scan("RB-1", slot=1)

    answer = build.send("/fit", key="late", slot=1, scan="RB-2")

    assert answer.status_code == 422
    assert "slot 1 holds RB-1 already" in seen_in(answer.text)
    assert build.fitted() == {1: "RB-1"}


def test_before_it_is_handed_over_nothing_is_fitted(screen: SetScreen) -> None:
    answer = screen.send("/fit", key="f", slot=1, scan="RB-1")

    assert answer.status_code == 422
    assert "hand it over first" in seen_in(answer.text)


def test_a_manager_fits_nothing(build: SetScreen) -> None:
    build.who = ""  # the reader who stands in is a manager

    answer = build.scan("RB-1")

    assert answer.status_code == 403
    assert build.fitted() == {}
    assert "somebody else must sign in" in seen_in(build.see("/fit").text)


def test_a_blade_is_taken_out_only_with_a_reason(build: SetScreen) -> None:
    build.scan("RB-1")

    answer = build.send("/take-out", key="o", stands="1=RB-1", reason=" ")

    assert answer.status_code == 422
    assert build.fitted() == {1: "RB-1"}


def test_a_set_is_given_back_only_with_a_reason(screen: SetScreen) -> None:
    refused = screen.send("/act", key="g1", act="give-back", reason="")
    assert refused.status_code == 422
    assert screen.hall.set(screen.code).state == "reserved"

    told = screen.follow(screen.send("/act", key="g2", act="give-back", reason="rotor put off"))

    assert f"{screen.code} is given back." in told
    assert "rotor put off" in told
    assert {screen.hall.part(serial).reservation for serial in FIRST} == {None}


def test_a_set_is_sent_once_every_slot_is_full(build: SetScreen) -> None:
    fill(build, leave=1)
    build.who = "supervisor-1"
    assert build.send("/act", key="s1", act="send").status_code == 422

    build.scan(FIRST[-1])
    told = build.follow(build.send("/act", key="s2", act="send"))

    assert f"{build.code} is sent." in told
    assert build.hall.part("RB-1").place == "sent"


def test_an_act_that_no_form_names_is_refused(screen: SetScreen) -> None:
    assert screen.send("/act", key="x", act="scrap").status_code == 422
    assert screen.hall.set(screen.code).state == "reserved"


def test_the_weights_that_were_placed_are_recorded(build: SetScreen) -> None:
    fill(build)
    drawn = build.see("/correct", places=8, radius_mm=100, masses_g="1, 2, 5").text
    assert "With these the computed residual becomes" in seen_in(drawn)

    answer = build.send("/correct", key="w", weight=["45.0=200.0", "90.0=100.0"], reason="")

    told = build.follow(answer)
    assert "200 g·mm at 45°" in told
    assert "100 g·mm at 90°" in told


def test_a_weight_that_is_none_is_refused(build: SetScreen) -> None:
    fill(build)

    answer = build.send("/correct", key="w", weight="45=plenty", reason="")

    assert answer.status_code == 422
    assert build.hall.set(build.code).weights == ()


def test_weights_are_computed_for_a_full_disc_only(build: SetScreen) -> None:
    told = seen_in(build.see("/correct", places=8, radius_mm=100, masses_g="5").text)

    assert "Weights are computed for a set whose every slot is fitted." in told


@pytest.mark.parametrize("masses", ["5%s", "-1", "0", "nan"])
def test_masses_that_cannot_be_are_named(build: SetScreen, masses: str) -> None:
    fill(build)

    answer = build.see("/correct", places=8, radius_mm=100, masses_g=masses)

    assert answer.status_code == 200
    assert "masses" in seen_in(answer.text)
    assert f'value="{masses}"' in answer.text


def test_as_of_the_past_a_set_has_no_acts(build: SetScreen) -> None:
    build.scan("RB-1")
    build.hall.clock.at_us += 3600 * 1_000_000
    build.scan("RB-2")
    past = {"as_of": "2026-10-01T12:30"}

    drawn = build.see(**past).text

    assert f"{build.code}: 1 out of 8 blades fitted." in seen_in(drawn)
    assert "As of Thu 1 Oct 12:30, then known" in seen_in(drawn)
    assert posts_of(drawn) == []
    for sub in ("/fit", "/mend", "/correct"):
        answer = build.see(sub, **past)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith(f"/sets/{build.code}?as_of=")


@pytest.mark.parametrize("sub", ["", "/fit", "/mend", "/correct", "/sheet", "/file.csv"])
def test_a_set_that_is_not_there_is_not_found(screen: SetScreen, sub: str) -> None:
    screen.code = "RH8-S999"

    assert screen.see(sub).status_code == 404


def test_the_assembly_sheet_prints_the_plan_though_half_is_fitted(build: SetScreen) -> None:
    build.scan("RB-2", slot=1)

    drawn = build.see("/sheet").text

    told = seen_in(drawn)
    assert drawn.count('class="c-datamatrix"') == SLOTS
    assert "is-empty" not in drawn
    assert "holds RB-2" in told
    assert "Seen from the front, slots clockwise" in told
    assert "an authorised person decide" in told
    assert posts_of(drawn) == []


def test_a_set_as_a_file_has_a_row_for_each_slot(build: SetScreen) -> None:
    build.scan("RB-2", slot=1)

    build.who = ""  # makers take no files away
    rows = build.see("/file.csv").text.splitlines()

    by_slot = [row.split(",")[:3] for row in rows if row.split(",")[0].isdigit()]
    assert [row[1] for row in by_slot] == list(FIRST)
    assert [row[2] for row in by_slot] == ["RB-2", *[""] * (SLOTS - 1)]
    assert sum("stands in slot 1" in row for row in rows) == 1
    assert sum("another stands here" in row for row in rows) == 1


@pytest.mark.parametrize("sub", ["", "/fit", "/mend", "/correct", "/sheet"])
def test_every_page_with_a_residual_says_whose_the_grade_is(build: SetScreen, sub: str) -> None:
    told = seen_in(build.see(sub).text)

    assert "The grade belongs to the assembled rotor" in told
    assert "fit to run" not in told


def test_a_list_leads_with_the_set_that_lacks_a_blade(screen: SetScreen) -> None:
    screen.hall.book("inspector", act="hold", serial="RB-3", reason="crack indication")

    told = seen_in(screen.client.get("/sets/reserved").text)

    assert "1 set is on its way; 1 lacks a blade ." in told
    assert "lacks 1 blade" in seen_in(screen.see().text)
