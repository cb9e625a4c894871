"""Queues of a shop of two stations whose hours were reckoned by hand."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator

import pytest
from sqlalchemy import event

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.errors import Refused
from ringwright.core.instants import HOUR_US, parse_instant
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.queues.service import read_queues
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.bench import HEADER, Screen
from tests.make.bench import SITE as PEOPLE
from tests.make.html import read

NOW = "2026-10-01T18:00:00+02:00"
"""A Thursday; the shop works 06:00 to 22:00 from Monday to Friday."""
SITE = PEOPLE + "".join(
    f'[[station]]\ncode = "{code}"\ngroup = "{group}"\ncalendar = "shop"\n'
    for code, group in (("C-1", "CUT"), ("I-1", "INSPECT"))
)
ROUTE = """
[product]
code = "VANE"
name = "Guide vane"
family = "turbine-blade"
[[step]]
number = 10
name = "Cut"
kind = "machining"
station_group = "CUT"
[[step]]
number = 20
name = "Inspect"
kind = "inspection"
station_group = "INSPECT"
"""


def _row(clock: str, serial: str, act: str, step: str = "", outcome: str = "") -> str:
    at, place = f"2026-10-01T{clock}+02:00", {"10": "C-1", "20": "I-1"}.get(step, "")
    return f"{at},{serial},VANE,{act},{step},{outcome},,,,,,{place},make-1\n"


def _history() -> str:
    """V-1 to V-3 come at 08:00; each is cut for 2 h; V-1 is inspected for 1 h from 12:00."""
    rows = [_row("08:00", f"V-{n}", "create") for n in (1, 2, 3)]
    for n, hour in ((1, 8), (2, 10), (3, 14)):
        rows.append(_row(f"{hour:02}:00", f"V-{n}", "begin", "10"))
        rows.append(_row(f"{hour + 2:02}:00", f"V-{n}", "end", "10", "pass"))
    rows += [_row("12:00", "V-1", "begin", "20"), _row("13:00", "V-1", "end", "20", "pass")]
    return HEADER + "".join(sorted(rows, key=lambda row: row[:16]))


@pytest.fixture
def ledger(store_url: str) -> Iterator[Ledger]:
    ledger = open_ledger(Store(store_url), FixedClock(parse_instant(NOW)))
    ledger.open_site("NORD")
    ledger.execute("NORD", ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute("NORD", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    ledger.execute("NORD", LoadHistory(rows=read_csv(_history())), SYSTEM)
    yield ledger
    ledger.store.close()


def test_hours_queues_and_line_are_those_reckoned_by_hand(ledger: Ledger) -> None:
    with ledger.read("NORD") as snapshot:
        sheet = read_queues(snapshot, 1)
    cut, inspect = (next(g for g in sheet.groups if g.code == c) for c in ("CUT", "INSPECT"))
    line = sheet.lines[0]

    # From Thursday 18:00 to Thursday 18:00: 4 + 16 + 3 * 16 + 12 = 80 working hours.
    assert cut.hours.working_us == 80 * HOUR_US
    assert cut.hours.in_use_us == 6 * HOUR_US
    # V-3 waited from 12:00 to 14:00 while the station was idle.
    assert cut.hours.passed_by_us == 2 * HOUR_US
    assert cut.hours.starved_us == 72 * HOUR_US
    assert (cut.waiting, cut.mean_wait_us) == ((), (0 + 2 + 6) * HOUR_US // 3)
    assert [part.serial for part in inspect.waiting] == ["V-2", "V-3"]
    # V-1 from 10:00, V-2 from 12:00 on and V-3 from 16:00 on: idle 10-12 and 13-18.
    assert inspect.hours.passed_by_us == 7 * HOUR_US
    assert inspect.mean_queue == pytest.approx((2 + 6 + 2) / 168)
    assert sheet.neck is cut
    # In the cell: V-1 for 5 h, V-2 and V-3 for 10 h each; one went out.
    assert line.wip == pytest.approx(25 / 168)
    assert line.exits == 1
    assert line.cycle_h == pytest.approx(25)
    assert line.neck == "CUT"
    assert line.line is not None
    assert line.line.raw_h == pytest.approx(2 + 1)
    assert line.line.rate_per_h == pytest.approx(80 / 168 / 2)


def test_a_past_moment_knows_only_what_was_known(ledger: Ledger) -> None:
    """The history was learned at the end of the day; before it there was nothing."""
    with ledger.read("NORD", parse_instant("2026-10-01T13:30:00+02:00")) as then:
        sheet = read_queues(then, 1)
    inspect = next(g for g in sheet.groups if g.code == "INSPECT")

    assert [part.serial for part in inspect.waiting] == ["V-2"]
    assert inspect.hours.passed_by_us == int(2.5 * HOUR_US)


def test_the_statements_do_not_depend_on_what_stands_there(ledger: Ledger) -> None:
    counts = []
    for more in (False, True):
        if more:
            rows = HEADER + "".join(_row("17:00", f"W-{n}", "create") for n in range(20))
            ledger.execute("NORD", LoadHistory(rows=read_csv(rows)), SYSTEM)
        said: list[str] = []
        note = lambda *args, said=said: said.append(args[2])  # noqa: E731
        event.listen(ledger.store.engine, "before_cursor_execute", note)
        with ledger.read("NORD") as snapshot:
            read_queues(snapshot, 1)
        event.remove(ledger.store.engine, "before_cursor_execute", note)
        counts.append(len(said))

    assert counts[0] == counts[1] > 0


def test_the_page_says_the_neck_and_its_files_hold_all_that_waits(
    ledger: Ledger, store_url: str
) -> None:
    screen = Screen(store_url, ledger, "sup-1")
    answer = screen.client.get("/queues", params={"weeks": "1"})
    words = " ".join(" ".join(read(answer.text).texts).split())
    csv = screen.client.get("/queues/file.csv", params={"weeks": "1"}).text
    book = screen.client.get("/queues/file.xlsx", params={"weeks": "1"}).content

    assert answer.status_code == 200
    assert "CUT is the neck, 8 % in use; nothing waits there now" in words
    assert "V-2" in words
    assert "V-3" in csv
    assert "not known" in csv
    assert "waiting = by station group" in csv
    for told in (words, csv):
        assert "All VANE, " in told
        assert "closing. It balances." in told
    assert csv == screen.client.get("/queues/file.csv", params={"weeks": "1"}).text
    assert zipfile.ZipFile(io.BytesIO(book)).testzip() is None
    assert screen.client.get("/queues", params={"weeks": "3"}).status_code == 422


def test_another_span_is_refused(ledger: Ledger) -> None:
    with ledger.read("NORD") as snapshot, pytest.raises(Refused, match="1, 2 or 4"):
        read_queues(snapshot, 3)
