"""A radiograph is attached, looked at with level and window, and measured, without scripts."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from ringwright.attachments import view_pages
from ringwright.attachments.content import Content, judged, thumbnail
from ringwright.bench.attaching import Attach
from ringwright.core.errors import Refused
from ringwright.imaging.window import windowed
from ringwright.ledger.service import Ledger
from tests.make.bench import Screen, open_bench
from tests.make.films import SPACED, WHO, WINDOWS, deep_png, dicom, tiff, weld
from tests.make.floor import INSPECTOR
from tests.make.html import read
from tests.make.pictures import PAPER, photo

FILM = judged(dicom(**WINDOWS, **SPACED))


@pytest.fixture(scope="module")
def screen(
    _sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Screen]:
    store = shutil.copy(_sqlite_template, tmp_path_factory.mktemp("films") / "store.sqlite")
    ledger = open_bench(f"sqlite:///{store}")
    attach(ledger, FILM, "weld 3")
    yield Screen(f"sqlite:///{store}", ledger)
    ledger.store.close()


def attach(ledger: Ledger, content: Content, shows: str) -> None:
    order = Attach(content=content, key=shows, serial="V-1", shows=shows)
    ledger.execute("NORD", order, INSPECTOR)


def view(screen: Screen, content: Content = FILM, piece: str = "", **asked: Any) -> Any:
    path = f"/attachments/{content.digest}/view{piece}"
    return screen.client.get(path, params=asked, follow_redirects=False)


def answer_of(page: Any) -> str:
    found = re.search(r"<h1[^>]*>(.*?)</h1>", page.text)
    return found[1] if found else ""


@pytest.mark.parametrize(
    ("data", "media"),
    [
        (dicom(), "application/dicom"),
        (tiff(), "image/tiff"),
        (tiff(byteorder=">", bigtiff=True), "image/tiff"),
        (deep_png(), "image/png"),
    ],
)
def test_a_radiograph_is_told_by_its_content(data: bytes, media: str) -> None:
    assert judged(data, "holiday.jpg").media == media


def test_a_png_of_sixteen_bits_keeps_them() -> None:
    assert (np.asarray(Image.open(io.BytesIO(judged(deep_png()).data))) == weld()).all()


def test_a_large_one_is_refused_in_a_sentence() -> None:
    with pytest.raises(Refused, match=r"film.tif has 24.0 MB; a radiograph may have 24 MB"):
        judged(b"II*\x00" + bytes(24 * 1024 * 1024), "film.tif")


def test_it_is_shown_as_the_file_says_until_somebody_asks_otherwise(screen: Screen) -> None:
    page = view(screen, part="V-1")

    assert page.status_code == 200
    assert "weld 3" in page.text
    assert answer_of(page) == "Level 2,048, window 4,096, the whole picture"
    shown = read(page.text).tags("img")[0]["src"]
    picture = Image.open(io.BytesIO(screen.client.get(shown).content))
    assert (picture.mode, picture.size) == ("L", (640, 960))
    assert np.asarray(picture)[0, 0] == round(float(windowed(weld()[0, :1], 2048, 4096)[0]))


def test_the_page_s_every_step_leads_to_a_picture(screen: Screen) -> None:
    page = read(view(screen).text)
    steps = [link["href"] for link in page.tags("a") if "#film" in link["href"]]

    assert len(steps) == 12 + 4  # steps and moves; two windows of the file and two of ours
    for step in steps:
        assert screen.client.get(step).status_code == 200


def test_two_points_tell_values_and_a_distance_in_mm(screen: Screen) -> None:
    page = view(screen, ax=10, ay=10, bx=40, by=30)

    # 30 columns of 0.1 mm and 20 rows of 0.2 mm: a triangle of 3, 4 and 5 mm.
    assert answer_of(page) == "From A to B: 5.0 ± 0.2 mm (36.1 px)"
    assert f"{int(weld()[10, 10]):,} at column 10, row 10" in page.text
    assert "plane of the detector" in page.text


def test_without_a_spacing_a_distance_is_in_pixels(screen: Screen) -> None:
    bare = judged(tiff())
    attach(screen.ledger, bare, "bare")

    assert "From A to B: 5.0 px" in view(screen, bare, ax=0, ay=0, bx=3, by=4).text


@pytest.mark.parametrize(
    "asked",
    [
        {"level": "dark"},
        {"level": "1,5"},
        {"window": "0"},
        {"window": "9" * 20},
        {"left": "-1"},
        {"ax": "3"},
        {"ax": "64", "ay": "0"},
        {"across": "<script>"},
    ],
)
def test_what_is_no_figure_is_refused_in_a_sentence(
    screen: Screen, asked: dict[str, Any]
) -> None:
    for piece in ("", "/image"):
        answer = view(screen, piece=piece, **asked)
        assert answer.status_code == 422
        assert "<script>" not in answer.text.replace('<script src="', "")


def test_what_has_no_levels_has_no_such_page(screen: Screen) -> None:
    for number, other in enumerate((judged(PAPER), judged(photo("JPEG")))):
        attach(screen.ledger, other, f"other {number}")
        assert view(screen, other).status_code == 404
    colour = judged(photo("PNG"))
    attach(screen.ledger, colour, "colour")
    assert view(screen, colour).headers["location"].endswith("/photo")
    assert screen.client.get(f"/attachments/{'0' * 64}/view").status_code == 404


def test_the_same_question_is_drawn_once(screen: Screen) -> None:
    first = view(screen, piece="/image", level=1000, window=500)
    again = screen.client.get(first.url, headers={"If-None-Match": first.headers["etag"]})
    other = view(screen, piece="/image", level=1001, window=500)

    assert first.headers["content-type"] == "image/png"
    assert first.headers["cache-control"] == "private, no-cache"
    assert (again.status_code, again.content) == (304, b"")
    assert other.headers["etag"] != first.headers["etag"]
    stranger = TestClient(screen.client.app, follow_redirects=False)
    shut = stranger.get(first.url, headers={"If-None-Match": first.headers["etag"]})
    assert shut.status_code == 303  # the door comes first


def test_while_all_turns_are_taken_it_says_so(
    screen: Screen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(view_pages, "PATIENCE_S", 0.01)
    for _ in range(2):
        view_pages.AT_ONCE.acquire()
    try:
        assert "ask again in a few seconds" in view(screen).text
        assert view(screen, piece="/image").status_code == 503
    finally:
        view_pages.AT_ONCE.release(2)
    assert view(screen).status_code == 200


def test_no_name_of_the_file_stands_anywhere(
    screen: Screen, caplog: pytest.LogCaptureFixture
) -> None:
    for answer in (view(screen), screen.client.get(f"/attachments/{FILM.digest}/file.dcm")):
        assert answer.status_code == 200
        assert WHO.encode() not in answer.content
        assert b"Somewhere" not in answer.content
    assert WHO not in caplog.text


def test_its_part_shows_it_small_and_leads_to_it(screen: Screen) -> None:
    page = read(screen.client.get("/parts/V-1").text)
    small = thumbnail(FILM)

    assert any(f"{FILM.digest}/view?part=V-1" in link["href"] for link in page.tags("a"))
    answer = screen.client.get(f"/attachments/{FILM.digest}/thumbnail")
    assert answer.headers["content-type"] == small.media == "image/png"
    assert Image.open(io.BytesIO(answer.content)).size == (64, 48)
    assert Image.open(io.BytesIO(thumbnail(judged(deep_png())).data)).mode == "L"


def test_it_comes_in_by_the_form_at_the_bench(screen: Screen) -> None:
    sent = {"act": "attach", "key": "k-4", "shows": "weld 4"}
    other = dicom(weld(rows=40))

    answer = screen.client.post(
        "/bench/acts/V-1", data=sent, files={"file": ("x.dcm", other)}, follow_redirects=False
    )

    assert answer.status_code == 303, answer.text
    assert view(screen, judged(other)).status_code == 200
