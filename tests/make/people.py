"""A shop with people in every role, and browsers for each of them, for tests of its doors."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from sqlalchemy import select, update
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.core.clock import FixedClock
from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import Event
from ringwright.parts.queries import read_events
from ringwright.people import accounts, devices, keys
from ringwright.people.auditing import Asker
from ringwright.people.passwords import hash_secret
from ringwright.people.tables import Account, AuditLine
from ringwright.people.visitor import DEVICE, SESSION
from ringwright.settings import Settings
from ringwright.sites.service import ExtendSite, SetGroundRule
from ringwright.sites.site import Person
from ringwright.sites.toml import parse_site
from ringwright.web.factory import create_app
from tests.make.bench import NOW, SITE, open_bench
from tests.make.html import read
from tests.make.signing import session_of

PEOPLE = {
    "maker": "make-1",
    "inspector": "insp-1",
    "supervisor": "sup-1",
    "planner": "plan-1",
    "manager": "man-1",
    "quality-engineer": "qe-1",
    "design-authority": "da-1",
    "administrator": "adm-1",
}
"""Somebody in each role, and in no other."""
MORE = "".join(
    f'[[person]]\ncode = "{code}"\nroles = ["{role}"]\n'
    for code, role in (("plan-1", "planner"), ("man-1", "manager"), ("sup-2", "supervisor"))
)
PASSWORD = "seven grey herons stand"
PIN = "803716"
HERE = {"Origin": "http://testserver"}
MINUTE_US = HOUR_US // 60


@cache
def _hashed(secret: str) -> str:
    return hash_secret(secret)


class House:
    """One shop and its application."""

    def __init__(self, url: str) -> None:
        self.clock = FixedClock(parse_instant(NOW))
        self.ledger: Ledger = open_bench(url, self.clock)
        file = parse_site(SITE + MORE, "site")
        self.ledger.execute("NORD", ExtendSite(file=file), SYSTEM)
        self.url = url
        self.app = create_app(Settings(database_url=url, exports_a_minute=10_000), self.ledger)
        with self.ledger.read("NORD") as look:
            self.site_id = look.site.id

    @property
    def desk(self) -> accounts.Desk:
        """The administrator's."""
        return accounts.Desk(
            ledger=self.ledger,
            site_id=self.site_id,
            site="NORD",
            actor="adm-1",
            asker=Asker(address="desk"),
        )

    def give(self, code: str, password: str | None = PASSWORD, pin: str | None = PIN) -> None:
        """Give a person an account with these."""
        accounts.end_badge(self.desk, code)
        values = {
            "password_hash": password and _hashed(password),
            "pin_hash": pin and _hashed(pin),
        }
        with self.ledger.store.write(0) as connection:
            connection.execute(update(Account).where(Account.code == code).values(values))

    def badge(self, code: str) -> str:
        """A new badge of that person."""
        return accounts.make_badge(self.desk, code)

    def roles(self, code: str, *roles: str) -> None:
        """Change what a person may do."""
        rule = SetGroundRule(thing=Person(code=code, roles=roles), key=None)
        self.ledger.execute("NORD", rule, SYSTEM)

    def browser(self, address: str = "192.0.2.1", *, tls: bool = False) -> TestClient:
        """A browser without scripts at that address (RFC 5737), nobody signed in."""
        base = "https://testserver" if tls else "http://testserver"
        return TestClient(
            self.app,
            base_url=base,
            follow_redirects=False,
            headers={"Origin": base},
            client=(address, 50_000),
        )

    def signed_in(self, code: str) -> TestClient:
        """A browser with a session of that person, made without the sign-in page."""
        browser = self.browser()
        browser.cookies.set(SESSION, session_of(self.ledger, code))
        return browser

    def sign_in(self, browser: TestClient, code: str, password: str = PASSWORD) -> Any:
        """Send the sign-in page's form."""
        return browser.post("/sign-in", data={"code": code, "password": password})

    def device(self, kind: str, label: str = "Bench 4", station: str = "B4") -> TestClient:
        """A browser let in as a shared bench or a wall screen."""
        code = devices.invite(self.desk, kind, station, label)
        secret = devices.let_in(self.ledger, code, Asker(address="192.0.2.2"))
        browser = self.browser("192.0.2.2")
        browser.cookies.set(DEVICE, secret)
        return browser

    def key(
        self, role: str, person: str = "", scopes: tuple[str, ...] = (), days: int | None = None
    ) -> dict[str, str]:
        """The header of a new API key."""
        secret = keys.make_key(self.desk, role, person, "a program", scopes, days)
        return {"Authorization": f"Bearer {secret}"}

    def audit(self, kind: str) -> list[Any]:
        """The lines of one kind, in order."""
        query = select(AuditLine).where(AuditLine.kind == kind).order_by(AuditLine.number)
        with self.ledger.store.read() as connection:
            return list(connection.execute(query))

    def everything(self) -> str:
        """All that the store holds, as one text: what is not in it is kept nowhere."""
        from ringwright.db import Base

        with self.ledger.store.read() as connection:
            rows = [
                str(tuple(row))
                for table in Base.metadata.sorted_tables
                for row in connection.execute(select(table))
            ]
        return "\n".join(rows)

    def kinds(self, serial: str) -> list[str]:
        """What was booked on a part, in order."""
        with self.ledger.read("NORD") as look:
            return [row.kind for row in read_events(look, serial)]

    def last_entry(self) -> Any:
        """The last entry of the record, with all that its row holds."""
        with self.ledger.store.read() as connection:
            query = select(Event).order_by(Event.site_seq.desc())
            return connection.execute(query).first()

    def events(self, serial: str) -> list[Any]:
        """What was booked on a part, in order, with who and where."""
        with self.ledger.read("NORD") as look:
            return list(read_events(look, serial))


def fields_of(html: str, form: str = "confirm-form") -> dict[str, str]:
    """The hidden and empty fields of the form with that id, or that action."""
    found = re.search(rf'<form[^>]*(?:id|action)="{re.escape(form)}".*?</form>', html, re.S)
    assert found is not None, html
    inputs = read(found[0]).tags("input")
    return {
        one["name"]: one.get("value", "")
        for one in inputs
        if "name" in one and one.get("type") not in ("radio", "checkbox", "file")
    }


def session_in(answer: Any) -> str:
    """The secret in the cookie that an answer sets."""
    found = re.search(rf"(?:__Host-)?{SESSION}=([\w-]+);", cookie_in(answer))
    assert found is not None
    return found[1]


def cookie_in(answer: Any, name: str = SESSION) -> str:
    """The line that sets a cookie, as it was sent."""
    lines: list[str] = [
        line
        for line in answer.headers.get_list("set-cookie")
        if re.match(rf"(?:__Host-)?{name}=", line)
    ]
    assert len(lines) == 1, answer.headers
    return lines[0]


def with_session(browser: TestClient, secret: str) -> TestClient:
    """The browser, holding that session."""
    browser.cookies.clear()
    browser.cookies.set(SESSION, secret)
    return browser


def is_in(browser: TestClient) -> bool:
    """True when the pages answer this browser."""
    status: int = browser.get("/account").status_code
    assert status in (200, 303)
    return status == 200


def texts(given: Mapping[str, Any]) -> dict[str, str]:
    """The fields of a form as texts."""
    return {name: str(value) for name, value in given.items()}
