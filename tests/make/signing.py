"""A browser in which somebody is signed in, without the sign-in page and its slow hash."""

from __future__ import annotations

from fastapi import FastAPI, Request
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.people.accounts import Desk
from ringwright.people.auditing import Asker
from ringwright.people.devices import invite, let_in
from ringwright.people.signing import Doorkeeper, open_session, site_id_of
from ringwright.people.throttle import Throttle
from ringwright.people.visitor import SESSION, Visitor, visitor_of
from ringwright.sites.queries import read_person
from ringwright.sites.site import Person


def session_of(ledger: Ledger, code: str, site: str | None = None) -> str:
    """The secret of a new session of a person; of the only site unless one is named."""
    at = site or ledger.sites(practice=False)[0][0]
    keeper = Doorkeeper(
        ledger=ledger, throttle=Throttle(), asker=Asker(address="testclient", agent="test")
    )
    site_id = site_id_of(ledger, at)
    assert site_id is not None
    return open_session(keeper, site_id, code, "password")


def signed_in(
    client: TestClient, ledger: Ledger, code: str, site: str | None = None
) -> TestClient:
    """The client, signed in as that person from now on."""
    client.cookies.delete(SESSION)
    client.cookies.set(SESSION, session_of(ledger, code, site))
    return client


AS = "x-test-person"
READER = Person(code="r-1", roles=("manager", "administrator"))


def open_to_readers(app: FastAPI, person: Person = READER) -> FastAPI:
    """The application, every browser that nobody signed in at let in as that person.

    A request's header AS names another. For tests of what pages show and do; the gate and its
    doors stay as they are.
    """

    def who(request: Request) -> Visitor | None:
        ledger: Ledger = request.app.state.ledger
        site = request.query_params.get("site") or ledger.sites(practice=False)[0][0]
        site_id = site_id_of(ledger, site) or 0
        with ledger.store.read() as connection:
            named = read_person(connection, site_id, request.headers.get(AS, ""))
        found = Visitor(site_id=site_id, site=site, person=named or person)
        return visitor_of(request) or found

    app.state.visitor_of = who
    return app


def let_wall_in(ledger: Ledger) -> str:
    """The secret of a wall screen of the only site."""
    asker = Asker(address="testclient")
    site = ledger.sites(practice=False)[0][0]
    desk = Desk(
        ledger=ledger, site_id=site_id_of(ledger, site) or 0, site=site, actor="x", asker=asker
    )
    return let_in(ledger, invite(desk, "wall", "", "hall"), asker)
