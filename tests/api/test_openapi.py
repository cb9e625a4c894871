"""The OpenAPI document is one, and says of every operation what an author needs.

Outside: the meta schemas of OpenAPI 3.1 (https://spec.openapis.org/oas/v3.1.0, the copy that
schemathesis carries) and of JSON Schema 2020-12 (jsonschema-rs).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
from fastapi import FastAPI
from schemathesis.specs.openapi.definitions import OPENAPI_31
from starlette.routing import BaseRoute, Route
from starlette.testclient import TestClient

from ringwright.kit.problems import Problem
from ringwright.settings import Settings
from ringwright.web.factory import create_app, room_routers
from tests.make.spoken import open_spoken

OPEN = ("/healthz", "/readyz")
"""These alone are asked without a token (DESIGN's contract of the API)."""
JSON = "application/json"
Operation = tuple[str, str, dict[str, Any]]


@pytest.fixture
def app(sqlite_url: str) -> Iterator[FastAPI]:
    ledger = open_spoken(sqlite_url)
    yield create_app(Settings(database_url=sqlite_url), ledger)
    ledger.store.close()


@pytest.fixture
def document(app: FastAPI) -> dict[str, Any]:
    """The document as it is served."""
    found: dict[str, Any] = TestClient(app).get("/api/openapi.json").json()
    return found


def operations(document: dict[str, Any]) -> list[Operation]:
    return [
        (method.upper(), path, told)
        for path, found in document["paths"].items()
        for method, told in found.items()
    ]


def resolved(document: dict[str, Any], schema: dict[str, Any]) -> dict[str, Any]:
    """A schema with the document's definitions beside it, so that it can judge an example."""
    return {"components": document["components"], **schema}


def test_the_document_obeys_the_meta_schema_of_openapi_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    jsonschema_rs.validate(OPENAPI_31, document)

    document["paths"]["/healthz"]["get"]["responses"] = "none"
    assert not jsonschema_rs.is_valid(OPENAPI_31, document)


def test_every_schema_in_it_obeys_json_schema_2020_12(document: dict[str, Any]) -> None:
    schemas = list(document["components"]["schemas"].values())
    for _method, _path, told in operations(document):
        schemas += [given["schema"] for given in told.get("parameters", [])]

    assert len(schemas) > 40
    assert [schema for schema in schemas if not jsonschema_rs.meta.is_valid(schema)] == []
    assert not jsonschema_rs.meta.is_valid({"type": "word"})


def test_the_document_names_every_route_under_api_and_no_other(
    document: dict[str, Any],
) -> None:
    routes: list[BaseRoute] = [route for router in room_routers() for route in router.routes]
    served = {
        (method, route.path.replace(":path}", "}"))
        for route in routes
        if isinstance(route, Route) and route.path.startswith("/api/")
        for method in route.methods or ()
    }

    told = {(m, path) for m, path, _ in operations(document) if path.startswith("/api/")}
    assert told == served
    assert {path for _, path, _ in operations(document)} - {p for _, p in served} == set(OPEN)


def test_every_operation_has_a_summary_of_its_own_and_says_who_may_ask(
    document: dict[str, Any],
) -> None:
    found = operations(document)

    summaries = [told["summary"] for _, _, told in found]
    assert len(set(summaries)) == len(found)
    assert [text for text in summaries if "." in text] == []  # one made from a route's name
    assert all(told["description"] for _, _, told in found)
    asks = {path: told["security"] for _, path, told in found}
    assert {path for path, schemes in asks.items() if not schemes} == set(OPEN)
    schemes = {name for asked in asks.values() for each in asked for name in each}
    assert schemes <= set(document["components"]["securitySchemes"])


def test_every_refusal_under_api_is_told_with_the_one_model(document: dict[str, Any]) -> None:
    for method, path, told in operations(document):
        refusals = {s: r for s, r in told["responses"].items() if s.startswith("4")}
        models = {r["content"][JSON]["schema"]["$ref"] for r in refusals.values()}

        if path.startswith("/api/"):
            assert models == {f"#/components/schemas/{Problem.__name__}"}, (method, path)
            assert {"400", "401"} <= set(refusals), (method, path)


def test_every_answer_has_an_example_that_obeys_its_own_schema(
    document: dict[str, Any],
) -> None:
    for method, path, told in operations(document):
        done = [r for s, r in told["responses"].items() if s.startswith("2")]
        assert len(done) == 1, (method, path)
        body = done[0]["content"][JSON]

        schema = resolved(document, body["schema"])
        jsonschema_rs.validate(schema, body["example"])
        assert not jsonschema_rs.is_valid(schema, {"no": "such"}) or (path in OPEN)


def test_every_example_of_a_request_obeys_its_schema(document: dict[str, Any]) -> None:
    checked = 0
    for _method, _path, told in operations(document):
        given = [(p["schema"], e) for p in told.get("parameters", []) for e in examples(p)]
        if "requestBody" in told:
            body = told["requestBody"]["content"][JSON]
            assert body["examples"]
            given += [(body["schema"], e["value"]) for e in body["examples"].values()]
        for schema, example in given:
            jsonschema_rs.validate(resolved(document, schema), example)
            checked += 1

    assert checked > 10


def examples(parameter: dict[str, Any]) -> list[Any]:
    found: list[Any] = parameter["schema"].get("examples", [])
    return found


def test_every_place_in_an_address_shows_an_example(document: dict[str, Any]) -> None:
    places = [
        (path, given)
        for _, path, told in operations(document)
        for given in told.get("parameters", [])
        if given["in"] == "path"
    ]

    assert places
    assert [(path, p["name"]) for path, p in places if not examples(p)] == []
