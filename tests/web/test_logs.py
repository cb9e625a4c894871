"""What is logged: one line an event, in UTC, nothing secret, nothing that forges a line.

Sources: OWASP ASVS 5.0.0, 16.2.1, 16.2.2, 16.2.5, 16.3.4, 16.4.1.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from sqlalchemy import text
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.web.logs import OneLine, keep_logs

SECRET = "hunter2" * 4
FORGED = "2026-10-01T10:00:00Z INFO ringwright: head verified"
LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ (WARNING|ERROR|INFO) [\w.]+: .")


@pytest.fixture
def kept() -> Iterator[io.StringIO]:
    """The error output of a server for the test."""
    stream = io.StringIO()
    handler = keep_logs(stream)
    yield stream
    logging.getLogger().removeHandler(handler)


def lines(kept: io.StringIO) -> list[str]:
    return kept.getvalue().splitlines()


@pytest.mark.parametrize("mark", ["\n", "\r\n", "\x0b", "\x1b[2K", "\x85", "\u2028", "\x00"])
def test_no_text_from_outside_begins_a_line(kept: io.StringIO, mark: str) -> None:
    logging.getLogger("ringwright.web").warning("denied to %s", f"insp-1{mark}{FORGED}")

    (only,) = lines(kept)
    assert LINE.match(only)
    assert mark not in kept.getvalue().removesuffix("\n")


def test_a_fault_stands_behind_bars_whatever_it_says(kept: io.StringIO) -> None:
    try:
        raise RuntimeError(f"bad\n{FORGED}")
    except RuntimeError:
        logging.getLogger("ringwright.web").exception("fault")

    first, *rest = lines(kept)
    assert LINE.match(first)
    assert rest
    assert all(line.startswith("  | ") for line in rest)


def test_times_are_utc() -> None:
    record = logging.LogRecord("ringwright", logging.ERROR, "", 1, "fault", None, None)
    record.created = 1_790_848_800.0  # 2026-10-01T10:00:00Z

    assert OneLine().format(record) == "2026-10-01T10:00:00Z ERROR ringwright: fault"


def test_a_fault_tells_the_path_on_one_line_and_nothing_that_was_sent(
    app: FastAPI, kept: io.StringIO
) -> None:
    def fail(rest: str) -> None:
        raise RuntimeError(f"a fault at {rest}")

    app.post("/fail/{rest}")(fail)
    client = TestClient(app, raise_server_exceptions=False)
    answer = client.post(
        f"/fail/x%0A{FORGED}?token={SECRET}",
        data={"pin": SECRET},
        headers={
            "Origin": "http://testserver",
            "Authorization": f"Bearer {SECRET}",
            "Cookie": f"session={SECRET}",
        },
    )

    assert answer.status_code == 500
    assert SECRET not in kept.getvalue()
    first, *rest = lines(kept)
    assert LINE.match(first)
    assert all(line.startswith("  | ") or LINE.match(line) for line in rest)
    assert not any(line.startswith(FORGED[:25]) for line in lines(kept))


def test_a_failed_statement_is_logged_without_its_values(
    ledger: Ledger, kept: io.StringIO
) -> None:
    with ledger.store.engine.connect() as connection:
        try:
            connection.execute(text("SELECT :secret FROM nowhere"), {"secret": SECRET})
        except OperationalError:
            logging.getLogger("ringwright.web").exception("fault")

    assert "nowhere" in kept.getvalue()
    assert SECRET not in kept.getvalue()


def test_nothing_is_logged_where_all_goes_well(client: TestClient, kept: io.StringIO) -> None:
    client.get("/week", headers={"Authorization": f"Bearer {SECRET}"})
    client.get("/api/week", headers={"Authorization": f"Bearer {SECRET}"})

    assert SECRET not in kept.getvalue()
