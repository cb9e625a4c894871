"""The answer, the rows and the places of a suspect, in the words of the shop."""

from __future__ import annotations

import pytest

from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.trace.answer import LONGEST, answer
from ringwright.trace.board import Board, Drawing
from ringwright.trace.question import with_question, without_question
from ringwright.trace.service import SendNotice
from tests.trace.works import MANAGER, ZONE, Works, line, plate, question

WORDS, SHOW = words_of("en"), Figures("en")


def board(works: Works, **asked: str) -> Board:
    return Drawing(
        works.touched(**asked), WORDS, SHOW, lambda route, **v: f"/{route}?{v}"
    ).board()


def said(works: Works, **asked: str) -> str:
    return board(works, **asked).described


def test_the_answer_says_what_is_loose_and_what_is_held(sqlite_works: Works) -> None:
    works = sqlite_works
    assert said(works, station="INF-1") == (
        "INF-1 touched 5 blades: 3 are here, none held, 1 is sent, 1 was scrapped."
    )
    works.contain(lot="L-2")
    works.load(plate("A-7", "09-28", until="20"))
    assert "4 are here, 3 held" in said(works, station="INF-1")
    works.contain(station="INF-1")
    assert said(works, station="INF-1") == (
        "INF-1 touched 6 blades: 4 are here and held, 1 is sent, 1 was scrapped."
    )


def test_the_answer_stays_short_and_never_drops_its_first_clause(sqlite_works: Works) -> None:
    touched = sqlite_works.touched(defect="thin wall")
    text = "".join(piece.text for piece in answer(touched, WORDS, SHOW))

    assert text == "Defect “thin wall” touched 1 blade: 1 was scrapped."
    assert len(text) <= LONGEST


def test_what_needs_a_person_is_underlined_until_the_notice_is_sent(
    sqlite_works: Works,
) -> None:
    works = sqlite_works

    def needs() -> list[str]:
        return [piece.text for piece in board(works, station="INF-1").answer if piece.needs]

    assert needs() == ["3 are here, none held", "1 is sent"]
    works.contain(station="INF-1")
    assert needs() == ["1 is sent"]
    works.do(SendNotice(key="n", containment="C-1", serials=("A-1",), to="them"), MANAGER)
    assert needs() == []


def test_a_furnace_s_rows_are_its_loads_newest_on_top_and_lead_to_the_run(
    sqlite_works: Works,
) -> None:
    rows = board(sqlite_works, station="INF-1").rows

    assert [row.label for row in rows] == [
        "Thu 24 Sep 09:00", "Wed 23 Sep 09:00", "Tue 22 Sep 09:00", "Mon 21 Sep 09:00",
    ]  # fmt: skip
    assert rows[3].under == "step 20, 2 blades"
    assert "INF-1@2026-09-21T09:00:00+02:00" in rows[3].href


def test_places_stand_as_the_route_goes_then_stock_sent_scrapped(sqlite_works: Works) -> None:
    spots = board(sqlite_works, station="INF-1").places

    assert [(row.label, row.under) for row in spots] == [
        ("30 Wall check", "2, not held"),
        ("Released, in stock", "1, not held"),
        ("Sent", "1, no notice yet"),
        ("Scrapped at 30", "1, nothing to do"),
    ]


def test_a_proof_thread_leads_to_what_is_sent_until_they_are_told(sqlite_works: Works) -> None:
    works = sqlite_works
    needed = [thread for thread in board(works, station="INF-1").web.threads if thread.needs]

    assert len(needed) == 1
    works.contain(station="INF-1")
    works.do(SendNotice(key="n", containment="C-1", serials=("A-1",), to="them"), MANAGER)
    assert not any(thread.needs for thread in board(works, station="INF-1").web.threads)


def test_many_touches_are_gathered_by_day_week_or_month_and_lead_on_to_each(
    sqlite_works: Works,
) -> None:
    works = sqlite_works
    days = [f"{month:02}-{day:02}" for month in (7, 8) for day in range(1, 29)]
    works.load("".join(line(f"{day}T06:00", f"B-{day}", "create", lot="L-9") for day in days))
    rows = board(works, lot="L-9").rows

    assert len(rows) <= 20
    assert all(row.label.startswith("Week of") for row in rows)
    assert "'from': '2026-08-24" in rows[0].href


def test_the_list_is_cut_at_200_and_the_file_is_whole(sqlite_works: Works) -> None:
    works = sqlite_works
    works.load(
        "".join(line("09-25T06:00", f"B-{n:03}", "create", lot="L-9") for n in range(230))
    )
    drawing = Drawing(works.touched(lot="L-9"), WORDS, SHOW, lambda *_a, **_k: "")

    parts = drawing.board().parts
    assert (len(parts.rows), parts.of, parts.cut) == (200, 230, True)
    assert len(drawing.book().sheets[0].rows) == 230
    assert drawing.book().reconciliation[0].startswith("Touched 230 = here 230")
    assert drawing.board().web.bundled


@pytest.mark.parametrize(
    "asked",
    [
        {"station": "INF-1", "since": "2026-09-22T00:00", "until": "2026-09-24T00:00"},
        {"lot": "L, from 7 (of x)"},
        {"run": "INF-1@2026-09-23T09:00:00+02:00"},
        {"defect": "thin wall, to be seen"},
    ],
)
def test_a_reason_gives_its_question_back(asked: dict[str, str]) -> None:
    kept = with_question("corner low (14 degC)", question(**asked), ZONE)

    assert without_question(kept) == ("corner low (14 degC)", question(**asked))
    assert without_question("no question here") == ("no question here", None)
