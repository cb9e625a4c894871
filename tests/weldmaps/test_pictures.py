"""A radiograph that is attached to a case stands on the page of the film it belongs to."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from ringwright.attachments.queries import Attached
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from ringwright.weldmaps.pictures import shows_film
from ringwright.welds.state import Film
from tests.make.films import FILM, attach_film
from tests.make.floor import CODE
from tests.make.signing import AS, open_to_readers
from tests.make.welds import open_weld_shop


@pytest.mark.parametrize(
    ("code", "shows", "belongs"),
    [
        ("A1", "film A1, pore", True),
        ("A1", "A1", True),
        ("A1", "film A12", False),
        ("A1", "B-A1", False),
        ("A", "A pore", False),
        ("A", "Film A: a pore", True),
        ("F-2", "seen on F-2.", True),
    ],
)
def test_a_picture_belongs_to_the_film_that_its_text_names(
    code: str, shows: str, belongs: bool
) -> None:
    film = Film(
        code=code, welds=("1-OUT",), technique="ISO 17636-1", technique_class="B", iqi="W",
        wire=13, good=True, entry=1, at_us=0, known_us=0, radiographer="insp-1",
    )  # fmt: skip
    picture = Attached(
        entry=1, at_us=0, by="insp-1", station="", digest="0" * 64, media="image/tiff",
        shows=shows, step=None,
    )  # fmt: skip

    assert shows_film(picture, film) is belongs


def test_it_stands_on_its_films_page_and_on_no_other(sqlite_url: str) -> None:
    shop = open_weld_shop(sqlite_url)
    shop.welded("R-1")
    shop.film("R-1", "F-1", "1-OUT")
    shop.film("R-1", "F-2", "1-IN")
    ledger = shop.floor.ledger
    attach_film(ledger, CODE, "R-1", "film F-2, pore")
    app = open_to_readers(create_app(Settings(database_url=sqlite_url), ledger))
    browser = TestClient(app, follow_redirects=False, headers={AS: "insp-1"})

    own, other = (browser.get(f"/case/welds/R-1/film/{code}").text for code in ("F-2", "F-1"))

    assert f"/attachments/{FILM.digest}/view?part=R-1" in own
    assert FILM.digest not in other
    assert "stands here" in other
    ledger.store.close()
