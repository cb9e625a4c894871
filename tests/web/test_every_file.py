"""What holds for every page that offers files: they hold the very tables that it shows."""

from __future__ import annotations

from urllib.parse import parse_qsl, urlencode, urlsplit

import pytest
from starlette.testclient import TestClient

from tests.make.figures import csv_table, drawn_sheets, same, shown_only, workbook
from tests.make.html import read
from tests.web.test_every_page import PAGES

ASKED = ("/trace?lot=none", "/week?product=VANE&week=2026-W40", "/floor/parts?product=VANE")
"""Pages as they are asked for, beside each page as it stands without a question."""


def files_of(client: TestClient, path: str) -> dict[str, str]:
    """Form to address of the files that a page offers."""
    links = [a["href"] for a in read(client.get(path).text).tags("a") if "download" in a]
    return {urlsplit(link).path.rpartition(".")[2]: link for link in links}


def test_the_week_offers_both_files(client: TestClient) -> None:
    assert set(files_of(client, "/week")) == {"csv", "xlsx"}


# The audit of the doors grows by each file that is taken, its own among them.
@pytest.mark.parametrize("path", sorted({*PAGES, *ASKED} - {"/audit"}))
def test_what_a_page_offers_as_files_is_what_it_shows(client: TestClient, path: str) -> None:
    files = files_of(client, path)
    assert set(files) in (set(), {"csv", "xlsx"})
    if not files:
        return
    drawn = drawn_sheets(client.get(path).text).found
    tabs = workbook(client.get(files["xlsx"]).content)

    assert drawn, "a page that offers files shows the tables that are in them"
    assert "About" in tabs
    for code, rows in drawn.items():
        file = shown_only(csv_table(client.get(_with_sheet(files["csv"], code)).content)[1])
        assert unlike(rows, file) == [], (path, code)
        assert any(code.lower()[:20] in title.lower() for title in tabs), (code, list(tabs))
    for link in files.values():
        assert client.get(link).content == client.get(link).content


def _with_sheet(link: str, code: str) -> str:
    parts = urlsplit(link)
    return f"{parts.path}?{urlencode({**dict(parse_qsl(parts.query)), 'sheet': code})}"


def unlike(page: list[list[str]], file: list[list[str]]) -> list[tuple[str, str]]:
    """Cells that the page and the file tell differently, and rows that only one of them has."""
    if file[1:] == [] and len(page) == 2 and len(page[1]) == 1:
        return []  # "No rows." stands for none
    if [len(row) for row in page] != [len(row) for row in file]:
        return [(f"{len(page)} rows", f"{len(file)} rows")]
    pairs = zip(page, file, strict=True)
    cells = [pair for one, other in pairs for pair in zip(one, other, strict=True)]
    return [(a, b) for a, b in cells if not same(" ".join(a.split()), " ".join(b.split()))]
