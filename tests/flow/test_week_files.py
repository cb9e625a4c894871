"""The week as files, set beside the page cell by cell."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import pytest
from starlette.testclient import TestClient

from ringwright.ledger.service import Ledger
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make import shop
from tests.make.figures import csv_table, drawn_sheets, same, shown_only, workbook
from tests.make.html import read
from tests.make.signing import open_to_readers

NAMES = ("promise", "steps", "yield", "scrap", "cycle time", "account", "cohort", "record")


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """The small shop's record, its clock at noon."""
    record = shop.open_shop(sqlite_url)
    yield record
    record.store.close()


@pytest.fixture
def client(sqlite_url: str, ledger: Ledger) -> TestClient:
    """A browser without scripts."""
    return TestClient(open_to_readers(create_app(Settings(database_url=sqlite_url), ledger)))


def sheet(client: TestClient, name: str, **asked: str) -> list[list[str]]:
    """One sheet of the week as its CSV holds it, without the columns in full."""
    answer = client.get("/week/file.csv", params={"sheet": f"VANE {name}", **asked})
    assert answer.status_code == 200, answer.text
    return shown_only(csv_table(answer.content)[1])


def table(html: str, css: str) -> list[list[str]]:
    """The body cells of the page's table of that class, each text evened out."""
    part = html[html.index(f'class="c-table {css}"') :]
    rows = part[: part.index("</table>")].split("<tr")[2:]
    cells = [row.replace("<th", "<td").split("<td")[1:] for row in rows]
    return [[" ".join(" ".join(read(f"<td{c}").texts).split()) for c in row] for row in cells]


def test_the_promise_table_and_its_file_are_the_same(client: TestClient) -> None:
    drawn = drawn_sheets(client.get("/week").text).found["VANE promise"]

    file = sheet(client, "promise")
    assert len(drawn) == len(file) > 3
    pairs = zip(chain(*drawn), chain(*file), strict=True)
    assert [(a, b) for a, b in pairs if not same(a, b)] == []


def test_the_steps_on_the_page_are_the_steps_in_the_file(client: TestClient) -> None:
    drawn = table(client.get("/week").text, "c-steps")

    rows = [dict(zip(range(20), row, strict=False)) for row in sheet(client, "steps")[1:]]
    made = [
        [
            r[0], r[1], r[2], r[3], r[4], f"{r[5]} {r[6]}".strip(), r[7],
            f"{r[8]} to {r[9]}, {r[10]}" if r[10] != "0" else "no first visit",
            f"{r[11]} ({r[12]} to {r[13]}), {r[14]}" if r[14] != "0" else r[11],
            r[15], r[16],
        ]
        for r in rows
    ]  # fmt: skip
    page = [[c.replace(" small n", "") for c in row[:6] + row[7:]] for row in drawn]
    assert len(page) == len(made) == 2
    assert [row[1:] for row in page] == [row[1:] for row in made]
    # Behind its name a step may carry the numbers of what is in the way.
    assert all(row[0].startswith(name[0]) for row, name in zip(page, made, strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_workbook_and_csv_tell_the_same(client: TestClient, name: str) -> None:
    answer = client.get("/week/file.csv", params={"sheet": f"VANE {name}"})
    _, rows = csv_table(answer.content)

    tab = workbook(client.get("/week/file.xlsx").content)[f"VANE {name}"]
    width = len(tab[0])
    assert tab[0] == rows[0][:width]
    assert len(tab) == len(rows)
    for ours, theirs in zip(tab[1:], rows[1:], strict=True):
        for value, text in zip(ours, theirs, strict=False):
            if isinstance(value, int | float):
                assert float(text) == value
            elif isinstance(value, str):
                assert text.removeprefix("'") == value


def test_the_head_says_question_answer_cut_off_and_account(
    client: TestClient, ledger: Ledger
) -> None:
    head, _ = csv_table(client.get("/week/file.csv?sheet=VANE steps").content)
    told = {line[0]: line[1] for line in head}

    seq, whole = ledger.head("NORD")
    assert told["Question"] == "Will we make this week's number?"
    assert told["Answer"] in client.get("/week").text.replace("&#39;", "'")
    assert told["Products"] == "VANE"
    assert f"from entry {seq}, head {whole}" in told["Cut-off"]
    assert "Europe/Oslo" in told["Cut-off"]
    assert told["Reconciliation"] == (
        "Guide vane: 0 opening + 4 created + 0 reopened = 2 released + 1 scrapped + "
        "0 used in test or making + 1 closing. It balances."
    )
    assert told["Rows"].endswith("2 rows here of 2 in all")


def test_the_account_balances_in_the_file(client: TestClient) -> None:
    heading, row = sheet(client, "account")
    a = {name.split(",")[0]: value for name, value in zip(heading, row, strict=True)}

    came = sum(int(a[name]) for name in ("opening", "created", "reopened"))
    gone = ("released", "scrapped", "used in test or making", "closing")
    went = sum(int(a[name]) for name in gone)
    assert (came, int(a["off by"])) == (went, 0)


def test_a_file_as_of_a_past_moment_knows_what_was_known_then(client: TestClient) -> None:
    asked = {"as_of": "2026-09-29T10:30"}
    page = client.get("/week", params=asked).text

    assert sheet(client, "account", **asked)[1][4] == "1"
    assert drawn_sheets(page).found["VANE promise"][1:]
    links = [a["href"] for a in read(page).tags("a") if "/week/file." in a.get("href", "")]
    assert len(links) == 2
    assert all("as_of=2026-09-29T10" in link for link in links)


def test_the_same_file_twice_within_the_minute_is_the_same_bytes(
    client: TestClient, ledger: Ledger
) -> None:
    first = [client.get(f"/week/file.{form}").content for form in ("csv", "xlsx")]
    ledger.clock.at_us += 17_000_000  # type: ignore[attr-defined]

    assert [client.get(f"/week/file.{form}").content for form in ("csv", "xlsx")] == first


def test_a_file_is_named_and_told_apart(client: TestClient) -> None:
    csv, xlsx = client.get("/week/file.csv?sheet=VANE scrap"), client.get("/week/file.xlsx")

    named = 'attachment; filename="week-2026-10-01-VANE-scrap.csv"'
    assert csv.headers["content-disposition"] == named
    assert csv.headers["content-type"] == "text/csv; charset=utf-8"
    assert 'filename="week-2026-10-01.xlsx"' in xlsx.headers["content-disposition"]


@pytest.mark.parametrize("path", ["/week/file.pdf", "/week/file.csv?sheet=none"])
def test_a_form_or_sheet_that_is_not_there_is_missing(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404
