"""Projections of an old form, or damaged ones, are written anew from the record."""

from __future__ import annotations

import pytest
from alembic import command
from sqlalchemy import text

from ringwright.assembly import bring_up, rebuild_all
from ringwright.cli import main
from ringwright.ledger.rebuild import stale_sites
from ringwright.replaying import compare
from tests.ledger.test_migrations_round_trip import alembic
from tests.make.floor import Floor, open_floor


@pytest.fixture
def worked(floor: Floor) -> Floor:
    floor.bring_to("A", 30)
    floor.book("hold", "A", reason="burr")
    return floor


def test_a_record_of_the_older_schema_is_shown_in_full_after_the_upgrade(
    worked: Floor, store_url: str
) -> None:
    with alembic(worked.ledger.store) as (config, _):
        command.downgrade(config, "0001")
    told: list[str] = []

    bring_up(store_url, told.append)

    folded, difference = compare(store_url)
    assert difference is None
    assert folded > 0
    assert worked.part("A").hold == "burr"
    with worked.ledger.store.read() as connection:
        assert stale_sites(connection) == []


def test_a_new_store_has_nothing_to_rebuild(sqlite_url: str) -> None:
    floor = open_floor(sqlite_url)

    with floor.ledger.store.read() as connection:
        assert stale_sites(connection) == []
    floor.ledger.store.close()


def test_damaged_rows_are_found_and_then_mended_on_demand(
    worked: Floor,
    store_url: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    with worked.ledger.store.write(0) as connection:
        connection.execute(text("UPDATE visit SET station = 'elsewhere'"))
        connection.execute(text("DELETE FROM hold"))
    assert compare(store_url)[1] is not None
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", store_url)

    assert main(["replay", "--rebuild"]) == 0

    assert "events folded into the projections anew" in capsys.readouterr().out
    assert compare(store_url)[1] is None


def test_rebuilding_twice_gives_the_same_rows(worked: Floor, store_url: str) -> None:
    first = rebuild_all(worked.ledger, lambda _text: None)

    assert rebuild_all(worked.ledger, lambda _text: None) == first > 0
    assert compare(store_url)[1] is None
