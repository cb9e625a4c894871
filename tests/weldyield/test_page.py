"""The Weld yield page, its file and its API on a record; welders for who may see them alone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from ringwright.core.errors import Missing, Refused
from ringwright.ledger.remembered import forget_everything
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from ringwright.weldyield.model import Question, WeldYield
from ringwright.weldyield.service import read_weld_yield
from tests.make.floor import CODE
from tests.make.signing import signed_in
from tests.make.welds import WeldShop, open_weld_shop

PAGE = "/case/weld-yield"


def told(shop: WeldShop) -> WeldShop:
    """Two rings of eight welds, a weld of each not accepted at first; one was repaired."""
    shop.welded("R-1")
    shop.film("R-1", "F-1")
    shop.read("R-1", "F-1", ("1-OUT",))
    shop.repaired("R-1", "1-OUT", "F-2")
    shop.read("R-1", "F-2")
    shop.welded("R-2")
    shop.film("R-2", "F-3")
    shop.read("R-2", "F-3", ("2-IN",))
    return shop


@pytest.fixture
def shop(store_url: str) -> Iterator[WeldShop]:
    made = told(open_weld_shop(store_url))
    yield made
    made.floor.ledger.store.close()


def found(shop: WeldShop, as_of_us: int | None = None, **asked: str) -> WeldYield:
    with shop.floor.ledger.read(CODE, as_of_us) as read:
        return read_weld_yield(read, Question(**asked))


def test_first_readings_repairs_and_hours_are_counted_from_the_record(shop: WeldShop) -> None:
    counted = found(shop).counted

    assert (counted.first.good, counted.first.n) == (14, 16)
    groups = {one.key: (one.share.good, one.share.n) for one in counted.groups}
    assert groups == {"OUT": (7, 8), "IN": (7, 8)}
    # Eight welds of 160 mm and eight of 60 mm, and two gas pores.
    assert counted.metres == pytest.approx(1.76)
    assert [(one.kind, one.count) for one in counted.defects] == [("2011", 2)]
    assert counted.cases == (1,)  # R-2 has an open weld
    assert (counted.rework.good, counted.rework.n) == (1, 17)
    weld, case = counted.delays
    assert len(weld.clock_h) == len(case.clock_h) == 1
    assert 0 < weld.clock_h[0] <= case.clock_h[0]
    assert {one.key for one in found(shop, by="welder").counted.groups} == {"maker-1"}
    assert {one.key for one in found(shop, by="lot").counted.groups} == {"F-1"}


def test_as_of_before_a_reading_it_counts_nowhere(shop: WeldShop) -> None:
    before_us = next(
        one.at_us for one in shop.ring("R-2").welds["2-IN"].readings if not one.accepted
    )

    counted = found(shop, as_of_us=before_us).counted

    assert (counted.first.good, counted.first.n) == (7, 8)
    assert counted.cases == (1,)


def test_what_cannot_be_asked_is_refused_in_words(shop: WeldShop) -> None:
    with pytest.raises(Missing, match="no product 'NONE'"):
        found(shop, product="NONE")
    assert found(shop, product="OAR").counted.first.n == 0  # nothing of it is welded
    with pytest.raises(Refused, match="is not one of"):
        found(shop, by="mood")
    with pytest.raises(Refused, match="at most 104 weeks"):
        found(shop, first="2001-W01")
    assert found(shop, first="2020-W01", last="2020-W02").counted.first.n == 0


def test_more_rings_ask_the_store_no_more_often(shop: WeldShop) -> None:
    def statements() -> int:
        asked: list[str] = []
        forget_everything()
        engine = shop.floor.ledger.store.engine

        def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
            asked.append(statement)

        event.listen(engine, "before_cursor_execute", note)
        try:
            found(shop)
        finally:
            event.remove(engine, "before_cursor_execute", note)
        return len(asked)

    before = statements()
    shop.welded("R-3")
    shop.film("R-3", "F-9")
    shop.read("R-3", "F-9")

    assert statements() == before
    assert found(shop).counted.first.n == 24


@pytest.fixture(scope="module")
def served(
    _sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[WeldShop, TestClient]]:
    store = tmp_path_factory.mktemp("welds") / "store.sqlite"
    store.write_bytes(_sqlite_template.read_bytes())
    url = f"sqlite:///{store}"
    made = told(open_weld_shop(url))
    app = create_app(Settings(database_url=url, exports_a_minute=1000), made.floor.ledger)
    yield (
        made,
        TestClient(app, follow_redirects=False, headers={"Origin": "http://testserver"}),
    )
    made.floor.ledger.store.close()


def test_the_page_answers_and_every_grouping_is_a_link(
    served: tuple[WeldShop, TestClient],
) -> None:
    shop, browser = served
    signed_in(browser, shop.floor.ledger, "sup-1")

    page = browser.get(PAGE).text

    assert "87.5" in page
    assert "small n" in page
    for by in ("joint", "kind", "lot", "shift", "week", "product"):
        assert browser.get(PAGE, params={"by": by}).status_code == 200
    assert "gas pore" in browser.get(f"{PAGE}/file.csv", params={"sheet": "defects"}).text


def test_only_who_may_see_welders_is_shown_them_or_the_choice(
    served: tuple[WeldShop, TestClient],
) -> None:
    shop, browser = served
    ledger = shop.floor.ledger
    asked = {"by": "welder"}
    signed_in(browser, ledger, "sup-1")
    assert "by welder" not in browser.get(PAGE).text
    for path in (PAGE, f"{PAGE}/file.csv", f"{PAGE}/file.xlsx"):
        shut = browser.get(path, params=asked)
        assert shut.status_code == 403
        assert "maker-1" not in shut.text
    signed_in(browser, ledger, "qe-1")
    assert "by welder" in browser.get(PAGE).text
    assert "maker-1" in browser.get(PAGE, params=asked).text
    assert "maker-1" in browser.get(f"{PAGE}/file.csv", params=asked).text


@pytest.mark.parametrize(
    ("role", "status"),
    [("quality-engineer", 200), ("supervisor", 403), ("manager", 403), ("maker", 403)],
)
def test_the_api_asks_for_the_same_permission(
    served: tuple[WeldShop, TestClient], role: str, status: int
) -> None:
    shop, browser = served
    ledger = shop.floor.ledger
    with ledger.read(CODE) as read:
        site_id = read.site.id
    token = make_token(ledger.store, site_id, role, None, ledger.clock.now_us())
    key = {"Authorization": f"Bearer {token}"}

    answer = browser.get(f"/api{PAGE}", params={"by": "welder"}, headers=key)
    plain = browser.get(f"/api{PAGE}", headers=key)

    assert answer.status_code == status
    assert plain.json()["first_readings"]["n"] == 16
    assert "maker-1" not in plain.text
