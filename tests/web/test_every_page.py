"""What holds for every page that the application serves, found without being told of it."""

from __future__ import annotations

import functools
import re
from collections import Counter
from collections.abc import Callable
from typing import cast

import pytest
from fastapi import FastAPI
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.web.factory import room_routers
from tests.make.films import FILM
from tests.make.html import read
from tests.make.shop import STUDY

SAMPLES = {
    "serial": "V-001",
    "product": "VANE",
    "revision": "1",
    "code": "C-1",
    "gauge": "SCALE-1",
    "number": str(STUDY),
    "pack": "P-0001",
    "sheet": "P-0001-001",
    "digest": FILM.digest,
}
SAMPLES |= {"set_code": "VANE-S001", "furnace": "HF-1", "recipe": "SLOW"}
SAMPLES |= {"run": "HF-1-0001", "container": "SW-0001"}
SAMPLES["station"] = "CV-1"
SAMPLES |= {"weld": "1-OUT", "film": "A1"}
"""A value for each place in a page's path; a page with another place needs a line here."""
NOT_PAGES = {
    "flow.home",
    "live.stream",
    "sets.run",
    "attachments.photo",
    "attachments.thumbnail",
    "attachments.image",
    "bench.worker",
}


def page_paths() -> list[str]:
    """Every GET page of every room, its places filled."""
    routes = [route for router in room_routers() for route in router.routes]
    pages = [route.path for route in routes if isinstance(route, Route) and _is_page(route)]
    return sorted({re.sub(r"\{(\w+)[^}]*\}", lambda m: SAMPLES[m[1]], path) for path in pages})


def _is_page(route: Route) -> bool:
    gets = "GET" in (route.methods or ())
    elsewhere = route.path.startswith("/api") or "{form}" in route.path  # JSON; files
    return gets and not elsewhere and route.name not in NOT_PAGES


PAGES = page_paths()


@pytest.fixture(scope="module")
def client(looked_at: TestClient) -> TestClient:
    """The shop with a containment, so that C-1 has a page."""
    return looked_at


@pytest.fixture(scope="module")
def text_of(client: TestClient) -> Callable[[str], str]:
    """What a page says; asked once, since nothing here changes it."""
    return functools.cache(lambda path: client.get(path).text)


@pytest.fixture(scope="module")
def led(client: TestClient) -> Callable[[str], int]:
    """How a link's address answers; the head line's are on every page."""
    return functools.cache(lambda target: client.get(target).status_code)


def test_the_week_is_among_the_pages() -> None:
    assert "/week" in PAGES


@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_its_landmarks_one_heading_and_no_id_twice(
    client: TestClient, path: str
) -> None:
    answer = client.get(path)
    page = read(answer.text)

    assert answer.status_code == 200, answer.text
    assert [len(page.tags(tag)) for tag in ("main", "h1", "title")][:2] == [1, 1]
    assert page.tags("html")[0]["lang"] == "en"
    assert [name for name, times in Counter(page.ids()).items() if times > 1] == []


@pytest.mark.parametrize("path", PAGES)
def test_every_picture_has_a_name_a_description_or_is_silent(
    text_of: Callable[[str], str], path: str
) -> None:
    page = read(text_of(path))
    ids = set(page.ids())

    for svg in page.tags("svg"):
        named = set(svg.get("aria-labelledby", "").split())
        inner = not svg.get("role") and "aria-hidden" not in svg
        assert inner or svg.get("aria-hidden") == "true" or (named and named <= ids), svg


@pytest.mark.parametrize("path", PAGES)
def test_every_label_and_description_points_at_something(
    text_of: Callable[[str], str], path: str
) -> None:
    page = read(text_of(path))
    ids = set(page.ids())
    pointing = ("aria-labelledby", "aria-describedby", "for")

    for _, attributes in page.elements:
        for name in pointing:
            assert set(attributes.get(name, "").split()) <= ids, (name, attributes)


@pytest.mark.parametrize("path", PAGES)
def test_every_field_is_labelled(text_of: Callable[[str], str], path: str) -> None:
    page = read(text_of(path))
    labelled = {label.get("for") for label in page.tags("label")}

    for field in page.tags("input") + page.tags("select") + page.tags("textarea"):
        silent = field.get("type") in ("hidden", "radio", "checkbox")
        assert silent or field.get("id") in labelled or "aria-label" in field, field


@pytest.mark.parametrize("path", PAGES)
def test_a_panel_that_asks_again_gets_a_piece_of_the_page(
    client: TestClient, path: str
) -> None:
    whole = client.get(path).text
    panels = [a for _, a in read(whole).elements if "data-live-panel" in a]

    for panel in panels:
        piece = client.get(panel["hx-get"], headers={"HX-Request": "true"})
        assert read(piece.text).elements[0][1]["id"] == panel["id"]
        assert piece.text.strip() in whole


@pytest.mark.parametrize("path", PAGES)
def test_links_within_the_site_lead_somewhere(
    text_of: Callable[[str], str], led: Callable[[str], int], path: str
) -> None:
    page = read(text_of(path))

    for link in page.tags("a"):
        target = link["href"]
        if target.startswith("#"):
            assert target[1:] in page.ids(), target
        else:
            assert led(target) in (200, 302), target


def test_an_old_address_in_the_back_button_gets_the_whole_page(client: TestClient) -> None:
    asks = {"HX-Request": "true", "HX-History-Restore-Request": "true"}

    assert client.get("/week", headers=asks).text.startswith("<!doctype html>")


def test_the_first_page_is_the_week(client: TestClient) -> None:
    answer = client.get("/")

    assert (answer.status_code, answer.headers["location"]) == (302, "/week")


def test_the_head_names_pages_that_are_served(client: TestClient) -> None:
    app = cast(FastAPI, client.app)
    page = read(client.get("/week").text)
    here = [a for a in page.tags("a") if a.get("aria-current") == "page"]

    assert len(app.state.nav.names) >= 1
    assert {a["href"] for a in here} == {"/week"}
