"""The Floor's windows, read from rows, are those that a begin is judged by."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from ringwright.core.instants import iso_text
from ringwright.floor.model import Standing
from ringwright.floor.standing import read_floor
from ringwright.parts.windows import windows_of
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.floor.cell import part
from tests.make.floor import CODE, MAKER, MINUTE_US, SUPERVISOR
from tests.make.signing import open_to_readers
from tests.make.windows import HOUR_US, WINDOW_US, Fins, open_fins


@pytest.fixture
def fins(store_url: str) -> Iterator[Fins]:
    """The floor of fins, once on each store."""
    opened = open_fins(store_url)
    yield opened
    opened.ledger.store.close()


def standing(fins: Fins, serial: str = "A", as_of_us: int | None = None) -> Standing:
    with fins.ledger.read(CODE, as_of_us) as read:
        return next(one for one in read_floor(read, "FIN").parts if one.serial == serial)


def test_rows_and_facts_tell_the_same_windows(fins: Fins) -> None:
    """One in each state: too late, stopped, let on, bonded, washed again, not dried, dried."""
    fins.late("LATE")
    fins.late("STOPPED")
    fins.stop("STOPPED")
    fins.late("LET")
    fins.sentence("LET", fins.stop("LET"), "concession")
    fins.late("USED")
    fins.sentence("USED", fins.stop("USED"), "concession")
    fins.visit("USED", 40, outcome="rework", who=SUPERVISOR)
    fins.due("BONDED")
    fins.visit("BONDED", 40)
    fins.late("AGAIN")
    fins.visit("AGAIN", 20)
    fins.washed("WET")
    fins.due("DRY")

    shown, folded = {}, {}
    for serial in ("LATE", "STOPPED", "LET", "USED", "BONDED", "AGAIN", "WET", "DRY"):
        window = standing(fins, serial).window
        shown[serial] = window
        binding = [
            one
            for one in windows_of(fins.folded(serial), fins.clock.at_us)
            if one.let_on is None
        ]
        folded[serial] = binding[0] if binding else None

    assert shown == folded
    over = [serial for serial, one in shown.items() if one is not None and one.bars]
    assert over == ["LATE", "STOPPED", "USED"]
    assert [serial for serial, one in shown.items() if one is None] == ["LET", "BONDED"]


def test_at_the_deadline_it_is_not_late_and_a_microsecond_later_it_is(fins: Fins) -> None:
    fins.clock.at_us = fins.due()
    assert not standing(fins).window_over

    fins.clock.at_us += 1
    assert (standing(fins).window_over, standing(fins).late) == (True, True)


def test_a_fin_that_was_let_on_is_not_late_for_its_window(fins: Fins) -> None:
    fins.late()
    number = fins.stop()
    assert standing(fins).window_over

    fins.sentence("A", number, "concession")

    assert (standing(fins).window, standing(fins).window_over) == (None, False)


def test_as_of_the_past_the_sentence_was_not_known(fins: Fins) -> None:
    fins.late()
    number = fins.stop()
    then_us = fins.clock.at_us + 1
    fins.sentence("A", number, "concession")

    was = standing(fins, as_of_us=then_us)

    assert was.window is not None
    assert (was.window_over, was.window.let_on) == (True, None)


def test_a_washing_told_late_runs_a_window_only_once_it_is_known(fins: Fins) -> None:
    fins.book("create", "A", product="FIN")
    fins.visit("A", 10)
    fins.book("begin", "A", MAKER, step=20)
    ended_us = fins.clock.at_us + MINUTE_US
    fins.clock.at_us += HOUR_US
    before_us = fins.clock.at_us
    fins.book("end", "A", MAKER, step=20, outcome="pass", at_us=ended_us)

    now, was = standing(fins), standing(fins, as_of_us=before_us)

    assert now.window is not None
    assert now.window.deadline_us == ended_us + WINDOW_US
    assert (was.window, was.in_work) == (None, True)


def test_a_part_without_a_window_is_never_over() -> None:
    assert (part().window_left_us, part().window_over) == (None, False)


# ---- on the page


class Pages:
    """The Floor's pages as anybody who may read sees them."""

    def __init__(self, fins: Fins, url: str) -> None:
        app = open_to_readers(create_app(Settings(database_url=url), fins.ledger))
        self.client = TestClient(app)

    def html(self, path: str = "/floor/parts", **query: str) -> str:
        answer = self.client.get(path, params={"product": "FIN", **query})
        assert answer.status_code == 200, answer.text
        return str(answer.text)


@pytest.fixture
def fin_pages(sqlite_url: str) -> Iterator[tuple[Fins, Pages]]:
    """On SQLite alone: the pages do not differ between stores."""
    opened = open_fins(sqlite_url)
    yield opened, Pages(opened, sqlite_url)
    opened.ledger.store.close()


def left_in(html: str) -> list[tuple[str, bool]]:
    """Of each time left: its words and whether it still runs, as drawn."""
    found = re.findall(
        r'<span class="c-left" data-window><span data-inside( hidden)?>.*?'
        r"<span data-until-ms[^>]*>\s*([^<]*?)\s*</span></span>",
        html,
        re.S,
    )
    return [(words, not hidden) for hidden, words in found]


def test_the_list_says_the_time_left_and_the_script_runs_it_down(
    fin_pages: tuple[Fins, Pages],
) -> None:
    fins, pages = fin_pages
    deadline_us = fins.due()
    fins.clock.at_us = deadline_us - 72 * MINUTE_US

    html = pages.html()

    assert left_in(html) == [("1 h 12 min left", True)]
    assert f'data-until-ms="{deadline_us // 1000}"' in html
    assert f'data-now-ms="{fins.clock.at_us // 1000}"' in html
    assert "js/left.js" in html


@pytest.mark.parametrize(
    ("left_min", "words"),
    [(121, "2 h 1 min left"), (60, "1 h 0 min left"), (59, "59 min left"),
     (1, "1 min left"), (0, "under 1 min left")],
)  # fmt: skip
def test_the_time_left_is_told_in_whole_minutes(
    fin_pages: tuple[Fins, Pages], left_min: int, words: str
) -> None:
    fins, pages = fin_pages
    fins.clock.at_us = fins.due() - left_min * MINUTE_US

    assert left_in(pages.html()) == [(words, True)]


def test_the_page_is_of_the_minute_but_the_time_left_runs_by_the_clock(
    fin_pages: tuple[Fins, Pages],
) -> None:
    """A sheet is made once a minute; a script that began there would be up to one behind."""
    fins, pages = fin_pages
    fins.clock.at_us = fins.due() - 10 * MINUTE_US + 40_000_000

    html = pages.html()

    assert left_in(html) == [("10 min left", True)]
    assert f'data-now-ms="{fins.clock.at_us // 1000}"' in html


def test_once_it_ran_out_a_word_and_a_shape_say_so(fin_pages: tuple[Fins, Pages]) -> None:
    fins, pages = fin_pages
    fins.clock.at_us = fins.due() + MINUTE_US

    html = pages.html()

    assert left_in(html) == [("under 1 min left", False)]
    over = re.search(r"<span data-over>(<svg.*?</svg>)<b[^>]*>window ran out</b>", html)
    assert over is not None


def test_as_of_the_past_nothing_runs_down(fin_pages: tuple[Fins, Pages]) -> None:
    fins, pages = fin_pages
    deadline_us = fins.due()
    fins.clock.at_us = deadline_us - 72 * MINUTE_US
    as_of = iso_text(fins.clock.at_us, "Europe/Oslo")
    fins.clock.at_us += 10 * HOUR_US

    html = pages.html(as_of=as_of)

    assert left_in(html) == [("1 h 12 min left", True)]
    assert "data-now-ms" not in html


def test_what_is_in_the_way_says_the_time_left(fin_pages: tuple[Fins, Pages]) -> None:
    fins, pages = fin_pages
    fins.clock.at_us = fins.due() - 38 * MINUTE_US

    html = pages.html("/floor")

    assert "1 clean until 09:05" in html
    stuck = html.partition('id="floor-in-the-way"')[2].partition("</section>")[0]
    assert left_in(stuck) == [("38 min left", True)]


def test_the_file_of_the_list_holds_the_deadline_as_before(
    fin_pages: tuple[Fins, Pages],
) -> None:
    fins, pages = fin_pages
    fins.clock.at_us = fins.due()

    answer = pages.client.get("/floor/parts/file.csv", params={"product": "FIN"})

    assert "Mon 28 Sep 09:05" in answer.text
    assert "left" not in answer.text
