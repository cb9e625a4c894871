"""Signing in and out: sessions that the server keeps, and failures that are counted.

Sources: OWASP ASVS 5.0.0, chapters 3.3 (cookies), 6.2, 6.3 (authentication), 7 (sessions),
16.2 to 16.4 (what is logged); RFC 6265bis 4.1.3.2 (`__Host-`); RFC 6585 (429 with Retry-After).
How long a session lasts is this project's own choice (decision 21).
"""

from __future__ import annotations

import base64
import hashlib
import logging
import re
from http.cookies import SimpleCookie
from typing import Any

import pytest
from limits import RateLimitItemPerHour

from ringwright.core.instants import HOUR_US
from ringwright.people import accounts, passwords, signing
from ringwright.people.tables import SignedIn
from ringwright.people.throttle import TRIES, TRIES_OF_STRANGERS
from tests.make.html import read
from tests.make.people import (
    HERE,
    MINUTE_US,
    PASSWORD,
    PIN,
    House,
    cookie_in,
    fields_of,
    is_in,
    session_in,
    with_session,
)

WRONG = "wrong horse, wrong battery"
OTHER = "eleven otters under ice"


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Secrets are compared without the slow hash, where a hundred of them are tried."""
    monkeypatch.setattr(signing, "fits", lambda kept, text: bool(kept) and text == PASSWORD)


# -- the cookie


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(house: House) -> None:
    house.give("insp-1")
    line = cookie_in(house.sign_in(house.browser(), "insp-1"))

    given = SimpleCookie(line)["ringwright"]
    assert (given["httponly"], given["samesite"], given["path"]) == (True, "lax", "/")
    assert (given["domain"], given["max-age"], given["expires"]) == ("", "", "")


def test_over_tls_the_cookie_is_bound_to_this_host_and_to_tls(house: House) -> None:
    house.give("insp-1")
    browser = house.browser(tls=True)

    answer = house.sign_in(browser, "insp-1")

    line = cookie_in(answer)
    assert line.startswith("__Host-ringwright=")
    assert SimpleCookie(line)["__Host-ringwright"]["secure"] is True
    assert SimpleCookie(line)["__Host-ringwright"]["domain"] == ""
    assert browser.get("/account").status_code == 200
    # A cookie set in the clear, by whoever stands between, opens nothing over TLS.
    plain = house.browser(tls=True)
    plain.cookies.set("ringwright", session_in(answer))
    assert plain.get("/account").status_code == 303


def test_a_session_has_256_random_bits(house: House) -> None:
    house.give("insp-1")
    secrets = [session_in(house.sign_in(house.browser(), "insp-1")) for _ in range(2)]

    assert [len(base64.urlsafe_b64decode(one + "=")) for one in secrets] == [32, 32]
    assert secrets[0] != secrets[1]


def test_the_store_holds_hashes_and_no_secret(house: House) -> None:
    house.give("insp-1")
    session = session_in(house.sign_in(house.browser(), "insp-1"))
    badge = house.badge("insp-1")
    code = accounts.code_for_password(house.desk, "sup-1")
    key = house.key("inspector")["Authorization"].removeprefix("Bearer ")
    device = house.device("bench").cookies["ringwright-device"]

    kept = house.everything()

    for secret in (session, badge, code, key, device):
        assert secret not in kept
        assert hashlib.sha256(secret.encode()).hexdigest() in kept
    assert PASSWORD not in kept
    assert PIN not in kept


# -- how it begins and ends


def test_a_new_session_begins_at_each_sign_in_and_the_old_one_is_dead(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    first = session_in(house.sign_in(browser, "insp-1"))

    second = session_in(house.sign_in(browser, "insp-1"))

    assert second != first
    assert is_in(with_session(house.browser(), second))
    assert not is_in(with_session(house.browser(), first))


def test_a_session_that_the_browser_brought_is_never_taken_up(house: House) -> None:
    house.give("insp-1")
    planted = with_session(house.browser(), "planted-by-a-stranger")

    assert session_in(house.sign_in(planted, "insp-1")) != "planted-by-a-stranger"
    assert not is_in(with_session(house.browser(), "planted-by-a-stranger"))


def test_signing_out_ends_the_session_here_and_in_the_store(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    secret = session_in(house.sign_in(browser, "insp-1"))

    answer = browser.post("/sign-out")

    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert answer.headers["clear-site-data"] == '"cache", "storage"'
    assert "Max-Age=0" in cookie_in(answer)
    assert not is_in(with_session(house.browser(), secret))


def test_a_shut_account_is_out_at_once_and_cannot_come_back(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    house.sign_in(browser, "insp-1")

    accounts.shut_account(house.desk, "insp-1")

    assert not is_in(browser)
    assert house.sign_in(browser, "insp-1").status_code == 401
    accounts.open_account(house.desk, "insp-1")
    assert house.sign_in(browser, "insp-1").status_code == 303


def test_a_new_password_ends_every_other_sign_in(house: House) -> None:
    house.give("insp-1")
    here, there = house.browser(), house.browser("192.0.2.9")
    old = session_in(house.sign_in(here, "insp-1"))
    house.sign_in(there, "insp-1")
    form = {"act": "password", "current": PASSWORD, "password": OTHER, "again": OTHER}

    answer = here.post("/account", data=form)

    assert answer.status_code == 303
    assert is_in(here)
    assert not is_in(there)
    assert not is_in(with_session(house.browser(), old))
    assert house.sign_in(there, "insp-1").status_code == 401
    assert house.sign_in(there, "insp-1", OTHER).status_code == 303


def test_an_administrator_ends_somebodys_sign_ins(house: House) -> None:
    house.give("insp-1")
    browser, desk = house.browser(), house.signed_in("adm-1")
    house.sign_in(browser, "insp-1")

    desk.post("/accounts", data={"act": "sign-out", "person": "insp-1"})

    assert not is_in(browser)
    assert is_in(desk)
    line = house.audit("sign-in-ended")[-1]
    assert (line.actor, line.subject, line.why) == ("adm-1", "insp-1", "1 ended")


def _listed(browser: Any) -> list[str]:
    """The sign-ins that can be ended from this browser's own list."""
    inputs = read(browser.get("/account").text).tags("input")
    return [one["value"] for one in inputs if one.get("name") == "session"]


def test_people_see_their_own_sign_ins_and_end_one_of_them(house: House) -> None:
    house.give("insp-1")
    house.give("sup-1")
    here, lost = house.browser("192.0.2.1"), house.browser("192.0.2.77")
    other, stranger = house.browser("192.0.2.78"), house.browser("192.0.2.200")
    for browser, who in ((here, "insp-1"), (other, "insp-1"), (stranger, "sup-1")):
        house.sign_in(browser, who)
    house.clock.at_us += 6 * MINUTE_US
    house.sign_in(lost, "insp-1")
    page = here.get("/account").text
    assert "192.0.2.77" in page
    assert "192.0.2.78" in page
    assert "192.0.2.200" not in page
    assert len(_listed(here)) == 2

    answer = here.post("/account", data={"act": "end", "session": _listed(here)[0]})

    assert answer.status_code == 303
    assert [is_in(one) for one in (here, lost, other, stranger)] == [True, False, True, True]


def test_nobody_ends_the_sign_in_of_somebody_else(house: House) -> None:
    house.give("insp-1")
    victim = house.browser()
    secret = session_in(house.sign_in(victim, "insp-1"))
    short = hashlib.sha256(secret.encode()).hexdigest()[:16]

    answer = house.signed_in("sup-1").post("/account", data={"act": "end", "session": short})

    assert answer.status_code == 404
    assert is_in(victim)


def test_people_sign_out_everywhere_else(house: House) -> None:
    house.give("insp-1")
    here, there = house.browser(), house.browser()
    for browser in (here, there):
        house.sign_in(browser, "insp-1")

    here.post("/account", data={"act": "end-others"})

    assert (is_in(here), is_in(there)) == (True, False)


# -- how long it lasts


def test_a_session_ends_two_hours_after_its_last_use(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    house.sign_in(browser, "insp-1")

    house.clock.at_us += 2 * HOUR_US - 1
    assert is_in(browser)
    house.clock.at_us += 2 * HOUR_US - 1
    assert is_in(browser)
    house.clock.at_us += 2 * HOUR_US
    assert not is_in(browser)


def test_a_session_ends_thirteen_hours_after_it_began_however_much_it_is_used(
    house: House,
) -> None:
    house.give("insp-1")
    browser = house.browser()
    house.sign_in(browser, "insp-1")
    began_us = house.clock.at_us

    for hours in range(1, 13):
        house.clock.at_us = began_us + hours * HOUR_US
        assert is_in(browser), hours
    house.clock.at_us = began_us + 13 * HOUR_US - 1
    assert is_in(browser)
    house.clock.at_us = began_us + 13 * HOUR_US
    assert not is_in(browser)


def test_a_page_that_only_asks_by_itself_keeps_nobody_signed_in(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    house.sign_in(browser, "insp-1")

    for _ in range(3):
        house.clock.at_us += 50 * MINUTE_US
        answer = browser.get("/week", headers={"HX-Request": "true"})

    assert answer.status_code == 401
    assert not is_in(browser)


def test_what_people_may_do_changes_at_their_next_press(house: House) -> None:
    browser = house.signed_in("insp-1")
    assert browser.get("/devices").status_code == 403

    house.roles("insp-1", "supervisor")
    assert browser.get("/devices").status_code == 200

    house.roles("insp-1", "inspector")
    assert browser.get("/devices").status_code == 403


# -- who is not let in


class Counting:
    """The hasher, which counts how often it is asked to verify."""

    def __init__(self, hasher: Any) -> None:
        self.hasher, self.times = hasher, 0

    def verify(self, kept: str, text: str) -> bool:
        self.times += 1
        answer: bool = self.hasher.verify(kept, text)
        return answer

    def __getattr__(self, name: str) -> Any:
        return getattr(self.hasher, name)


def test_who_is_not_there_gets_the_same_answer_for_the_same_work(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ASVS 6.3.8. The work is counted rather than timed: one hash of the same parameters."""
    counting = Counting(passwords._hasher)
    monkeypatch.setattr(passwords, "_hasher", counting)
    for code in ("insp-1", "make-1", "sup-1"):
        house.give(code)
    house.give("make-1", password=None)
    accounts.shut_account(house.desk, "sup-1")
    right = {"sup-1": PASSWORD}
    answers = {}

    for code in ("insp-1", "make-1", "sup-1", "qe-1", "nobody-1"):
        counting.times = 0
        answer = house.sign_in(house.browser(), code, right.get(code, WRONG))
        assert counting.times == 1, code
        answers[code] = (answer.status_code, answer.text.replace(code, "CODE"))

    assert answers["insp-1"][0] == 401
    assert len(set(answers.values())) == 1
    kept = passwords.hash_secret(WRONG)
    assert (
        re.findall(r"m=\d+,t=\d+,p=\d+", passwords._NOBODYS + kept) == ["m=47104,t=1,p=1"] * 2
    )


@pytest.mark.usefixtures("quick")
def test_ten_failures_shut_the_door_to_that_address_alone(house: House) -> None:
    house.give("insp-1")
    stranger, owner = house.browser("198.51.100.7"), house.browser("192.0.2.1")
    house.sign_in(owner, "insp-1")
    owner.post("/sign-out")

    told = [house.sign_in(stranger, "insp-1", WRONG).status_code for _ in range(TRIES.amount)]
    shut = house.sign_in(stranger, "insp-1", PASSWORD)

    assert (TRIES.amount, TRIES.get_expiry()) == (10, 15 * 60)
    assert told == [401] * 10
    assert shut.status_code == 429
    assert 0 < int(shut.headers["retry-after"]) <= 15 * 60
    assert "set-cookie" not in shut.headers
    assert house.sign_in(stranger, "sup-1", WRONG).status_code == 401
    assert house.sign_in(owner, "insp-1").status_code == 303
    assert house.audit("too-often")[-1].address == "198.51.100.7"


@pytest.mark.usefixtures("quick")
def test_many_strangers_shut_the_door_to_strangers_and_not_to_the_owner(house: House) -> None:
    house.give("insp-1")
    owner = house.browser("192.0.2.1")
    house.sign_in(owner, "insp-1")

    for number in range(TRIES_OF_STRANGERS.amount):
        stranger = house.browser(f"198.51.100.{number}")
        assert house.sign_in(stranger, "insp-1", WRONG).status_code == 401

    fresh = house.browser("203.0.113.1")
    assert RateLimitItemPerHour(100) == TRIES_OF_STRANGERS
    assert house.sign_in(fresh, "insp-1").status_code == 429
    assert house.sign_in(owner, "insp-1").status_code == 303


@pytest.mark.usefixtures("quick")
def test_one_address_that_tries_everybody_is_shut_out(house: House) -> None:
    stranger = house.browser("198.51.100.7")
    told = [
        house.sign_in(stranger, f"guess-{number}", WRONG).status_code for number in range(61)
    ]

    assert told == [401] * 60 + [429]


@pytest.mark.usefixtures("quick")
def test_a_success_forgets_the_failures_before_it(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()

    for _ in range(3):
        for _ in range(9):
            assert house.sign_in(browser, "insp-1", WRONG).status_code == 401
        assert house.sign_in(browser, "insp-1").status_code == 303


def test_the_password_of_now_is_not_to_be_guessed_at_a_screen_left_open(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ringwright.people import account_pages

    monkeypatch.setattr(account_pages, "fits", lambda _kept, text: text == PASSWORD)
    house.give("insp-1")
    browser = house.signed_in("insp-1")
    form = {"act": "pin", "pin": PIN}

    told = [
        browser.post("/account", data={**form, "current": WRONG}).status_code for _ in range(10)
    ]

    assert told == [422] * 10
    assert browser.post("/account", data={**form, "current": PASSWORD}).status_code == 429


# -- what is kept of it


def test_the_audit_has_a_line_of_each(house: House) -> None:
    house.give("insp-1")
    browser = house.browser("192.0.2.5")
    house.sign_in(browser, "insp-1", WRONG)
    house.sign_in(browser, "insp-1")
    browser.get("/accounts")
    browser.post("/sign-out")

    for kind, actor, subject, why in (
        ("not-signed-in", "insp-1", "", ""),
        ("signed-in", "insp-1", "", "password"),
        ("denied", "insp-1", "GET /accounts", "people.accounts"),
        ("signed-out", "insp-1", "", ""),
    ):
        (line,) = house.audit(kind)
        assert (line.actor, line.subject, line.why) == (actor, subject, why)
        assert (line.address, line.at_us) == ("192.0.2.5", house.clock.at_us)


def test_a_line_break_in_a_code_forges_no_line(house: House) -> None:
    forged = "insp-1\n2026-10-01 12:00 signed in adm-1\r\x1b[2K\u2028x"
    house.sign_in(house.browser(), forged, WRONG)

    (line,) = house.audit("not-signed-in")
    file = house.signed_in("man-1").get("/audit/file.csv", params={"kind": "not-signed-in"})

    assert line.actor == "insp-1?2026-10-01 12:00 signed in adm-1??[2K?x"
    assert file.status_code == 200
    assert sum("adm-1" in row for row in file.text.splitlines()) == 1
    assert all(c.isprintable() or c in "\r\n" for c in file.text.lstrip("\ufeff"))


def test_no_secret_is_logged_or_audited(house: House, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    house.give("insp-1")
    browser, badge = house.browser(), house.badge("insp-1")
    session = session_in(house.sign_in(browser, "insp-1"))
    house.sign_in(house.browser(), "insp-1", WRONG)
    house.sign_in(house.browser(), "insp-1", badge)
    bench = house.device("bench")
    drawn = fields_of(bench.get("/bench?scan=V-1").text, "/bench/acts/V-1")
    act = {**drawn, "act": "begin"}
    for proof in ({"badge": badge}, {"code": "insp-1", "secret": PIN}, {"secret": WRONG}):
        signed = {f"by.{name}": value for name, value in proof.items()}
        bench.post("/bench/acts/V-1", data={**act, **signed})
    key = house.key("inspector")
    house.browser().get("/api/openapi.json", headers=key)
    assert house.browser().get("/api/parts/V-1", headers=key).status_code == 200
    assert house.kinds("V-1")[3:] == ["begin"]

    told = caplog.text + house.everything()
    secrets = [PASSWORD, WRONG, PIN, badge, session, key["Authorization"].split()[1]]
    secrets.append(bench.cookies["ringwright-device"])
    assert [secret for secret in secrets if secret in told] == []


def test_a_session_row_holds_no_more_than_where_from() -> None:
    columns = {column.name for column in SignedIn.__table__.columns}

    assert columns == {
        "hash", "site_id", "code", "way", "address", "agent", "made_us", "seen_us", "ended_us"
    }  # fmt: skip


# -- where it leads


@pytest.mark.parametrize(
    "then",
    [
        "//evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "https://evil.example/",
        "https:evil.example",
        "javascript:alert(1)",
        "/\t/evil.example",
        "/\n/evil.example",
        "\t//evil.example",
        " /week",
        "/week\r\nSet-Cookie: a=b",
        "/a\\b",
        "week",
        "///evil.example",
    ],
)
@pytest.mark.usefixtures("quick")
def test_no_address_leads_away_from_here(house: House, then: str) -> None:
    """ASVS 3.7.2, CWE-601. How browsers read `\\`, tab and newline: WHATWG URL, 4.4."""
    house.give("insp-1")
    form = {"code": "insp-1", "password": PASSWORD, "then": then}

    answer = house.browser().post("/sign-in", data=form, headers=HERE)

    assert (answer.status_code, answer.headers["location"]) == (303, "/week")


@pytest.mark.usefixtures("quick")
def test_a_page_that_was_wanted_is_the_next(house: House) -> None:
    house.give("insp-1")
    browser = house.browser()
    asked = browser.get("/bench", params={"scan": "V-1"})
    assert asked.headers["location"] == "/sign-in?then=%2Fbench%3Fscan%3DV-1"
    drawn = read(browser.get(asked.headers["location"]).text).tags("input")
    then = next(one["value"] for one in drawn if one.get("name") == "then")

    form = {"code": "insp-1", "password": PASSWORD, "then": then}
    answer = browser.post("/sign-in", data=form)

    assert answer.headers["location"] == "/bench?scan=V-1"
