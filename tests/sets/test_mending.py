"""A set that lost a blade is mended from the table, whole or not at all."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

import pytest

from ringwright.sets.building import SetRotor
from tests.make.html import read
from tests.make.set_screen import FIRST, SetScreen, seen_in
from tests.make.sets import CODE, PRODUCT, SLOTS, finished, open_hall

MOMENTS = {one.serial: one.moment for one in finished(20)}
SPARES = frozenset(MOMENTS) - frozenset(FIRST)


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[SetScreen]:
    """Eight of twenty blades reserved, the third of them held since; the planner acts."""
    hall = open_hall(sqlite_url, finished(20))
    screen = SetScreen(sqlite_url, hall)
    hall.book("inspector", act="hold", serial="RB-3", reason="crack indication")
    yield screen
    hall.ledger.store.close()


def forms_of(drawn: str) -> list[dict[str, list[str]]]:
    """The fields of each row of the table, as a browser would send them."""
    found = []
    for form in re.findall(r'<form class="c-inline".*?</form>', drawn, re.S):
        fields: dict[str, list[str]] = {}
        for one in read(form).tags("input"):
            if one.get("type") == "hidden":
                fields.setdefault(one["name"], []).append(html.unescape(one["value"]))
        found.append(fields)
    return found


def residual_of(order: list[str]) -> float:
    """Unbalance is a vector of mass times radius (ISO 21940-2), summed here by hand."""
    return float(abs(sum(MOMENTS[s] * 1j ** (4 * k / SLOTS) for k, s in enumerate(order))))


def told_residuals(drawn: str) -> list[str]:
    rows = re.findall(r'<tr><th scope="row">.*?</tr>', drawn, re.S)
    cells = [re.findall(r'class="is-figure">([^<]*)<', row)[1] for row in rows]
    return [cell.replace(",", "") for cell in cells]


def test_what_does_not_count_is_ticked_as_lost_without_asking(screen: SetScreen) -> None:
    drawn = screen.see("/mend").text

    ticked = [one["value"] for one in read(drawn).tags("input") if "checked" in one]
    assert ticked == ["RB-3"]
    assert "RB-3 is on hold" in seen_in(screen.see().text)


def test_an_assembly_sheet_says_what_the_set_lacks(screen: SetScreen) -> None:
    told = seen_in(screen.see("/sheet").text)

    assert "It lacks 1 blade: mend it before it is built." in told
    assert "does not count now" in told


def test_every_row_replaces_the_lost_blade_by_free_ones(screen: SetScreen) -> None:
    forms = forms_of(screen.see("/mend").text)

    assert len(forms) >= 2
    for form in forms:
        assert len(set(form["serial"])) == SLOTS
        assert "RB-3" not in form["serial"]
        assert set(form["entering"]) == set(form["serial"]) - set(FIRST)
        assert set(form["entering"]) <= SPARES


def test_each_row_tells_the_residual_of_what_it_sends(screen: SetScreen) -> None:
    drawn = screen.see("/mend").text

    summed = [residual_of(form["serial"]) for form in forms_of(drawn)]
    rounded = [f"{size:.0f}" if size >= 1 else "under 1" for size in summed]

    assert told_residuals(drawn) == rounded


def test_where_nothing_else_moves_the_best_spare_is_told(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    by_hand = min(SPARES, key=lambda spare: residual_of([*FIRST[:2], spare, *FIRST[3:]]))

    assert form["serial"] == [*FIRST[:2], by_hand, *FIRST[3:]]


def test_a_row_that_is_chosen_mends_the_set(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]

    told = screen.follow(screen.send("/mend", **form, reason="crack indication"))

    came = form["entering"][0]
    assert f"{screen.code} is reserved." in told
    assert screen.hall.set(screen.code).slots == form["serial"]
    assert screen.hall.part("RB-3").reservation is None
    assert screen.hall.part(came).reservation == screen.code


def test_without_a_reason_nothing_is_mended(screen: SetScreen) -> None:
    head = screen.hall.ledger.head(CODE)
    form = forms_of(screen.see("/mend").text)[0]

    answer = screen.send("/mend", **form, reason=" ")

    assert answer.status_code == 422
    assert "Nothing was booked." in seen_in(answer.text)
    assert screen.hall.ledger.head(CODE) == head


def test_a_spare_that_was_held_meanwhile_mends_nothing(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    screen.hall.book("inspector", act="hold", serial=form["entering"][0], reason="scratch")
    head = screen.hall.ledger.head(CODE)

    answer = screen.send("/mend", **form, reason="crack indication")

    assert answer.status_code == 409
    assert form["entering"][0] in seen_in(answer.text)
    assert screen.hall.ledger.head(CODE) == head
    assert screen.hall.set(screen.code).slots == list(FIRST)


def test_a_maker_mends_nothing(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    screen.who = "maker-1"

    assert screen.send("/mend", **form, reason="crack indication").status_code == 403
    assert screen.hall.set(screen.code).slots == list(FIRST)


def test_nothing_lost_asks_which_blade_is_lost(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    screen.send("/mend", **form, reason="crack indication")

    assert "Choose which blade is lost." in seen_in(screen.see("/mend").text)


def test_a_sound_blade_can_be_named_as_lost_too(screen: SetScreen) -> None:
    forms = forms_of(screen.see("/mend", lost=["RB-3", "RB-6"]).text)

    assert forms
    assert all({"RB-3", "RB-6"}.isdisjoint(form["serial"]) for form in forms)


def test_usual_limits_that_no_spare_keeps_are_named_and_can_be_left_aside(
    screen: SetScreen,
) -> None:
    limits = {"neighbour_g_mm": 1e-3}
    command = SetRotor(key="r", product=PRODUCT, rotor=limits, reason="drawing 7")
    screen.hall.act("design-authority", command)

    assert forms_of(screen.see("/mend").text) == []
    assert forms_of(screen.see("/mend", loose=1).text)


def test_a_fitted_blade_is_taken_out_before_another_takes_its_place(
    screen: SetScreen,
) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    screen.send("/mend", **form, reason="crack indication")
    screen.hand_over()
    screen.who = "maker-1"
    screen.scan("RB-1")

    told = seen_in(screen.see("/mend", lost="RB-1").text)

    assert "A blade that is fitted is taken out before another takes its place." in told


def test_what_is_fitted_stays_in_its_slot_in_every_row(screen: SetScreen) -> None:
    form = forms_of(screen.see("/mend").text)[0]
    screen.send("/mend", **form, reason="crack indication")
    screen.hand_over()
    screen.who = "maker-1"
    screen.scan("RB-1")
    screen.scan("RB-2", slot=2)

    forms = forms_of(screen.see("/mend", lost="RB-7").text)

    assert forms
    assert all(form["serial"][:2] == ["RB-1", "RB-2"] for form in forms)
