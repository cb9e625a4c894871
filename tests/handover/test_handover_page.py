"""The Handover page: what a shift did and leaves, counted by hand; its forms and its files."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import pytest

from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.flow.moment import to_the_minute
from ringwright.handover.service import LeaveNote
from ringwright.handover.sheet import read_handover
from ringwright.ledger.transaction import Actor
from tests.make import states
from tests.make.bench import NOW, Screen, open_bench
from tests.make.hostile import SCRIPTS
from tests.make.html import read
from tests.make.states import CODE, open_states

MAKER = Actor(code="make-1", roles=frozenset({"maker"}))


@pytest.fixture
def screen(sqlite_url: str) -> Iterator[Screen]:
    """Bench 4 with an inspector; V-1, V-2 and V-3 wait for their inspection."""
    ledger = open_bench(sqlite_url, FixedClock(parse_instant(NOW)))
    yield Screen(sqlite_url, ledger)
    ledger.store.close()


def told(html: str) -> str:
    return " ".join(" ".join(read(html).texts).split())


def test_a_note_is_left_and_taken_over_on_the_page(screen: Screen) -> None:
    html = screen.client.get("/handover").text
    form = screen.fields(html, "/handover/notes")
    answer = screen.client.post(
        "/handover/notes", data={**form, "text": "rinse drips\nat 3", "part": "V-1"}
    )
    again = screen.client.post(
        "/handover/notes", data={**form, "text": "rinse drips\nat 3", "part": "V-1"}
    )
    page = screen.client.get(answer.headers["location"]).text

    assert (answer.status_code, again.status_code) == (303, 303)
    assert told(page).count("rinse drips at 3") == 1
    assert "/parts/V-1" in page
    assert "Not taken over yet." in told(page)

    screen.ledger.clock.at_us += 24 * 3_600_000_000  # type: ignore[attr-defined]
    assert "checked" not in screen.client.get("/handover").text, "one's own is not taken"
    screen.choose("sup-1")
    html = screen.client.get("/handover").text
    number = [one["value"] for one in read(html).tags("input") if one.get("name") == "thing"]
    taken = {**screen.fields(html, "/handover/taken"), "thing": number}
    assert screen.client.post("/handover/taken", data=taken).status_code == 303
    assert "Taken over by sup-1" in told(screen.client.get("/handover").text)
    refused = screen.client.post("/handover/taken", data={**taken, "key": "other"})
    assert (refused.status_code, "already" in told(refused.text)) == (409, True)
    found = told(screen.client.get("/handover/notes", params={"q": "v-1"}).text)
    assert "1 note" in found
    assert "rinse drips" in found


def test_a_refused_note_keeps_what_was_typed(screen: Screen) -> None:
    form = screen.fields(screen.client.get("/handover").text, "/handover/notes")
    answer = screen.client.post(
        "/handover/notes", data={**form, "text": "gone", "part": "V-99"}
    )

    assert answer.status_code == 404
    assert "gone" in answer.text
    assert "there is no part V-99" in told(answer.text)
    assert screen.client.get("/handover?shift=nonsense").status_code == 422
    assert screen.client.get("/handover?shift=2031-01-01T06:00").status_code == 422


@pytest.mark.parametrize("text", SCRIPTS[:4])
def test_a_hostile_note_is_text(screen: Screen, text: str) -> None:
    form = screen.fields(screen.client.get("/handover").text, "/handover/notes")
    screen.client.post("/handover/notes", data={**form, "text": text})
    for address in ("/handover", "/handover/notes"):
        page = read(screen.client.get(address).text)
        assert text in [one.strip() for one in page.texts] or text.strip() in told(
            screen.client.get(address).text
        )


def test_the_shift_counts_what_was_booked_in_it(sqlite_url: str) -> None:
    """Counted by hand from tests/make/states.py: the day of 1 October, 06:00 to noon."""
    ledger = open_states(sqlite_url)
    with ledger.read(CODE) as snapshot:
        sheet = read_handover(to_the_minute(snapshot), None)
        earlier = read_handover(to_the_minute(snapshot), "2026-09-30T12:00")
    ledger.store.close()

    assert sheet.span.name == "day"
    assert {(row.step, row.counts[0]) for row in sheet.done} == {(10, 7), (20, 2)}
    assert sheet.lives["created"] == 9
    assert [row.serial for row in sheet.stops] == ["B-909"]
    reasons = {row.serial: row for row in sheet.held}
    assert reasons["B-901"].reason == "wrong certificate"
    assert reasons["B-901"].lifted_by == "lifting"
    assert reasons["B-909"].lifted_by == "sentence"
    assert sum(row.lifted_by == "clearing" for row in sheet.held) == len(sheet.held) - 2
    waits = {(row.product, row.step): (row.parts, row.oldest.serial) for row in sheet.waits}
    assert waits["BLADE", 20] == (3, "B-903")
    assert waits["CASE", 10] == (states.WAITING_CASES, "C-000")
    assert [part.serial for part in sheet.windows][:3] == ["B-903", "B-904", "B-905"]
    assert {one.subject for one in sheet.floor.shut} == {"station:F1", "lot:L-9"}
    assert len(sheet.corrections) == 1
    assert {row.kind for row in sheet.told} >= {"shut"}
    assert earlier.lives["created"] == states.WAITING_CASES
    assert (earlier.held, earlier.visits, earlier.floor.shut) == ((), (), ())
    assert earlier.after is not None
    assert earlier.after.end_us == sheet.span.start_us, "the night lies between"


def test_the_file_holds_every_row_of_the_page(sqlite_url: str) -> None:
    ledger = open_states(sqlite_url)
    ledger.execute(CODE, LeaveNote(shift=states.NOW, text="=1+1", key="n"), MAKER)
    with ledger.read(CODE) as snapshot:
        sheet = read_handover(to_the_minute(snapshot), None)
    screen = Screen(sqlite_url, ledger, "sup-1")
    body = screen.client.get("/handover/file.csv", params={"sheet": "held"}).text
    rows = list(csv.reader(io.StringIO(body)))
    notes = screen.client.get("/handover/file.csv", params={"sheet": "notes"}).text
    book = screen.client.get("/handover/file.xlsx")
    page = told(screen.client.get("/handover").text)
    ledger.store.close()

    assert [row[0] for row in rows if row and row[0] in {one.serial for one in sheet.held}] == [
        one.serial for one in sheet.held
    ]
    assert "'=1+1" in notes
    assert book.status_code == 200
    assert f"{len(sheet.held)} on hold" in page


def test_what_was_not_known_yet_is_not_on_the_page(sqlite_url: str) -> None:
    ledger = open_states(sqlite_url)
    at_us = parse_instant("2026-10-01T11:20+02:00")
    with ledger.read(CODE, at_us) as snapshot:
        sheet = read_handover(snapshot, None)
    ledger.store.close()

    assert [row.serial for row in sheet.held] == ["B-901"]
    assert (sheet.floor.shut, sheet.corrections, sheet.stops) == ((), (), ())
