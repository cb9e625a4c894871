"""Papers for one part or a list of them, and what they say."""

from __future__ import annotations

import pytest

from ringwright.bench.printing import MOST
from tests.make.bench import Screen
from tests.make.html import read


def test_a_list_on_the_floor_leads_to_its_labels_and_route_cards(screen: Screen) -> None:
    page = read(screen.client.get("/floor/parts").text)
    links = [tag["href"] for tag in page.tags("a") if "/bench/labels" in tag.get("href", "")]

    assert links == ["/bench/labels?parts=V-1%0AV-2%0AV-3"]
    assert screen.client.get(links[0]).text.count('class="c-label"') == 3


def test_a_route_card_says_what_is_done_and_leaves_boxes_for_what_is_not(
    screen: Screen,
) -> None:
    page = screen.client.get("/bench/route-cards?parts=V-1").text

    assert "9.50 to 10.50 mm" in page
    assert "make-1" in page
    assert page.count('class="c-card__empty"') == 6  # two steps of three are not done
    assert page.count('class="c-card__box"') == 2


def test_a_part_marked_anew_is_printed_with_the_mark_it_bears(screen: Screen) -> None:
    screen.press("V-1", "remark", mark="M-77", scanned="M-77")

    for named in ("M-77", "V-1"):
        page = screen.client.get(f"/bench/labels?parts={named}").text

        assert '<b class="c-label__serial">M-77</b>' in page
        assert "made as V-1" in page


@pytest.mark.parametrize("path", ["labels", "route-cards"])
def test_too_many_at_once_are_refused_and_what_was_typed_is_kept(
    screen: Screen, path: str
) -> None:
    typed = "\n".join(f"X-{number}" for number in range(MOST + 1))

    answer = screen.client.get(f"/bench/{path}", params={"parts": typed})

    assert answer.status_code == 422
    assert f"print {MOST} at a time" in answer.text
    assert "X-100" in answer.text
