"""Signing in by the shop's own server: what lets a person in, and what does not.

Sources: OpenID Connect Core 1.0 (Core), RFC 6749, RFC 7636, RFC 9207.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from urllib.parse import quote

import httpx2
import pytest
from sqlalchemy import select, update

from ringwright.assembly import SYSTEM
from ringwright.core.clock import FixedClock, SystemClock
from ringwright.ledger.service import Ledger
from ringwright.people.signing import read_session, sessions_of
from ringwright.people.tables import Account, AuditLine, OneTimeCode, SignedIn
from ringwright.people.throttle import SIGN_ONS
from ringwright.people.visitor import SESSION
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make import shop
from tests.make.html import read
from tests.make.provider import Server
from tests.make.sign_on import ADDRESS, Browser, audit, make_account
from tests.make.signing import signed_in

MINUTE_US = 60_000_000
SOUTH = shop.SITE.replace("NORD", "SUD")


def test_the_person_is_let_in_and_goes_on_to_the_page_they_wanted(
    browser: Browser, ledger: Ledger
) -> None:
    answer = browser.sign_on("/bench?serial=V-001")

    found = read_session(ledger, browser.client.cookies[SESSION])
    assert (answer.status_code, answer.headers["location"]) == (303, "/bench?serial=V-001")
    assert found is not None
    assert (found[0].way, found[1].code) == ("sign-on", "insp-1")
    assert audit(ledger) == [("signed-in", "insp-1", "sign-on")]


@pytest.mark.parametrize("then", ["//elsewhere.example/", "https://elsewhere.example/", ""])
def test_nobody_is_sent_to_another_site_after_signing_in(browser: Browser, then: str) -> None:
    assert browser.sign_on(then).headers["location"] == "/week"


def test_a_session_of_before_is_over_and_the_new_one_is_another(
    browser: Browser, ledger: Ledger
) -> None:
    # OWASP ASVS 5.0.0, 7.2.4.
    signed_in(browser.client, ledger, "insp-1")
    before = browser.client.cookies[SESSION]

    browser.sign_on()

    assert read_session(ledger, before) is None
    assert len(sessions_of(ledger, 1)) == 1


def test_what_is_asked_of_the_server_is_what_the_standards_ask(browser: Browser) -> None:
    asked = browser.begin()

    # Core 3.1.2.1; RFC 7636, 4.3.
    assert asked["response_type"] == "code"
    assert asked["scope"] == "openid"
    assert asked["redirect_uri"] == f"{ADDRESS}/sign-in/return"
    assert asked["code_challenge_method"] == "S256"
    assert min(len(asked[name]) for name in ("state", "nonce", "code_challenge")) >= 43


def test_the_challenge_is_that_of_the_standards_example(browser: Browser) -> None:
    provider = browser.client.app.state.sign_on  # type: ignore[attr-defined]

    address = provider.where_to("s", "n", "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk")

    # RFC 7636, appendix B.
    assert "code_challenge=E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM&" in address + "&"


def test_the_page_that_leads_there_needs_no_script_and_no_redirect(browser: Browser) -> None:
    answer = browser.press()

    link = next(a["href"] for a in read(answer.text).tags("a") if "rel" in a)
    assert answer.status_code == 200
    assert answer.headers["refresh"] == f"0; url={link}"
    assert link.startswith(f"{browser.server.issuer}/authorize?")


def test_the_cookie_of_the_way_is_short_lived_and_shut_to_scripts(browser: Browser) -> None:
    plain = browser.press().headers["set-cookie"]
    tls = browser.client.post(
        f"{ADDRESS.replace('http', 'https')}/sign-in/on",
        headers={"sec-fetch-site": "same-origin"},
    ).headers["set-cookie"]

    for cookie in (plain, tls):
        assert {"HttpOnly", "Path=/", "SameSite=lax", "Max-Age=600"} <= set(cookie.split("; "))
    # RFC 6265bis, 4.1.3.2.
    assert tls.startswith("__Host-ringwright-sign-on=")
    assert "Secure" in tls


def test_an_answer_works_once(browser: Browser) -> None:
    state = browser.begin()["state"]
    cookies = dict(browser.client.cookies)
    assert browser.back(state).status_code == 303
    browser.client.cookies.clear()
    browser.client.cookies.update(cookies)

    again = browser.back(state)

    assert again.status_code == 422
    assert not browser.is_in


@pytest.mark.parametrize(("minutes", "status"), [(9, 303), (11, 422)])
def test_an_answer_works_for_ten_minutes(
    browser: Browser, ledger: Ledger, minutes: int, status: int
) -> None:
    state = browser.begin()["state"]
    assert isinstance(ledger.clock, FixedClock)
    ledger.clock.at_us += minutes * MINUTE_US
    browser.server.now_s += minutes * 60

    assert browser.back(state).status_code == status


def test_an_answer_of_another_browser_opens_nothing_and_uses_nothing_up(
    browser: Browser, browser_of: Callable[..., Browser], ledger: Ledger
) -> None:
    # RFC 6749, 10.12: whoever lures somebody into the lurer's own sign-in.
    other = browser_of()
    mine, theirs = browser.begin()["state"], other.begin()["state"]

    lured = browser.back(theirs)

    assert lured.status_code == 422
    assert not browser.is_in
    assert audit(ledger) == []
    with ledger.store.read() as connection:
        assert set(connection.execute(select(OneTimeCode.used_us)).scalars()) == {None}
    assert mine != theirs


def test_an_answer_with_no_state_changes_nothing_and_asks_nobody(
    browser: Browser, ledger: Ledger
) -> None:
    answer = browser.client.get("/sign-in/return?code=abc&state=guessed")

    assert answer.status_code == 422
    assert (audit(ledger), browser.server.asked) == ([], [])


def test_an_answer_that_says_its_code_twice_is_refused(browser: Browser) -> None:
    state = browser.begin()["state"]

    # RFC 6749, 3.1: a parameter must not come more than once.
    assert browser.client.get(f"/sign-in/return?state={state}&code=a&code=b").status_code == 422


@pytest.mark.parametrize(
    ("says", "iss", "status"),
    [
        ({}, None, 303),
        ({}, "right", 303),
        ({}, "https://other.example", 401),
        ({"authorization_response_iss_parameter_supported": True}, None, 401),
        ({"authorization_response_iss_parameter_supported": True}, "right", 303),
    ],
)
def test_another_servers_answer_is_refused_before_the_code_is_sent(
    browser: Browser, says: dict[str, object], iss: str | None, status: int
) -> None:
    # RFC 9207, 2.4: the attack by which two servers are mixed up.
    browser.server.says = says
    given = {"iss": browser.server.issuer if iss == "right" else iss} if iss else {}

    answer = browser.back(browser.begin()["state"], **given)

    assert answer.status_code == status
    assert ("/token" in [path for path, _, _ in browser.server.asked]) is (status == 303)


def test_a_server_that_says_no_is_told_and_kept_in_the_audit(
    browser: Browser, ledger: Ledger
) -> None:
    answer = browser.back(browser.begin()["state"], code="", error="access_denied")

    assert answer.status_code == 401
    assert "access_denied" in answer.text
    assert [kind for kind, _, _ in audit(ledger)] == ["not-signed-in"]


def test_what_a_forger_writes_as_an_error_is_not_shown(browser: Browser) -> None:
    answer = browser.back(browser.begin()["state"], code="", error="Call 555 for help")

    assert answer.status_code == 401
    assert "555" not in answer.text


def test_somebody_unknown_is_told_what_the_administrator_writes(
    browser: Browser, ledger: Ledger
) -> None:
    browser.server.claims = {"sub": "<b>worker-8</b>"}

    answer = browser.sign_on()

    assert answer.status_code == 403
    assert "&lt;b&gt;worker-8&lt;/b&gt;" in answer.text
    assert [line[:2] for line in audit(ledger)] == [("not-signed-in", "<b>worker-8</b>")]
    assert not browser.is_in


def test_a_shut_account_lets_nobody_in(browser: Browser, ledger: Ledger) -> None:
    with ledger.store.write(0) as connection:
        connection.execute(update(Account).values(shut_us=1))

    assert browser.sign_on().status_code == 403
    assert not browser.is_in


def test_an_account_of_nobody_in_the_record_lets_nobody_in(
    browser: Browser, ledger: Ledger
) -> None:
    make_account(ledger, "gone-1", "worker-9")
    browser.server.claims = {"sub": "worker-9"}

    assert browser.sign_on().status_code == 403


def test_two_accounts_of_one_name_let_nobody_in(browser: Browser, ledger: Ledger) -> None:
    more = parse_site(shop.SITE.replace("insp-1", "insp-2"), "site")
    ledger.execute("NORD", ExtendSite(file=more), SYSTEM)
    make_account(ledger, "insp-2", "worker-7")

    assert browser.sign_on().status_code == 403


@pytest.mark.parametrize(
    ("claims", "status"),
    [
        ({"email": "insp@shop.example", "email_verified": True}, 303),
        ({"email": "insp@shop.example", "email_verified": False}, 403),
        ({"email": "insp@shop.example", "email_verified": "yes"}, 403),
        ({"email": "insp@shop.example"}, 403),
        ({}, 401),
        ({"email": ["insp@shop.example"], "email_verified": True}, 401),
    ],
)
def test_an_address_counts_only_when_the_server_has_verified_it(
    browser_of: Callable[..., Browser],
    ledger: Ledger,
    claims: dict[str, object],
    status: int,
) -> None:
    # Core 5.1 and 5.7.
    make_account(ledger, "insp-2", "nobody")
    with ledger.store.write(0) as connection:
        mine = update(Account).where(Account.code == "insp-1")
        connection.execute(mine.values(outside_subject="insp@shop.example"))
    browser = browser_of(sign_on_claim="email")
    browser.server.claims = claims

    assert browser.sign_on().status_code == status


def test_the_scope_holds_the_claim_that_is_wanted(browser_of: Callable[..., Browser]) -> None:
    # Core 5.4.
    assert browser_of(sign_on_claim="email").begin()["scope"] == "openid email"
    assert browser_of(sign_on_claim="preferred_username").begin()["scope"] == "openid profile"


@pytest.fixture
def two_sites(ledger: Ledger) -> Ledger:
    """A second site, at which the same person has an account too."""
    ledger.open_site("SUD")
    ledger.execute("SUD", ExtendSite(file=parse_site(SOUTH, "site")), SYSTEM)
    make_account(ledger, "insp-1", "worker-7", "SUD")
    return ledger


def test_who_is_known_at_two_sites_is_told_which_one_it_is(
    browser: Browser, two_sites: Ledger
) -> None:
    answer = browser.sign_on()

    found = read_session(two_sites, browser.client.cookies[SESSION])
    assert found is not None
    assert found[0].site == "NORD"
    assert "Sign in at SUD instead" in answer.text


def test_the_page_that_was_wanted_says_which_site(browser: Browser, two_sites: Ledger) -> None:
    answer = browser.sign_on("/week?site=SUD")

    found = read_session(two_sites, browser.client.cookies[SESSION])
    assert answer.headers["location"] == "/week?site=SUD"
    assert found is not None
    assert found[0].site == "SUD"


def test_no_secret_token_or_code_is_logged_kept_or_shown(
    browser: Browser, ledger: Ledger, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(0)
    state = browser.begin()["state"]
    with ledger.store.read() as connection:
        begun = connection.execute(select(OneTimeCode.label)).scalar_one()
    shown = browser.back(state, code="the-code").text

    path, headers, body = browser.server.asked[-1]
    hidden = ["the-code", "told-to-nobody", "opens-doors", browser.server.made().split(".")[0]]
    hidden += [headers["authorization"], state, begun]
    assert (path, "the-code" in body) == ("/token", True)
    # The browser of this test logs its own addresses under the same library's name.
    logged = "\n".join(line for line in caplog.text.splitlines() if ADDRESS not in line)
    assert f"{browser.server.issuer}/token" in logged
    for text in (logged, shown, _everything(ledger)):
        assert [secret for secret in hidden if secret in text] == []


def _everything(ledger: Ledger) -> str:
    with ledger.store.read() as connection:
        tables = (OneTimeCode, SignedIn, AuditLine)
        return str([connection.execute(select(one)).all() for one in tables])


def test_many_begin_from_one_address_until_it_is_too_often(browser: Browser) -> None:
    throttle = browser.client.app.state.throttle  # type: ignore[attr-defined]
    for _ in range(SIGN_ONS.amount):
        throttle.failed(SIGN_ONS, "testclient")

    answer = browser.press()

    assert answer.status_code == 429
    assert int(answer.headers["retry-after"]) > 0


def test_at_another_address_the_page_says_where_sign_on_works(browser: Browser) -> None:
    own = {"sec-fetch-site": "same-origin"}
    answer = browser.client.post("http://localhost:8321/sign-in/on", headers=own)

    assert answer.status_code == 422
    assert ADDRESS in answer.text


@pytest.mark.parametrize("host", ["ringwright.example", "Ringwright.Example:443"])
def test_the_usual_port_and_capitals_make_no_other_address(
    browser_of: Callable[..., Browser], host: str
) -> None:
    browser = browser_of(address="https://ringwright.example")
    own = {"sec-fetch-site": "same-origin", "host": host}

    assert browser.client.post("/sign-in/on", headers=own).status_code == 200


def test_without_a_server_there_is_no_sign_on(browser_of: Callable[..., Browser]) -> None:
    browser = browser_of(sign_on_issuer=None)

    assert "/sign-in/on" not in browser.client.get("/sign-in").text
    assert browser.press().status_code == 404
    assert browser.back("x").status_code == 404


@pytest.fixture
def other_server() -> Iterator[str]:
    """A server that others wrote, on a free port of this machine."""
    with warnings.catch_warnings():
        # It still stands on what authlib is about to give up.
        warnings.simplefilter("ignore", DeprecationWarning)
        from oidc_provider_mock import run_server_in_thread

        with run_server_in_thread(require_nonce=True) as running:
            yield f"http://localhost:{running.server_port}"


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize(
    ("claim", "subject"), [("sub", "worker 7"), ("email", "w@shop.example")]
)
def test_a_server_that_others_wrote_lets_the_person_in(
    browser_of: Callable[..., Browser],
    ledger: Ledger,
    other_server: str,
    claim: str,
    subject: str,
) -> None:
    ledger.clock = SystemClock()
    user = f"{other_server}/users/{quote('worker 7')}"
    httpx2.put(user, json={"email": "w@shop.example", "email_verified": True})
    with ledger.store.write(0) as connection:
        connection.execute(update(Account).values(outside_subject=subject))
    browser = browser_of(sign_on_issuer=other_server, sign_on_claim=claim)
    link = browser.press("/floor").headers["refresh"].removeprefix("0; url=")

    there = httpx2.post(link, data={"sub": "worker 7"})
    answer = browser.client.get(there.headers["location"])

    assert (answer.status_code, answer.headers["location"]) == (303, "/floor")
    assert browser.is_in


def test_server_is_named_on_the_button(browser: Browser, server: Server) -> None:
    assert "Sign in by the works&#39; server" in browser.client.get("/sign-in").text
    assert server.asked == []
