"""The Furnace pages as people use them."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.floor import MINUTE_US
from tests.make.furnaces import FURNACE, Hall, open_hall
from tests.make.html import read
from tests.make.signing import signed_in

HOUR_US = 60 * MINUTE_US


@pytest.fixture
def hall(sqlite_url: str) -> Hall:
    found = open_hall(sqlite_url)
    found.ready()
    return found


@pytest.fixture
def client(hall: Hall) -> TestClient:
    url = str(hall.floor.ledger.store.engine.url)
    app = create_app(Settings(database_url=url), hall.floor.ledger)
    return TestClient(app, follow_redirects=False, headers={"Origin": "http://testserver"})


def told(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text[:500]
    return " ".join(" ".join(read(answer.text).texts).split())


def test_the_board_says_what_must_go_in_and_by_when(client: TestClient, hall: Hall) -> None:
    hall.waiting("S-1", "S-2")
    hall.floor.clock.at_us += 170 * MINUTE_US
    signed_in(client, hall.floor.ledger, "maker-1")

    page = told(client, "/furnace")

    assert "2 blades to load, the first by" in page
    # Cleaned 3 and 6 minutes after the first booking: 240 less 173 and 170 are left.
    assert "1 h 07 min left" in page
    assert "1 h 10 min left" in page


def test_a_window_that_ran_out_stands_first(client: TestClient, hall: Hall) -> None:
    hall.waiting("S-1")
    hall.floor.clock.at_us += 5 * HOUR_US
    signed_in(client, hall.floor.ledger, "maker-1")

    page = told(client, "/furnace")

    assert "1 window has run out" in page
    assert "window over for" in page


def test_the_board_says_what_would_fill_the_furnace(client: TestClient, hall: Hall) -> None:
    """Which ones is tried in `test_next_load.py`; here that it is told."""
    hall.waiting("S-1", "S-2", "S-3", "S-4")
    signed_in(client, hall.floor.ledger, "maker-1")

    page = told(client, "/furnace")

    assert f"{FURNACE}, now, SLOW: 3 parts, full S-1 left, window until" in page
    assert "A proposal; nothing is booked" in page
    run = hall.open()
    hall.load(run, "S-1")
    assert f"{run} is being loaded, 1 part lies in it" in told(client, "/furnace")


def test_a_furnace_whose_proof_is_overdue_says_so(client: TestClient, hall: Hall) -> None:
    hall.floor.clock.at_us += 8 * 24 * HOUR_US
    signed_in(client, hall.floor.ledger, "sup-1")

    assert "has been overdue for its leak rate since 2026-10-06" in told(client, "/furnace")
    page = told(client, f"/furnace/of/{FURNACE}")
    assert f"{FURNACE} may not be loaded" in page


def test_a_failed_survey_leads_to_all_it_heated_since_the_last_good_one(
    client: TestClient, hall: Hall
) -> None:
    hall.floor.clock.at_us += 24 * HOUR_US
    signed_in(client, hall.floor.ledger, "qe-1")
    form = {"act": "prove", "key": "p1", "what": "survey", "on": "2026-09-29", "value": "12.5"}

    lacking = client.post(f"/furnace/of/{FURNACE}", data=form)
    assert lacking.status_code == 422
    assert "say what was found wrong" in lacking.text
    assert 'value="12.5"' in lacking.text
    answer = client.post(f"/furnace/of/{FURNACE}", data={**form, "note": "rear is hot"})

    assert answer.status_code == 303
    there = answer.headers["location"]
    assert there.startswith("/trace?station=HF-1&from=2026-09-28")
    assert client.get(there).status_code == 200
    assert "is suspect" in told(client, f"/furnace/of/{FURNACE}")


def test_a_furnace_is_put_on_the_register_by_its_form(client: TestClient, hall: Hall) -> None:
    signed_in(client, hall.floor.ledger, "qe-1")
    form = {
        "act": "set", "key": "s1", "furnace_class": "4", "positions": "a, b c",
        "channels": "tc1_c TC-1 40\ntc2_c", "proofs": "survey 30\nleak 7 4.5",
    }  # fmt: skip

    answer = client.post(f"/furnace/of/{FURNACE}", data=form)

    assert answer.status_code == 303
    page = client.get(f"/furnace/of/{FURNACE}").text
    assert 'value="a b c"' in page
    assert "tc1_c TC-1 40\ntc2_c -" in page
    assert "leak 7 4.5" in page


@pytest.mark.parametrize(
    ("field", "text", "why"),
    [
        ("channels", "tc1_c TC-1 many", "most uses"),
        ("channels", "tc1_c\ntc1_c", "stands twice"),
        ("proofs", "luck 7", "unknown proof"),
        ("proofs", "leak", "every how many days"),
        ("positions", "", "name the positions"),
        ("furnace_class", "9", "class"),
    ],
)
def test_what_cannot_be_read_of_a_furnace_is_named(
    client: TestClient, hall: Hall, field: str, text: str, why: str
) -> None:
    signed_in(client, hall.floor.ledger, "qe-1")
    form = {"act": "set", "key": "s1", "positions": "a b", "channels": "tc1_c", "proofs": ""}

    answer = client.post(f"/furnace/of/{FURNACE}", data={**form, field: text})

    assert answer.status_code == 422
    assert why in answer.text


def test_the_files_say_what_the_screen_says(client: TestClient, hall: Hall) -> None:
    hall.waiting("S-1")
    signed_in(client, hall.floor.ledger, "sup-1")

    board = client.get("/furnace/file.csv?sheet=windows")
    proofs = client.get(f"/furnace/of/{FURNACE}/file.csv?sheet=proofs")

    assert "S-1,SAIL,20 Inflate" in board.text
    assert "temperature uniformity survey,good" in proofs.text
    assert client.get("/furnace/file.xlsx").status_code == 200


def test_a_recipe_s_page_tells_its_segments(client: TestClient, hall: Hall) -> None:
    signed_in(client, hall.floor.ledger, "maker-1")

    page = told(client, "/furnace/recipes/SLOW")

    assert "SLOW revision 1: 2 segments" in page
    assert "900.0" in page
    assert client.get("/furnace/recipes/NONE").status_code == 404
    assert client.get("/furnace/recipes/SLOW?revision=7").status_code == 404
    assert "SLOW" in told(client, "/furnace/recipes")


def test_traceability_is_asked_of_a_run_by_its_code(client: TestClient, hall: Hall) -> None:
    run = hall.whole_run("S-1", "S-2")
    hall.accept(run)
    hall.whole_run("S-3")
    signed_in(client, hall.floor.ledger, "qe-1")

    page = told(client, f"/trace?run={run}")

    assert "S-1" in page
    assert "S-2" in page
    assert "S-3" not in page
    assert client.get("/trace?run=HF-1-0099").status_code == 404
