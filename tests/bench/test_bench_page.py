"""The Bench without scripts: a scan opens, a press books once, a refusal books nothing."""

from __future__ import annotations

import pytest

from ringwright.core.clock import FixedClock
from tests.make.bench import Screen, open_bench
from tests.make.html import read
from tests.web.test_pseudo_locale import left_in_english

READ = {"reading.chord": "10.1", "reading.twist": "1.5"}


def begun(screen: Screen, serial: str = "V-1") -> Screen:
    assert screen.press(serial, "begin").status_code == 303
    return screen


@pytest.mark.parametrize("scanned", ["V-1", "v-1", "V-1\r", "RW:PASS", "RW:BEGIN", "NOPE"])
def test_a_scan_never_books(screen: Screen, scanned: str) -> None:
    before = screen.ledger.head("NORD")

    screen.client.get("/bench", params={"scan": scanned, "on": "V-1", "act": "pass"})

    assert screen.ledger.head("NORD") == before


def test_a_scan_in_the_other_case_opens_the_part(screen: Screen) -> None:
    answer = screen.client.get("/bench", params={"scan": "v-2\r\n"})

    assert answer.status_code == 200
    assert '<h1 id="bench-serial" class="c-serial">V-2</h1>' in answer.text


def test_a_clean_pass_is_two_presses_after_the_scan(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "pass", **READ)
    told = screen.client.get(answer.headers["location"]).text

    assert screen.kinds("V-1")[3:] == ["begin", "measure", "measure", "end"]
    assert "Passed" in told
    assert "30 Weigh" in told
    assert "1 passed, 0 to rework, 0 stopped" in told


def test_a_form_sent_twice_books_once_and_is_told_the_same(screen: Screen) -> None:
    begun(screen)
    form = screen.form("V-1")

    answers = [screen.send("V-1", form, "pass", **READ) for _ in range(3)]

    assert {a.headers["location"] for a in answers} == {answers[0].headers["location"]}
    assert screen.kinds("V-1").count("end") == 2  # step 10 and step 20


def test_a_begin_sent_twice_books_once(screen: Screen) -> None:
    form = screen.form("V-1")

    statuses = [screen.send("V-1", form, "begin").status_code for _ in range(2)]

    assert statuses == [303, 303]
    assert screen.kinds("V-1").count("begin") == 2  # step 10 and step 20


def test_a_pass_with_an_unread_characteristic_books_nothing(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "pass", **{"reading.chord": "10.1"})

    assert answer.status_code == 422
    assert "not read yet: twist" in answer.text
    assert "Nothing was booked." in answer.text
    assert 'value="10.1"' in answer.text
    assert screen.kinds("V-1")[3:] == ["begin"]


def test_a_pass_with_a_reading_outside_is_refused_and_drawn_outside(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "pass", **{**READ, "reading.twist": "2.5"})

    assert answer.status_code == 422
    assert "outside its limits: twist 2.5 deg" in answer.text
    assert "outside, not booked" in answer.text
    assert "c-ruler__ring" in answer.text


def test_a_decimal_comma_is_refused_and_kept_in_its_field(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "pass", **{**READ, "reading.chord": "10,1"})

    assert answer.status_code == 422
    assert "has a comma" in answer.text
    assert 'value="10,1"' in answer.text


def test_kept_readings_are_not_booked_again_with_the_pass(screen: Screen) -> None:
    begun(screen)
    screen.press("V-1", "keep", **READ)

    # The field holds what is booked; sent unchanged it is no new reading.
    screen.press("V-1", "pass")

    assert screen.kinds("V-1").count("measure") == 2
    assert screen.part("V-1").step == 30


def test_nobody_signed_in_books_nothing_and_what_was_typed_stays(screen: Screen) -> None:
    form = screen.form("V-1")
    screen.client.cookies.clear()

    page = screen.send("V-1", form, "begin")
    screen.client.headers["HX-Request"] = "true"
    piece = screen.send("V-1", form, "begin")

    assert (page.status_code, piece.status_code) == (401, 401)
    assert "Nothing was booked." in page.text
    assert piece.headers["HX-Reswap"] == "beforebegin"  # the form is not replaced
    assert screen.kinds("V-1") == ["create", "begin", "end"]


def test_a_maker_may_not_send_to_rework(screen: Screen) -> None:
    begun(screen)
    screen.choose("make-1")

    answer = screen.press("V-1", "rework:R1")

    assert answer.status_code == 403
    assert "Nothing was booked." in answer.text


def test_a_rework_goes_to_the_first_step_of_its_card(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "rework:R1", rework_defect="ridge")
    told = screen.client.get(answer.headers["location"]).text

    assert "To rework" in told
    assert "10 Grind" in told
    assert screen.part("V-1").step == 10


def test_a_stop_opens_a_nonconformity_and_holds_the_part(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "stop", defect="dent", place_on_part="tip", note="seen")
    told = screen.client.get(answer.headers["location"]).text

    assert "Stopped" in told
    assert "quarantine" in told
    assert screen.part("V-1").nonconformities == 1
    assert screen.part("V-1").hold is not None


def test_a_stop_without_a_defect_keeps_what_was_typed(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "stop", place_on_part="tip end")

    assert answer.status_code == 422
    assert 'value="tip end"' in answer.text


def test_who_acted_first_is_shown_beside_the_refusal(screen: Screen) -> None:
    begun(screen)
    form = screen.form("V-1")
    screen.choose("sup-1")
    screen.press("V-1", "pause")
    screen.choose("insp-1")

    answer = screen.send("V-1", form, "pass", **READ)

    assert answer.status_code == 409
    assert "What changed" in answer.text
    assert "paused by sup-1" in answer.text
    assert "Nothing was booked." in answer.text


def test_an_older_screen_may_not_hold_a_part_that_moved_on(screen: Screen) -> None:
    form = screen.form("V-1")
    begun(screen)

    answer = screen.send("V-1", form, "hold", hold_reason="late look")

    assert answer.status_code == 409
    assert screen.part("V-1").hold is None


def test_a_pass_can_be_taken_back_for_ten_seconds(screen: Screen) -> None:
    begun(screen)
    done = screen.press("V-1", "pass", **READ).headers["location"]
    told = screen.client.get(done).text
    form = screen.fields(told, "/bench/acts/V-1")

    screen.send("V-1", form, "take-back")

    assert "Take it back" in told
    assert screen.part("V-1").place == "in work"


def test_after_ten_seconds_it_is_a_correction(screen: Screen) -> None:
    begun(screen)
    done = screen.press("V-1", "pass", **READ).headers["location"]
    form = screen.fields(screen.client.get(done).text, "/bench/acts/V-1")
    later = FixedClock(screen.ledger.clock.now_us() + 10_000_001)
    screen.ledger.clock = later

    told = screen.client.get(done).text
    answer = screen.send("V-1", form, "take-back")

    assert "Take it back" not in told
    assert answer.status_code == 403
    assert screen.part("V-1").place == "waiting"


def test_skipping_a_step_needs_a_supervisor_and_a_reason(screen: Screen) -> None:
    refused = screen.press("V-1", "begin-at", step="30", reason="agreed")
    screen.choose("sup-1")
    unexplained = screen.press("V-1", "begin-at", step="30")
    done = screen.press("V-1", "begin-at", step="30", reason="agreed")

    assert (refused.status_code, unexplained.status_code, done.status_code) == (403, 422, 303)
    assert screen.part("V-1").step == 30


def test_typed_readings_are_not_lost_by_a_pause(screen: Screen) -> None:
    begun(screen)

    answer = screen.press("V-1", "pause", **READ)

    assert answer.status_code == 422
    assert "typed but not booked" in answer.text
    assert 'value="10.1"' in answer.text


def test_a_visit_is_paused_handed_over_and_resumed(screen: Screen) -> None:
    begun(screen)
    acts = [("pause", {}), ("resume", {}), ("hand-over", {"to": "sup-1"})]

    statuses = [screen.press("V-1", act, **given).status_code for act, given in acts]

    assert statuses == [303, 303, 303]
    assert screen.kinds("V-1")[3:] == ["begin", "pause", "resume", "pause", "resume"]


def test_a_part_is_held_with_a_reason_lifted_and_moved(screen: Screen) -> None:
    silent = screen.press("V-1", "hold")
    screen.press("V-1", "hold", hold_reason="survey of the oven")
    refused = screen.press("V-1", "begin")
    screen.choose("sup-1")
    screen.press("V-1", "unhold", hold_reason="survey is good")
    screen.press("V-1", "move", place="rack 12")

    assert silent.status_code == 422
    assert "survey of the oven" in refused.text
    assert screen.part("V-1").hold is None
    assert screen.part("V-1").whereabouts == "rack 12"


def test_enter_in_a_field_has_no_button_to_press(screen: Screen) -> None:
    """Implicit submission presses the form's first submit button; a disabled one does nothing.

    HTML Living Standard, 4.10.21.2 Implicit submission.
    """
    begun(screen)
    html = screen.client.get("/bench", params={"scan": "V-1"}).text
    form = html[html.index('id="bench-form"') :]

    first = form[form.index("<button") :].partition(">")[0]

    assert "disabled" in first


def test_the_station_is_kept_where_no_script_can_read_it(screen: Screen) -> None:
    answer = screen.client.post("/bench/station", data={"station": "B4"})

    (cookie,) = answer.headers.get_list("set-cookie")

    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie


def test_every_field_of_the_bench_is_translated(screen: Screen) -> None:
    ours = {
        "VANE",
        "Grind",
        "again",
        "Inspect",
        "Weigh",
        "chord",
        "twist",
        "dent",
        "tip",
        "deg",
    }
    ours |= {"Bench", "insp", "make", "sup", "adm", "nonconformity"}
    made_up = {"Accept-Language": "en-XA"}
    begun(screen)
    drawn = [screen.client.get("/bench", params={"scan": "V-1"}, headers=made_up)]
    stopped = screen.press("V-1", "stop", defect="dent", place_on_part="tip")
    drawn.append(screen.client.get(stopped.headers["location"], headers=made_up))
    drawn.append(screen.client.get("/bench", params={"scan": "V-1"}, headers=made_up))
    drawn.append(screen.client.get("/bench/entries/V-1", headers=made_up))
    entry = screen.part("V-1").last_seq
    drawn.append(
        screen.client.get("/bench/nonconformities", params={"open": entry}, headers=made_up)
    )

    for answer in drawn:
        assert left_in_english(read(answer.text).texts) - ours == set(), answer.url


def test_common_defects_of_the_step_can_be_pressed_instead_of_typed(screen: Screen) -> None:
    begun(screen, "V-2").press("V-2", "rework:R1", rework_defect="ridge at the root")
    begun(screen)

    answer = screen.press("V-1", "stop", tile="ridge at the root")
    listed = screen.client.get("/bench/nonconformities").text

    assert answer.status_code == 303
    assert "ridge at the root" in listed


def test_an_old_address_tells_no_old_success(screen: Screen) -> None:
    begun(screen)
    done = screen.press("V-1", "pass", **READ).headers["location"]
    begun(screen)

    told = screen.client.get(done).text

    assert "Passed" not in told
    assert "30 Weigh" in told


def test_a_card_on_a_held_part_says_that_it_is_held_and_who_lifts_it(screen: Screen) -> None:
    screen.press("V-1", "hold", hold_reason="survey of the oven")

    told = screen.client.get("/bench", params={"scan": "RW:BEGIN", "on": "V-1"}).text

    assert "Not done: on hold" in told
    assert "survey of the oven" in told
    assert "A supervisor or quality engineer lifts it." in told


@pytest.mark.postgres
def test_the_bench_asks_the_other_store_alike(postgres_url: str) -> None:
    ledger = open_bench(postgres_url)
    screen = begun(Screen(postgres_url, ledger), "V-2")
    screen.press("V-2", "rework:R1", rework_defect="ridge")
    begun(screen)

    opened = screen.client.get("/bench", params={"scan": "v-1"})
    stopped = screen.press("V-1", "stop", tile="ridge", **READ)
    listed = screen.client.get("/bench/nonconformities").text

    assert 'value="ridge"' in opened.text
    assert stopped.status_code == 303
    assert "1 nonconformity waits" in listed
    ledger.store.close()
