"""A small shop with lots, loads, marks and stops, and a browser on it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import Floor
from tests.make.signing import open_to_readers


@pytest.fixture
def parts(floor: Floor) -> Floor:
    """Some blades of two lots, one stopped for porosity."""
    for number in range(1, 26):
        lot = "TI-2207" if number % 2 else "TI-2208"
        floor.book("create", f"OB-{number:03}", lot=lot)
    floor.book("create", "XX-9")
    return floor


@pytest.fixture
def app(store_url: str, parts: Floor) -> FastAPI:
    """The whole application on the floor's record; each test runs on both stores."""
    return open_to_readers(create_app(Settings(database_url=store_url), parts.ledger))


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """A browser without scripts that does not follow where it is led."""
    with TestClient(app, follow_redirects=False) as browser:
        yield browser
