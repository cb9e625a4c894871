"""Traceability in a browser without scripts: asked, previewed, contained, cleared."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.bench.correcting import Correct
from ringwright.bench.genealogy import Join, Remark
from ringwright.people.service import make_token
from ringwright.settings import Settings
from ringwright.trace.service import Clear
from ringwright.web.factory import create_app
from tests.make.html import read
from tests.make.second import signed
from tests.make.signing import signed_in
from tests.trace.works import MAKER, QUALITY, Works, line, plate

STATION = {"station": "INF-1"}


class Reader:
    """A browser without scripts, somebody chosen at its screen."""

    def __init__(self, works: Works, url: str) -> None:
        app = create_app(Settings(database_url=url), works.ledger)
        self.works = works
        self.client = TestClient(
            app, follow_redirects=False, headers={"Origin": "http://testserver"}
        )

    def choose(self, who: str) -> Any:
        """Sign in as somebody."""
        return signed_in(self.client, self.works.ledger, who)

    def text(self, path: str, **asked: str) -> str:
        """What a person reads on a page."""
        answer = self.client.get(path, params=asked)
        assert answer.status_code == 200, answer.text
        return " ".join(read(answer.text).texts)

    def form(self, path: str, action: str, **asked: str) -> dict[str, str]:
        """The hidden fields of the form on a page whose action begins so."""
        html = self.client.get(path, params=asked).text
        forms = re.findall(r"<form[^>]*?action=\"([^\"]+)\".*?</form>", html, re.S)
        assert any(one.startswith(action) for one in forms), forms
        found = re.search(
            rf"<form[^>]*?action=\"{re.escape(action)}[^>]*>.*?</form>", html, re.S
        )
        assert found is not None
        inputs = read(found[0]).tags("input")
        return {i["name"]: i.get("value", "") for i in inputs if i.get("type") == "hidden"}


@pytest.fixture
def reader(sqlite_works: Works, sqlite_url: str) -> Reader:
    """The quality engineer before the works' pages."""
    reader = Reader(sqlite_works, sqlite_url)
    reader.choose("qe-1")
    return reader


@pytest.fixture
def api(sqlite_works: Works, sqlite_url: str) -> Iterator[TestClient]:
    """A program with a manager's token."""
    token = make_token(sqlite_works.ledger.store, 1, "manager", None, 0)
    app = create_app(Settings(database_url=sqlite_url), sqlite_works.ledger)
    with TestClient(app, headers={"Authorization": f"Bearer {token}"}) as client:
        yield client


def test_somebody_who_knows_only_the_furnace_and_the_day_gets_there(reader: Reader) -> None:
    asked = {"station": "INF-1", "since": "last-monday"}
    answer = reader.client.get("/trace", params=asked)

    assert answer.status_code == 303
    assert answer.headers["location"].endswith("from=2026-09-21T00%3A00%3A00%2B02%3A00")
    page = reader.client.get(answer.headers["location"]).text
    assert "INF-1 touched 5 blades" in page


def test_the_page_shows_answer_rows_places_and_every_part(reader: Reader) -> None:
    text = reader.text("/trace", **STATION)

    for words in (
        "INF-1 touched 5 blades: ",
        "Thu 24 Sep 09:00",
        "30 Wall check",
        "A-6",
        "Sent",
    ):
        assert words in text
    assert "See what containing does" in text


def test_a_part_that_is_not_there_brings_serials_like_it(reader: Reader) -> None:
    for path, asked in (("/parts/A-33", {}), ("/trace", {"part": "A-33"})):
        answer = reader.client.get(path, params=asked)
        assert answer.status_code == 404
        assert "A-3" in answer.text
        assert "Serials like it:" in answer.text


def test_the_preview_says_what_will_be_done_and_nothing_is_done_by_looking(
    reader: Reader,
) -> None:
    before = reader.works.ledger.head()
    text = reader.text("/trace/contain", **STATION)

    assert "3 are here and will be held where they are." in text
    assert "1 is sent: a notice opens for it" in text
    assert "1 is scrapped: that is noted" in text
    assert "Contain these 5 parts" in text
    assert reader.works.ledger.head() == before


def test_one_button_contains_and_a_second_press_contains_no_more(reader: Reader) -> None:
    form = {
        **reader.form("/trace/contain", "/trace/contain", **STATION),
        "reason": "low corner",
    }
    pressed = [
        reader.client.post("/trace/contain", params=STATION, data=form) for _ in range(2)
    ]

    assert [answer.headers["location"] for answer in pressed] == [
        "/trace/containments/C-1?done=made"
    ] * 2
    text = reader.text("/trace/containments/C-1")
    assert "C-1: 3 held here, 1 notice not sent, 1 scrapped" in text.replace(" ,", ",")
    assert "low corner" in text
    assert "Station INF-1" in text


def test_what_changed_since_the_look_is_shown_first_and_confirmed(reader: Reader) -> None:
    form = {
        **reader.form("/trace/contain", "/trace/contain", **STATION),
        "reason": "low corner",
    }
    reader.works.load(plate("A-7", "09-30", until="20"))
    refused = reader.client.post("/trace/contain", params=STATION, data=form)

    assert refused.status_code == 409
    assert "touched since you looked: A-7" in refused.text
    rows = re.findall(r"<th scope=\"row\">(A-\d)</th>", refused.text)
    assert rows[0] == "A-7"
    assert "low corner" in refused.text
    assert reader.works.part("A-3").hold is None


def test_who_may_not_contain_is_told_before_and_refused_after(reader: Reader) -> None:
    reader.choose("mk-1")
    form = {
        **reader.form("/trace/contain", "/trace/contain", **STATION),
        "reason": "low corner",
    }
    seen = reader.text("/trace/contain", **STATION)
    refused = reader.client.post("/trace/contain", params=STATION, data=form)

    assert "Their role does not allow this" in seen
    assert refused.status_code == 403


def test_a_notice_is_recorded_and_parts_are_cleared_one_and_all(reader: Reader) -> None:
    reader.works.contain(**STATION)
    path = "/trace/containments/C-1"
    form = reader.form(path, f"{path}/notice")
    sent = reader.client.post(f"{path}/notice", data={**form, "all": "1", "to": "test stand"})
    form = reader.form(path, f"{path}/clear")
    one = {**form, "serial": "A-3", "reason": "sound"}
    cleared = reader.client.post(f"{path}/clear", data=one)
    rest = {**reader.form(path, f"{path}/clear"), "all": "1", "reason": "run judged good"}
    all_ = reader.client.post(f"{path}/clear", data=rest)

    assert [a.status_code for a in (sent, cleared, all_)] == [303] * 3
    text = reader.text(path)
    assert "5 cleared" in text
    assert "run judged good" in text
    assert "Nothing is left to do." in text
    assert reader.works.part("A-4").hold is None


def test_a_refused_clearing_names_the_part_and_keeps_what_was_typed(reader: Reader) -> None:
    reader.works.contain(lot="L-2")
    path = "/trace/containments/C-1"
    form = {**reader.form(path, f"{path}/clear"), "serial": "A-1", "reason": "sound indeed"}
    refused = reader.client.post(f"{path}/clear", data=form)

    assert refused.status_code == 422
    assert "A-1 is not in containment C-1" in refused.text
    assert "sound indeed" in refused.text


def test_what_the_suspect_touched_since_is_told_on_the_containment(reader: Reader) -> None:
    reader.works.contain(**STATION)
    reader.works.load(plate("A-7", "09-30", until="20"))

    assert "1 part was touched since and is not contained." in reader.text(
        "/trace/containments/C-1"
    )
    assert "1 containment is not cleared yet." in reader.text("/trace/containments")


def test_old_closed_containments_wait_behind_a_link_and_files_hold_all(
    reader: Reader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ringwright.trace.containments.CLOSED_SHOWN", 1)
    for serial, code in (("A-3", "C-1"), ("A-4", "C-2"), ("A-6", "C-3")):
        reader.works.contain(part=serial)
        if code != "C-3":
            clear = Clear(
                key=f"clear {code}", containment=code, serials=(serial,), reason="sound"
            )
            reader.works.do(clear)

    listed = reader.text("/trace/containments")
    assert ["C-1" in listed, "C-2" in listed, "C-3" in listed] == [False, True, True]
    assert "files hold all" in listed
    everything = reader.text("/trace/containments", all="1")
    assert "C-1" in everything
    assert "files hold all" not in everything
    assert "C-1" in reader.client.get("/trace/containments/file.csv").text


def test_a_part_s_page_tells_corrections_beside_what_they_correct(reader: Reader) -> None:
    works = reader.works
    works.load(line("09-25T12:00", "A-6", "hold", reason="odd colour"))
    entry = works.part("A-6").last_seq
    works.do(
        Correct(
            serial="A-6",
            key="c",
            entry=entry,
            reason="misread",
            changes={"reason": "odd sound"},
        ),
        QUALITY,
    )
    html = reader.client.get("/parts/A-6").text

    assert re.search(r"<del>[^<]*odd colour</del>\s*<ins>[^<]*odd sound</ins>", html)
    assert "corrected by qe-1" in html
    assert "misread" in html
    assert "A-6 is waiting for 30 Wall check" in html


def test_the_second_person_is_seen_on_the_page_in_its_files_and_at_the_bench(
    reader: Reader,
) -> None:
    works = reader.works
    works.load(line("09-25T12:00", "A-6", "hold", reason="odd colour"))
    held = works.part("A-6").last_seq
    void = Correct(serial="A-6", key="c", entry=held, reason="mixed up", void=True)
    works.do(void, signed(QUALITY, "sup-1", "supervisor"))

    page = reader.text("/parts/A-6")
    rows = list(csv.reader(io.StringIO(reader.client.get("/parts/A-6/file.csv").text)))
    bench = reader.text("/bench/entries/A-6")

    assert "corrected by qe-1 with sup-1" in page
    assert "qe-1 with sup-1" in page.replace("corrected by qe-1 with sup-1", "")
    head = next(row for row in rows if "second person" in row)
    told = {row[0]: row for row in rows if len(row) == len(head)}
    correction = told[str(held + 1)]
    assert correction[head.index("by") : head.index("station")] == ["qe-1", "sup-1"]
    assert told[str(held)][head.index("corrected by")] == "qe-1 with sup-1"
    assert "second person sup-1" in bench


def test_a_corrected_name_stands_beside_the_one_told_first(reader: Reader) -> None:
    works = reader.works
    works.load(line("09-25T12:00", "A-6", "hold", reason="odd colour", by="make-1"))
    change = Correct(
        serial="A-6",
        key="c",
        entry=works.part("A-6").last_seq,
        reason="mixed up",
        changes={"by": "insp-1"},
    )
    works.do(change, signed(QUALITY, "sup-1", "supervisor"))

    html = reader.client.get("/parts/A-6").text

    assert re.search(r"<del>[^<]*make-1, [^<]*odd colour</del>", html)
    assert re.search(r'c-story__who">insp-1', html)
    assert "Who acted: mixed up" in html


def test_a_part_is_found_by_its_old_mark_and_shows_its_kin_both_ways(reader: Reader) -> None:
    works = reader.works
    works.do(Join(serial="A-5", key="j", members=("A-4",)), MAKER)
    works.do(Join(serial="A-6", key="k", members=("A-5",)), MAKER)
    works.do(Remark(serial="A-6", key="m", mark="X-6", scanned="X-6"), MAKER)

    below = reader.text("/parts/A-4")
    assert below.index("A-5 made from it 1") < below.index("A-6 made from it 2")
    above = reader.text("/parts/X-6")
    assert "A-4 it was made from this 2" in above
    assert "X-6 borne now" in above


def test_a_part_s_page_as_of_a_past_moment_knows_no_more(reader: Reader) -> None:
    text = reader.text("/parts/A-3", as_of="2026-09-22T10:00")

    assert "A-3 is in work at 20 Inflate" in text
    assert "4 entries, in the order they happened" in text
    assert "As of Tue 22 Sep 10:00, then known" in text


def test_files_are_the_same_bytes_twice_and_cannot_start_a_formula(reader: Reader) -> None:
    reader.works.contain("=1+1", **STATION)
    paths = (
        "/trace/file.csv?station=INF-1", "/trace/file.xlsx?station=INF-1",
        "/parts/A-3/file.csv", "/parts/A-3/file.xlsx",
        "/trace/containments/C-1/file.csv", "/trace/containments/file.xlsx",
    )  # fmt: skip
    for path in paths:
        first, again = reader.client.get(path), reader.client.get(path)
        assert first.status_code == 200, path
        assert first.content == again.content
    text = reader.client.get("/parts/A-3/file.csv").text
    assert "containment C-1: =1+1" in text
    assert not re.search(r"(^|,)=1", text, re.M)


def test_a_panel_that_is_up_to_date_gets_no_new_page(reader: Reader) -> None:
    for path in ("/trace?station=INF-1", "/parts/A-3"):
        panel = {"HX-Request": "true"}
        drawn = reader.client.get(path, headers=panel)
        again = reader.client.get(path, headers={**panel, "HX-PTag": drawn.headers["HX-PTag"]})
        assert (drawn.status_code, again.status_code) == (200, 304)


def test_the_api_gives_the_list_with_the_same_counts(api: TestClient) -> None:
    found = api.get("/api/trace", params={"station": "INF-1", "from": "2026-09-22T00:00"})

    assert found.status_code == 200, found.text
    assert found.json()["counts"] == {
        "here": 3, "sent": 0, "scrapped": 0, "used": 0, "held": 0, "all": 3,
    }  # fmt: skip
    assert [part["serial"] for part in found.json()["parts"]] == ["A-3", "A-4", "A-6"]
    assert found.json()["parts"][0]["first_touched"] == "2026-09-22T09:00:00+02:00"


@pytest.mark.parametrize(
    ("asked", "status"), [({}, 422), ({"lot": "L", "gauge": "G"}, 422), ({"part": "no"}, 404)]
)
def test_the_api_says_no_in_json(api: TestClient, asked: dict[str, str], status: int) -> None:
    answer = api.get("/api/trace", params=asked)

    assert answer.status_code == status
    assert answer.json()["detail"]
