"""One store with three weeks of the demo, of which each test gets a copy."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from ringwright.assembly import bring_up
from tests.demo.stores import OPEN, at_work


@pytest.fixture(autouse=True)
def _close_what_was_opened() -> Iterator[None]:
    yield
    while OPEN:
        OPEN.pop().store.close()


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with three weeks of the demo and a part of the fourth."""
    path = tmp_path_factory.mktemp("demo") / "told.sqlite"
    bring_up(f"sqlite:///{path}")
    at_work(f"sqlite:///{path}")
    while OPEN:
        OPEN.pop().store.close()
    return path


@pytest.fixture
def told_url(template: Path, tmp_path: Path) -> str:
    """A copy of that store."""
    shutil.copy(template, tmp_path / "told.sqlite")
    return f"sqlite:///{tmp_path / 'told.sqlite'}"
