"""The case shop's pages: acts by form, refusals that keep what was typed, files."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from tests.make import swarf
from tests.make.bench import NOW, Screen, open_bench
from tests.make.html import read

CONTAINERS = "/case/containers"


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """A maker at Bench 4; two rings of titanium and a container each of two alloys."""
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)))
    swarf.furnish(ledger, "NORD")
    swarf.rings(ledger, "NORD", "R-1", "R-2")
    yield Screen(sqlite_url, ledger, "make-1")
    ledger.store.close()


def told(html: str) -> str:
    return " ".join(" ".join(read(html).texts).split())


def post(screen: Screen, path: str, **given: str) -> tuple[int, str]:
    form = screen.fields(screen.client.get(path).text, path)
    answer = screen.client.post(path, data={**form, **given})
    if answer.status_code == 303:
        return 303, told(screen.client.get(answer.headers["location"]).text)
    return answer.status_code, told(answer.text)


def opened(screen: Screen, alloy: str) -> tuple[int, str]:
    return post(
        screen, CONTAINERS, act="open", alloy=alloy, swarf="turnings", tare="5", gauge="CSC-9",
        moisture="4", moisture_u="0.2",
    )  # fmt: skip


def test_a_container_is_opened_filled_and_stops_another_alloy(screen: Screen) -> None:
    assert "SW-0001 stands ready" in opened(screen, "TI64")[1]
    assert "SW-0002 stands ready" in opened(screen, "IN718")[1]
    given = {"act": "add", "part": "R-1", "mass": "20.0", "gauge": "CSC-9"}
    status, page = post(screen, CONTAINERS, **given, container="SW-0002")
    assert status == 422
    assert "SW-0002 takes IN718 alone, and R-1 is TI64" in page
    assert "Put it into SW-0001" in page
    status, page = post(screen, CONTAINERS, **given, container="SW-0001")
    assert (status, "20.0 kg booked into SW-0001" in page) == (303, True)
    page = told(screen.client.get("/case/mass/R-1").text)
    assert "SW-0001" in page


def test_an_alloy_is_chosen_on_purpose(screen: Screen) -> None:
    assert opened(screen, "")[0] == 422
    assert "mixed from the first" in opened(screen, "-")[1]


def test_a_container_found_mixed_is_held_on_its_page(screen: Screen) -> None:
    opened(screen, "TI64")
    path = f"{CONTAINERS}/SW-0001"
    status, page = post(screen, path, act="mixed", reason="a steel screw")
    assert status == 303
    assert "SW-0001 is held" in page
    assert "Found mixed: a steel screw" in page
    headline = told(screen.client.get(CONTAINERS).text)
    assert "1 container was found mixed and waits for a decision" in headline


def test_the_file_of_the_week_has_the_page_s_figures(screen: Screen) -> None:
    screen.choose("qe-1")
    answer = screen.client.get("/case/mass/file.csv", params={"week": "2026-W40"})
    assert answer.status_code == 200
    rows = list(csv.reader(io.StringIO(answer.text.removeprefix("\ufeff"))))
    cases = [row for row in rows if row and row[0] == "R-2"]
    assert len(cases) == 1
    assert "24" in " ".join(cases[0])


def test_a_quality_engineer_registers_and_releases_a_lot(screen: Screen) -> None:
    screen.choose("qe-1")
    given = {"act": "lot", "lot": "TI-9", "alloy": "TI64", "certificate": "C-9"}
    released = {**given, "use": "rotating parts", "key": "lot-1"}
    assert post(screen, "/case/lots", **released)[0] == 303
    status, page = post(screen, "/case/lots", **given, use="static parts", key="lot-2")
    assert status == 422
    assert "say why it changes" in page
