"""The case shop as people see it: the machine week, the board, a machine, the API."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from ringwright.caseshop.board import Asked, placements_of, read_case_board
from ringwright.caseshop.week import read_case_week
from ringwright.core.instants import iso_text
from ringwright.machines.rules import CUTTING, SET_UP, STOPPED
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.figures import csv_table, drawn_sheets, same, shown_only
from tests.make.floor import CODE
from tests.make.html import read
from tests.make.machining import MACHINE, MILL, SECOND, Works, open_works
from tests.make.signing import signed_in

HOUR_US = 3_600_000_000


@pytest.fixture
def works(sqlite_url: str) -> Works:
    """One case on, with a stop in its log; one that waits; a plan kept for both."""
    found = open_works(sqlite_url)
    found.on("H-1")
    found.log("set-up")
    found.later(2)
    found.log("cut")
    found.later(1)
    found.log("stop", reason="waiting for crane")
    found.later(0.5)
    found.floor.book("create", "H-2", product="HOOP")
    with found.floor.ledger.read(CODE) as snapshot:
        board = read_case_board(snapshot, Asked(proposal=True))
    found.keep(*placements_of(board))
    return found


@pytest.fixture
def client(works: Works) -> TestClient:
    url = str(works.floor.ledger.store.engine.url)
    app = create_app(Settings(database_url=url), works.floor.ledger)
    browser = TestClient(app, follow_redirects=False, headers={"Origin": "http://testserver"})
    signed_in(browser, works.floor.ledger, "sup-1")
    return browser


def told(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text[:500]
    return " ".join(" ".join(read(answer.text).texts).split())


def fields(client: TestClient, path: str, name: str) -> str:
    html = client.get(path).text
    return html.split(f'name="{name}" value="')[1].split('"')[0]


def test_the_week_adds_up_what_the_log_and_the_visits_say(works: Works) -> None:
    with works.floor.ledger.read(CODE) as snapshot:
        week = read_case_week(snapshot)

    lathe = next(one for one in week.machines if one.code == MACHINE)
    assert [one.code for one in week.machines] == [MILL, MACHINE, SECOND]
    assert round(lathe.hours(SET_UP) * 60) == 121
    assert round(lathe.hours(CUTTING) * 60) == 61
    assert round(lathe.hours(STOPPED) * 60) == 32
    (case,) = lathe.cases
    assert (case.stay.serial, case.stay.on, case.planned_spindle_h) == ("H-1", True, 8.0)
    assert [(one.reason, one.times, one.share) for one in week.stops] == [
        ("waiting for crane", 1, 1.0)
    ]


def test_the_page_leads_with_the_stop_and_what_comes_next(client: TestClient) -> None:
    page = told(client, "/case")

    assert "CV-1 stopped: waiting for the crane , 1 of 3 machines have a case on" in page
    assert "H-1 on, stopped: waiting for the crane" in page
    assert "then H-2" in page


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("/case", "machines"),
        ("/case", "cases"),
        ("/case/board", "plan"),
        (f"/case/machines/{MACHINE}", "log"),
    ],
)
def test_the_file_says_what_the_page_says(client: TestClient, path: str, code: str) -> None:
    drawn = drawn_sheets(client.get(path).text).found[code]

    answer = client.get(f"{path}/file.csv", params={"sheet": code})

    _, rows = csv_table(answer.content)
    file = shown_only(rows)
    assert len(file) == len(drawn) > 1
    assert all(
        same(a, b) for x, y in zip(drawn, file, strict=True) for a, b in zip(x, y, strict=True)
    )


def test_the_api_has_the_numbers_of_the_pages(works: Works) -> None:
    from ringwright.caseshop.board import board_json
    from ringwright.caseshop.week import week_json

    with works.floor.ledger.read(CODE) as snapshot:
        week, board = read_case_week(snapshot), read_case_board(snapshot, Asked())

    lathe = next(x for x in week_json(week)["machines"] if x["machine"] == MACHINE)
    assert lathe["stopped_h"] == next(x for x in week.machines if x.code == MACHINE).hours(
        STOPPED
    )
    placed = board_json(board)["placements"]
    first = [placed[0][name] for name in ("serial", "step", "machine", "on")]
    assert first == ["H-1", 10, MACHINE, True]
    # H-2 goes on the other lathe at once: set-up and spindle are ten hours, always manned.
    second = next(x for x in board.lines if x.placement.machine == SECOND)
    assert (second.end_us - second.start_us) / 3_600_000_000 == 10.0


def test_a_change_shows_what_it_does_before_it_is_kept(
    client: TestClient, works: Works
) -> None:
    with works.floor.ledger.read(CODE) as snapshot:
        board = read_case_board(snapshot, Asked())
    line = next(x for x in board.lines if x.placement.machine == SECOND)
    start = iso_text(line.start_us + 5 * HOUR_US, "Europe/Oslo")[:16]
    path = f"/case/board?serial=H-2&step=10&machine={SECOND}&start={start}&nudge=60"

    page = told(client, path)
    sent = {
        "act": "change", "key": "c-1", "serial": "H-2", "step": "10", "machine": SECOND,
        "start": fields(client, path, "start"), "lock": "yes", "reason": "crane is booked",
        "seen": str(board.desk.kept.number),
    }  # fmt: skip
    assert client.post("/case/board", data=sent).status_code == 303

    with works.floor.ledger.read(CODE) as snapshot:
        after = read_case_board(snapshot, Asked())
    moved = next(x for x in after.lines if x.placement.machine == SECOND)
    assert (moved.start_us - line.start_us, moved.placement.locked) == (6 * HOUR_US, True)
    assert board.plan is not None
    assert after.plan is not None
    later_h = (after.plan.ends["H-2"] - board.plan.ends["H-2"]) / 4
    assert later_h > 0
    assert f"H-2 goes {later_h:g} h later, H-1 stays." in page
    refused = client.post("/case/board", data=sent | {"key": "c-2"})
    assert refused.status_code == 409
    assert "has changed the board since you opened it" in refused.text


def test_a_proposal_is_kept_as_it_was_shown(client: TestClient) -> None:
    html = client.get("/case/board?show=proposal").text
    form = read(html).tags("input")
    plan = next(one["value"] for one in form if one.get("name") == "plan")
    seen = next(one["value"] for one in form if one.get("name") == "seen")

    sent = {"act": "keep", "key": "k-1", "plan": plan, "seen": seen}
    assert client.post("/case/board", data=sent).status_code == 303
    broken = client.post("/case/board", data=sent | {"key": "k-2", "plan": '[{"serial":1}]'})
    assert (broken.status_code, "came in pieces" in broken.text) == (422, True)


def test_a_maker_logs_with_one_press_and_hears_why_not(client: TestClient) -> None:
    path = f"/case/machines/{MACHINE}"
    assert "CV-1 is stopped: waiting for the crane" in told(client, path)

    assert client.post(path, data={"act": "resume", "key": "r-1"}).status_code == 303
    assert "CV-1: cutting, H-1 is on" in told(client, path)
    refused = client.post(path, data={"act": "cut", "key": "r-2"})
    assert (refused.status_code, "it is cutting already" in refused.text) == (422, True)


def test_a_bad_machining_plan_is_kept_as_typed_and_told_by_line(client: TestClient) -> None:
    text = 'product = "HOOP"\n[[operation]]\nstep = 10\nspindle_hours = "long"\n'
    refused = client.post("/case/needs", data={"toml": text, "key": "n-1"})

    assert refused.status_code == 422
    assert "line 2: " in refused.text
    assert "spindle_hours = &#34;long&#34;" in refused.text
