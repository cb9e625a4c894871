"""The stock of a set: what is free and read, and why each other finished blade is left out."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.sets.service import Reserve
from ringwright.sets.stock import Stock, read_stock
from tests.make.sets import CODE, PRODUCT, RingHall, finished, open_hall

BLADES = finished(12)


@pytest.fixture
def hall(store_url: str) -> Iterator[RingHall]:
    """Twelve released blades."""
    shop = open_hall(store_url, BLADES)
    yield shop
    shop.ledger.store.close()


def stock(hall: RingHall, as_of_us: int | None = None) -> Stock:
    with hall.ledger.read(CODE, as_of_us) as read:
        return read_stock(read, PRODUCT)


def reasons(found: Stock) -> dict[str, str]:
    return {one.serial: one.reason for one in found.excluded}


def test_a_finished_blade_is_free_with_its_readings(hall: RingHall) -> None:
    found = stock(hall)

    read = {one.blade.serial: one.blade for one in found.blades}
    assert found.excluded == ()
    assert {s: (b.moment_g_mm, b.frequency_hz) for s, b in read.items()} == {
        blade.serial: (blade.moment, blade.tone) for blade in BLADES
    }
    assert found.blades[0].last_seq == hall.part(found.blades[0].blade.serial).last_seq


def test_held_reserved_and_stopped_blades_are_left_out_with_the_reason(hall: RingHall) -> None:
    hall.book("supervisor", serial="RB-1", act="hold", reason="dropped")
    hall.book("planner", serial="RB-2", act="send", step=40)
    slots = tuple(f"RB-{n}" for n in range(5, 13))
    hall.act("planner", Reserve(key="r", product=PRODUCT, slots=slots))

    found = stock(hall)

    assert [one.blade.serial for one in found.blades] == ["RB-3", "RB-4"]
    assert reasons(found) == {
        "RB-1": "on hold: dropped",
        **dict.fromkeys(slots, "reserved for RH8-S001"),
    }


def test_a_blade_polished_after_it_was_weighed_has_lapsed(store_url: str) -> None:
    shop = open_hall(store_url, BLADES[:2], weigh_last=False)

    found = stock(shop)
    shop.ledger.store.close()

    assert found.blades == ()
    assert set(reasons(found).values()) == {"its moment lapsed at step 30; read it again"}


def test_the_stock_is_known_as_it_was_then(hall: RingHall) -> None:
    hall.clock.at_us += 60_000_000
    before = hall.clock.now_us()
    hall.book("supervisor", serial="RB-1", act="hold", reason="dropped")
    hall.book("planner", serial="RB-2", act="send", step=40)

    assert len(stock(hall, before).blades) == 12
    assert reasons(stock(hall, before + 1)) == {"RB-1": "on hold: dropped"}
    assert len(stock(hall, before + 1).blades) == 10


@pytest.mark.parametrize("weigh_last", [True, False])
def test_the_stock_of_now_is_that_asked_as_of_now(store_url: str, weigh_last: bool) -> None:
    """One is read by SELECTs, the other folded from the record: two ways, one rule."""
    shop = open_hall(store_url, BLADES, weigh_last=weigh_last)
    shop.book("supervisor", serial="RB-1", act="hold", reason="dropped")
    shop.book("planner", serial="RB-2", act="send", step=40)
    if weigh_last:
        slots = tuple(f"RB-{n}" for n in range(5, 13))
        shop.act("planner", Reserve(key="r", product=PRODUCT, slots=slots))

    now, then = stock(shop), stock(shop, shop.clock.now_us() + 1)
    shop.ledger.store.close()

    assert reasons(now) == reasons(then)
    assert [one.blade for one in now.blades] == [one.blade for one in then.blades]
    assert {one.blade.serial: one.last_seq for one in now.blades} == {
        one.blade.serial: one.last_seq for one in then.blades
    }
