"""A shared bench: let in as a place, and each act signed by whoever does it.

Sources: OWASP ASVS 5.0.0, 7.5.1 and 7.5.3 (a sensitive act is signed anew), 6.3.1 and 6.6.3
(throttled), 14.2.1 and 16.2.5 (no secret in an address or a log); RFC 9110, 9.2.1 (GET books
nothing).
"""

from __future__ import annotations

import logging
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.floor.service import Prioritise, prioritise
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Tx
from ringwright.people import accounts, signing
from ringwright.people.allowing import allows, need_second
from ringwright.people.marks import new_badge
from ringwright.people.throttle import SIGNATURES, SIGNATURES_OF_BENCH
from tests.make.html import read
from tests.make.people import MINUTE_US, PASSWORD, PIN, House, fields_of

SERIAL = "V-1"


@pytest.fixture
def bench(house: House) -> TestClient:
    """Bench 4, shared; nobody is signed in there."""
    return house.device("bench")


def drawn(browser: TestClient, serial: str = SERIAL) -> dict[str, str]:
    """The hidden fields of the form of a part, as it is drawn now."""
    page = browser.get("/bench", params={"scan": serial}).text
    return fields_of(page, f"/bench/acts/{serial}")


def press(browser: TestClient, act: str = "begin", serial: str = SERIAL, **signed: str) -> Any:
    """Press one act, signed by these fields (`badge`, `code`, `secret`)."""
    by = {f"by.{name}": value for name, value in signed.items()}
    form = {**drawn(browser, serial), "act": act, **by}
    return browser.post(f"/bench/acts/{serial}", data=form)


def asks(answer: Any, status: int = 401) -> dict[str, str]:
    """The fields of the page that asks for a signature; it books nothing."""
    assert answer.status_code == status, answer.text
    assert "This press booked nothing." in answer.text
    return fields_of(answer.text)


# -- let in as a place


def test_a_code_lets_a_browser_in_once_as_a_bench(house: House) -> None:
    desk = house.signed_in("sup-1")
    form = {"kind": "bench", "label": "moment scale", "station": "B4"}
    made = desk.post("/devices", data=form).text
    code = made.split('class="c-once__code">')[1].split("<")[0]
    browser = house.browser("192.0.2.30")

    answer = browser.post("/device", data={"one_time": code})

    assert (answer.status_code, answer.headers["location"]) == (303, "/bench")
    assert "HttpOnly" in answer.headers["set-cookie"]
    assert browser.get("/bench").status_code == 200
    assert house.browser().post("/device", data={"one_time": code}).status_code == 422
    lines = [(one.actor, one.subject, one.why) for one in house.audit("device")]
    assert lines == [
        ("sup-1", "moment scale", "code for a bench made"),
        ("sup-1", "moment scale", "let in as bench"),
    ]


def test_the_code_of_a_device_ends_after_a_quarter_of_an_hour(house: House) -> None:
    old = accounts.make_code(house.desk, "bench", "B4", "Bench 4")
    house.clock.at_us += 15 * MINUTE_US
    assert house.browser().post("/device", data={"one_time": old}).status_code == 422

    fresh = accounts.make_code(house.desk, "bench", "B4", "Bench 4")
    house.clock.at_us += 15 * MINUTE_US - 1
    assert house.browser().post("/device", data={"one_time": fresh}).status_code == 303


def test_whoever_was_signed_in_is_signed_out_where_a_device_is_let_in(house: House) -> None:
    browser = house.signed_in("sup-1")
    session = browser.cookies["ringwright"]
    code = accounts.make_code(house.desk, "bench", "B4", "Bench 4")

    browser.post("/device", data={"one_time": code})

    assert browser.get("/devices").status_code == 403
    old = house.browser()
    old.cookies.set("ringwright", session)
    assert old.get("/account").status_code == 303


@pytest.mark.parametrize("path", ["/bench", "/floor/parts", "/floor/move", "/week", "/yield"])
def test_a_bench_opens_the_pages_of_the_floor(bench: TestClient, path: str) -> None:
    assert bench.get(path).status_code == 200


@pytest.mark.parametrize(
    "path", ["/week/file.csv", "/accounts", "/account", "/devices", "/keys"]
)
def test_a_bench_opens_no_file_and_no_account(bench: TestClient, path: str) -> None:
    answer = bench.get(path)

    assert answer.status_code == 403
    assert "sign in by yourself at another" in answer.text


def test_a_bench_that_was_ended_is_out_at_once(house: House, bench: TestClient) -> None:
    desk = house.signed_in("sup-1")
    page = read(desk.get("/devices").text)
    device = next(one["value"] for one in page.tags("input") if one.get("name") == "device")

    desk.post("/devices", data={"act": "end", "device": device})

    assert bench.get("/bench").status_code == 303
    assert house.audit("device")[-1].why == "bench ended"


# -- each act is signed


def test_an_act_that_nobody_signed_is_kept_and_asked_for(
    house: House, bench: TestClient
) -> None:
    before = house.ledger.head("NORD")
    form = {
        **drawn(bench),
        "act": "begin",
        "reading.chord": "10.1",
        "note": 'a "quoted" <note>',
    }

    answer = bench.post(f"/bench/acts/{SERIAL}", data=form)

    kept = asks(answer)
    assert {name: kept[name] for name in form} == form
    assert "by.badge" in kept
    assert house.ledger.head("NORD") == before


def test_an_act_signed_by_badge_is_booked_for_that_person_at_the_station(
    house: House, bench: TestClient
) -> None:
    badge = house.badge("insp-1")
    form = asks(press(bench))

    answer = bench.post(f"/bench/acts/{SERIAL}", data={**form, "by.badge": badge})

    assert answer.status_code == 303
    last = house.events(SERIAL)[-1]
    assert (last.kind, last.actor, last.station) == ("begin", "insp-1", "B4")


@pytest.mark.parametrize("secret", [PIN, PASSWORD])
def test_an_act_signed_by_code_and_pin_or_password_is_booked(
    house: House, bench: TestClient, secret: str
) -> None:
    house.give("insp-1")

    assert press(bench, code="insp-1", secret=secret).status_code == 303
    assert house.events(SERIAL)[-1].actor == "insp-1"


@pytest.mark.parametrize("field", ["badge", "code", "secret"])
@pytest.mark.parametrize("typed", ["{}", " {}\r", "lower", "RWB1{tail}", "RWB1ß{tail}"])
def test_a_badge_is_read_from_any_field_and_by_any_keyboard(
    house: House, bench: TestClient, field: str, typed: str
) -> None:
    badge = house.badge("insp-1")
    scanned = badge.lower() if typed == "lower" else typed.format(badge, tail=badge[5:])

    assert press(bench, **{field: scanned}).status_code == 303
    assert house.events(SERIAL)[-1].actor == "insp-1"


def test_whoever_signs_needs_the_permission_of_the_act(house: House, bench: TestClient) -> None:
    answer = press(bench, badge=house.badge("man-1"))

    assert answer.status_code == 403
    assert "begin" not in house.kinds(SERIAL)[3:]


def test_a_signature_serves_one_act_and_no_more(house: House, bench: TestClient) -> None:
    badge = house.badge("insp-1")
    assert press(bench, badge=badge).status_code == 303

    asks(press(bench, "pause"))


def test_the_same_form_signed_twice_books_once(house: House, bench: TestClient) -> None:
    badge = house.badge("insp-1")
    form = {**asks(press(bench)), "by.badge": badge}

    answers = [bench.post(f"/bench/acts/{SERIAL}", data=form) for _ in range(3)]

    assert [one.status_code for one in answers] == [303] * 3
    assert len({one.headers["location"] for one in answers}) == 1
    assert house.kinds(SERIAL)[3:] == ["begin"]


def test_a_person_signed_in_by_themselves_signs_nothing_more(house: House) -> None:
    assert press(house.signed_in("insp-1")).status_code == 303


def test_a_file_is_not_taken_from_a_shared_bench(house: House, bench: TestClient) -> None:
    form, file = {**drawn(bench), "act": "begin"}, {"picture": ("a.csv", b"x", "text/csv")}

    answer = bench.post(f"/bench/acts/{SERIAL}", data=form, files=file)

    assert answer.status_code == 403
    assert "Nothing was booked." in answer.text
    assert house.kinds(SERIAL)[3:] == []


def test_taking_back_a_signed_act_needs_the_same_person(
    house: House, bench: TestClient
) -> None:
    mine, other = house.badge("insp-1"), house.badge("make-1")
    assert press(bench, badge=mine).status_code == 303
    entry = str(house.events(SERIAL)[-1].site_seq)
    back = {"act": "take-back", "entry": entry, "key": "back", "seen": entry}

    refused = bench.post(f"/bench/acts/{SERIAL}", data={**back, "by.badge": other})
    assert refused.status_code == 403
    assert house.kinds(SERIAL)[-1] == "begin"

    asks(bench.post(f"/bench/acts/{SERIAL}", data=back))
    taken = bench.post(f"/bench/acts/{SERIAL}", data={**back, "by.badge": mine})
    assert taken.status_code == 303
    assert house.events(SERIAL)[-1].corrects == int(entry)


# -- what is wrong, and how often


def test_a_wrong_signature_says_what_to_do_and_keeps_the_form(
    house: House, bench: TestClient
) -> None:
    house.give("insp-1")
    told = {}
    for name, signed in {
        "badge": {"badge": new_badge()},
        "pin": {"code": "insp-1", "secret": "112233"},
        "nobody": {"code": "nobody-1", "secret": PIN},
        "part": {"badge": "V-2"},
    }.items():
        answer = press(bench, **signed)
        asks(answer)
        told[name] = next(t for t in read(answer.text).texts if t.startswith("that "))

    assert told == {
        "badge": "that badge is not known here; take the code and PIN",
        "pin": "that code and PIN do not go together",
        "nobody": "that code and PIN do not go together",
        "part": "that is no badge; scan your badge, or take the code and PIN",
    }
    assert house.kinds(SERIAL)[3:] == []
    assert [one.actor for one in house.audit("signature-refused")] == [
        "a badge", "insp-1", "nobody-1",
    ]  # fmt: skip
    assert {one.why for one in house.audit("signature-refused")} == {"Bench 4"}


def test_a_lost_badge_and_a_shut_account_sign_nothing(house: House, bench: TestClient) -> None:
    lost = house.badge("insp-1")
    house.badge("insp-1")
    asks(press(bench, badge=lost))
    shut = house.badge("make-1")
    house.give("sup-1")
    for code in ("make-1", "sup-1"):
        accounts.shut_account(house.desk, code)
    asks(press(bench, badge=shut))
    asks(press(bench, code="sup-1", secret=PIN))


def test_five_wrong_pins_shut_that_person_at_that_bench_alone(
    house: House, bench: TestClient
) -> None:
    for code in ("insp-1", "make-1"):
        house.give(code)
    badge = house.badge("insp-1")
    house.give("insp-1")
    badge = house.badge("insp-1")
    other = house.device("bench", label="Bench 5")
    form = asks(press(bench))

    def sign(browser: TestClient, **by: str) -> Any:
        given = {f"by.{name}": value for name, value in by.items()}
        return browser.post(f"/bench/acts/{SERIAL}", data={**form, **given})

    for _ in range(SIGNATURES.amount):
        asks(sign(bench, code="insp-1", secret="112233"))
    shut = sign(bench, code="insp-1", secret=PIN)

    assert (SIGNATURES.amount, SIGNATURES.get_expiry()) == (5, 5 * 60)
    asks(shut, 429)
    assert "wait" in shut.text
    assert 0 < int(shut.headers["retry-after"]) <= 300
    assert house.kinds(SERIAL)[3:] == []
    # Others at this bench, this person elsewhere, and their badge here go on.
    assert press(bench, serial="V-2", code="make-1", secret=PIN).status_code == 303
    assert press(other, serial="V-3", code="insp-1", secret=PIN).status_code == 303
    assert sign(bench, badge=badge).status_code == 303


def test_an_ended_badge_scanned_again_and_again_shuts_no_other_badge_out(
    house: House, bench: TestClient
) -> None:
    lost, good = house.badge("make-1"), house.badge("insp-1")
    accounts.end_badge(house.desk, "make-1")

    told = [press(bench, badge=lost).status_code for _ in range(7)]

    assert told == [401] * 5 + [429] * 2
    assert press(bench, badge=good).status_code == 303


def test_twenty_wrong_signatures_shut_the_bench_and_no_other(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(signing, "fits", lambda kept, text: bool(kept) and text == PIN)
    house.give("insp-1")
    bench, other = house.device("bench"), house.device("bench", label="Bench 5")

    for number in range(SIGNATURES_OF_BENCH.amount):
        asks(press(bench, code=f"guess-{number}", secret="112233"))

    assert SIGNATURES_OF_BENCH.amount == 20
    asks(press(bench, code="insp-1", secret=PIN), 429)
    assert press(other, code="insp-1", secret=PIN).status_code == 303


def test_a_parts_serial_scanned_for_a_badge_counts_as_no_failure(
    house: House, bench: TestClient
) -> None:
    for _ in range(SIGNATURES_OF_BENCH.amount + 1):
        assert "that is no badge" in press(bench, badge="V-2").text

    assert press(bench, badge=house.badge("insp-1")).status_code == 303
    assert house.audit("signature-refused") == []


def test_a_right_signature_forgets_the_failures_before_it(
    house: House, bench: TestClient
) -> None:
    house.give("insp-1")
    for act in ("begin", "pause", "resume"):
        for _ in range(4):
            asks(press(bench, act, code="insp-1", secret="112233"))
        assert press(bench, act, code="insp-1", secret=PIN).status_code == 303


# -- a second person


def _asks_a_second(tx: Tx, command: Prioritise) -> Any:
    need_second(tx, "correct", "raising a part")
    return prioritise(tx, command)


@pytest.fixture
def two(house: House) -> House:
    """The shop, where a priority needs two people."""
    house.ledger.teach({Prioritise: Handling(_asks_a_second, allows("prioritise"))})
    return house


FORM = {"serial": SERIAL, "rank": "1", "reason": "engine on wing", "key": "p-1"}


def raise_it(browser: TestClient, **more: str) -> Any:
    return browser.post("/floor/priority", data={**FORM, **more})


def test_the_page_for_the_second_holds_a_slip_and_never_the_badge(
    two: House, bench: TestClient
) -> None:
    badge = two.badge("sup-1")

    answer = raise_it(bench, **{"by.badge": badge})

    form = asks(answer, 409)
    assert badge not in answer.text
    assert badge[5:] not in answer.text
    assert form["by.signed"]
    assert {name: form[name] for name in FORM} == FORM
    assert not any(name.startswith("by.") and name != "by.signed" for name in form)
    assert "raising a part needs a second person. sup-1 acts." in " ".join(
        read(answer.text).texts
    )
    assert "supervisor, quality engineer" in " ".join(read(answer.text).texts)


def test_the_second_signs_and_both_stand_in_the_record(two: House, bench: TestClient) -> None:
    form = asks(raise_it(bench, **{"by.badge": two.badge("sup-1")}), 409)

    answer = bench.post("/floor/priority", data={**form, "second.badge": two.badge("qe-1")})

    assert answer.status_code == 303
    last = two.last_entry()
    assert (last.kind, last.actor, last.approver) == ("prioritise", "sup-1", "qe-1")


@pytest.mark.parametrize(("who", "why"), [("sup-1", "acts already"), ("insp-1", "may not be")])
def test_nobody_is_their_own_second_and_not_everybody_may(
    two: House, bench: TestClient, who: str, why: str
) -> None:
    first = two.badge("sup-1")
    form = asks(raise_it(bench, **{"by.badge": first}), 409)
    second = first if who == "sup-1" else two.badge(who)

    answer = bench.post("/floor/priority", data={**form, "second.badge": second})

    assert answer.status_code == 403
    assert why in answer.text
    assert "prioritise" not in two.kinds(SERIAL)


def test_a_slip_is_good_once(two: House, bench: TestClient) -> None:
    form = asks(raise_it(bench, **{"by.badge": two.badge("sup-1")}), 409)
    signed = {**form, "second.badge": two.badge("qe-1")}
    assert bench.post("/floor/priority", data=signed).status_code == 303

    again = bench.post("/floor/priority", data=signed)

    asks(again)
    assert "sign again" in again.text
    assert two.kinds(SERIAL).count("prioritise") == 1


def test_a_slip_serves_its_own_form_alone(two: House, bench: TestClient) -> None:
    form = asks(raise_it(bench, **{"by.badge": two.badge("sup-1")}), 409)
    second = two.badge("qe-1")

    answer = bench.post("/floor/priority", data={**form, "key": "p-2", "second.badge": second})

    asks(answer)
    assert "prioritise" not in two.kinds(SERIAL)


def test_a_slip_is_good_for_three_minutes(two: House, bench: TestClient) -> None:
    second = two.badge("qe-1")
    first = two.badge("sup-1")
    form = asks(raise_it(bench, **{"by.badge": first}), 409)
    two.clock.at_us += 3 * MINUTE_US
    asks(bench.post("/floor/priority", data={**form, "second.badge": second}))

    form = asks(raise_it(bench, **{"by.badge": first}), 409)
    two.clock.at_us += 3 * MINUTE_US - 1
    answer = bench.post("/floor/priority", data={**form, "second.badge": second})
    assert answer.status_code == 303


def test_a_seconds_wrong_badge_keeps_the_first_ones_slip(two: House, bench: TestClient) -> None:
    form = asks(raise_it(bench, **{"by.badge": two.badge("sup-1")}), 409)

    again = asks(bench.post("/floor/priority", data={**form, "second.badge": "V-2"}))

    assert again["by.signed"] != form["by.signed"]
    signed = {**again, "second.badge": two.badge("qe-1")}
    assert bench.post("/floor/priority", data=signed).status_code == 303


def test_at_ones_own_desk_only_the_second_is_asked(two: House) -> None:
    desk = two.signed_in("sup-1")

    form = asks(raise_it(desk), 409)
    assert "by.signed" not in form

    answer = desk.post("/floor/priority", data={**form, "second.badge": two.badge("qe-1")})
    assert answer.status_code == 303


# -- a badge where none is asked for


@pytest.mark.parametrize("who", ["bench", "sup-1", "nobody"])
def test_a_stray_badge_is_neither_shown_nor_kept_nor_logged(
    house: House, caplog: pytest.LogCaptureFixture, who: str
) -> None:
    caplog.set_level(logging.DEBUG)
    badge = house.badge("insp-1")
    if who == "bench":
        browser = house.device("bench")
    else:
        browser = house.browser() if who == "nobody" else house.signed_in(who)
    answers = [
        browser.get(path, params={name: scanned})
        for scanned in (badge, badge.lower(), f" {badge}\r")
        for path, name in (
            ("/bench", "scan"), ("/bench", "on"), ("/find", "q"), ("/floor/search", "serial"),
            ("/trace", "lot"), ("/floor/priority", "serial"), ("/week", "product"),
            ("/sign-in", "then"),
        )
    ]  # fmt: skip
    answers += [browser.get(f"/trace/parts/{badge}"), browser.get(f"/bench/entries/{badge}")]
    answers += [
        browser.post(path, data={**fields, "key": "k"})
        for path, fields in (
            ("/floor/move", {"scan": badge}),
            ("/floor/priority", {"serial": badge, "rank": "1"}),
            (f"/bench/acts/{SERIAL}", {"act": "begin", "reading.chord": badge}),
            (f"/bench/acts/{badge}", {"act": "begin"}),
            ("/sign-in", {"code": badge, "password": "x"}),
            ("/sign-in/code", {"one_time": badge, "password": "x"}),
            ("/device", {"one_time": badge}),
        )
    ]

    for answer in answers:
        assert answer.status_code < 500
        told = answer.text + str(answer.headers)
        assert badge[5:].lower() not in told.lower(), answer.request.url
    kept = house.everything().lower()
    assert badge[5:].lower() not in kept
    logged = [r.getMessage() for r in caplog.records if r.name.startswith("ringwright")]
    assert badge[5:].lower() not in " ".join(logged).lower()
    assert house.kinds(SERIAL)[3:] == []
