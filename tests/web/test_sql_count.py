"""A page asks the store as many questions of a big record as of a small one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import event
from starlette.testclient import TestClient

from benchmarks.store import CODE, NOW, PRODUCT, WEEK, fill
from ringwright.assembly import open_ledger
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.remembered import forget_everything
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.signing import open_to_readers

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("big store")]

SMALL, BIG = 3_000, 202_000
HOUSEKEEPING = ("PRAGMA", "BEGIN")
# The newest part is at a step in either store; the other is long released.
QUESTIONS = (
    f"/week?week={WEEK}",
    f"/week?week={WEEK}&product={PRODUCT}",
    f"/week?week={WEEK}&as_of=2026-09-30T12:00",
    "/floor",
    "/floor/parts",
    "/yield",
    "/yield?by=lot",
    "/yield/chart?step=20",
    "/yield/compare?by=station&step=20",
    "/yield/losses",
    "/week/forecast",
    "/week/report",
    "/handover",
    "/queues",
    "/starts",
    "/spread?among=cell",
    "/trace?part=S000001",
    "/parts/S000001",
    "/find?q=S0000",
    "/ground",
    "/ground/authorisations",
    "/callout",
    "/bench",
    "/bench?scan=S000001",
    f"/api/week?product={PRODUCT}&week={WEEK}",
    "/api/parts/S000001",
)


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> dict[int, str]:
    """The URLs of a small and of a big store, made once a session."""
    folder: Path = tmp_path_factory.mktemp("filled")
    urls = {}
    for size in (SMALL, BIG):
        urls[size] = f"sqlite:///{folder / f'{size}.sqlite'}"
        ledger, _ = fill(urls[size], size)
        ledger.store.close()
    return urls


@contextmanager
def served(url: str) -> Iterator[tuple[TestClient, Ledger, list[str]]]:
    """A browser on the store, and every statement that the store is asked."""
    ledger = open_ledger(Store(url), FixedClock(parse_instant(NOW)))
    with ledger.read(CODE) as read:
        site_id = read.site.id
    token = make_token(ledger.store, site_id, "manager", None, ledger.clock.now_us())
    statements: list[str] = []

    def note(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(HOUSEKEEPING):
            statements.append(statement)

    event.listen(ledger.store.engine, "before_cursor_execute", note)
    app: FastAPI = open_to_readers(create_app(Settings(database_url=url), ledger))
    client = TestClient(app, follow_redirects=False)
    client.headers["Authorization"] = f"Bearer {token}"
    try:
        yield client, ledger, statements
    finally:
        ledger.store.close()


def asked(client: TestClient, statements: list[str], path: str) -> list[str]:
    """The statements behind one answer, the second time it is given."""
    for _ in range(2):  # what is looked up once a process is looked up now
        statements.clear()
        forget_everything()
        answer = client.get(path)
        assert answer.status_code == 200, answer.text
    return list(statements)


def test_the_big_store_is_big_and_the_small_one_small(filled: dict[int, str]) -> None:
    for size, least in ((SMALL, 2_500), (BIG, 195_000)):
        with served(filled[size]) as (_, ledger, _statements):
            seq, _hash = ledger.head(CODE)
        assert seq >= least
    assert seq > 50 * SMALL


@pytest.mark.parametrize("path", QUESTIONS)
def test_a_page_asks_as_many_questions_of_a_big_record_as_of_a_small_one(
    filled: dict[int, str], path: str
) -> None:
    found = {}
    for size in (SMALL, BIG):
        with served(filled[size]) as (client, _, statements):
            found[size] = asked(client, statements, path)

    assert found[SMALL], "a page that asks nothing shows nothing of the record"
    assert found[BIG] == found[SMALL]


def test_the_counting_sees_a_question_asked_once_a_row(filled: dict[int, str]) -> None:
    """The counter itself is tried: a page that asked for each part would be found out."""
    with served(filled[SMALL]) as (client, ledger, statements):
        before = asked(client, statements, "/api/parts/S000001")
        statements.clear()
        with ledger.read(CODE) as read:
            for number in range(3):
                read.connection.exec_driver_sql(f"SELECT {number}")

    assert len(statements) >= 3
    assert len(before) >= 2
