"""An hour more on Queues and over the API: a shop of two stations reckoned by hand.

Ten parts are done; 25 wait for inspection, an hour each, at 18:00 of a Thursday. The
shop works 06:00 to 22:00 from Monday to Friday: 4 h of Thursday and 16 h of Friday are left, so
20 are out by the week's end, and an hour of overtime at 22:00 makes it 21.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.clock import FixedClock
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.people.service import make_token
from ringwright.queues.extra import read_extra
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from tests.make.bench import HEADER, Screen
from tests.make.html import read
from tests.queues.test_queues_page import NOW, ROUTE, SITE, _row


def _at(day: str, row: str) -> str:
    return row.replace("2026-10-01", day)


def _done() -> list[str]:
    """Ten parts of the weeks before, each cut for two hours and inspected for one."""
    rows = []
    for n in range(10):
        day = f"2026-09-{14 + n % 4:02}"
        serial, hour = f"D-{n}", 6 + 4 * (n // 4)
        rows += [
            _at(day, _row(f"{hour:02}:00", serial, "create")),
            _at(day, _row(f"{hour:02}:00", serial, "begin", "10")),
            _at(day, _row(f"{hour + 2:02}:00", serial, "end", "10", "pass")),
            _at(day, _row(f"{hour + 2:02}:00", serial, "begin", "20")),
            _at(day, _row(f"{hour + 3:02}:00", serial, "end", "20", "pass")),
        ]
    return rows


def _waiting() -> list[str]:
    """26 parts wait for inspection since Wednesday; one of them is held."""
    rows = []
    for n in range(26):
        serial = f"W-{n:02}"
        rows += [
            _at("2026-09-30", _row("08:00", serial, "create")),
            _at("2026-09-30", _row("08:00", serial, "begin", "10")),
            _at("2026-09-30", _row("10:00", serial, "end", "10", "pass")),
        ]
    held = _row("11:00", "W-03", "hold")
    return [*rows, _at("2026-09-30", held)]


@pytest.fixture
def ledger(store_url: str) -> Iterator[Ledger]:
    ledger = open_ledger(Store(store_url), FixedClock(parse_instant(NOW)))
    ledger.open_site("NORD")
    ledger.execute("NORD", ExtendSite(file=parse_site(SITE, "site")), SYSTEM)
    ledger.execute("NORD", LoadRoute(card=parse_route(ROUTE, "route")), SYSTEM)
    rows = sorted((*_done(), *_waiting()), key=lambda row: row[:16])
    ledger.execute("NORD", LoadHistory(rows=read_csv(HEADER + "".join(rows))), SYSTEM)
    yield ledger
    ledger.store.close()


def test_the_hour_is_that_reckoned_by_hand_and_held_parts_do_not_move(ledger: Ledger) -> None:
    with ledger.read("NORD") as snapshot:
        sheet = read_extra(snapshot)

    assert (sheet.parts, sheet.held, sheet.releases, sheet.planned) == (25, 1, 10, ())
    assert sheet.gains is not None
    assert sheet.gains.without.mean == 20
    best = sheet.gains.named
    assert best is not None
    assert (best.code, best.beside, best.hour.mean, best.hour.error) == ("INSPECT", False, 1, 0)
    assert best.at_h == 4.0
    assert best.shift is not None
    assert best.shift.mean == 5
    other = next(one for one in sheet.gains.groups if one.code == "CUT")
    assert (other.hour.mean, other.hour.seen) == (0, False)


def test_a_past_moment_knows_only_what_was_known(ledger: Ledger) -> None:
    """On Wednesday at half past nine nothing waited for inspection yet."""
    with ledger.read("NORD", parse_instant("2026-09-30T09:30:00+02:00")) as then:
        sheet = read_extra(then)

    assert sheet.held == 0
    assert sheet.parts == 26
    assert sheet.gains is not None
    # Those 26, and in some runs the two parts that came at the end of such a week before.
    assert 26 < sheet.gains.without.mean < 28
    assert sheet.gains.named is None
    assert not any(one.hour.seen for one in sheet.gains.groups)


def test_too_short_a_history_says_so(ledger: Ledger, store_url: str) -> None:
    screen = Screen(store_url, ledger, "sup-1")
    past = "2026-09-15T12:00:00+02:00"
    words = _words(screen, "/queues/hour", as_of=past)

    assert "Cannot say yet: 4 releases in 6 weeks, 8 are needed" in words


def test_page_piece_file_and_api_say_the_same(ledger: Ledger, store_url: str) -> None:
    screen = Screen(store_url, ledger, "sup-1")
    said = "An hour more at INSPECT would release 1.0 parts more this week"
    piece = screen.client.get("/queues/hour", headers={"HX-Request": "true"}).text
    csv = screen.client.get("/queues/file.csv", params={"sheet": "hour"}).text
    token = make_token(ledger.store, 1, "planner", None, ledger.clock.now_us())
    told = screen.client.get("/api/queues", headers={"Authorization": f"Bearer {token}"}).json()

    assert said in _words(screen, "/queues/hour")
    assert said in piece
    assert "<html" not in piece
    assert "INSPECT" in csv
    assert told["neck"] == "CUT"
    assert told["extra_hour"]["best"] == "INSPECT"
    assert told["extra_hour"]["groups"][0]["hour"]["mean"] == 1.0
    assert told["extra_hour"]["groups"][0]["begins"] == "2026-10-01T22:00:00+02:00"


def _words(screen: Screen, path: str, **query: str) -> str:
    answer = screen.client.get(path, params=query)
    assert answer.status_code == 200
    return " ".join(" ".join(read(answer.text).texts).split())
