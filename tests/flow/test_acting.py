"""What the acts are read from, on one small works; every figure worked by hand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import text

from ringwright.core.instants import parse_instant
from ringwright.flow.acts import HELD, OVER, SHORT, STARVED, WINDOW
from ringwright.flow.sheet import read_week_sheet
from ringwright.ledger.service import Ledger
from tests.make.bench import Screen
from tests.make.html import read as read_html
from tests.make.states import CODE, open_states


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    """Everything that a page can show, at noon of Thursday 1 October 2026."""
    record = open_states(sqlite_url)
    yield record
    record.store.close()


def test_the_acts_of_the_works_are_those_counted_by_hand(ledger: Ledger) -> None:
    with ledger.read(CODE) as read:
        acts = {(a.kind, a.product, a.step): a for a in read_week_sheet(read).acts}
        over_week = read_week_sheet(read, "2026-W39").acts

    turn = acts[OVER, "CASE", 10]
    # Since Wednesday 07:00: 29 h by the clock and 15 + 6 h of 06:00 to 22:00, less 6 h planned.
    assert turn.worst is not None
    assert (turn.worst.excess_us / 3.6e9, turn.worst.excess_worked_us / 3.6e9) == (23.0, 15.0)
    assert turn.parts == 2.0, "230 wait, but the week owes no more than its promise of two"
    assert acts[HELD, "BLADE", 10].parts == 1.0
    window = acts[WINDOW, "BLADE", 20]
    assert (window.parts, window.urgent) == (3.0, False)
    assert window.worst is not None
    assert window.worst.deadline_us == parse_instant("2026-10-01T14:50+02:00")
    assert over_week == ()


def test_a_group_that_works_with_nothing_before_it_is_told_since_when(ledger: Ledger) -> None:
    with ledger.read(CODE, parse_instant("2026-09-30T12:00+02:00")) as read:
        acts = [act for act in read_week_sheet(read).acts if act.kind == STARVED]
    with ledger.read(CODE, parse_instant("2026-09-30T23:00+02:00")) as read:
        asleep = [act for act in read_week_sheet(read).acts if act.kind == STARVED]

    found = {act.starved.group: act.starved for act in acts if act.starved}
    # Washing ended on Tuesday at 07:30: 14.5 h of that day and 6 h of the next.
    assert found["wash"].idle_h == 20.5
    assert found["wash"].since_us == parse_instant("2026-09-29T07:30+02:00")
    assert len(acts) == 2
    assert asleep == []


def test_free_blades_one_less_than_whole_sets_are_told(ledger: Ledger) -> None:
    """Asked of the rows of part_now, which the program's SELECT is not used for."""
    free = text(
        "SELECT count(*) FROM part_now WHERE product = 'BLADE' AND place = 'released' "
        "AND reservation IS NULL AND hold IS NULL AND nonconformities = 0"
    )
    with ledger.read(CODE) as read:
        n = read.connection.execute(free).scalar_one()
        short = [act for act in read_week_sheet(read).acts if act.kind == SHORT]

    assert n > 0
    assert bool(short) is (n % 4 == 3)


def test_a_part_is_let_go_first_from_the_list_and_the_bench_says_so(ledger: Ledger) -> None:
    screen = Screen(str(ledger.store.engine.url), ledger, "sup-1")
    page = screen.client.get("/week").text
    forms = [form for form in page.split("<form")[1:] if 'action="/floor/priority"' in form]
    serials = [
        one["value"] for one in read_html("<form" + forms[0]).tags("input")
        if one.get("name") == "serial"
    ]  # fmt: skip
    sent = {
        one["name"]: one.get("value", "")
        for one in read_html("<form" + forms[0].split("</form>")[0]).tags("input")
    }
    answer = screen.client.post("/floor/priority", data={**sent, "reason": "customer waits"})
    again = screen.client.get("/week").text

    assert answer.status_code == 303
    assert f"{serials[0]} goes first already." in again
    bench = screen.client.get("/bench", params={"scan": serials[0]}).text
    assert "Goes first" in " ".join(read_html(bench).texts)
    assert "Goes first" not in " ".join(
        read_html(screen.client.get("/bench", params={"scan": "C-100"}).text).texts
    )
