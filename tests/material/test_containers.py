"""Swarf containers: one alloy each, corrected by later facts, melted into lots."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.material.card import GROUND, ROTATING, Lot
from ringwright.material.rules import OPEN, RETURNED, SENT
from ringwright.material.scales import Typed
from tests.make.floor import INSPECTOR, MAKER, QUALITY
from tests.make.swarf import CaseShop, open_shop


@pytest.fixture
def shop(store_url: str) -> Iterator[CaseShop]:
    opened = open_shop(store_url)
    yield opened
    opened.floor.ledger.store.close()


def test_swarf_is_booked_with_what_its_scale_is_worth(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5)
    (line,) = shop.container(code).lines
    assert (line.serial, line.step, line.kg, line.u_kg) == (ring, 20, 13.5, 0.05)


def test_swarf_weighed_after_the_visit_is_of_that_visits_step(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    assert shop.add(code, ring, 1.0, step=None)["step"] == 10
    shop.weigh(ring, 20, "turned_mass", 10.0)
    assert shop.add(code, ring, 12.0, step=None)["step"] == 20
    shop.floor.book("begin", ring, step=30)
    assert shop.add(code, ring, 2.0, step=None)["step"] == 30


def test_a_typed_uncertainty_does_without_a_scale(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5, net=Typed(kg=13.5, u_kg=0.2))
    assert shop.container(code).lines[0].u_kg == 0.2


def test_a_mass_of_unknown_worth_is_refused(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    with pytest.raises(Refused, match="which scale"):
        shop.add(code, ring, 1.0, net=Typed(kg=1.0))
    with pytest.raises(Refused, match="no scale in use"):
        shop.add(code, ring, 1.0, net=Typed(kg=1.0, gauge="MIC-1"))


def test_swarf_of_another_alloy_is_stopped_and_told_where_to_go(shop: CaseShop) -> None:
    nickel = shop.open("IN718")
    spare = shop.open()
    ring = shop.ring()
    with pytest.raises(Refused, match=f"takes IN718 alone, and R-1 is TI64.*{spare}"):
        shop.add(nickel, ring, 1.0)
    assert shop.container(nickel).lines == []


def test_the_lot_of_a_part_says_its_alloy_before_its_product_does(shop: CaseShop) -> None:
    shop.set_lot(Lot(code="NI-1", alloy="IN718", certificate="C", use=ROTATING))
    ring = shop.ring(lot="NI-1")
    with pytest.raises(Refused, match="R-1 is IN718"):
        shop.add(shop.open(), ring, 1.0)
    shop.add(shop.open("IN718"), ring, 1.0)


def test_swarf_of_a_product_without_an_alloy_is_kept_apart(shop: CaseShop) -> None:
    from ringwright.material.service import SetAlloy
    from tests.make.swarf import NICKEL

    bare = type(NICKEL)(code="IN718", density_g_cm3=8.19)
    shop.do(SetAlloy(alloy=bare, key="bare"), QUALITY)
    shop.floor.book("create", "O-1", product="OAR")
    with pytest.raises(Refused, match="what OAR is made of"):
        shop.add(shop.open("IN718"), "O-1", 1.0, step=10)


def test_mixed_swarf_may_come_of_any_alloy(shop: CaseShop) -> None:
    code, ring = shop.open(alloy=""), shop.ring()
    shop.add(code, ring, 1.0)
    assert not shop.container(code).clean
    assert not shop.container(code).held


def test_found_mixed_it_is_held_and_never_melted(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5)
    shop.act(code, "mixed", INSPECTOR, reason="a nickel chip")
    assert shop.container(code).held
    with pytest.raises(Refused, match="found mixed and is held"):
        shop.add(code, ring, 1.0)
    shop.act(code, "weigh", full=shop.typed(18.5))
    shop.act(code, "seal")
    with pytest.raises(Refused, match="no melter makes material of it"):
        shop.act(code, "send", to="Melter", paper="P-1", melts=True)
    shop.act(code, "send", to="Steel works", paper="P-1", melts=False)
    with pytest.raises(Refused, match="not sent to be melted"):
        shop.act(code, "return", lot="TI-9")
    assert shop.container(code).state == SENT


def test_a_container_is_weighed_and_sealed_before_it_leaves(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    with pytest.raises(Refused, match="nothing to seal"):
        shop.act(code, "seal")
    shop.add(code, ring, 13.5)
    with pytest.raises(Refused, match="seal it before"):
        shop.act(code, "send", to="Melter", paper="P-1", melts=True)
    shop.act(code, "seal")
    with pytest.raises(Refused, match="weigh"):
        shop.act(code, "send", to="Melter", paper="P-1", melts=True)
    with pytest.raises(Refused, match="less than empty"):
        shop.act(code, "weigh", full=shop.typed(4.0))
    with pytest.raises(Refused, match="is sealed"):
        shop.add(code, ring, 1.0)


def test_the_melter_makes_a_lot_of_it_that_is_not_for_flight_yet(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5)
    shop.send(code, 18.5)
    shop.act(code, "return", lot="TI-9")
    lot = shop.lot("TI-9")
    assert (lot.alloy, lot.use, lot.containers) == ("TI64", GROUND, (code,))
    assert (shop.container(code).state, shop.container(code).lot) == (RETURNED, "TI-9")


def test_a_lot_whose_swarf_proves_mixed_later_may_not_fly(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5)
    shop.send(code, 18.5)
    shop.act(code, "return", lot="TI-9")
    released = Lot(code="TI-9", alloy="TI64", certificate="C", use=ROTATING, containers=(code,))
    shop.set_lot(released, reason="melted three times in vacuum")
    assert shop.lot("TI-9").use == ROTATING
    shop.act(code, "mixed", reason="the melter found tungsten")
    assert shop.lot("TI-9").use == GROUND
    with pytest.raises(Refused, match="stays so"):
        shop.set_lot(released, reason="again")


def test_a_wrong_entry_is_corrected_by_a_later_one(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    first = shop.add(code, ring, 135.0)["entry"]
    second = shop.add(code, ring, 2.0)["entry"]
    shop.correct(code, first, 13.5)
    shop.correct(code, second)
    assert [line.kg for line in shop.container(code).lines] == [13.5]
    with pytest.raises(Refused, match="taken back already"):
        shop.correct(code, second)
    with pytest.raises(Refused, match="none of this container's"):
        shop.correct(code, 1)


def test_an_entry_that_later_ones_stand_on_is_not_taken_back(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    line = shop.add(code, ring, 13.5)["entry"]
    shop.act(code, "seal")
    with pytest.raises(Refused, match=f"without entry {line}"):
        shop.correct(code, line)


def test_a_seal_set_too_early_is_taken_back(shop: CaseShop) -> None:
    code, ring = shop.open(), shop.ring()
    shop.add(code, ring, 13.5)
    seal = shop.act(code, "seal")["entry"]
    shop.correct(code, seal)
    assert shop.container(code).state == OPEN


def test_an_unknown_container_or_part_is_missing(shop: CaseShop) -> None:
    with pytest.raises(Missing):
        shop.add("SW-9999", shop.ring(), 1.0)
    with pytest.raises(Missing):
        shop.add(shop.open(), "R-9", 1.0)


def test_a_maker_sets_no_lot(shop: CaseShop) -> None:
    with pytest.raises(Forbidden):
        shop.set_lot(Lot(code="TI-9", alloy="TI64"), MAKER)
