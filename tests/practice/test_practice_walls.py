"""A practice site has the real one's wall plans."""

from __future__ import annotations

from dataclasses import replace

from ringwright.ledger.service import Ledger
from ringwright.wallmaps.queries import read_plans
from ringwright.wallmaps.service import SetWallPlan
from ringwright.walls.plan import WallPlan
from tests.make import cases, shop
from tests.make.floor import QUALITY
from tests.make.practice import CODE, REAL, practise
from tests.make.walls import make_plan


def plans_in(ledger: Ledger, site: str) -> list[WallPlan]:
    with ledger.read(site) as read:
        return [one.plan for one in read_plans(read)[cases.PRODUCT]]


def test_the_newest_plan_is_copied_once_and_one_changed_here_is_named(sqlite_url: str) -> None:
    ledger = shop.open_shop(sqlite_url, "")
    for command, who in cases.commands():
        ledger.execute(REAL, command, who)
    assert practise(ledger)["left"] == []
    assert plans_in(ledger, CODE) == plans_in(ledger, REAL)
    second = replace(make_plan(), revision="2", gap_mm=50.0)
    own = replace(second, gap_mm=40.0)
    ledger.execute(CODE, SetWallPlan(plan=own, key="own"), QUALITY)
    ledger.execute(REAL, SetWallPlan(plan=second, key="second"), QUALITY)
    assert practise(ledger)["left"] == ["X-CASE 2"]
    assert plans_in(ledger, CODE)[-1].gap_mm == 40.0
    ledger.store.close()
