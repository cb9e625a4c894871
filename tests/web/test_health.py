"""Alive and ready are two questions."""

from __future__ import annotations

from fastapi import FastAPI
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient


def test_a_server_with_its_record_is_alive_and_ready(client: TestClient) -> None:
    assert client.get("/healthz").json() == {"status": "alive"}
    assert client.get("/readyz").json() == {"status": "ready", "sites": 1}


def test_a_server_without_its_record_is_alive_but_not_ready(app: FastAPI) -> None:
    def away(**_asked: bool) -> dict[str, int]:
        raise OperationalError("SELECT 1", {}, Exception("gone"))

    app.state.ledger.heads = away
    client = TestClient(app)

    assert client.get("/healthz").status_code == 200
    assert client.get("/readyz").status_code == 503
    assert "SELECT" not in client.get("/readyz").text
