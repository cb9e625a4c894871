"""Chart, comparison and losses over the API and as files: the numbers of their pages."""

from __future__ import annotations

import csv
import io
import statistics
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.yields.conftest import BAD
from tests.yields.test_page import WEEKS, plain

ROOMS = ("", "/chart", "/compare", "/losses")
ALL = (
    "All FAN, Mon 14 Sep 2026 to Mon 28 Sep 2026: 0 opening + 25 created + 0 reopened = "
    "22 released + 3 scrapped + 0 used in test or making + 0 closing. It balances."
)


def told(client: TestClient, bearer: dict[str, str], room: str, **more: Any) -> dict[str, Any]:
    params = {"product": "FAN", "first": "2026-W38", "last": "2026-W40", **more}
    answer = client.get(f"/api/yield{room}", params=params, headers=bearer)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_api_tells_the_points_groups_and_losses_of_the_pages(
    client: TestClient, bearer: dict[str, str]
) -> None:
    chart = told(client, bearer, "/chart", step=20, kind="singles", point=BAD)
    lots = told(client, bearer, "/compare", by="lot")
    lost = told(client, bearer, "/losses")

    assert [point["n"] for point in chart["points"]] == [5] * 5
    assert [part["serial"] for part in chart["parts"]] == [f"B2-{n}" for n in range(1, 6)]
    # LOT-0 made loads 0, 2, 4 (12 of 15 out), LOT-1 loads 1 and 3 (10 of 10).
    assert {group["key"]: (group["good"], group["share"]["n"]) for group in lots["groups"]} == {
        "LOT-0": (12, 15), "LOT-1": (10, 10),
    }  # fmt: skip
    assert lots["chosen"]["difference"] == pytest.approx(-0.2)
    assert lots["comparisons"] == 1
    assert [part["serial"] for part in lost["parts"]] == ["B2-1", "B2-2", "B2-3"]
    assert lost["lost"]["touch_h"] == pytest.approx(sum(p["touch_h"] for p in lost["parts"]))
    for reason in ("by_caused", "by_found", "by_defect", "by_place"):
        assert sum(one["parts"] for one in lost[reason]) == 3
    for found in (chart, lots, lost):
        assert found["account"] == {
            "opening": 0, "created": 25, "reopened": 0, "released": 22, "scrapped": 3,
            "used": 0, "closing": 0,
        }  # fmt: skip


def test_hours_are_those_of_the_bookings(client: TestClient, bearer: dict[str, str]) -> None:
    """Created at 8; Form 9 to 10; Inflate 11 to 14 as a load; Measure 15 to 16; out at 18."""
    out = told(client, bearer, "/chart", kind="touch")
    waited = told(client, bearer, "/chart", step=30, kind="queue")
    whole = told(client, bearer, "/chart", step=20, kind="cycle")
    measured = told(client, bearer, "/chart", step=30, kind="elapsed", six="yes")

    assert (out["kind"], out["unit"]) == ("cycle", "h")  # a product has no touch of one step
    assert [point["value"] for point in out["points"]] == [10.0] * 22
    assert out["false_signals_a_week"] is None  # all alike: no limits
    assert {point["value"] for point in waited["points"]} == {1.0}
    assert [(point["value"], point["n"]) for point in whole["points"]] == [(4.0, 5)] * 5
    values = [point["value"] for point in measured["points"]]
    assert statistics.fmean(values) == pytest.approx(measured["centre"])
    assert measured["rules"] == ["beyond", "six rising"]
    assert sum(value > 24 for value in values) == 3  # those stopped there until they were scrap


def test_the_page_of_hours_names_each_part_and_says_what_to_expect(client: TestClient) -> None:
    page = client.get(f"{WEEKS.replace('/yield?', '/yield/chart?')}&step=30&kind=elapsed").text

    assert "Are the hours changing?" in page
    assert "Measure, begin to end, visit by visit" in plain(page)
    assert 'href="/parts/B2-1"' in page
    assert "Hours are rarely normal" in page
    assert "six in a row that rise or fall (Nelson 1984, test 3)" in plain(page)


@pytest.mark.parametrize("room", ROOMS)
def test_page_and_files_account_for_every_part_and_are_the_same_twice(
    client: TestClient, room: str
) -> None:
    address = WEEKS.replace("/yield?", f"/yield{room}?")
    file = address.replace(f"/yield{room}?", f"/yield{room}/file.csv?")
    first, again = client.get(file), client.get(file)
    book = file.replace(".csv", ".xlsx")
    rows = list(csv.reader(io.StringIO(first.content.decode("utf-8-sig"))))
    lines = {(row[0], row[1]) for row in rows if len(row) > 1}

    assert ALL in plain(client.get(address).text)
    assert ("Reconciliation", ALL) in lines
    assert any(word == "Rows" for word, _ in lines)
    assert first.content == again.content
    assert client.get(book).content == client.get(book).content


def test_parts_still_in_the_cell_are_closing(client: TestClient) -> None:
    """On Wednesday noon load 2 is in the furnace: 10 of 15 created were out."""
    page = client.get(f"{WEEKS}&as_of=2026-09-23T12:00").text

    assert "0 opening + 15 created + 0 reopened = 10 released + 0 scrapped" in plain(page)
    assert "5 closing. It balances." in plain(page)
