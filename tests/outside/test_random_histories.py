"""Random histories with corrections and late rows: the same answer everywhere.

The outside voice is pandas with statsmodels (`tests/outside/reference.py`).
"""

from __future__ import annotations

import json
import random
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from fastapi.testclient import TestClient

from ringwright.assembly import SYSTEM, open_ledger
from ringwright.bench.correcting import Correct
from ringwright.bench.history import LoadHistory
from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.cli import main
from ringwright.core.clock import FixedClock
from ringwright.core.errors import RingwrightError
from ringwright.db import Store
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from ringwright.parts.queries import read_events
from ringwright.replaying import compare
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.sites.service import ExtendSite
from ringwright.sites.toml import parse_site
from ringwright.web.factory import create_app
from tests.make.histories import START, Route, lines, random_history, random_route
from tests.make.second import signed
from tests.make.signing import open_to_readers
from tests.outside.reference import Mend, events_of, site_week, visits_of, week_numbers

ZONES = ("Europe/Oslo", "Asia/Kolkata", "America/St_Johns", "Pacific/Auckland")
WEEKS = ("2026-W38", "2026-W39", "2026-W40", "2026-W41")
MENDED = "2026-W46"
"""The week in which the corrections are made."""
ROLES = frozenset({"supervisor", "quality-engineer", "design-authority"})
BOSS = signed(
    Actor(code="boss", roles=ROLES, self_inspection=True), "second", "quality-engineer"
)
Stores = list[tuple[Ledger, FixedClock, str]]
FIRST_NOW = START + timedelta(days=60)


@dataclass
class Told:
    """Everything told to a store, so that it can be told to another, or to pandas."""

    route: Route
    zone: str
    rows: list[dict[str, Any]]
    mends: list[Mend] = field(default_factory=list)


def us(moment: datetime) -> int:
    return round((moment - datetime(1970, 1, 1, tzinfo=UTC)) / timedelta(microseconds=1))


def open_store(url: str, told: Told) -> tuple[Ledger, FixedClock]:
    clock = FixedClock(us(FIRST_NOW))
    ledger = open_ledger(Store(url), clock)
    ledger.open_site("S")
    site = f'[site]\ncode = "S"\nname = "S"\nzone = "{told.zone}"\n'
    ledger.execute("S", ExtendSite(file=parse_site(site, "site")), SYSTEM)
    ledger.execute("S", LoadRoute(card=parse_route(told.route.toml(), "route")), SYSTEM)
    return ledger, clock


def load(ledger: Ledger, rows: list[dict[str, Any]]) -> None:
    if rows:
        ledger.execute("S", LoadHistory(rows=lines(rows)), SYSTEM)


def book_late(dice: random.Random, ledger: Ledger, clock: FixedClock, told: Told) -> None:
    """A rest that nobody booked at the time, known only now."""
    visits = [r for r in told.rows if r["act"] == "begin"]
    begin = dice.choice(visits)
    at = datetime.fromisoformat(begin["at"]) + timedelta(seconds=dice.randint(1, 50))
    clock.at_us += 60_000_000
    known = FIRST_NOW.fromtimestamp(clock.at_us / 1e6, UTC)
    for act, moment in (("pause", at), ("resume", at + timedelta(seconds=9))):
        row = {"act": act, "serial": begin["serial"], "step": int(begin["step"]),
               "key": f"late-{len(told.rows)}"}  # fmt: skip
        booking = make_booking(row, us(moment))
        try:
            ledger.execute("S", Book(booking=booking), BOSS)
        except RingwrightError:
            return
        told.rows.append({**begin, "act": act, "at": moment.isoformat(), "known": known,
                          "key": row["key"], "outcome": ""})  # fmt: skip


def mend(dice: random.Random, ledger: Ledger, clock: FixedClock, told: Told) -> None:
    """Correct an end: another outcome, or another time; or void the last thing of a part."""
    place = dice.choice([n for n, row in enumerate(told.rows) if row["act"] == "end"])
    row = told.rows[place]
    clock.at_us += 60_000_000
    at = datetime.fromisoformat(row["at"]) + timedelta(seconds=dice.randint(-30, 30))
    outcome = dice.choice(("pass", "rework", "concession", "scrap"))
    kinds: list[tuple[dict[str, Any], dict[str, Any], bool]] = [
        ({"outcome": outcome}, {"outcome": outcome}, False),
        ({"at_us": us(at)}, {"at": at}, False),
        ({}, {}, True),
    ]
    changes, said, void = dice.choice(kinds)
    if any(old.place == place for old in told.mends):
        return
    with ledger.read("S") as read:
        events = read_events(read, row["serial"])
    wanted = us(datetime.fromisoformat(row["at"]))
    entries = [e.site_seq for e in events if e.kind == "end" and e.at_us == wanted]
    if len(entries) != 1:
        return  # two ends at one moment: pandas could not tell which was meant
    (entry,) = entries
    act = Correct(
        serial=row["serial"], key=None, entry=entry, void=void, changes=changes, reason="r"
    )
    try:
        ledger.execute("S", act, BOSS)
    except RingwrightError:
        return
    known = datetime.fromtimestamp(clock.at_us / 1e6, UTC)
    told.mends.append(Mend(place=place, known=known, void=void, changes=said))


def ask(ledger: Ledger, told: Told, week: str, as_of: datetime | None = None) -> dict[str, Any]:
    with ledger.read("S", None if as_of is None else us(as_of)) as read:
        return week_json(read_week_numbers(read, told.route.product, week))


def same(answer: Any, wanted: Any, path: str = "") -> None:
    """Every number that the outside voice gives, to nine digits."""
    if isinstance(wanted, dict):
        for name, value in wanted.items():
            same(answer[name], value, f"{path}.{name}")
        if path.endswith(".wip"):
            assert set(answer) == set(wanted), path
    elif isinstance(wanted, list):
        assert len(answer) == len(wanted), path
        for place, value in enumerate(wanted):
            same(answer[place], value, f"{path}[{place}]")
    elif isinstance(wanted, float):
        assert answer == pytest.approx(wanted, rel=1e-9, abs=1e-9), path
    else:
        assert answer == wanted, path


def reference(told: Told, week: str, now: datetime, before: datetime | None = None) -> Any:
    return week_numbers(
        told.rows, told.route.steps, told.zone, week, now, mends=told.mends, before=before
    )


def gone_before(told: Told, moment: datetime, known: datetime) -> set[str]:
    """Serials released or scrapped before a moment, as known at another."""
    events = events_of(told.rows, told.mends, known)
    visits = visits_of(events, events[events.act == "create"].set_index("serial")["at"])
    good = visits.outcome.isin(["pass", "concession"]) & (visits.step == told.route.steps[-1])
    return set(visits[(good | (visits.outcome == "scrap")) & (visits.at_end < moment)].serial)


def taken_back(told: Told, week: str) -> set[str]:
    """Serials gone when a week began, as was known then, and there as known when it ended."""
    start, end = site_week(week, told.zone)
    known = gone_before(told, start, start)
    return known - gone_before(told, start, end)


SEEDS = [
    *(0, 1),
    *(pytest.param(seed, marks=pytest.mark.slow) for seed in (2, 3, 4)),
    *(pytest.param(seed, marks=pytest.mark.long) for seed in range(5, 12)),
]


@pytest.fixture(params=SEEDS)
def told(request: pytest.FixtureRequest) -> Told:
    dice = random.Random(f"history {request.param}")
    route = random_route(dice, f"Q{request.param}")
    return Told(route, dice.choice(ZONES), random_history(dice, route, 25))


@pytest.fixture
def stores(told: Told, new_store_url: Callable[[], str]) -> Iterator[Stores]:
    urls = [new_store_url(), new_store_url()]
    opened = [(*open_store(url, told), url) for url in urls]
    yield opened
    for ledger, _clock, _url in opened:
        ledger.store.close()


def _whole(row: dict[str, Any], late: list[dict[str, Any]], rows: list[dict[str, Any]]) -> bool:
    """A rest comes late as a whole, or not at all."""
    if row["act"] == "measure":
        return True
    own = [r for r in rows if r["serial"] == row["serial"] and r["act"] in ("pause", "resume")]
    place = own.index(row)
    pairs = own[place : place + 2] if row["act"] == "pause" else own[place - 1 : place + 1]
    if [r["act"] for r in pairs] != ["pause", "resume"]:
        return True  # a rest that nobody ended
    return all(other in late for other in pairs)


def tell_all(told: Told, ledger: Ledger, clock: FixedClock, seed: str) -> None:
    """Load in two files, the second full of late rows, then book late and correct."""
    dice = random.Random(seed)
    moments = Counter((row["serial"], datetime.fromisoformat(row["at"])) for row in told.rows)
    # A late row at the very moment of another would come after it: only clear ones come late.
    late = [
        row
        for row in told.rows
        if row["act"] in ("pause", "resume", "measure")
        and moments[row["serial"], datetime.fromisoformat(row["at"])] == 1
    ]
    late = [row for row in late if _whole(row, late, told.rows)]
    load(ledger, [row for row in told.rows if row not in late])
    load(ledger, late)
    for _ in range(12):
        dice.choice((book_late, mend))(dice, ledger, clock, told)


def test_pandas_page_command_and_store_agree(
    told: Told,
    stores: Stores,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    ledger, clock, url = stores[0]
    tell_all(told, ledger, clock, told.route.product)
    now = datetime.fromtimestamp(clock.at_us / 1e6, UTC)
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", url)
    client = TestClient(open_to_readers(create_app(Settings(database_url=url), ledger)))

    for week in (*WEEKS, MENDED):
        wanted = reference(told, week, now)
        same(ask(ledger, told, week), wanted)
        assert main(["week", "--product", told.route.product, "--week", week, "--json"]) == 0
        same(json.loads(capsys.readouterr().out), wanted)
        page = client.get("/week", params={"week": week}).text
        account = re.search(
            r"(\d+) opening \+ (\d+) created \+ (\d+) reopened = (\d+) released \+ "
            r"(\d+) scrapped \+ 0 used in test or making \+ (\d+) closing", page,
        )  # fmt: skip
        assert account
        opening, created, back, released, scrapped, closing = map(int, account.groups())
        assert (created, released, scrapped) == (
            wanted["created"], wanted["output"], wanted["scrapped"],
        )  # fmt: skip
        assert closing == sum(wanted["wip"].values())
        assert back == len(taken_back(told, week))
        assert opening + created + back == released + scrapped + closing
    assert compare(url)[1] is None


def test_as_of_a_moment_equals_a_store_cut_at_it(told: Told, stores: Stores) -> None:
    (ledger, clock, _url), (cut, cut_clock, _cut_url) = stores
    tell_all(told, ledger, clock, told.route.product)
    moments = sorted(datetime.fromisoformat(row["at"]) for row in told.rows)
    known = [m.known for m in told.mends]
    middle = [moments[len(moments) // 3], moments[len(moments) // 2] + timedelta(seconds=1)]
    asked = [*middle, *(k + timedelta(seconds=1) for k in known[:3]), *known[:1]]

    for moment in asked:
        for week in WEEKS:
            same(ask(ledger, told, week, moment), reference(told, week, moment, moment), week)

    before = middle[1]
    load(cut, [r for r in told.rows if "known" not in r
               and datetime.fromisoformat(r["at"]) < before])  # fmt: skip
    cut_clock.at_us = us(before) - 1
    for week in WEEKS:
        assert ask(ledger, told, week, before) == ask(cut, told, week), week
