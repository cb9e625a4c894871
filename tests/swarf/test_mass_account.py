"""The account of cases from the record, worked by hand."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import HOUR_US
from ringwright.ledger.service import Read
from ringwright.material.service import AddMaterial, CorrectMaterial
from ringwright.swarf.api import MassOut, mass_json
from ringwright.swarf.lots import read_lots_sheet
from ringwright.swarf.ruler import draw
from ringwright.swarf.service import read_case, read_mass
from tests.make.bench import HEADER
from tests.make.floor import CODE, QUALITY, SUPERVISOR
from tests.make.swarf import CaseShop, open_shop

WEEK = "2026-W40"


@pytest.fixture
def shop(store_url: str) -> Iterator[CaseShop]:
    opened = open_shop(store_url)
    yield opened
    opened.floor.ledger.store.close()


@pytest.fixture
def read(shop: CaseShop) -> Iterator[Read]:
    """A ring of 24.0 kg that became 4.0 kg, with 18.9, 0.7 and 0.3 kg of swarf."""
    chips, cuts, bits = shop.open(), shop.open(swarf="offcuts"), shop.open(swarf="coupons")
    ring = shop.ring()
    shop.add(chips, ring, 12.0)
    shop.weigh(ring, 20, "turned_mass", 12.0)
    shop.add(chips, ring, 6.9, step=30)
    shop.add(cuts, ring, 0.7, step=30)
    shop.add(bits, ring, 0.3, step=30)
    shop.weigh(ring, 30, "finished_mass", 4.0)
    with shop.floor.ledger.read(CODE) as snapshot:
        yield snapshot


def test_a_week_has_the_worked_balance(read: Read) -> None:
    # 24.0 - 4.0 - 18.9 - 0.7 - 0.3 = 0.1 kg, 0.4167 %; 24 / 4 = 6.00.
    found = read_mass(read, WEEK).closing
    assert found is not None
    assert found.unaccounted.kg == pytest.approx(0.1)
    assert found.unaccounted_share == pytest.approx(0.004167, abs=1e-6)
    assert found.buy_to_fly == pytest.approx(6.0)
    assert found.closes
    # Two weighings of the part and four of swarf on one scale of 0.05 kg.
    assert found.unaccounted.u_kg == pytest.approx(0.05 * math.sqrt(6))


def test_a_case_closes_step_by_step(read: Read) -> None:
    case, alloy = read_case(read, "R-1")
    assert alloy is not None
    assert (case.alloy, alloy.density_g_cm3) == ("TI64", 4.43)
    assert [one.after.point.step for one in case.stages] == [20, 30]
    assert [round(one.closing.unaccounted.kg, 6) for one in case.stages] == [0.0, 0.1]


def test_the_ruler_hatches_where_the_end_may_lie(read: Read) -> None:
    found = read_mass(read, WEEK).closing
    assert found is not None
    drawing = draw(found)
    assert drawing is not None
    assert [one.name for one in drawing.pieces] == ["part", "turnings", "offcuts", "coupons"]
    assert drawing.low < drawing.mass_in < drawing.high
    assert drawing.lens.low < drawing.lens.mass_in < drawing.lens.high
    assert drawing.lens.gap is None


def test_another_week_or_product_has_no_such_case(read: Read) -> None:
    assert read_mass(read, "2026-W39").closing is None
    assert read_mass(read, WEEK, "FAN").closing is None
    with pytest.raises(Missing):
        read_mass(read, WEEK, "OAR")
    for odd in ("soon", "0001-W01", "9999-W52", "2026-W54", "0000-W00"):
        with pytest.raises(Refused):
            read_mass(read, odd)


def test_swarf_that_was_forgotten_keeps_the_account_open(shop: CaseShop) -> None:
    ring = shop.ring()
    shop.weigh(ring, 20, "turned_mass", 12.0)
    shop.weigh(ring, 30, "finished_mass", 4.0)
    with shop.floor.ledger.read(CODE) as read:
        sheet = read_mass(read, WEEK)
    assert sheet.closing is not None
    assert not sheet.closing.closes
    assert sheet.closing.beyond_kg == pytest.approx(20.0 - 2 * 0.05 * math.sqrt(2))
    assert [one.serial for one in sheet.astray] == [ring]
    drawing = draw(sheet.closing)
    assert drawing is not None
    assert drawing.lens.gap is not None
    assert drawing.lens.gap[0] == pytest.approx(drawing.lens.high)


def test_moisture_is_taken_off_with_its_uncertainty(shop: CaseShop) -> None:
    wet = shop.open(moisture=0.1, moisture_u=0.02)
    ring = shop.ring()
    shop.add(wet, ring, 20.0, wet=True)
    shop.weigh(ring, 20, "turned_mass", 6.0)
    with shop.floor.ledger.read(CODE) as read:
        case, _ = read_case(read, ring)
    assert case.closing is not None
    assert case.closing.by_kind["turnings"].kg == pytest.approx(18.0)
    # Part twice, swarf less a tenth, and 20 kg times 0.02.
    expected = math.sqrt(0.05**2 * 2 + (0.05 * 0.9) ** 2 + 0.4**2)
    assert case.closing.unaccounted.u_kg == pytest.approx(expected)


def test_scrapped_parts_count_as_bought(shop: CaseShop) -> None:
    # 10 x 24 kg in, 8 good x 4 kg: 7.50, worked by hand.
    code = shop.open()
    for number in range(1, 11):
        ring = shop.ring(f"R-{number}")
        shop.add(code, ring, 20.0)
        if number > 8:
            shop.weigh(ring, 20, "turned_mass", 4.0)
            shop.floor.book("begin", ring, step=30)
            scrap = {"step": 30, "outcome": "scrap", "defect": "crack"}
            shop.floor.book("end", ring, QUALITY, **scrap)
        else:
            shop.weigh(ring, 20, "turned_mass", 4.0)
            shop.weigh(ring, 30, "finished_mass", 4.0)
    with shop.floor.ledger.read(CODE) as read:
        week = read_mass(read, WEEK)
    assert week.closing is not None
    assert week.closing.buy_to_fly == pytest.approx(7.5)
    assert week.weeks[-1].scrapped == 2


def test_vanes_that_were_put_on_went_in_too(shop: CaseShop) -> None:
    ring, code = shop.ring(), shop.open()
    shop.add(code, ring, 20.0)
    put = AddMaterial(
        serial=ring, what="vanes", net=shop.typed(1.5), step=20, key=shop.floor.key()
    )
    entry = shop.do(put)["entry"]
    wrong = shop.do(AddMaterial(
        serial=ring, what="wire", net=shop.typed(0.5), step=20, key=shop.floor.key()
    ))["entry"]  # fmt: skip
    back = CorrectMaterial(serial=ring, entry=wrong, reason="twice", key=shop.floor.key())
    shop.do(back, SUPERVISOR)
    shop.weigh(ring, 20, "turned_mass", 5.5)
    with shop.floor.ledger.read(CODE) as read:
        case, _ = read_case(read, ring)
    assert [one.number for one in case.put] == [entry]
    assert case.closing is not None
    assert case.closing.unaccounted.kg == pytest.approx(0.0)


def test_as_of_the_past_only_what_was_known_counts(shop: CaseShop) -> None:
    ring, code = shop.ring(), shop.open()
    shop.weigh(ring, 20, "turned_mass", 12.0)
    then_us = shop.floor.clock.at_us + 1
    line = shop.add(code, ring, 12.0)["entry"]
    with shop.floor.ledger.read(CODE, then_us) as read:
        case, _ = read_case(read, ring)
        assert case.batches == ()
    later_us = shop.floor.clock.at_us + 1
    shop.correct(code, line, 11.0)
    with shop.floor.ledger.read(CODE, later_us) as read:
        case, _ = read_case(read, ring)
        assert case.batches[0].line.kg == 12.0


def test_a_loaded_history_is_taken_and_listed_as_a_breach(shop: CaseShop) -> None:
    told = "2026-09-28T07:00:00+02:00,F-7,FAN,create,,,,,,,TI-2,,\n"
    shop.floor.clock.at_us += HOUR_US * 3
    rows = read_csv(HEADER + told)
    shop.floor.ledger.execute(CODE, LoadHistory(rows=rows), SYSTEM)
    with shop.floor.ledger.read(CODE) as read:
        sheet = read_lots_sheet(read)
    assert [(one.lot, one.product) for one in sheet.breaches] == [("TI-2", "FAN")]


def test_lots_on_parts_that_nobody_registered_are_listed(shop: CaseShop) -> None:
    shop.floor.book("create", "F-1", product="FAN", lot="L-77")
    with shop.floor.ledger.read(CODE) as read:
        sheet = read_lots_sheet(read)
    assert [one.lot for one in sheet.unrecorded] == ["L-77"]
    assert sheet.breaches == ()


def test_the_api_has_the_numbers_of_the_page(read: Read) -> None:
    told = mass_json(read_mass(read, WEEK))
    assert told["account"]["unaccounted_kg"] == pytest.approx(0.1)
    assert told["account"]["swarf_kg"] == pytest.approx(
        {"turnings": 18.9, "offcuts": 0.7, "coupons": 0.3}
    )
    assert [one["serial"] for one in told["cases"]] == ["R-1"]
    assert MassOut(**told).account is not None
