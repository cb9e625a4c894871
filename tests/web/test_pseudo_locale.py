"""On a page in the made-up language no plain English is left: all of it was marked."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from tests.make.html import read
from tests.web.test_every_page import PAGES

BRACKETED = re.compile(r"\[[^\[\]]*\]")
DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
WORD = re.compile(r"[A-Za-z]{3,}")
# What the shop itself wrote, what a calendar names, and what stands for itself.
SHOPS_OWN = """
    Ringwright Nordvik Rotor Shop NORD Guide vane VANE Grind Inspect chatter marks insp plan
    Europe Oslo Mon Tue Wed Thu Fri Sat Sun Sep Oct shop machining inspection inspector record
    SCALE moment scale command line Cpk Ppk
    SAIL Sail Blade Clean Inflate Look Hot Furnace SLOW Slow Inflation heat form
    left middle right maker min kPa survey leak
    pore in the weld
    HOOP Hoop Case Rough turn Mill chuck Chuck for hoops CV CM case lathe mill
"""


def left_in_english(texts: list[str]) -> set[str]:
    """The words outside all brackets that are not the shop's own."""
    found: set[str] = set()
    for text in texts:
        while BRACKETED.search(text):
            text = BRACKETED.sub(" ", text)
        text = DIGEST.sub(" ", text)
        found |= set(WORD.findall(text)) - set(SHOPS_OWN.split())
    return found


@pytest.fixture(scope="module")
def client(looked_at: TestClient) -> TestClient:
    """The shop with a containment, so that C-1 has a page."""
    return looked_at


@pytest.mark.parametrize("path", PAGES)
def test_a_page_in_the_made_up_language_holds_no_plain_english(
    client: TestClient, path: str
) -> None:
    answer = client.get(path, headers={"Accept-Language": "en-XA"})
    texts = read(answer.text).texts

    assert answer.status_code == 200
    assert any(text.startswith("[") for text in texts)
    assert left_in_english(texts) == set()


def test_a_refusal_is_headed_in_the_readers_language(client: TestClient) -> None:
    answer = client.get("/no-such-page", headers={"Accept-Language": "en-XA"})

    assert answer.status_code == 404
    assert "[Nöt föûñd" in answer.text


def test_the_check_itself_sees_what_was_not_marked() -> None:
    assert left_in_english(["[Pàrts [12 öwéd·]··]", "Grind", "Parts held"]) == {"Parts", "held"}
