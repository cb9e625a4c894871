"""Which lots may become a blade, wherever a lot is booked on a part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from ringwright.bench.correcting import Correct
from ringwright.bench.genealogy import Join, Split
from ringwright.core.errors import Forbidden, Refused
from ringwright.material.card import GROUND, ROTATING, STATIC, Lot
from ringwright.material.rules import permits
from tests.make.floor import DELEGATE, SUPERVISOR, actor
from tests.make.swarf import CASES, GOOD, CaseShop, open_shop

PLANNER = actor("plan-1", "planner")


@pytest.fixture
def shop(store_url: str) -> Iterator[CaseShop]:
    opened = open_shop(store_url)
    yield opened
    opened.floor.ledger.store.close()


def refuses(shop: CaseShop, act: str, serial: str, **given: Any) -> None:
    before = shop.floor.events()
    with pytest.raises(Refused, match="permitted for static parts, and FAN is a rotating part"):
        shop.floor.book(act, serial, **given)
    assert shop.floor.events() == before


def test_a_lot_for_static_parts_becomes_no_blade(shop: CaseShop) -> None:
    refuses(shop, "create", "F-1", product="FAN", lot=CASES.code)
    shop.floor.book("create", "F-1", product="FAN", lot=GOOD.code)
    shop.floor.book("create", "R-1", product="RING", lot=CASES.code)


def test_a_lot_that_nobody_registered_stops_nothing(shop: CaseShop) -> None:
    shop.floor.book("create", "F-1", product="FAN", lot="L-77")


def test_a_visit_may_not_use_such_a_lot_either(shop: CaseShop) -> None:
    shop.floor.book("create", "F-1", product="FAN")
    refuses(shop, "begin", "F-1", step=10, lot=CASES.code)


def test_parts_of_such_a_lot_are_not_joined_into_a_blade(shop: CaseShop) -> None:
    shop.floor.book("create", "F-1", product="FAN", lot=GOOD.code)
    shop.floor.book("create", "R-1", product="RING", lot=CASES.code)
    with pytest.raises(Refused, match="is a rotating part"):
        shop.floor.do(Join(serial="F-1", members=("R-1",), key="join"), SUPERVISOR)


def test_such_a_part_is_not_split_into_blades(shop: CaseShop) -> None:
    shop.floor.book("create", "R-1", product="RING", lot=CASES.code)
    shop.floor.book("create", "F-1", product="FAN")
    with pytest.raises(Refused, match="is a rotating part"):
        shop.floor.do(Split(serial="R-1", pieces=("F-1",), key="split"), SUPERVISOR)


def test_a_correction_brings_no_such_lot_in(shop: CaseShop) -> None:
    made = shop.floor.book("create", "F-1", product="FAN", lot=GOOD.code)
    command = Correct(
        serial="F-1",
        entry=made["event"]["site_seq"],
        changes={"lot": CASES.code},
        reason="misread",
        key="correct",
    )
    with pytest.raises(Refused, match="is a rotating part"):
        shop.floor.do(command, SUPERVISOR)


def test_only_some_release_a_lot_for_rotating_parts(shop: CaseShop) -> None:
    asked = Lot(code="TI-3", alloy="TI64", certificate="C-3", use=ROTATING)
    with pytest.raises(Forbidden, match="releases a lot"):
        shop.set_lot(asked, PLANNER)
    shop.set_lot(replace(asked, use=STATIC), PLANNER)
    with pytest.raises(Refused, match="reason"):
        shop.set_lot(asked, DELEGATE)
    shop.set_lot(asked, DELEGATE, reason="ultrasonic test passed")
    shop.floor.book("create", "F-1", product="FAN", lot="TI-3")


def test_a_lot_needs_an_alloy_and_a_certificate(shop: CaseShop) -> None:
    with pytest.raises(Refused, match="no alloy"):
        shop.set_lot(Lot(code="X", alloy="GOLD"))
    with pytest.raises(Refused, match="certificate"):
        shop.set_lot(Lot(code="X", alloy="TI64", use=STATIC))
    with pytest.raises(Refused, match="choose what"):
        shop.set_lot(Lot(code="X", alloy="TI64", use="anything"))


@pytest.mark.parametrize(
    ("use", "family", "may"),
    [
        (ROTATING, "turbine-blade", True),
        (ROTATING, "case", True),
        (STATIC, "fan-blade", False),
        (STATIC, "case", True),
        (GROUND, "case", False),
    ],
)
def test_a_use_allows_what_asks_no_more(use: str, family: str, may: bool) -> None:
    assert permits(Lot(code="X", alloy="TI64", use=use), family) is may
