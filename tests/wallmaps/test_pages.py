"""The Walls pages and their API, as inspector, quality engineer and a program use them."""

from __future__ import annotations

import csv
import io
import re
from shutil import copy
from typing import Any

import numpy as np
import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.cases import CaseShop, open_case_shop
from tests.make.html import read
from tests.make.signing import signed_in
from tests.make.walls import PLAN as PLAN_FILE
from tests.make.walls import csv_of, eccentric, make_plan, wall_of


@pytest.fixture
def shop(sqlite_url: str) -> CaseShop:
    return open_case_shop(sqlite_url)


@pytest.fixture
def client(shop: CaseShop) -> TestClient:
    return browser(shop)


def browser(shop: CaseShop) -> TestClient:
    ledger = shop.floor.ledger
    app = create_app(Settings(database_url=str(ledger.store.engine.url)), ledger)
    return TestClient(app, follow_redirects=False, headers={"Origin": "http://testserver"})


def at(client: TestClient, shop: CaseShop, who: str = "maker-1") -> TestClient:
    return signed_in(client, shop.floor.ledger, who)


def flat(answer: Any) -> str:
    return " ".join(" ".join(read(answer.text).texts).split())


def heading(answer: Any) -> str:
    found = re.search(r"<h1.*?</h1>", answer.text, re.S)
    assert found, answer.text[:400]
    return re.sub(r"<[^>]+>", "", found[0]).strip()


def look(client: TestClient, serial: str, text: str, **sent: str) -> Any:
    files = {"file": ("ut.csv", text.encode())}
    path = f"/case/walls/{serial}/readings"
    return client.post(path, data={"act": "look", **sent}, files=files)


def keep(client: TestClient, serial: str, looked: Any, **sent: str) -> Any:
    """Press keep under what a file said, with the fields as drawn unless told other."""
    html = looked.text
    drawn = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', html))
    packed = re.search(r'name="packed"[^>]*>([^<]*)<', html)
    assert packed
    drawn["packed"] = packed[1]
    for name, body in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', html, re.S):
        chosen = re.search(r'<option value="([^"]*)" selected', body)
        drawn[name] = chosen[1] if chosen else ""
    path = f"/case/walls/{serial}/readings"
    return client.post(path, data={**drawn, "act": "keep", **sent})


def test_a_file_is_looked_at_first_and_kept_when_told(
    client: TestClient, shop: CaseShop
) -> None:
    shop.bring_to("C-1", 40)
    text = csv_of(wall_of(make_plan(), 40, eccentric(0.1, 100)))
    looked = look(at(client, shop), "C-1", text)
    assert heading(looked) == "90 readings can be kept with C-1, step 40"
    assert shop.sets("C-1") == []
    kept = keep(client, "C-1", looked)
    assert (kept.status_code, kept.headers["location"]) == (303, "/case/walls/C-1")
    (one,) = shop.sets("C-1")
    assert (one.readings, one.source, len(one.file_digest)) == (90, "ut.csv", 64)


def test_columns_and_units_are_chosen_where_headings_do_not_say(
    client: TestClient, shop: CaseShop
) -> None:
    shop.bring_to("C-1", 40)
    text = csv_of(wall_of(make_plan(), 40)).replace("wall_mm", "reading")
    looked = look(at(client, shop), "C-1", text)
    assert heading(looked) == "Choose its columns and units"
    assert "choose the column of wall_mm" in flat(looked)
    refused = keep(client, "C-1", looked, **{"column.wall_mm": "2", "unit.wall_mm": "thou"})
    assert refused.status_code == 422
    assert "90 rows cannot be taken" in flat(refused)
    kept = keep(client, "C-1", looked, **{"column.wall_mm": "2", "unit.wall_mm": "mm"})
    assert kept.status_code == 303


def test_bad_rows_are_named_and_nothing_is_kept(client: TestClient, shop: CaseShop) -> None:
    shop.bring_to("C-1", 40)
    text = csv_of(wall_of(make_plan(), 40)) + "30,5,-4\n900,0,4\n"
    looked = look(at(client, shop), "C-1", text)
    told = flat(looked)
    assert heading(looked) == "2 rows cannot be taken"
    assert "cannot be" in told
    assert "off the case" in told
    assert 'value="keep"' not in looked.text
    assert keep(client, "C-1", looked).status_code == 422
    assert shop.sets("C-1") == []


@pytest.mark.parametrize("packed", ["", "AAAA", "not base64!"])
def test_a_file_lost_on_the_way_is_told(
    client: TestClient, shop: CaseShop, packed: str
) -> None:
    shop.bring_to("C-1", 40)
    sent = {"act": "keep", "key": "k", "packed": packed, "name": "ut.csv"}
    answer = at(client, shop).post("/case/walls/C-1/readings", data=sent)
    assert answer.status_code == 422
    assert "choose" in flat(answer)


def test_a_case_out_of_its_visit_offers_no_upload(client: TestClient, shop: CaseShop) -> None:
    shop.bring_to("C-1", 30)
    page = at(client, shop).get("/case/walls/C-1")
    assert heading(page) == "The wall of C-1 has not been read yet"
    assert "/case/walls/C-1/readings" not in page.text
    assert "in work at step 20, 40, 60" in flat(page)


@pytest.fixture(scope="module")
def thin(_sqlite_template: object, tmp_path_factory: pytest.TempPathFactory) -> CaseShop:
    """Three past cases, one that will be thin, one that is; only looked at."""
    store = copy(str(_sqlite_template), tmp_path_factory.mktemp("thin") / "store.sqlite")
    shop = open_case_shop(f"sqlite:///{store}")
    for place in range(3):
        shop.read_at(f"P-{place}", 40, eccentric(0.05, 30.0 * place))
        shop.read_at(f"P-{place}", 60, eccentric(0.04 + 0.01 * place, 30.0 * place))
    shop.read_at("C-2", 40, eccentric(0.29, 140))
    shop.read_at("C-3", 40, eccentric(0.45, 140))
    return shop


def test_the_list_names_the_worst_first_and_the_answer_counts_them(thin: CaseShop) -> None:
    shop, client = thin, browser(thin)
    page = at(client, shop).get("/case/walls")
    assert heading(page) == (
        "1 wall outside its limits; 1 may come out thin after the last cut"
    )
    file = client.get("/case/walls/file.csv", params={"sheet": "cases"})
    assert file.status_code == 403  # a maker takes no files
    file = at(client, shop, "sup-1").get("/case/walls/file.csv", params={"sheet": "cases"})
    rows = [row for row in csv.reader(io.StringIO(file.text)) if row]
    serials = [row[0] for row in rows if re.fullmatch("[CP]-[0-9]", row[0])]
    assert serials[:2] == ["C-3", "C-2"]
    assert len(serials) == 5


def test_a_thin_wall_is_told_with_its_place_before_the_last_cut(thin: CaseShop) -> None:
    shop, client = thin, browser(thin)
    page = at(client, shop).get("/case/walls/C-2")
    told = heading(page)
    assert told.startswith("Thin before the last cut: 2.2")
    assert told.endswith("mm, 140°")
    assert len(told) <= 90
    assert "A shift of the cut at step 50 by 0.29 mm towards 320°" in flat(page)
    assert "for planner and maker to decide" in flat(page)
    assert "n 3 cases" in flat(page)


def test_what_is_outside_is_sent_to_the_bench_with_what_to_write(thin: CaseShop) -> None:
    shop, client = thin, browser(thin)
    page = at(client, shop).get("/case/walls/C-3")
    assert heading(page).startswith("Outside: 3.55 mm at ")
    assert 'href="/bench?scan=C-3"' in page.text
    assert "What to write there: wall 3.55 mm at" in flat(page)
    assert "lower limit 3.70, zone front barrel" in flat(page)


def test_the_table_and_file_of_a_step_are_those_of_the_picture(thin: CaseShop) -> None:
    shop, client = thin, browser(thin)
    page = at(client, shop, "sup-1").get("/case/walls/P-1", params={"step": "40"})
    assert "after step 40" in flat(page)
    assert "40 to 60" in flat(page)
    file = client.get("/case/walls/P-1/file.csv", params={"sheet": "figures", "step": "40"})
    rows = list(csv.reader(io.StringIO(file.text)))
    heads = next(row for row in rows if "wall, mm" in row)
    full = heads.index("wall, mm, in full")
    walls = [float(row[full]) for row in rows if {"front barrel", "rear barrel"} & set(row)]
    wanted = [r.wall_mm for r in wall_of(make_plan(), 40, eccentric(0.05, 30.0))]
    assert np.allclose(sorted(walls), sorted(wanted), atol=0.005)
    assert client.get("/case/walls/P-1", params={"step": "50"}).status_code == 404
    assert client.get("/case/walls/P-1", params={"step": "x"}).status_code == 422


def test_a_set_is_withdrawn_by_quality_with_a_reason(
    client: TestClient, shop: CaseShop
) -> None:
    entry = shop.read_at("C-1", 40)["entry"]
    before = shop.floor.clock.now_us()
    shop.floor.clock.at_us += 60_000_000
    path, sent = "/case/walls/C-1/withdraw", {"key": "w", "entry": str(entry)}
    assert at(client, shop).post(path, data={**sent, "reason": "no"}).status_code == 403
    quality = at(client, shop, "qe-1")
    refused = quality.post(path, data=sent)
    assert refused.status_code == 422
    assert "say why it does not count" in flat(refused)
    assert quality.post(path, data={**sent, "reason": "zero off"}).status_code == 303
    assert "zero off" in flat(quality.get("/case/walls/C-1"))
    then = np.datetime64(before + 1_000_000, "us")
    past = quality.get("/case/walls/C-1", params={"as_of": f"{then}Z"})
    assert "zero off" not in flat(past)
    assert "Withdraw it" not in flat(past)
    assert heading(past).startswith("Wide enough")


def test_a_plan_is_revised_as_text_and_shown_as_loaded(
    client: TestClient, shop: CaseShop
) -> None:
    path = "/case/walls/plans/X-CASE"
    quality = at(client, shop, "qe-1")
    assert heading(quality.get(path)) == "X-CASE, revision 1: 2 zones along 300 mm"
    text = PLAN_FILE.replace("revision = 1", "revision = 2").replace(
        "gap_mm = 60", "gap_mm = 50"
    )
    wrong = quality.post(path, data={"key": "a", "plan": text.replace("lower_mm", "low_mm", 1)})
    assert wrong.status_code == 422
    assert "front barrel" in flat(wrong)
    assert "low_mm" in wrong.text  # what was typed is still there
    kept = quality.post(path, data={"key": "b", "plan": text, "reason": "denser"})
    assert kept.status_code == 303
    page = quality.get(path)
    assert "50 mm and 20°" in flat(page)
    assert "denser" in flat(page)
    assert heading(quality.get(path, params={"revision": "1"})).startswith("X-CASE, revision 1")
    other = quality.post("/case/walls/plans/OAR", data={"key": "c", "plan": text})
    assert "the file is the plan of X-CASE" in flat(other)
    assert quality.get("/case/walls/plans/NONE").status_code == 404


def test_the_list_asks_as_much_for_many_cases_as_for_one(
    client: TestClient, shop: CaseShop
) -> None:
    def statements() -> int:
        count: list[str] = []
        engine = shop.floor.ledger.store.engine

        def heard(_c: Any, _cur: Any, statement: str, *_rest: Any) -> None:
            count.append(statement)

        event.listen(engine, "before_cursor_execute", heard)
        assert at(client, shop).get("/case/walls").status_code == 200
        event.remove(engine, "before_cursor_execute", heard)
        return len(count)

    shop.read_at("C-1", 40)
    first = statements()
    for serial in ("C-2", "C-3"):
        shop.read_at(serial, 40, eccentric(0.1, 100))
    shop.read_at("C-2", 60)
    assert statements() == first


def bearer(shop: CaseShop, role: str = "maker", code: str = "maker-1") -> dict[str, str]:
    token = make_token(shop.floor.ledger.store, 1, role, code, shop.floor.clock.at_us)
    return {"Authorization": f"Bearer {token}"}


def test_a_program_hands_readings_in_once_and_asks_for_the_wall(
    client: TestClient, shop: CaseShop
) -> None:
    shop.bring_to("C-1", 40)
    who = bearer(shop)
    rows = [
        [r.station_mm, r.angle_deg - 360.0, r.wall_mm]
        for r in wall_of(make_plan(), 40, eccentric(0.1, 100))
    ]
    order = {"key": "tank-1", "method": "ultrasonic", "readings": rows}
    path = "/api/case/walls/C-1"
    assert client.get(path, headers=who).json()["state"] == ""
    first = client.post(f"{path}/readings", json=order, headers=who)
    assert (first.status_code, first.json()["readings"]) == (200, 90)
    assert client.post(f"{path}/readings", json=order, headers=who).json() == first.json()
    other = {**order, "readings": rows[:80]}
    assert client.post(f"{path}/readings", json=other, headers=who).status_code == 409
    found = client.get(path, headers=who).json()
    assert found["state"] == "inside"
    assert (found["thinnest"]["angle_deg"], found["thinnest"]["wall_mm"]) == (100.0, 3.9)
    assert found["expected"]["wall_mm"] == pytest.approx(2.4)
    assert found["uncovered_share"] == 0.0


def test_a_program_is_told_which_rows_are_bad(client: TestClient, shop: CaseShop) -> None:
    shop.bring_to("C-1", 40)
    order = {
        "key": "t",
        "method": "ultrasonic",
        "readings": [[30, 0, 4], [30, 360, 5], [1, 1, 999]],
    }
    answer = client.post("/api/case/walls/C-1/readings", json=order, headers=bearer(shop))
    assert answer.status_code == 422
    assert "row 1" in answer.text
    assert "row 2" in answer.text
