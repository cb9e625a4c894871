"""Badges and sign-ins in a browser: where a scan lands, what an address never holds.

Sources: OWASP ASVS 5.0.0, 14.2.1 (no secret in an address) and 14.3.1 (what a browser keeps is
gone at sign-out). A scanner types as a keyboard does, some milliseconds a letter (common
practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Page, Request, expect

from ringwright.people import devices
from ringwright.people.accounts import end_badge
from ringwright.people.auditing import Asker
from ringwright.people.demo import make_demo_accounts
from tests.browser.serving import served
from tests.make.people import House

pytestmark = pytest.mark.browser


@pytest.fixture
def house(sqlite_url: str) -> Iterator[House]:
    """A shop with people in every role."""
    opened = House(sqlite_url)
    yield opened
    opened.ledger.store.close()


@pytest.fixture
def address(house: House) -> Iterator[str]:
    """Where it is served."""
    with served(house.url, house.ledger, guarded=True) as where:
        yield where


@pytest.fixture
def asked(page: Page) -> list[str]:
    """Every address that the browser asked for, and every form that it sent there."""
    told: list[str] = []

    def tell(request: Request) -> None:
        told.append(f"{request.method} {request.url} {request.headers.get('referer', '')}")

    page.on("request", tell)
    return told


@pytest.fixture
def bench(page: Page, house: House, address: str) -> Page:
    """Bench 4, shared, let in by its code."""
    code = devices.invite(house.desk, "bench", "B4", "Bench 4")
    page.goto(f"{address}/device")
    page.fill("#field-one_time", code)
    page.get_by_role("button", name="Let this browser in").click()
    expect(page.locator("#scan")).to_be_focused()
    return page


def scan(page: Page, text: str) -> None:
    """A scanner: a burst of keys and Enter, into whatever has the focus."""
    page.keyboard.type(text, delay=3)
    page.keyboard.press("Enter")


def begin(page: Page, serial: str = "V-1") -> None:
    """Open the part and press Begin, which nobody has signed yet."""
    scan(page, serial)
    expect(page.locator("#bench-serial")).to_have_text(serial)
    page.get_by_role("button", name="Begin").first.click()
    expect(page.locator("#confirm-badge")).to_be_focused()
    expect(page.locator(".c-confirm__what")).to_contain_text(serial)


@pytest.mark.parametrize(
    "focus", ["badge", "body", "code", "secret", "scan", "summary", "button"]
)
def test_a_badge_lands_in_its_field_from_anywhere_and_books(
    bench: Page, house: House, said: list[str], asked: list[str], focus: str
) -> None:
    badge = house.badge("insp-1")
    begin(bench)
    bench.click(".c-confirm summary")
    places = {
        "badge": "#confirm-badge", "code": "#confirm-code", "secret": "#confirm-secret",
        "scan": "#scan", "summary": ".c-confirm summary", "button": ".c-confirm button",
    }  # fmt: skip
    if focus == "body":
        bench.evaluate("document.activeElement.blur()")
    else:
        bench.focus(places[focus])

    scan(bench, badge)

    expect(bench.locator(".c-strip-news")).to_contain_text("Begun")
    last = house.events("V-1")[-1]
    assert (last.kind, last.actor, last.station) == ("begin", "insp-1", "B4")
    assert [one for one in asked if "RWB1" in one.upper()] == []
    assert badge not in bench.content()
    assert [one for one in said if "401" not in one] == []


def test_a_badge_scanned_when_none_is_asked_for_goes_nowhere(
    bench: Page, house: House, address: str, asked: list[str]
) -> None:
    badge = house.badge("insp-1")
    before = house.ledger.head("NORD")

    for path in ("/bench", "/bench?scan=V-1", "/week", "/floor", "/floor/move", "/ground"):
        bench.goto(address + path)
        scan(bench, badge)
        bench.wait_for_timeout(150)
        here = urlsplit(bench.url)
        assert "RWB1" not in f"{here.path}?{here.query}".upper(), path
        assert bench.locator("[data-scan]").first.input_value() == "", path

    assert [one for one in asked if "RWB1" in one.upper()] == []
    assert house.ledger.head("NORD") == before


def test_a_wrong_badge_is_told_and_the_right_one_books_the_same_form(
    bench: Page, house: House
) -> None:
    lost = house.badge("make-1")
    end_badge(house.desk, "make-1")
    good = house.badge("insp-1")
    begin(bench)

    scan(bench, lost)
    expect(bench.get_by_role("alert")).to_contain_text("that badge is not known here")
    expect(bench.locator("#confirm-badge")).to_be_focused()
    scan(bench, "V-2")
    expect(bench.get_by_role("alert")).to_contain_text("that is no badge")
    scan(bench, good)

    expect(bench.locator(".c-strip-news")).to_contain_text("Begun")
    assert house.kinds("V-1")[3:] == ["begin"]


def test_code_and_pin_sign_by_keyboard_alone(bench: Page, house: House) -> None:
    house.give("insp-1")
    begin(bench)

    bench.focus(".c-confirm summary")
    bench.keyboard.press("Enter")
    bench.focus("#confirm-code")
    bench.keyboard.type("insp-1", delay=60)
    bench.keyboard.press("Tab")
    bench.keyboard.type("803716", delay=60)
    bench.keyboard.press("Enter")

    expect(bench.locator(".c-strip-news")).to_contain_text("Begun")
    assert house.events("V-1")[-1].actor == "insp-1"


def test_going_back_books_nothing_and_opens_the_part_again(bench: Page, house: House) -> None:
    begin(bench)

    bench.get_by_role("link", name="Back, book nothing").click()

    expect(bench.locator("#bench-serial")).to_have_text("V-1")
    assert house.kinds("V-1")[3:] == []


def test_the_next_act_is_asked_for_again(bench: Page, house: House) -> None:
    badge = house.badge("insp-1")
    begin(bench)
    scan(bench, badge)
    expect(bench.locator(".c-strip-news")).to_contain_text("Begun")

    bench.locator("button[name=act][value=pause]").click()

    expect(bench.locator("#confirm-badge")).to_be_focused()
    assert house.kinds("V-1")[3:] == ["begin"]


def test_signing_in_and_out_leaves_nothing_in_the_browser(
    page: Page, house: House, address: str
) -> None:
    make_demo_accounts(house.ledger, "NORD", ["sup-1"])
    page.goto(f"{address}/devices")
    assert urlsplit(page.url).path == "/sign-in"
    page.get_by_role("button", name="sup-1", exact=True).click()
    assert urlsplit(page.url).path == "/devices"
    assert page.evaluate("document.cookie") == ""

    page.goto(f"{address}/account")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in*")

    assert page.context.cookies() == []
    kept = page.evaluate("[localStorage.length, sessionStorage.length]")
    assert kept == [0, 0]
    page.go_back()
    page.reload()
    assert urlsplit(page.url).path == "/sign-in"


def test_an_ended_bench_keeps_what_was_typed_on_the_screen(bench: Page, house: House) -> None:
    scan(bench, "V-1")
    expect(bench.locator("#bench-serial")).to_have_text("V-1")
    for row in devices.devices(house.ledger, house.site_id):
        devices.end_device(house.desk, row.hash[:16])

    bench.get_by_role("button", name="Begin").first.click()

    expect(bench.locator("body")).to_contain_text("Your sign-in is over.")
    expect(bench.locator("#bench-serial")).to_have_text("V-1")
    assert house.kinds("V-1")[3:] == []


def test_a_wall_shows_and_offers_nothing_to_press(
    page: Page, house: House, address: str
) -> None:
    secret = devices.let_in(
        house.ledger,
        devices.invite(house.desk, "wall", "", "north wall"),
        Asker(address="127.0.0.1"),
    )
    cookie = {"name": "ringwright-device", "value": secret, "url": address}
    page.context.add_cookies([cookie])  # type: ignore[list-item]

    page.goto(f"{address}/floor/wall")

    assert page.locator("form[method=post]").count() == 0
    assert page.locator("h1").count() == 1
