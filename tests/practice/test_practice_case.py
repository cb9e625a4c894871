"""A practice site has the real one's weld plans, machining plans, fixtures and alloys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from ringwright.ledger.service import Ledger
from ringwright.machines.queries import read_fixtures, read_machining
from ringwright.material.queries import read_alloys, read_lots
from ringwright.material.service import SetAlloy
from ringwright.welds.queries import read_plans
from tests.make import machining, shop, swarf, welds
from tests.make.floor import QUALITY
from tests.make.practice import CODE, REAL, practise


@pytest.fixture
def cases(sqlite_url: str) -> Iterator[Ledger]:
    """The real shop with what its case shop plans by."""
    ledger = shop.open_shop(sqlite_url, "")
    for command, who in machining.commands():
        ledger.execute(REAL, command, who)
    welds.begin_ring(ledger, REAL, "R-1")
    swarf.sample(ledger, REAL)
    yield ledger
    ledger.store.close()


def ruled_in(ledger: Ledger, site: str) -> dict[str, Any]:
    """What a site's case shop plans by."""
    with ledger.read(site) as read:
        asked = read.connection, read.site.id
        return {
            "welds": [one.plan for one in read_plans(*asked)],
            "machining": read_machining(*asked),
            "fixtures": read_fixtures(*asked),
            "alloys": read_alloys(*asked),
        }


def test_what_the_case_shop_plans_by_is_taken_over_and_its_material_is_not(
    cases: Ledger,
) -> None:
    answer = practise(cases)

    assert all(ruled_in(cases, REAL).values())
    assert ruled_in(cases, CODE) == ruled_in(cases, REAL)
    assert answer["left"] == []
    with cases.read(CODE) as read:
        assert read_lots(read.connection, read.site.id) == {}


def test_again_adds_nothing_and_a_changed_alloy_is_brought_up_to_date(cases: Ledger) -> None:
    practise(cases)
    assert practise(cases)["added"] == 0

    lighter = replace(ruled_in(cases, REAL)["alloys"]["TI64"], density_g_cm3=4.42)
    cases.execute(REAL, SetAlloy(alloy=lighter, key="lighter"), QUALITY)

    assert practise(cases)["added"] == 1
    assert ruled_in(cases, CODE) == ruled_in(cases, REAL)
