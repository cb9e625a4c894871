"""One-time codes: the first administrator, passwords, and what a demo's store alone has.

Sources: OWASP ASVS 5.0.0, 6.4.1 (initial secrets expire and are used once), 6.3.2 (no default
accounts), 6.6.3 (codes are throttled). A code is 60 random bits (7.2.3 asks 128 of sessions; a
code lives an hour at most in ten tries of fifteen minutes).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import ensure_site, open_ledger
from ringwright.cli import main
from ringwright.commands import ways_in
from ringwright.core.clock import FixedClock
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.people import accounts, demo
from ringwright.people.auditing import Asker
from ringwright.people.marks import code_of, new_code
from ringwright.people.signing import Doorkeeper
from ringwright.people.throttle import Throttle
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.bench import NOW
from tests.make.people import PASSWORD, House, is_in

ADDRESS = "http://127.0.0.1:8321"


class Empty:
    """A store in which nobody can sign in yet, as `start --empty` leaves it."""

    def __init__(self, url: str) -> None:
        self.clock = FixedClock(parse_instant(NOW))
        self.ledger: Ledger = open_ledger(Store(url), self.clock)
        settings = Settings(database_url=url)
        ensure_site(self.ledger, settings)
        self.app = create_app(settings, self.ledger)

    def printed(self) -> str:
        """The code that the command prints when the server starts."""
        code = ways_in(self.ledger, ADDRESS)[-1].removeprefix("the code ")
        assert code_of(code) == code
        return code

    def browser(self, address: str = "192.0.2.1") -> TestClient:
        return TestClient(
            self.app,
            follow_redirects=False,
            headers={"Origin": "http://testserver"},
            client=(address, 50_000),
        )

    def use(
        self,
        code: str,
        person: str = "administrator",
        password: str = PASSWORD,
        again: str = "",
    ) -> TestClient:
        """Send the page's form; the browser, with what it was answered."""
        browser = self.browser()
        form = {"one_time": code, "code": person, "password": password}
        self.answer = browser.post("/first", data={**form, "again": again or password})
        return browser


@pytest.fixture
def empty(sqlite_url: str) -> Iterator[Empty]:
    opened = Empty(sqlite_url)
    yield opened
    opened.ledger.store.close()


# -- the first administrator


def test_the_printed_code_makes_the_first_administrator(empty: Empty) -> None:
    assert f"{ADDRESS}/first within an hour" in ways_in(empty.ledger, ADDRESS)[0]
    assert 'href="/first"' in empty.browser().get("/sign-in").text

    browser = empty.use(empty.printed())

    assert (empty.answer.status_code, empty.answer.headers["location"]) == (303, "/ground")
    assert browser.get("/accounts").status_code == 200
    assert 'href="/first"' not in empty.browser().get("/sign-in").text


def test_a_code_typed_as_people_type_is_understood(empty: Empty) -> None:
    empty.use(f"  {empty.printed().replace('-', ' ').lower()} ")

    assert empty.answer.status_code == 303


def test_the_code_works_once(empty: Empty) -> None:
    code = empty.printed()
    empty.use(code)

    again = empty.use(code)

    assert empty.answer.status_code == 422
    assert not is_in(again)


def test_the_code_ends_after_an_hour(empty: Empty) -> None:
    code = empty.printed()

    empty.clock.at_us += HOUR_US
    empty.use(code)
    assert empty.answer.status_code == 422
    assert "too old" in empty.answer.text

    code = empty.printed()
    empty.clock.at_us += HOUR_US - 1
    empty.use(code)
    assert empty.answer.status_code == 303


def test_a_new_code_voids_the_one_printed_before(empty: Empty) -> None:
    old, new = empty.printed(), empty.printed()

    empty.use(old)
    assert empty.answer.status_code == 422
    empty.use(new)
    assert empty.answer.status_code == 303


def test_once_an_administrator_can_sign_in_no_code_is_printed_nor_good(empty: Empty) -> None:
    empty.use(empty.printed())
    assert ways_in(empty.ledger, ADDRESS) == []

    late = accounts.first_code(empty.ledger)  # as if printed before
    empty.use(late, password="another good long sentence")

    assert empty.answer.status_code == 422
    assert "ask one for a code of your own" in empty.answer.text


def test_the_code_makes_nobody_an_administrator_who_is_none(house: House) -> None:
    code = accounts.first_code(house.ledger)
    form = {"one_time": code, "password": PASSWORD, "again": PASSWORD}

    for person in ("insp-1", "nobody-1", ""):
        answer = house.browser().post("/first", data={**form, "code": person})
        assert answer.status_code == 422
    assert house.browser().post("/first", data={**form, "code": "adm-1"}).status_code == 303


@pytest.mark.parametrize(
    ("password", "again"), [("short", "short"), ("ringwright1", "ringwright1"), (PASSWORD, "x")]
)
def test_a_code_is_not_used_up_by_a_password_that_is_refused(
    empty: Empty, password: str, again: str
) -> None:
    code = empty.printed()

    empty.use(code, password=password, again=again)
    assert empty.answer.status_code == 422
    empty.use(code)
    assert empty.answer.status_code == 303


def test_a_code_that_asks_for_a_password_makes_no_administrator(house: House) -> None:
    code = accounts.code_for_password(house.desk, "insp-1")
    form = {"one_time": code, "code": "adm-1", "password": PASSWORD, "again": PASSWORD}

    assert house.browser().post("/first", data=form).status_code == 422
    assert house.browser().post("/sign-in/code", data=form).status_code == 303
    assert house.sign_in(house.browser(), "adm-1").status_code == 401
    assert house.sign_in(house.browser(), "insp-1").status_code == 303


# -- codes from an administrator


def test_the_command_account_prints_a_code_for_one_person(
    house: House, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", house.url)
    monkeypatch.setenv("RINGWRIGHT_NOW", NOW)

    assert main(["account", "--person", "insp-1"]) == 0
    out, told = capsys.readouterr()
    code = out.strip().splitlines()[-1]
    assert "24 hours" in told
    form = {"one_time": code, "password": PASSWORD, "again": PASSWORD}
    assert house.browser().post("/sign-in/code", data=form).status_code == 303
    assert house.sign_in(house.browser(), "insp-1").status_code == 303

    assert main(["account", "--person", "nobody-1"]) != 0
    assert "nobody-1" in capsys.readouterr().err


def test_a_code_for_a_password_ends_after_a_day(house: House) -> None:
    form = {"password": PASSWORD, "again": PASSWORD}
    old = accounts.code_for_password(house.desk, "insp-1")
    house.clock.at_us += 24 * HOUR_US
    assert (
        house.browser().post("/sign-in/code", data={**form, "one_time": old}).status_code == 422
    )

    fresh = accounts.code_for_password(house.desk, "insp-1")
    house.clock.at_us += 24 * HOUR_US - 1
    assert (
        house.browser().post("/sign-in/code", data={**form, "one_time": fresh}).status_code
        == 303
    )


def test_shutting_an_account_ends_its_codes(house: House) -> None:
    code = accounts.code_for_password(house.desk, "insp-1")

    accounts.shut_account(house.desk, "insp-1")

    form = {"one_time": code, "password": PASSWORD, "again": PASSWORD}
    assert house.browser().post("/sign-in/code", data=form).status_code == 422
    with pytest.raises(Refused, match="open it first"):
        accounts.code_for_password(house.desk, "insp-1")
    accounts.open_account(house.desk, "insp-1")
    assert house.browser().post("/sign-in/code", data=form).status_code == 422


def test_nobody_makes_a_code_for_who_is_not_there(house: House) -> None:
    with pytest.raises(Missing):
        accounts.code_for_password(house.desk, "nobody-1")


@pytest.mark.parametrize("path", ["/first", "/sign-in/code", "/device"])
def test_wrong_codes_are_throttled_by_where_they_come_from(house: House, path: str) -> None:
    form = {"password": PASSWORD, "again": PASSWORD, "code": "adm-1"}
    right = {
        "/first": lambda: accounts.first_code(house.ledger),
        "/sign-in/code": lambda: accounts.code_for_password(house.desk, "insp-1"),
        "/device": lambda: accounts.make_code(house.desk, "bench", "B4", "Bench 4"),
    }[path]()
    stranger = house.browser("198.51.100.7")

    told = [
        stranger.post(path, data={**form, "one_time": new_code()}).status_code
        for _ in range(10)
    ]
    shut = stranger.post(path, data={**form, "one_time": right})

    assert told == [422] * 10
    assert shut.status_code == 429
    assert int(shut.headers["retry-after"]) > 0
    elsewhere = house.browser("192.0.2.1").post(path, data={**form, "one_time": right})
    assert elsewhere.status_code == 303


# -- a demo's accounts


def test_no_store_but_a_demos_has_an_account_from_the_start(empty: Empty) -> None:
    assert demo.demo_accounts(empty.ledger) == []
    assert "Demo accounts" not in " ".join(ways_in(empty.ledger, ADDRESS))
    for code in ("administrator", "admin", "insp-1"):
        for password in (demo.PASSWORD, "", "admin", "password"):
            form = {"code": code, "password": password}
            assert empty.browser().post("/sign-in", data=form).status_code == 401


@pytest.mark.parametrize("code", ["insp-1", "adm-1", "nobody-1", ""])
def test_the_demos_press_opens_nothing_in_another_store(house: House, code: str) -> None:
    house.give(code) if code.startswith(("insp", "adm")) else None
    browser = house.browser()

    answer = browser.post("/sign-in/demo", data={"site": "NORD", "code": code})

    assert answer.status_code == 403
    assert not is_in(browser)
    assert "/sign-in/demo" not in browser.get("/sign-in").text


def test_a_demo_offers_its_people_until_they_are_shut(house: House) -> None:
    demo.make_demo_accounts(house.ledger, "NORD", ["insp-1", "sup-1"])
    browser = house.browser()
    told = ways_in(house.ledger, ADDRESS)
    assert told == [f"Demo accounts: insp-1, sup-1; password {demo.PASSWORD}, PIN {demo.PIN}."]

    answer = browser.post("/sign-in/demo", data={"site": "NORD", "code": "insp-1"})
    assert answer.status_code == 303
    assert is_in(browser)

    accounts.shut_account(house.desk, "insp-1")
    asker = Asker(address="192.0.2.1")
    keeper = Doorkeeper(ledger=house.ledger, throttle=Throttle(), asker=asker)
    with pytest.raises(Forbidden):
        demo.sign_in_demo(keeper, "NORD", "insp-1")


def test_an_account_with_a_password_of_its_own_is_no_longer_the_demos(house: House) -> None:
    demo.make_demo_accounts(house.ledger, "NORD", ["insp-1", "sup-1"])

    accounts.set_password(house.desk, "insp-1", PASSWORD)

    assert [one.code for one in demo.demo_accounts(house.ledger)] == ["sup-1"]
    assert house.sign_in(house.browser(), "insp-1", demo.PASSWORD).status_code == 401
