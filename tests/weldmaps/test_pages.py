"""The pages of weld maps over a small ring: what they say, and what is recorded on them."""

from __future__ import annotations

from collections import Counter

import pytest
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.genealogy import Remark
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import CODE, MAKER
from tests.make.html import read
from tests.make.set_screen import HERE
from tests.make.signing import AS, open_to_readers
from tests.make.welds import WeldShop, open_weld_shop, plan_text


@pytest.fixture
def shop(sqlite_url: str) -> WeldShop:
    """R-1 was repaired once and waits for its second film to be read."""
    shop = open_weld_shop(sqlite_url)
    shop.welded("R-1")
    shop.film("R-1", "A")
    shop.read("R-1", "A", bad=("2-OUT",))
    shop.repaired("R-1", "2-OUT", "B")
    return shop


@pytest.fixture
def client(shop: WeldShop) -> TestClient:
    """Whoever the header names."""
    ledger = shop.floor.ledger
    url = str(ledger.store.engine.url)
    app = open_to_readers(create_app(Settings(database_url=url), ledger))
    return TestClient(app, follow_redirects=False, headers=HERE)


PAGES = (
    ("/case/welds", "1 ring has open welds, 1 film waits for its reader"),
    ("/case/welds/R-1", "R-1: 2 out of 8 welds are open, 1 film waits for its reader"),
    ("/case/welds/R-1/weld/2-OUT", "R-1, weld 2-OUT: to read; next: have its film read"),
    ("/case/welds/R-1/film/B", "Film B: 2 welds wait for their verdict"),
    ("/case/welds/plans/RING", "RING revision 1: 8 welds, at most 2 repairs each"),
)


@pytest.mark.parametrize(("path", "told"), PAGES)
def test_a_page_answers_in_one_sentence_with_each_id_once(
    client: TestClient, path: str, told: str
) -> None:
    answer = client.get(path, headers={AS: "insp-1"})

    assert answer.status_code == 200, answer.text
    page = read(answer.text)
    heading = answer.text.partition("<h1")[2].partition("</h1>")[0]
    assert told in heading
    twice = [one for one, n in Counter(page.ids()).items() if n > 1]
    assert twice == []


def test_the_map_shows_a_ring_round_a_repaired_weld(client: TestClient) -> None:
    text = client.get("/case/welds/R-1", headers={AS: "insp-1"}).text
    assert text.count('class="is-repair"') == 1
    assert text.count('class="c-weldmap__vane') == 4
    assert "Seen from the front" in text


@pytest.mark.parametrize(("who", "seen"), [("insp-1", True), ("maker-2", False)])
def test_the_welder_is_shown_to_those_who_judge_welds(
    client: TestClient, who: str, seen: bool
) -> None:
    text = client.get("/case/welds/R-1/weld/1-IN", headers={AS: who}).text
    assert ("<td>maker-1</td>" in text) is seen


def test_all_welds_of_a_film_are_read_in_one_form(client: TestClient, shop: WeldShop) -> None:
    ring = shop.ring("R-1")
    sent = {
        "act": "film-read", "key": "f-1", "seen": str(ring.last_seq), "film": "B",
        "on_film": "B", "verdict.2-OUT": "accepted", "verdict.2-IN": "not accepted",
    }  # fmt: skip
    refused = client.post("/case/welds/R-1/acts", data=sent, headers={AS: "insp-1"})
    assert refused.status_code == 422
    assert "say what was found in weld 2-IN" in refused.text

    sent |= {"kind.2-IN": "401", "size.2-IN": "3.5", "at.2-IN": "12"}
    done = client.post("/case/welds/R-1/acts", data=sent, headers={AS: "insp-1"})

    assert done.status_code == 303, done.text
    assert shop.ring("R-1").welds["2-IN"].state == "to excavate"
    assert shop.ring("R-1").welds["2-OUT"].state == "accepted"


def test_as_of_the_past_there_are_no_acts(client: TestClient, shop: WeldShop) -> None:
    text = client.get("/case/welds/R-1?as_of=2026-09-28T06:12", headers={AS: "insp-1"}).text
    assert 'name="act"' not in text
    assert "then known" in text
    assert "8 out of 8 welds are open" in text
    assert shop.ring("R-1").open == ["2-OUT", "2-IN"]


def test_a_part_marked_anew_keeps_its_map(client: TestClient, shop: WeldShop) -> None:
    marked = Remark(serial="R-1", mark="R-1-T", scanned="R-1-T", key="mark")
    shop.floor.do(marked, MAKER)
    for name in ("R-1", "R-1-T"):
        text = client.get(f"/case/welds/{name}", headers={AS: "insp-1"}).text
        assert "R-1: 2 out of 8 welds are open" in text


def test_several_welds_are_named_at_once(client: TestClient, shop: WeldShop) -> None:
    shop.waiting("R-2")
    shop.floor.book("begin", "R-2", MAKER, step=20)
    shop.fit("R-2")
    sent = {
        "act": "welds-made", "key": "m-1", "seen": str(shop.ring("R-2").last_seq),
        "welds": "1-3 OUT, 4-IN", "filler_lot": "F-2", "procedure": "WP-1",
        "oxygen_ppm": "12", "colour": "silver",
    }  # fmt: skip
    done = client.post("/case/welds/R-2/acts", data=sent, headers={AS: "maker-1"})
    assert done.status_code == 303, done.text
    assert shop.ring("R-2").in_state("welded") == ["1-OUT", "2-OUT", "3-OUT", "4-IN"]


def test_a_plan_is_revised_on_its_page(client: TestClient) -> None:
    sent = {"plan": plan_text(revision='"2"', limit="1"), "key": "p-1", "reason": "stricter"}
    done = client.post("/case/welds/plans/RING", data=sent, headers={AS: "qe-1"})
    assert done.status_code == 303, done.text
    assert (
        "at most 1 repair each"
        in client.get("/case/welds/plans/RING", headers={AS: "qe-1"}).text
    )
    broken = {**sent, "plan": "[weld_plan]\nproduct = 3", "key": "p-2"}
    refused = client.post("/case/welds/plans/RING", data=broken, headers={AS: "qe-1"})
    assert refused.status_code == 422
    assert "Nothing was booked" in refused.text


def test_the_figures_are_files(client: TestClient) -> None:
    for path in ("/case/welds/file.csv", "/case/welds/R-1/file.csv", "/case/welds/file.xlsx"):
        assert client.get(path, headers={AS: "insp-1"}).status_code == 200


def test_a_pass_loaded_by_a_history_is_listed_as_a_breach(
    client: TestClient, shop: WeldShop
) -> None:
    head = (
        "at,serial,product,act,step,outcome,defect,characteristic,value,unit,lot,station,by\n"
    )
    rest = ",,,,,,"
    rows = [
        ("07:00", "create", "", ""),
        ("07:10", "begin", "10", ""),
        ("07:20", "end", "10", "pass"),
    ]
    rows += [("07:30", "begin", "20", ""), ("07:40", "end", "20", "pass")]
    rows += [("07:50", "begin", "30", ""), ("07:55", "end", "30", "pass")]
    lines = [
        f"2026-09-28T{at}+02:00,H-1,RING,{act},{step},{out},{rest}\n"
        for at, act, step, out in rows
    ]
    shop.floor.clock.at_us += 3 * 3_600_000_000
    shop.floor.ledger.execute(CODE, LoadHistory(rows=read_csv(head + "".join(lines))), SYSTEM)

    text = client.get("/case/welds", headers={AS: "insp-1"}).text

    assert "Passed on record without every weld accepted" in text
    assert ">H-1</a>" in text
