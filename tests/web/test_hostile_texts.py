"""Hostile names and texts, stored by real commands, through every page and every file.

Sources: OWASP ASVS 5.0.0, 1.2.1, 1.2.2, 1.2.3, 1.2.4, 1.2.10, 1.3.7, 3.2.2; RFC 4180.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from shutil import copy
from urllib.parse import quote, urlsplit

import openpyxl
import pytest
from starlette.routing import Match, Route
from starlette.testclient import TestClient

from ringwright.kit.render import TEMPLATES
from ringwright.ledger.service import Ledger
from ringwright.ledger.verify import audit
from ringwright.settings import Settings
from ringwright.web.factory import create_app, room_routers
from tests.make import states
from tests.make.hostile import (
    LOT,
    PRODUCT,
    PRODUCT_OF_TEMPLATE,
    RECIPE,
    RUN,
    SCRIPTS,
    SERIALS,
    SQL,
    STATION,
    TEXTS,
    open_hostile,
)
from tests.make.html import Read, read
from tests.make.signing import open_to_readers

pytestmark = pytest.mark.slow

EACH = 25
"""Addresses of one route that are visited; each holds another hostile name."""
BEGINS = re.compile("[=+\\-@\t\r\n\x00\uff1d\uff0b\uff0d\uff20]")
FIGURE = re.compile(r"[+-]?\d[\d.,\u202f\u00a0]*(e[+-]?\d+)?", re.IGNORECASE)
OURS = ("bench", "/bench")
"""The comments between which the Bench's worker cuts its piece out of the page."""
ADDRESSES = ("href", "src", "action", "formaction", "hx-get", "hx-post", "data", "xlink:href")


@dataclass
class Seen(Read):
    """A page, its comments and the text of its scripts and styles beside what it holds."""

    odd: list[str] = field(default_factory=list)

    def handle_comment(self, data: str) -> None:
        if data.strip() not in OURS:
            self.odd.append(f"comment {data[:60]}")

    def handle_data(self, data: str) -> None:
        if self.open[-1:] in (["script"], ["style"]) and data.strip():
            self.odd.append(f"inline {data[:60]}")
        super().handle_data(data)


class Crawl:
    """Every page and file that can be reached by links, so many of each route."""

    def __init__(self, client: TestClient, starts: list[str]) -> None:
        self.client = client
        self.routes = [r for router in room_routers() for r in router.routes]
        self.waiting = list(starts)
        self.known = set(starts)
        self.visits: Counter[str] = Counter()

    def __iter__(self) -> Iterator[tuple[str, bytes, str]]:
        while self.waiting:
            address = self.waiting.pop(0)
            name = self.name_of(address)
            if name is None or self.visits[name] >= EACH:
                continue
            self.visits[name] += 1
            answer = self.client.get(address)
            assert answer.status_code < 500, address
            kind = answer.headers.get("content-type", "")
            if kind.startswith("text/html"):
                self.follow(answer.text)
            yield address, answer.content, kind

    def name_of(self, address: str) -> str | None:
        """The route that answers an address of ours."""
        parts = urlsplit(address)
        scope = {"type": "http", "method": "GET", "path": self.path(parts.path)}
        for route in self.routes:
            if isinstance(route, Route) and route.matches(scope)[0] is Match.FULL:
                return route.name
        return None

    def path(self, path: str) -> str:
        """As the server sees it."""
        return str(self.client.build_request("GET", path).url.path)

    def follow(self, html: str) -> None:
        """Remember every address that the page names."""
        for _, attributes in read(html).elements:
            for name in ("href", "hx-get"):
                link = attributes.get(name, "").partition("#")[0]
                if link.startswith("/") and link not in self.known:
                    self.known.add(link)
                    self.waiting.append(link)


@pytest.fixture(scope="module")
def hostile(
    _sqlite_template: object, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Ledger]:
    """A works in which every name is hostile."""
    store = copy(str(_sqlite_template), tmp_path_factory.mktemp("hostile") / "store.sqlite")
    record = open_hostile(f"sqlite:///{store}")
    yield record
    record.store.close()


def browser(ledger: Ledger) -> TestClient:
    """A browser that may take as many files as it likes."""
    url = str(ledger.store.engine.url)
    settings = Settings(database_url=url, exports_a_minute=10_000)
    app = open_to_readers(create_app(settings, ledger))
    return TestClient(app, follow_redirects=False)


def starts() -> list[str]:
    """Every page, and every page that takes a name, with each hostile one."""
    samples = {
        "serial": SERIALS[1],
        "product": PRODUCT,
        "revision": "1",
        "code": "C-1",
        "gauge": "SCALE-1",
        "number": "1",
        "pack": "P-0001",
        "sheet": "P-0001-001",
        "furnace": STATION,
        "station": STATION,
        "recipe": RECIPE,
        "run": RUN,
        "weld": "1-OUT",
        "film": "A1",
        "container": SERIALS[1],
    }
    samples["set_code"] = f"{PRODUCT}-S001"
    found = [
        re.sub(r"\{(\w+)[^}]*\}", lambda m: quote(samples.get(m[1], "x"), safe=""), route.path)
        for router in room_routers()
        for route in router.routes
        if isinstance(route, Route) and "GET" in (route.methods or ())
        if route.name not in ("live.stream", "sets.run", "people.sign_on_return")
        and "{form}" not in route.path
    ]
    for text in dict.fromkeys((*SERIALS, *TEXTS, *SCRIPTS, *SQL)):
        asked = quote(text, safe="")
        found += [f"/find?q={asked}", f"/bench?scan={asked}", f"/trace?part={asked}"]
        found += [f"/floor/search?serial={asked}", f"/week?product={asked}"]
        found += [f"/trace?lot={asked}", f"/sets?product={asked}&lot={asked}"]
        found += [f"/ground?kind=station&code={asked}", f"/ground?kind=person&code={asked}"]
        found += [f"/floor/parts?product={asked}", f"/yield?product={asked}"]
    return found


def vocabulary(ledger: Ledger) -> tuple[set[str], set[str]]:
    """The tags and attributes that are ours: of the templates, and of a harmless works."""
    written = "".join(path.read_text() for path in TEMPLATES.rglob("*.html"))
    tags = set(re.findall(r"<([a-z][\w-]*)", written))
    names = set(re.findall(r"[\s\"]([a-z][\w:-]*)(?==\")", written))
    names |= set(re.findall(r"[\s}]((?:data|aria|hx)-[\w:-]+)", written))
    names |= {"checked", "selected", "disabled", "open", "required", "hidden", "autofocus"}
    sample = ["/week", "/floor", "/bench", "/yield", "/trace", "/sets", "/find", "/ground"]
    for _, body, kind in Crawl(browser(ledger), sample):
        if kind.startswith("text/html"):
            for tag, attributes in read(body.decode()).elements:
                tags.add(tag)
                names |= set(attributes)
    return tags, names


def wrong_with(html: str) -> list[str]:
    """What a browser would run or fetch of a page beyond what every page brings."""
    page = Seen()
    page.feed(html)
    found = list(page.odd)
    for tag, attributes in page.elements:
        found += [f"{tag} {name}" for name in attributes if name.startswith(("on", "hx-on"))]
        found += [f"{tag} {name}" for name in ("style", "srcdoc") if name in attributes]
        for name in ADDRESSES:
            link = attributes.get(name, "/")
            ours = link.startswith(("/", "#", "?")) and not link.startswith("//")
            found += [] if ours or not link else [f"{tag} {name}={link[:60]}"]
        if tag == "script" and not attributes.get("src", "").startswith("/static/"):
            found.append("script without our source")
        if tag == "meta" and "http-equiv" in attributes:
            found.append("meta http-equiv")
    return found


@pytest.mark.parametrize(
    ("html", "finds"),
    [
        ("<p>&lt;script&gt;</p>", False),
        ("<p><script>x()</script></p>", True),
        ("<a href='javascript:x()'>a</a>", True),
        ("<a href='//evil.example'>a</a>", True),
        ("<p onclick='x()'>a</p>", True),
        ("<p style='a'>a</p>", True),
        ("<meta http-equiv='refresh'>", True),
        ("<!-- a -->", True),
    ],
)
def test_the_look_at_a_page_finds_what_is_planted(html: str, finds: bool) -> None:
    assert bool(wrong_with(html)) is finds


def test_no_stored_text_is_more_than_text_on_any_page(hostile: Ledger, sqlite_url: str) -> None:
    harmless = states.open_states(sqlite_url)
    tags, names = vocabulary(harmless)
    harmless.store.close()
    shown: set[str] = set()
    crawl = Crawl(browser(hostile), starts())
    pages = 0

    for address, body, kind in crawl:
        if not kind.startswith("text/html"):
            continue
        pages += 1
        html = body.decode()
        page = read(html)
        assert wrong_with(html) == [], address
        assert {tag for tag, _ in page.elements} <= tags, address
        assert {name for _, held in page.elements for name in held} <= names, address
        assert PRODUCT_OF_TEMPLATE not in html, address
        told = " ".join(" ".join(text.split()) for text in page.texts)
        shown |= {text for text in SCRIPTS if " ".join(text.split()) in told}

    assert shown == set(SCRIPTS), "each text was seen, as it was typed, on some page"
    assert pages > 300
    assert len(crawl.visits) > 30


def test_no_stored_text_runs_from_any_file(hostile: Ledger) -> None:
    crawl = Crawl(browser(hostile), [s for s in starts() if "?" not in s])
    seen = Counter[str]()

    for address, body, kind in crawl:
        if kind.startswith("text/csv"):
            rows = list(csv.reader(io.StringIO(body.decode(), newline=""), strict=True))
            assert len({len(row) for row in rows}) == 1, address
            assert body.count(b"\n") == body.count(b"\r\n"), address
            cells = [cell for row in rows for cell in row]
            assert [c for c in cells if BEGINS.match(c) and not FIGURE.fullmatch(c)] == []
            seen["csv"] += 1
        elif "spreadsheet" in kind:
            book = openpyxl.load_workbook(io.BytesIO(body))
            every = [cell for tab in book for row in tab.iter_rows() for cell in row]
            assert [cell.coordinate for cell in every if cell.data_type == "f"] == [], address
            assert not any(cell.hyperlink for cell in every), address
            seen["xlsx"] += 1
            seen["texts"] += sum(str(c.value) in SCRIPTS for c in every)

    assert seen["csv"] > 8
    assert seen["xlsx"] > 8
    assert seen["texts"] > 50, "the hostile texts are in the files, as texts"


def test_marks_of_sql_are_texts_to_the_record(hostile: Ledger) -> None:
    """After every page was asked with them the record is whole, and finds each by its name."""
    with hostile.store.read() as connection:
        verified, fault = audit(connection)
    client = browser(hostile)

    assert fault is None
    assert verified > 300
    for serial in (s for s in SERIALS if "%" not in s):  # the client decodes those twice
        answer = client.get(f"/parts/{quote(serial, safe='')}")
        assert answer.status_code == 200, serial
        assert " ".join(serial.split()) in " ".join(" ".join(read(answer.text).texts).split())


def test_a_furnace_run_of_hostile_names_has_its_page(hostile: Ledger) -> None:
    answer = browser(hostile).get(f"/furnace/runs/{quote(RUN, safe='')}")

    assert answer.status_code == 200
    assert wrong_with(answer.text) == []
    told = " ".join(" ".join(text.split()) for text in read(answer.text).texts)
    for text in (RECIPE, SCRIPTS[10], SCRIPTS[11], SCRIPTS[12]):
        assert " ".join(text.split()) in told


def test_a_file_s_name_holds_nothing_of_what_was_typed(hostile: Ledger) -> None:
    """OWASP ASVS 5.0.0, 5.4.1 and 5.4.2; RFC 6266."""
    client = browser(hostile)
    asked = quote(LOT, safe="")

    for path in (f"/trace/file.csv?lot={asked}", f"/week/file.xlsx?product={quote(PRODUCT)}"):
        told = client.get(path).headers["content-disposition"]
        assert re.fullmatch(r'attachment; filename="[\w.-]+"', told), told
    assert STATION not in told
