"""The Yield page: what it answers, what it draws, and what its files and its API say of it."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.yields.conftest import BAD

WEEKS = "/yield?product=FAN&first=2026-W38&last=2026-W40"


def plain(html: str) -> str:
    """A page's words, tags and double blanks left out."""
    text = re.sub(r"<[^>]+>", " ", html).replace("\u202f", " ").replace("&#39;", "'")
    return re.sub(r" (?=[;.,:])", "", re.sub(r"\s+", " ", text))


def answer_of(html: str) -> str:
    found = re.search(r'<h1[^>]*id="yield-answer">(.*?)</h1>', html, re.DOTALL)
    assert found
    return plain(found[1]).strip()


def asked(client: TestClient, bearer: dict[str, str], **more: Any) -> dict[str, Any]:
    params = {"product": "FAN", "first": "2026-W38", "last": "2026-W40", **more}
    answer = client.get("/api/yield", params=params, headers=bearer)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_the_answer_says_what_was_released_and_which_step_makes_scrap(
    client: TestClient,
) -> None:
    answer = answer_of(client.get(WEEKS).text)

    # 22 of 25: Wilson 70.0 to 95.8 (statsmodels proportion_confint, wilson).
    assert answer == (
        "22 of 25 were released, 88.0 % (70.0 to 95.8); Inflate causes 3 of 3 scrapped."
    )


def test_the_finding_names_the_load_and_redrawing_leaves_it_out(client: TestClient) -> None:
    page = client.get(WEEKS).text
    assert "Without load F-1, Wed 23 Sep 11:00: 0 of 0" in plain(page)
    link = re.search(r'href="(/yield[^"]*without=[^"]*)">Redraw', page)
    assert link

    redrawn = client.get(link[1].replace("&amp;", "&")).text

    assert answer_of(redrawn).startswith(
        "Without load F-1, Wed 23 Sep 11:00; 20 of 20 were released, 100.0 %"
    )
    assert f"Load {BAD} is left out of everything: 5 parts." in plain(redrawn)
    assert "Nothing was scrapped." in plain(redrawn)


def test_scrap_lies_where_it_was_recorded_and_what_is_elsewhere_is_counted(
    client: TestClient, bearer: dict[str, str]
) -> None:
    scrap = asked(client, bearer)["scrap"]
    page = client.get(WEEKS).text

    assert scrap["by_place"] == [
        {"of": "behind the ear", "parts": 1}, {"of": "mid cavity", "parts": 1},
        {"of": "upper cavity", "parts": 1},
    ]  # fmt: skip
    assert scrap["threads"] == [{"caused": 20, "found": 30, "parts": 3}]
    assert scrap["not_placed"] == 1
    assert page.count('class="is-mark is-proof"') == 2
    assert "2 placed, 1 not placed" in plain(page)


def test_a_step_worked_in_loads_rests_its_interval_on_loads(
    client: TestClient, bearer: dict[str, str]
) -> None:
    steps = {step["number"]: step for step in asked(client, bearer)["steps"]}

    assert (steps[20]["first_pass_yield"]["n"], steps[20]["first_pass_yield"]["loads"]) == (
        25,
        5,
    )
    assert steps[10]["first_pass_yield"]["loads"] is None
    # The three were scrapped at their first visit to 30: 22 of 25 passed.
    assert steps[30]["first_pass_yield"]["value"] == pytest.approx(0.88)
    assert "25, 5 loads" in plain(client.get(WEEKS).text)


def test_fewer_than_twenty_are_called_so_in_place_of_a_trend(client: TestClient) -> None:
    page = plain(client.get(WEEKS + "&lot=LOT-1").text)

    assert "Only lot LOT-1." in page
    assert "10 of 10 were released, 100.0 % (72.2 to 100.0); small n." in page
    assert "These weeks together: nothing to compare with." in page


def test_the_file_shows_what_the_page_shows(client: TestClient) -> None:
    page = client.get(WEEKS).text
    answer = client.get(WEEKS.replace("/yield?", "/yield/file.csv?"))
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    cells = [cell for row in rows for cell in row]

    assert answer.status_code == 200
    for sheet in ("steps", "threads", "groups by week"):
        table = re.search(rf'data-sheet="{sheet}">(.*?)</table>', page, re.DOTALL)
        assert table, sheet
        shown = re.findall(r"<t[hd](?![^>]*scope=\"col\")[^>]*>(.*?)</t[hd]>", table[1])
        for text in shown:
            assert re.sub(r"<[^>]+>", "", text) in cells, (sheet, text)
    assert any("caused 3 = found 3 = by defect 3" in cell for cell in cells)


def test_the_same_file_twice_is_the_same_bytes(client: TestClient) -> None:
    path = WEEKS.replace("/yield?", "/yield/file.xlsx?")

    first, second = client.get(path), client.get(path)

    assert first.status_code == 200
    assert first.content == second.content


def test_page_and_api_tell_the_same_numbers(client: TestClient, bearer: dict[str, str]) -> None:
    told = asked(client, bearer, by="station")
    page = plain(client.get(WEEKS + "&by=station").text)

    assert f"{100 * told['rolled_throughput_yield']:.1f} %" in page
    assert told["cohort"] == {
        "created": 25, "released": 22, "scrapped": 3, "open": 0, "floor": 0.88, "ceiling": 0.88,
    }  # fmt: skip
    assert [group["key"] for group in told["groups"]] == ["F-1", ""]


@pytest.mark.parametrize(
    ("query", "status", "why"),
    [
        ("product=NONE", 404, "no product"),
        ("product=FAN&step=15", 404, "no step 15"),
        ("product=FAN&step=x", 422, "is not a step"),
        ("product=FAN&by=weather", 422, "told apart by"),
        ("product=FAN&first=2026-W40&last=2026-W39", 422, "earlier one first"),
        ("product=FAN&first=2020-W01&last=2026-W39", 422, "at most 53 weeks"),
        ("product=FAN&first=soon", 422, "not an ISO week"),
        ("product=FAN&without=F-1@2026-09-23T10:00:00%2B02:00", 404, "no load"),
        ("product=FAN&without=F-1", 422, "names no load"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_a_reason(
    client: TestClient, bearer: dict[str, str], query: str, status: int, why: str
) -> None:
    answer = client.get(f"/api/yield?{query}", headers=bearer)

    assert answer.status_code == status
    assert why in answer.json()["detail"]
    assert client.get(f"/yield?{query}").status_code == status


def test_every_link_of_the_page_leads_somewhere_and_keeps_what_was_asked(
    client: TestClient,
) -> None:
    page = client.get(WEEKS + "&lot=LOT-1&by=station&what=rework").text
    links = set(re.findall(r'href="(/yield[^"]*)"', page))

    assert len(links) > 10
    for link in links:
        assert client.get(link.replace("&amp;", "&")).status_code == 200, link
    shift = next(link for link in links if "by=shift" in link)
    assert "lot=LOT-1" in shift
    assert "what=rework" in shift


def test_a_file_of_a_past_moment_says_that_it_is_one(client: TestClient) -> None:
    now = client.get(WEEKS.replace("/yield?", "/yield/file.csv?")).text
    past = client.get(WEEKS.replace("/yield?", "/yield/file.csv?as_of=2026-09-23T12:00&")).text

    assert "then known" not in now
    assert "as of Wed 23 Sep 2026 12:00:00, then known" in past
