"""Who is let in where: every route asked as every visitor, against a table written by hand.

Source of the table: the people and their whole job as the project's design tells them, not the
doors. OWASP ASVS 5.0.0, 8.1.1 (rules for access are written down), 8.2.1 (access to a function
needs an explicit permission), 8.3.1 (enforced where the user cannot reach).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.routing import BaseRoute, Route
from starlette.testclient import TestClient

from ringwright.web import health
from ringwright.web.factory import room_routers
from tests.make.people import PEOPLE, House

TABLE = Path(__file__).parent / "doors.csv"
SAMPLES = {"serial": "V-1", "product": "VANE", "revision": "1", "code": "C-1"}
SAMPLES |= {
    "number": "1",
    "set_code": "VANE-S001",
    "form": "csv",
    "set": "VANE-S001",
    "run": "1",
}
SAMPLES |= {"gauge": "SCALE-1", "digest": "0" * 64, "number": "1", "pack": "P-0001"}
SAMPLES |= {"sheet": "P-0001-001", "furnace": "HF-1", "recipe": "SLOW", "container": "SW-1"}
SAMPLES["station"] = "CV-1"
SAMPLES |= {"weld": "1-OUT", "film": "A1"}
"""A value for each place in a path; a route with another place needs a line here."""
VISITORS = ("nobody", *PEOPLE, "bench", "wall")
ANSWERS = {"in", "sign-in", "denied"}


def expected() -> dict[str, dict[str, str]]:
    """Route name to visitor to answer."""
    with TABLE.open(newline="", encoding="utf-8") as file:
        return {row.pop("route"): row for row in csv.DictReader(file)}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One route with one of its methods, its places filled."""

    name: str
    method: str
    path: str


def _routes(app: FastAPI) -> Iterator[BaseRoute]:
    yield from app.routes
    for router in (*room_routers(), health.router):
        yield from router.routes


def asked(app: FastAPI) -> list[Asked]:
    """Everything that can be asked of the application, found without being told of it."""
    return [
        Asked(
            name=route.name,
            method=method,
            path=re.sub(r"\{(\w+)[^}]*\}", lambda m: SAMPLES[m[1]], route.path),
        )
        for route in _routes(app)
        if isinstance(route, Route)
        for method in sorted((route.methods or {"GET"}) - {"HEAD"})
    ]


@pytest.fixture
def app(house: House) -> FastAPI:
    house.app.state.watch.most_streams = 0  # a stream would never end; full is an answer too
    return house.app


def visit(house: House, visitor: str) -> TestClient:
    """A browser of that visitor; a person's sends their role's API key as well."""
    if visitor == "nobody":
        return house.browser()
    if visitor in ("bench", "wall"):
        return house.device(visitor)
    browser = house.signed_in(PEOPLE[visitor])
    browser.headers.update(house.key(visitor))
    return browser


def answered(answer: Any) -> str:
    """What the gate said: `sign-in`, `denied`, or `in` whatever came after it."""
    text = answer.text
    if answer.request.method == "GET" and answer.status_code == 303:
        return "sign-in" if answer.headers["location"].startswith("/sign-in") else "in"
    over = "Your sign-in is over." in text or "www-authenticate" in answer.headers
    if answer.status_code == 401 and over:
        return "sign-in"
    told = ("may not do this; ask", "this screen may not do that")
    if answer.status_code == 403 and any(words in text for words in told):
        return "denied"
    return "in"


def test_the_table_names_every_route_and_no_other(app: FastAPI) -> None:
    table = expected()

    assert {one.name for one in asked(app)} == set(table)
    assert all(set(row) == set(VISITORS) for row in table.values())
    assert {answer for row in table.values() for answer in row.values()} == ANSWERS


@pytest.mark.parametrize("visitor", VISITORS)
def test_every_route_answers_each_visitor_as_the_table_says(
    house: House, app: FastAPI, visitor: str
) -> None:
    table, wrong = expected(), []
    browser = visit(house, visitor)

    for one in sorted(asked(app), key=lambda one: one.method):
        if one.method != "GET":
            # Whoever signed out, or let the browser in as a device, is not who asks the next.
            browser = visit(house, visitor)
        answer = browser.request(one.method, one.path)
        assert answer.status_code < 500 or one.name == "live.stream", (one, answer.text)
        said = answered(answer)
        if said != table[one.name][visitor]:
            wrong.append(f"{one.method} {one.path} ({one.name}): {said}")

    assert wrong == []


@pytest.mark.parametrize("visitor", ["nobody", "administrator", "bench"])
def test_a_post_from_another_sites_page_reaches_no_route(
    house: House, app: FastAPI, visitor: str
) -> None:
    browser = visit(house, visitor)
    browser.headers["Origin"] = "https://elsewhere.example"

    for one in asked(app):
        if one.method == "POST":
            answer = browser.post(one.path)
            assert (answer.status_code, "another site" in answer.text) == (403, True), one
