"""Photos and notes at the Bench and on the part's page, without scripts."""

from __future__ import annotations

import pytest

from tests.make.bench import Screen
from tests.make.html import read
from tests.make.pictures import photo


def send(screen: Screen, data: bytes, shows: str = "dent at the tip", **fields: str):  # type: ignore[no-untyped-def]
    form = {"act": "attach", "key": "k-file", "shows": shows, **fields}
    files = {"photo": ("IMG_0001.jpg", data, "image/jpeg")}
    return screen.client.post("/bench/acts/V-1", data=form, files=files)


def test_a_photo_is_attached_at_the_bench_and_seen_there_and_on_the_part(
    screen: Screen,
) -> None:
    answer = send(screen, photo())

    assert answer.status_code == 303
    bench = screen.client.get(answer.headers["location"]).text
    assert "Attached" in bench
    for page in (bench, screen.client.get("/parts/V-1").text):
        (picture,) = read(page).tags("img")
        assert picture["alt"] == "dent at the tip"
        small = screen.client.get(picture["src"])
        assert small.headers["content-type"] == "image/jpeg"
        assert small.content.startswith(b"\xff\xd8\xff")


def test_from_the_page_of_the_part_one_comes_back_to_it(screen: Screen) -> None:
    assert 'name="then" value="part"' in screen.client.get("/parts/V-1").text

    assert send(screen, photo(), then="part").headers["location"] == "/parts/V-1"


@pytest.mark.parametrize(
    ("data", "shows", "told"),
    [
        (photo()[:300], "dent", "IMG_0001.jpg begins like a picture but cannot be decoded"),
        (b"MZ\x90\x00\x03", "dent", "IMG_0001.jpg"),
        (photo(), "", "say what it shows"),
    ],
)
def test_a_bad_file_is_refused_on_the_page_and_what_it_shows_is_kept(
    screen: Screen, data: bytes, shows: str, told: str
) -> None:
    before = screen.ledger.head("NORD")

    answer = send(screen, data, shows)

    assert answer.status_code == 422
    assert "Not attached" in answer.text
    assert told in answer.text
    assert screen.ledger.head("NORD") == before


def test_no_file_at_all_is_said(screen: Screen) -> None:
    form = {"act": "attach", "key": "k", "shows": "x"}

    assert "choose a file" in screen.client.post("/bench/acts/V-1", data=form).text


def test_a_note_is_kept_and_told_in_the_history(screen: Screen) -> None:
    screen.press("V-1", "note", note_text="light scratch, inside")

    assert "light scratch, inside" in screen.client.get("/parts/V-1").text
    assert screen.kinds("V-1")[-1] == "note"
