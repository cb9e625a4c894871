"""Whoever asks, whatever they send: no server error, no answer the document does not know."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.responses import JSONResponse

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.sites.site import ROLES
from ringwright.web.factory import create_app
from tests.api.fuzzing import Told, fuzz
from tests.make.spoken import open_spoken, person_of

SYSTEM = "a supervisor's token without a person"
STRANGER = "nobody"
CALLERS = (*ROLES, SYSTEM, STRANGER)
FEW = ("maker", "planner", "supervisor", "quality-engineer", SYSTEM, STRANGER)
"""Who asks in a whole run: between them they may do all there is; `--long` asks as each."""
SHORT, WHOLE = 6, 200
EXTENTS = [
    pytest.param(SHORT, marks=pytest.mark.slow, id="6"),
    pytest.param(WHOLE, marks=pytest.mark.long, id="200"),
]

# The passes are shared by the tests below, so one process runs them all.
pytestmark = pytest.mark.xdist_group("fuzz")
Ask = Callable[[str, int], Told]


@pytest.fixture(scope="module")
def stores(
    _sqlite_template: Any, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], str]:
    """Makes an empty, migrated store for a caller."""
    folder = tmp_path_factory.mktemp("fuzz")

    def make(name: str) -> str:
        path = folder / f"{name}.sqlite"
        path.write_bytes(_sqlite_template.read_bytes())
        return f"sqlite:///{path}"

    return make


@pytest.fixture(scope="module")
def ask(stores: Callable[[str], str]) -> Ask:
    """What a caller is told in so many examples; asked once."""

    @cache
    def told(caller: str, examples: int) -> Told:
        url = stores(f"{CALLERS.index(caller)}-{examples}")
        ledger = open_spoken(url)
        try:
            app = create_app(Settings(database_url=url), ledger)
            return fuzz(app, _token(ledger, caller), examples)
        finally:
            ledger.store.close()

    return told


def _token(ledger: Any, caller: str) -> str | None:
    now_us = ledger.clock.now_us()
    if caller == STRANGER:
        return None
    if caller == SYSTEM:
        return make_token(ledger.store, 1, "supervisor", None, now_us)
    return make_token(ledger.store, 1, caller, person_of(caller), now_us)


@pytest.mark.parametrize("examples", EXTENTS)
@pytest.mark.parametrize(
    "caller",
    [one if one in FEW else pytest.param(one, marks=pytest.mark.long) for one in CALLERS],
)
def test_nothing_a_caller_sends_breaks_the_server_or_its_document(
    ask: Ask, caller: str, examples: int
) -> None:
    told = ask(caller, examples)

    assert told.faults == []
    assert set(told.phases) >= {"EXAMPLES", "COVERAGE", "FUZZING"}
    assert told.requests > 12 * examples


@pytest.mark.parametrize("examples", EXTENTS)
def test_a_stranger_gets_nothing_from_any_operation(ask: Ask, examples: int) -> None:
    told = ask(STRANGER, examples)

    under_api = {name: seen for name, seen in told.statuses.items() if " /api" in name}
    assert under_api
    assert {name: set(seen) for name, seen in under_api.items()} == {
        name: {401} for name in under_api
    }


@pytest.mark.parametrize("examples", EXTENTS)
def test_every_operation_was_asked_and_did_its_work_for_somebody(
    ask: Ask, stores: Callable[[str], str], examples: int
) -> None:
    seen: dict[str, Counter[int]] = {}
    callers = CALLERS if examples == WHOLE else FEW
    for caller in callers:
        for name, statuses in ask(caller, examples).statuses.items():
            seen.setdefault(name, Counter()).update(statuses)

    assert set(seen) == _operations(create_app(Settings(database_url=stores("bare"))))
    assert [name for name, n in seen.items() if not any(200 <= s < 300 for s in n)] == []
    assert [name for name, n in seen.items() if n.total() < len(callers)] == []


def _operations(app: FastAPI) -> set[str]:
    return {
        f"{method.upper()} {path}"
        for path, found in app.openapi()["paths"].items()
        for method in found
    }


@pytest.fixture
def app(sqlite_url: str) -> Iterator[FastAPI]:
    """The application, to which a test adds an operation with a fault."""
    ledger = open_spoken(sqlite_url)
    yield create_app(Settings(database_url=sqlite_url), ledger)
    ledger.store.close()


def _broken(serial: str) -> dict[str, str]:
    if len(serial) > 3:
        raise RuntimeError("a fault planted")
    return {"serial": serial}


def _undocumented(serial: str) -> JSONResponse:
    return JSONResponse({"error": "teapot", "detail": serial or "none"}, status_code=418)


def _another_shape(serial: str) -> JSONResponse:
    return JSONResponse({"serial": [serial]})


@pytest.mark.slow
@pytest.mark.planted
@pytest.mark.parametrize(
    ("faulty", "sign"),
    [
        (_broken, "not_a_server_error"),
        (_undocumented, "status_code_conformance"),
        (_another_shape, "response_schema_conformance"),
    ],
)
def test_a_fault_planted_in_an_operation_is_found(app: FastAPI, faulty: Any, sign: str) -> None:
    app.get("/api/planted/{serial}", response_model=dict[str, str])(faulty)
    only = app.openapi()
    only["paths"] = {"/api/planted/{serial}": only["paths"]["/api/planted/{serial}"]}

    told = fuzz(app, None, 25)

    assert [fault for fault in told.faults if sign in fault and "/api/planted" in fault]
