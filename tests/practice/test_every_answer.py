"""No page, print or file of a practice site lacks its mark; no real one bears it."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import openpyxl
import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.kit.datamatrix import mark_of
from ringwright.kit.render import STATIC
from ringwright.ledger.migrate import migrate
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.web.factory import create_app, room_routers
from tests.make import sets, shop
from tests.make.html import read
from tests.make.practice import CODE, REAL, open_practised
from tests.make.signing import AS, open_to_readers
from tests.web.test_every_page import PAGES as ALL_PAGES
from tests.web.test_every_page import SAMPLES

HEADER = "Ringwright-Practice"
HERE = f"site={CODE}"
OF_NO_SITE = {
    "/accounts/badge",
    "/device",
    "/first",
    "/sign-in",
    "/sign-in/code",
    "/sign-in/return",
}
"""Pages that are of the whole store: who signs in does so at the real site."""
PAGES = [path for path in ALL_PAGES if path not in OF_NO_SITE]


@pytest.fixture(scope="module")
def practised(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ledger]:
    url = f"sqlite:///{tmp_path_factory.mktemp('practised') / 'store.sqlite'}"
    migrate(url)
    ledger = open_practised(url, shop.HISTORY)
    ledger.execute(CODE, LoadRoute(card=parse_route(sets.route(), "route")), SYSTEM)
    blades = read_csv(sets.history_of(sets.finished(9)))
    ledger.execute(CODE, LoadHistory(rows=blades), SYSTEM)
    yield ledger
    ledger.store.close()


@pytest.fixture(scope="module")
def client(practised: Ledger) -> TestClient:
    """A browser on a store with a practised site beside the real shop; read only."""
    settings = Settings(database_url=str(practised.store.engine.url), exports_a_minute=10_000)
    return TestClient(open_to_readers(create_app(settings, practised)), follow_redirects=False)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_of_a_practice_site_bears_the_watermark(client: TestClient, path: str) -> None:
    answer = client.get(f"{path}?{HERE}")
    page = read(answer.text)
    classes = [a.get("class") or "" for _, a in page.elements]

    assert answer.status_code == 200, answer.text
    assert answer.headers[HEADER] == "yes"
    title = answer.text.partition("<title>")[2]
    assert title.startswith("PRACTICE: ")
    bands = [name for name in classes if name.startswith("c-practice c-practice--")]
    assert sorted(bands) == ["c-practice c-practice--end", "c-practice c-practice--top"]
    assert "c-watermark" in classes
    assert f"{CODE}: nothing here is a real record." in answer.text
    sheets = [a["href"] for a in page.tags("link") if a.get("rel") == "stylesheet"]
    assert "css/practice.css" in sheets[-1]


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("site", ["", f"?site={REAL}"])
def test_a_page_of_the_real_site_does_not(client: TestClient, path: str, site: str) -> None:
    """C-1 and VANE-S001 are practice only: at the real site there is no such page."""
    answer = client.get(f"{path}{site}")

    assert HEADER not in answer.headers
    assert answer.status_code == 200 or (
        answer.status_code == 404 and re.search("C-1|VANE-S001", path)
    )
    for mark in ("c-practice", "practice.css", "c-watermark", "<title>PRACTICE"):
        assert mark not in answer.text


@pytest.mark.parametrize("path", PAGES)
def test_every_link_of_a_practice_page_stays_there_but_the_ways_back(
    client: TestClient, path: str
) -> None:
    page = read(client.get(f"{path}?{HERE}").text)

    leaving = {
        a["href"]
        for a in page.tags("a")
        if not a["href"].startswith("#") and HERE not in a["href"]
    }
    assert {urlsplit(link).query for link in leaving} == {f"site={REAL}"}
    forms = [form.get("action", "") for form in page.tags("form")]
    hidden = [i.get("value") for i in page.tags("input") if i.get("name") == "site"]
    assert all(HERE in action or CODE in hidden for action in forms)


@pytest.mark.parametrize("path", PAGES)
def test_a_panel_asked_for_alone_is_told_as_practice(client: TestClient, path: str) -> None:
    page = read(client.get(f"{path}?{HERE}").text)

    for panel in [a for _, a in page.elements if "data-live-panel" in a]:
        piece = client.get(panel["hx-get"], headers={"HX-Request": "true"})
        assert piece.headers[HEADER] == "yes"


def file_paths() -> list[str]:
    """Every file route of every room in both forms, its places filled."""
    routes = [route for router in room_routers() for route in router.routes]
    paths = [r.path for r in routes if isinstance(r, Route) and "{form}" in r.path]
    filled = [re.sub(r"\{(?!form)(\w+)[^}]*\}", lambda m: SAMPLES[m[1]], one) for one in paths]
    found = [one.replace("{form}", form) for one in filled for form in ("csv", "xlsx")]
    return [f"{path}?{_asked_of(path)}" for path in found]


def _asked_of(path: str) -> str:
    if path.startswith("/sets"):
        return f"product={sets.PRODUCT}"
    # The vane of the shop has no wall plan and is weighed nowhere.
    case = path.startswith(("/case/walls", "/case/mass"))
    return "part=V-001" if case else "product=VANE&part=V-001"


# The audit of the doors is of the real site, and grows by each file that is taken.
# What is attached is handed out as it was given.
# The shop's part V-001 has no welds, so its ring has no file.
OTHERS = ("/audit/", "/attachments/", "/case/welds/V-001/")
FILES = [path for path in file_paths() if not path.startswith(OTHERS)]


@pytest.mark.parametrize("path", FILES)
def test_a_file_of_a_practice_site_says_so_by_name_and_at_its_head(
    client: TestClient, path: str
) -> None:
    answer = client.get(f"{path}&{HERE}")

    assert answer.status_code == 200, answer.text
    assert answer.headers[HEADER] == "yes"
    assert 'filename="PRACTICE-' in answer.headers["content-disposition"]
    if ".csv?" in path:
        first = next(csv.reader(io.StringIO(answer.text)))
        told = "NORD-PRACTICE is a practice site: nothing here is a real record."
        assert first[:2] == ["PRACTICE", told]
    else:
        check_workbook(answer.content)
        assert client.get(f"{path}&{HERE}").content == answer.content


def check_workbook(body: bytes) -> None:
    book = openpyxl.load_workbook(io.BytesIO(body))
    assert book.properties.title.startswith("PRACTICE: ")
    assert book.worksheets[0].cell(1, 1).value == "PRACTICE"
    for tab in book.worksheets:
        assert tab.title.startswith("PRACTICE ")
        for text in (tab.oddHeader.left, tab.oddHeader.right, tab.oddFooter.left):
            assert text.text == "PRACTICE"
            assert text.size == 20


@pytest.mark.parametrize("path", [path for path in FILES if ".csv?" in path])
def test_no_file_of_the_real_site_does(client: TestClient, path: str) -> None:
    """Sets and containments are practice only: at the real site there are none."""
    answer = client.get(f"{path}&site={REAL}")

    assert HEADER not in answer.headers
    if answer.status_code != 404 or not re.search("/sets|C-1", path):
        assert answer.status_code == 200
        assert "PRACTICE" not in answer.headers["content-disposition"]
        assert "PRACTICE" not in answer.text


def test_a_refusal_at_a_practice_site_says_so(client: TestClient) -> None:
    answer = client.get(f"/parts/NONE?{HERE}")
    piece = client.get(f"/bench?scan=NONE&{HERE}", headers={"HX-Request": "true"})

    assert (answer.status_code, answer.headers[HEADER]) == (404, "yes")
    assert "c-watermark" in answer.text
    assert "c-practice-word" in piece.text


def test_the_panel_after_an_act_says_so_by_itself(client: TestClient) -> None:
    client.headers[AS] = "insp-1"
    posted = {"act": "begin", "key": "b-1", "seen": "", "due": "10"}
    sent = client.post(
        f"/bench/acts/P-VANE-001?{HERE}",
        data=posted,
        headers={"HX-Request": "true", "Sec-Fetch-Site": "same-origin"},
    )
    assert sent.status_code == 200, sent.text
    posted = {"act": "stop", "key": "b-2", "defect": "dent", "place_on_part": "tip"}
    sent = client.post(
        f"/bench/acts/P-VANE-001?{HERE}",
        data=posted,
        headers={"HX-Request": "true", "Sec-Fetch-Site": "same-origin"},
    )

    assert 'class="l-field__wide c-after"' in sent.text, sent.text
    assert '<p class="c-practice-word">PRACTICE</p>' in sent.text
    assert sent.headers[HEADER] == "yes"


def test_the_assembly_sheet_prints_practice_labels(client: TestClient) -> None:
    """The very symbol of the label's text is on the sheet, and that of the serial is not."""
    page = client.get(f"/sets/VANE-S001/sheet?{HERE}").text

    of_practice, real = mark_of("PRACTICE:V-001"), mark_of("V-001")
    assert of_practice is not None
    assert of_practice.path in page
    assert real is not None
    assert real.path not in page


LABEL = "PRACTICE:V-001"
SCANS = (f"/find?q={LABEL}", f"/bench?scan={LABEL}")


@pytest.mark.parametrize("path", SCANS)
def test_a_practice_label_opens_nothing_real(client: TestClient, path: str) -> None:
    answer = client.get(path)

    assert answer.status_code == 422
    assert "is a practice label" in answer.text


@pytest.mark.parametrize("path", SCANS)
def test_a_practice_label_opens_its_part_where_it_belongs(
    client: TestClient, path: str
) -> None:
    joined = f"{path}{'&' if '?' in path else '?'}{HERE}"

    assert client.get(joined).status_code in (200, 302)


def test_the_api_answers_practice_with_its_stable_fields_and_a_header(
    client: TestClient, practised: Ledger
) -> None:
    tokens = {
        code: make_token(practised.store, number, "supervisor", None, 0)
        for number, code in ((1, REAL), (2, CODE))
    }
    answers = {
        code: client.get("/api/parts/V-001", headers={"Authorization": f"Bearer {token}"})
        for code, token in tokens.items()
    }

    assert HEADER not in answers[REAL].headers
    assert answers[CODE].headers[HEADER] == "yes"
    assert json.loads(answers[CODE].text).keys() == json.loads(answers[REAL].text).keys()


def test_a_booking_with_a_practice_key_is_refused_by_the_real_api(
    client: TestClient, practised: Ledger
) -> None:
    token = make_token(practised.store, 1, "supervisor", None, 0)
    booking = {"key": "practice:1", "serial": "V-77", "act": "create", "product": "VANE"}

    answer = client.post(
        "/api/bookings", json=booking, headers={"Authorization": f"Bearer {token}"}
    )

    assert (answer.status_code, answer.json()["error"]) == (422, "practice")


def test_readiness_counts_the_real_sites(client: TestClient) -> None:
    assert client.get("/readyz").json() == {"status": "ready", "sites": 1}


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2, of `#rrggbb`."""
    shares = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return sum(w * one for w, one in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def pairs(css: str, name: str) -> tuple[str, str]:
    found = re.search(rf"--{name}: light-dark\((#\w{{6}}), (#\w{{6}})\)", css)
    assert found, name
    return found[1], found[2]


@pytest.mark.parametrize("ink", ["ink", "pencil"])
@pytest.mark.parametrize("scheme", [0, 1])
def test_text_over_the_watermark_keeps_seven_to_one(ink: str, scheme: int) -> None:
    """WCAG 2.2, 1.4.6: contrast of at least 7:1 for text, over its palest ground too."""
    tokens = Path(STATIC / "css/tokens.css").read_text(encoding="utf-8")
    marks = Path(STATIC / "css/practice.css").read_text(encoding="utf-8")
    text = luminance(pairs(tokens, ink)[scheme])
    for name in ("watermark", "watermark-edge"):
        ground = luminance(pairs(marks, name)[scheme])
        low, high = sorted((text, ground))
        assert (high + 0.05) / (low + 0.05) >= 7
