"""A browser that signs on by a server, and the accounts that opens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs, urlsplit

from httpx2 import Response
from sqlalchemy import insert, select
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.people.signing import site_id_of
from ringwright.people.tables import Account, AuditLine
from tests.make.html import read
from tests.make.provider import Server

ADDRESS = "http://127.0.0.1:8321"


def make_account(
    ledger: Ledger, code: str, subject: str, site: str = "NORD", **values: Any
) -> None:
    """An account that opens by the sign-on server alone."""
    given = {"site_id": site_id_of(ledger, site), "code": code, "made_us": 0, **values}
    with ledger.store.write(0) as connection:
        connection.execute(insert(Account).values(outside_subject=subject, **given))


def audit(ledger: Ledger) -> list[tuple[str, str, str]]:
    """(kind, actor, why) of the audit's lines, in turn."""
    query = select(AuditLine.kind, AuditLine.actor, AuditLine.why)
    with ledger.store.read() as connection:
        rows = connection.execute(query.order_by(AuditLine.number)).all()
    return [(row.kind, row.actor, row.why) for row in rows]


@dataclass
class Browser:
    """A browser without scripts on the shop's pages."""

    client: TestClient
    server: Server

    def begin(self, then: str = "") -> dict[str, str]:
        """Press the button; what the address to go to says."""
        answer = self.press(then)
        assert answer.status_code == 200, answer.text
        link = next(a["href"] for a in read(answer.text).tags("a") if "rel" in a)
        asked = {name: values[0] for name, values in parse_qs(urlsplit(link).query).items()}
        self.server.nonce, self.server.challenge = asked["nonce"], asked["code_challenge"]
        return asked

    def press(self, then: str = "") -> Response:
        """Press the button."""
        own = {"sec-fetch-site": "same-origin"}
        return self.client.post("/sign-in/on", data={"then": then}, headers=own)

    def back(self, state: str, **more: str) -> Response:
        """Come back from the server."""
        params = {"state": state, "code": "abc", **more}
        return self.client.get("/sign-in/return", params=params)

    def sign_on(self, then: str = "") -> Response:
        """Off to the server and back."""
        return self.back(self.begin(then)["state"])

    @property
    def is_in(self) -> bool:
        """True when somebody is signed in here."""
        return self.client.get("/account").status_code == 200
