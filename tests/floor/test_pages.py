"""The Floor's pages, asked as a browser without scripts would."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.floor import asked as asking
from ringwright.floor import pages
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.floor.cell import Cell
from tests.make.floor import QUALITY
from tests.make.html import read
from tests.make.signing import open_to_readers, signed_in


class Browser:
    """One screen with one person chosen."""

    def __init__(self, cell: Cell, url: str) -> None:
        self.cell = cell
        app = open_to_readers(create_app(Settings(database_url=url), cell.ledger))
        self.client = TestClient(
            app, follow_redirects=False, headers={"Origin": "http://testserver"}
        )

    def who(self, code: str) -> None:
        """Sign in as somebody."""
        signed_in(self.client, self.cell.ledger, code)

    def get(self, path: str, **query: Any) -> str:
        """A page that answers."""
        answer = self.client.get(path, params=query)
        assert answer.status_code == 200, answer.text
        return answer.text

    def answer(self, path: str, **query: Any) -> str:
        """The page's sentence."""
        found = re.search(r"<h1[^>]*>(.*?)</h1>", self.get(path, **query), re.S)
        assert found is not None
        return re.sub(r"<[^>]+>", "", found[1])

    def rows(self, **query: Any) -> list[str]:
        """Serials on the list of parts, in its order."""
        html = self.get("/floor/parts", **query)
        return re.findall(r'<th scope="row"><a href="[^"]+">([^<]+)</a>', html)

    def hidden(self, html: str, place: int = 0) -> dict[str, str]:
        """Hidden fields of a form that posts here, in the order of the page."""
        forms = re.findall(r'<form[^>]*method="post".*?</form>', html, re.S)
        inputs = read(forms[place]).tags("input")
        return {i["name"]: i.get("value", "") for i in inputs if i.get("type") == "hidden"}

    def scan(self, html: str, text: str, **more: str) -> Any:
        """Scan into the form of Move as it stands."""
        form = re.findall(r'<form[^>]*id="move-form".*?</form>', html, re.S)[0]
        things = [i["value"] for i in read(form).tags("input") if i.get("name") == "thing"]
        asked = [i["value"] for i in read(form).tags("input") if i.get("name") == "asked"]
        key = next(i["value"] for i in read(form).tags("input") if i.get("name") == "key")
        data = {"key": key, "thing": things, "scan": text, "asked": asked[:1], **more}
        return self.client.post("/floor/move", data=data)


@pytest.fixture
def browser(one_cell: Cell, sqlite_url: str) -> Browser:
    """A screen in the cell; the store is the cell's own."""
    return Browser(one_cell, sqlite_url)


def test_the_page_says_where_the_work_stands(browser: Browser) -> None:
    browser.cell.cleaned("A", "B")
    browser.cell.book("hold", "A", reason="doubt")

    assert browser.answer("/floor") == "Of 2 blades on the route 1 is held."


def test_every_figure_leads_to_its_parts(browser: Browser) -> None:
    browser.cell.cleaned("A", "B")
    browser.cell.book("begin", "B", step=20, station="FB-1")
    browser.cell.book("hold", "A", reason="doubt")
    links = {a["href"] for a in read(browser.get("/floor")).tags("a") if "parts?" in a["href"]}

    lists = {link: browser.rows(**_query(link)) for link in links}

    assert lists["/floor/parts?product=OAR&step=20&state=waiting"] == ["A"]
    assert lists["/floor/parts?product=OAR&step=20&state=held"] == ["A"]
    assert lists["/floor/parts?product=OAR&step=20&state=in-work"] == ["B"]


def _query(link: str) -> dict[str, str]:
    pairs = re.findall(r"[?&]([a-z_]+)=([^&]+)", link.replace("&amp;", "&"))
    return dict(pairs)


def test_filters_narrow_and_the_raised_come_first_then_the_oldest(browser: Browser) -> None:
    browser.cell.cleaned("A", "B", "C")
    browser.cell.first("C")
    browser.cell.move("A", "B", to="TUB-1")
    browser.cell.move(carriers=("TUB-1",), to="RACK-9")

    assert browser.rows() == ["C", "A", "B"]
    assert browser.rows(state="raised") == ["C"]
    assert browser.rows(whereabouts="RACK-9") == ["A", "B"]
    assert browser.rows(step="10") == []


@pytest.mark.parametrize("query", [{"state": "lost"}, {"step": "x"}, {"as_of": "soon"}])
def test_a_filter_that_says_nothing_is_refused(browser: Browser, query: dict[str, str]) -> None:
    assert browser.client.get("/floor/parts", params=query).status_code == 422


def test_a_long_list_says_that_it_is_cut_and_its_file_is_not(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages, "MOST_SHOWN", 2)
    browser.cell.cleaned("A", "B", "C")

    html = browser.get("/floor/parts")
    file = browser.client.get("/floor/parts/file.csv").text

    assert "first 2 of 3" in html
    assert browser.rows() == ["A", "B"]
    rows = [row for row in csv.reader(io.StringIO(file)) if row and row[0] in list("ABC")]
    assert [row[0] for row in rows] == ["A", "B", "C"]


def test_the_same_file_twice_is_the_same_bytes(browser: Browser) -> None:
    browser.cell.cleaned("A")

    for form in ("csv", "xlsx"):
        first = browser.client.get(f"/floor/file.{form}").content
        assert browser.client.get(f"/floor/file.{form}").content == first


def test_the_page_as_of_the_past_has_no_acts_and_does_not_go_on(browser: Browser) -> None:
    browser.cell.cleaned("A")
    html = browser.get("/floor", as_of="2026-09-28T06:01:30")

    assert "data-live-panel" not in html
    assert "Move by scan" not in html
    assert "Of 1 blade on the route" in html


def test_a_panel_that_shows_the_newest_asks_for_nothing(browser: Browser) -> None:
    browser.cell.cleaned("A")
    tag = re.search(r'hx-ptag="([^"]+)"', browser.get("/floor"))
    assert tag is not None
    asks = {"HX-Request": "true", "HX-PTag": tag[1]}

    assert browser.client.get("/floor", headers=asks).status_code == 304
    browser.cell.book("create", "B")
    assert browser.client.get("/floor", headers=asks).status_code == 200


def test_a_part_is_moved_by_two_scans(browser: Browser) -> None:
    browser.cell.cleaned("A", "B")
    browser.cell.move("B", to="RACK-1")
    browser.who("maker-1")

    taken = browser.scan(browser.get("/floor/move"), "A")
    assert "1 thing in hand" in taken.text
    moved = browser.scan(taken.text, "RACK-1")

    assert moved.headers["location"] == "/floor/move?to=RACK-1&count=1"
    assert "1 thing lies at RACK-1 now" in browser.get("/floor/move", to="RACK-1", count=1)
    assert browser.cell.here("A").whereabouts == ("RACK-1",)


def test_several_parts_go_to_one_place_and_a_scan_booked_twice_is_one_move(
    browser: Browser,
) -> None:
    browser.cell.cleaned("A", "B", "C")
    browser.cell.move("C", to="RACK-1")
    browser.who("maker-1")
    html = browser.scan(browser.get("/floor/move"), "A").text
    html = browser.scan(html, "b").text

    browser.scan(html, "RACK-1")
    events = browser.cell.events()
    browser.scan(html, "RACK-1")

    assert [browser.cell.here(s).whereabouts for s in "AB"] == [("RACK-1",)] * 2
    assert browser.cell.events() == events


def test_an_unknown_text_is_asked_about_before_it_becomes_a_place(browser: Browser) -> None:
    browser.cell.cleaned("A")
    browser.who("maker-1")
    html = browser.scan(browser.get("/floor/move"), "A").text
    before = browser.cell.events()

    asked = browser.scan(html, "RACK-NEW")

    assert "is no part and no place that was used before" in asked.text
    assert browser.cell.events() == before
    assert browser.scan(asked.text, "RACK-NEW").status_code == 303
    assert browser.cell.here("A").whereabouts == ("RACK-NEW",)


def test_a_trolley_is_moved_with_all_that_lies_in_it(browser: Browser) -> None:
    browser.cell.cleaned("A")
    browser.cell.move("A", to="TR-1")
    browser.cell.move(carriers=("TR-1",), to="RACK-1")
    browser.who("maker-1")

    html = browser.scan(browser.get("/floor/move"), "TR-1").text
    browser.scan(html, "RACK-1")
    html = browser.scan(browser.get("/floor/move"), "TR-1").text
    asked = browser.scan(html, "RACK-2")
    browser.scan(asked.text, "", **{"as": "place"})

    assert browser.cell.here("A").whereabouts == ("TR-1", "RACK-2")


def test_a_place_scanned_first_and_somebody_who_may_not_are_told(browser: Browser) -> None:
    browser.cell.cleaned("A", "B")
    browser.cell.move("B", to="RACK-1")
    browser.who("sup-1")

    assert "scan what is moved first" in browser.scan(browser.get("/floor/move"), "RACK-1").text
    html = browser.scan(browser.get("/floor/move"), "A").text
    browser.client.cookies.clear()  # the reader who stands in is a manager
    refused = browser.scan(html, "RACK-1")

    assert refused.status_code == 403
    assert "Nothing was booked" in refused.text


def test_something_is_shut_and_opened_by_whom_it_names(browser: Browser) -> None:
    browser.who("sup-1")
    form = browser.hidden(browser.get("/floor/shut"))
    given = {"thing": "station:FB-1", "reason": "survey failed", "opener": "quality-engineer"}

    assert browser.client.post("/floor/shut", data={**form, **given}).status_code == 303
    html = browser.get("/floor/shut")
    assert "1 thing is shut" in html
    assert "May open it: quality engineer." in html
    tried = browser.client.post(
        "/floor/shut", data={**browser.hidden(html), "open_reason": "fine"}
    )
    assert (tried.status_code, "only a quality engineer may open it" in tried.text) == (
        403,
        True,
    )
    assert "fine" in tried.text
    browser.who("qe-1")
    browser.client.post("/floor/shut", data={**browser.hidden(html), "open_reason": "fine"})

    assert browser.answer("/floor/shut") == "Nothing is shut."


def test_two_things_in_one_form_are_not_shut(browser: Browser) -> None:
    browser.who("sup-1")
    form = browser.hidden(browser.get("/floor/shut"))
    given = {"thing": "station:FB-1", "lot": "L", "reason": "r", "opener": "supervisor"}

    answer = browser.client.post("/floor/shut", data={**form, **given})

    assert (answer.status_code, "choose one thing" in answer.text) == (422, True)


def test_a_missing_part_is_looked_for_where_the_record_last_saw_it(browser: Browser) -> None:
    cell = browser.cell
    cell.book("create", "A")
    cell.book("create", "B")
    cell.book("create", "C")
    cell.book("begin", "A", QUALITY, step=10, station="CL-1")
    cell.book("end", "A", QUALITY, step=10, outcome="pass", station="CL-1")
    cell.move("A", "B", "C", to="TUB-1")
    cell.move(carriers=("TUB-1",), to="RACK-1")
    cell.move("C", to="RACK-7")
    browser.who("maker-1")

    form = browser.hidden(browser.get("/floor/search", serial="A"))
    assert browser.client.post("/floor/search", data=form).status_code == 303
    html = browser.get("/floor/search", serial="A")
    text = re.sub(r"<[^>]+>", " ", html)

    assert "looked for since" in text
    assert "TUB-1, which stands at RACK-1" in text
    assert re.search(r"CL-1\s*, step 10", text)
    assert "20 Bond" in text
    assert "FB-1, FB-2" in text
    # What left the tub since comes first: the missing one may have gone with it.
    assert re.findall(r"serial=([BC])\"", html) == ["C", "B"]
    assert "1 part is looked for" in browser.get("/floor/search")


def test_a_found_part_is_no_longer_looked_for(browser: Browser) -> None:
    browser.cell.book("create", "A")
    browser.cell.seek("A")
    browser.who("maker-1")

    form = browser.hidden(browser.get("/floor/search", serial="A"))
    browser.client.post("/floor/search", data={**form, "where": "CAGE-1"})

    assert browser.cell.here("A").whereabouts == ("CAGE-1",)
    assert browser.answer("/floor/search") == "No part is looked for."


def test_a_search_for_no_part_is_told(browser: Browser) -> None:
    answer = browser.client.get("/floor/search", params={"serial": "NONE"})

    assert (answer.status_code, "no part NONE" in answer.text) == (404, True)


def test_a_part_is_raised_by_its_page(browser: Browser) -> None:
    browser.cell.book("create", "A")
    browser.who("plan-1")
    form = browser.hidden(browser.get("/floor/priority", serial="A"))

    done = browser.client.post("/floor/priority", data={**form, "reason": "engine test"})

    assert done.status_code == 303
    assert browser.answer("/floor/priority", serial="A") == "A goes first."


def test_the_wall_needs_no_sign_in_and_has_no_names_nor_forms(browser: Browser) -> None:
    browser.cell.cleaned("A")
    page = read(browser.get("/floor/wall"))

    assert page.tags("form") == []
    assert page.tags("nav") == []
    assert page.tags("input") == []
    assert browser.answer("/floor/wall") == "1 blade: none late, none held"


def test_the_wall_is_drawn_anew_when_the_page_code_changes(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    tag = re.search(r'hx-ptag="([^"]+)"', browser.get("/floor/wall"))
    assert tag is not None
    asks = {"HX-Request": "true", "HX-PTag": tag[1]}
    assert browser.client.get("/floor/wall", headers=asks).status_code == 304

    monkeypatch.setattr(pages, "page_code", lambda: "another")
    drawn = browser.client.get("/floor/wall", headers=asks)

    assert (drawn.status_code, 'data-code="another"' in drawn.text) == (200, True)


def test_the_page_code_covers_templates_styles_and_scripts() -> None:
    assert re.fullmatch(r"[0-9a-f]{12}", asking.page_code())


@pytest.mark.parametrize("turn", ["0", "0.5", "x", "99999"])
def test_a_wall_turns_at_most_once_a_minute(browser: Browser, turn: str) -> None:
    assert browser.client.get("/floor/wall", params={"turn": turn}).status_code == 422


def test_a_wall_told_to_turn_shows_each_product_in_its_minute(browser: Browser) -> None:
    from ringwright.assembly import SYSTEM
    from ringwright.routecards.service import LoadRoute
    from ringwright.routecards.toml import parse_route
    from tests.floor.cell import ROUTE
    from tests.make.floor import CODE, MINUTE_US

    card = parse_route(ROUTE.replace('"OAR"', '"MAST"').replace("Oar blade", "Mast"))
    browser.cell.ledger.execute(CODE, LoadRoute(card=card), SYSTEM)
    seen = []
    for _ in range(4):
        html = browser.get("/floor/wall", turn="1")
        seen += re.findall(r'c-wall__name">Floor, (\w+)<', html)
        browser.cell.clock.at_us += MINUTE_US

    assert seen in (["OAR", "MAST"] * 2, ["MAST", "OAR"] * 2)
    assert "Floor, OAR<" in browser.get("/floor/wall")


def test_an_empty_site_says_what_to_add(sqlite_url: str) -> None:
    from ringwright.assembly import ensure_site, ledger_of

    settings = Settings(database_url=sqlite_url)
    ledger = ledger_of(settings)
    ensure_site(ledger, settings)
    client = TestClient(open_to_readers(create_app(settings, ledger)))

    for path in ("/floor", "/floor/parts", "/floor/wall", "/floor/move", "/floor/shut"):
        assert client.get(path).status_code == 200, path
    assert "No route card is loaded yet" in client.get("/floor").text
    ledger.store.close()


def test_a_serial_with_signs_of_an_address_in_it_still_leads_to_its_part(
    browser: Browser,
) -> None:
    browser.cell.book("create", "A/1?b&c#d")
    html = browser.get("/floor/parts")
    link = next(a["href"] for a in read(html).tags("a") if "search?serial" in a["href"])

    assert "A/1?b&amp;c#d: nobody looks for it." in browser.client.get(link).text
