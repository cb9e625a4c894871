"""What a plan of starts stands on, counted again from the rows of the history alone.

Sources: pandas over the same rows; the arithmetic itself is held in `tests/starting/`.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import pandas as pd
import pytest
from fastapi.testclient import TestClient

from ringwright.assembly import SYSTEM
from ringwright.bench.history import COLUMNS
from ringwright.core.errors import Missing, Refused
from ringwright.ledger.service import Ledger
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.settings import Settings
from ringwright.starting.plan import Evidence
from ringwright.starts.asked import asked_of
from ringwright.starts.service import StartsSheet, read_starts, starts_json
from ringwright.web.factory import create_app
from tests.make.histories import Route, random_history
from tests.make.signing import open_to_readers
from tests.outside.test_random_histories import Told, load, open_store

ROUTE = Route("Q", [10, 20, 30], {}, 7)
HEATED = """
[product]
code = "HOT"
name = "Hot Thing"
[[step]]
number = 10
name = "Harden"
kind = "heat-cycle"
"""


@pytest.fixture(scope="module")
def told() -> Told:
    rows = random_history(random.Random("starts"), ROUTE, 60)
    ended = {(row["serial"], row["outcome"], row["step"]) for row in rows}
    over = {serial for serial, outcome, step in ended if outcome == "scrap" or step == "30"}
    for serial in sorted({row["serial"] for row in rows} - over)[:3]:
        rows.append({**dict.fromkeys(rows[0], ""), "serial": serial, "product": "Q",
                     "at": "2026-11-10T12:00:00+00:00", "act": "hold", "reason": "crack",
                     "step": "10"})  # fmt: skip
    return Told(ROUTE, "Europe/Oslo", rows)


@pytest.fixture
def ledger(told: Told, new_store_url: Callable[[], str]) -> Iterator[tuple[Ledger, str]]:
    url = new_store_url()
    record, _clock = open_store(url, told)
    load(record, told.rows)
    yield record, url
    record.store.close()


def plan(ledger: Ledger, **asked: str) -> StartsSheet:
    with ledger.read("S") as read:
        sheet = read_starts(read, asked_of({"product": "Q", **asked}))
    assert sheet is not None
    return sheet


def test_yields_and_parts_are_those_of_the_rows(told: Told, ledger: tuple[Ledger, str]) -> None:
    rows = pd.DataFrame(told.rows)
    rows["at"] = pd.to_datetime(rows["at"], utc=True, format="ISO8601")
    rows = rows.sort_values("at", kind="stable")
    ends = rows[rows.act == "end"]
    passed = ends[ends.outcome.isin(["pass", "concession"])]
    through = passed.groupby("step").serial.nunique()
    lost = ends[ends.outcome == "scrap"].groupby("step").serial.nunique()
    gone = set(passed[passed.step.astype(int) == 30].serial)
    gone |= set(ends[ends.outcome == "scrap"].serial)
    held = rows[rows.act.isin(["hold", "unhold"])].groupby("serial").act.last()
    open_ = set(rows.serial) - gone
    on_hold = {serial for serial in open_ if held.get(serial) == "hold"}

    sheet = plan(ledger[0], sets="40", day="2027-12-24")

    assert sheet.account.closing == len(open_)
    assert sheet.account.off_by == 0
    assert through.sum() > 60
    assert lost.sum() > 3
    assert on_hold
    for one in sheet.steps:
        number = str(one.step.number)
        assert one.evidence.through == through.get(number, 0)
        assert one.evidence.lost == lost.get(number, 0)
    assert sum(one.here for one in sheet.steps) == len(open_)
    assert sum(one.held for one in sheet.steps) == len(on_hold)
    assert sum(one.counted for one in sheet.steps) == len(open_) - len(on_hold)
    assert sheet.answer is not None
    assert sheet.answer.needed == 40
    assert sheet.answer.chance >= 0.9


def test_a_part_that_cannot_be_through_in_time_does_not_count(
    ledger: tuple[Ledger, str],
) -> None:
    late = plan(ledger[0], sets="40", day="2026-11-13")
    early = plan(ledger[0], sets="40", day="2027-12-24")

    assert sum(one.late for one in early.steps) == 0
    free = sum(one.here - one.held for one in early.steps)
    assert sum(one.late for one in late.steps) + sum(one.counted for one in late.steps) == free
    assert late.answer is not None
    assert early.answer is not None
    assert late.answer.start >= early.answer.start
    assert late.last_start_us < early.last_start_us


def test_the_last_day_of_the_calendar_is_refused_in_words(ledger: tuple[Ledger, str]) -> None:
    with pytest.raises(Refused, match="too late a day"):
        plan(ledger[0], day="2199-12-31")


def test_where_a_step_works_in_loads_its_loads_are_counted(
    told: Told, new_store_url: Callable[[], str]
) -> None:
    """On both stores: PostgreSQL gives the sums of counts as decimals."""
    record, _clock = open_store(new_store_url(), told)
    card = parse_route(HEATED, "route")
    record.execute("S", LoadRoute(card=card), SYSTEM)
    # Three go in together, one alone, and all but one come through.
    load(record, [
        row
        for serial, hour in (("H1", 6), ("H2", 6), ("H3", 6), ("H4", 18))
        for row in _heated(serial, hour, "scrap" if serial == "H4" else "pass")
    ])  # fmt: skip

    sheet = plan(record, product="HOT", sets="2", day="2027-12-24")

    (step,) = sheet.steps
    assert (step.evidence.through, step.evidence.lost) == (3, 1)
    assert step.evidence.parts_a_load == 2.0  # four parts in two loads
    assert sheet.answer is not None
    record.store.close()


def _heated(serial: str, hour: int, outcome: str) -> list[dict[str, str]]:
    day, every = "2026-11-10", dict.fromkeys(COLUMNS, "")
    part = {**every, "serial": serial, "product": "HOT"}
    begun = f"{day}T{hour:02}:00:00+00:00"
    defect = "crack" if outcome == "scrap" else ""
    return [
        {**part, "at": f"{day}T01:00:00+00:00", "act": "create"},
        {**part, "at": begun, "act": "begin", "step": "10", "station": "F-1"},
        {**part, "at": f"{day}T{hour + 4:02}:00:00+00:00", "act": "end", "step": "10",
         "outcome": outcome, "defect": defect, "station": "F-1"},
    ]  # fmt: skip


def test_a_yield_that_is_typed_in_stands_for_what_was_counted(
    ledger: tuple[Ledger, str],
) -> None:
    sheet = plan(ledger[0], sets="40", yield_20="50", day="2027-12-24")

    assert sheet.steps[1].evidence == Evidence(step=20, assumed=0.5)
    assert sheet.answer is not None
    counted = plan(ledger[0], sets="40", day="2027-12-24").answer
    assert counted is not None
    assert sheet.answer.start > counted.start


def test_without_a_history_a_yield_is_asked_for(
    told: Told, new_store_url: Callable[[], str]
) -> None:
    record, _clock = open_store(new_store_url(), told)

    sheet = plan(record, sets="12")
    assert sheet.unknown == (10, 20, 30)
    assert sheet.answer is None
    with pytest.raises(Refused, match="step 10, 20, 30"):
        starts_json(sheet)
    given = plan(record, sets="12", yield_10="90", yield_20="100", yield_30="100")
    assert given.answer is not None
    assert given.answer.start == 15  # scipy.stats.nbinom: 12 + ppf(0.9, 12, 0.9)
    record.store.close()


@pytest.mark.parametrize(
    ("name", "value", "why"),
    [
        ("sets", "0", "sets is a whole number"),
        ("sets", "1.5", "sets is a whole number"),
        ("spares", "-1", "spares is a whole number"),
        ("day", "24/12", "is no day"),
        ("day", "9999-01-01", "outside the calendar"),
        ("sure", "100", "how sure is a percentage from 50 to 99.9"),
        ("sure", "nan", "how sure is a percentage"),
        ("yield_10", "0", "the yield of step 10 is a percentage"),
    ],
)
def test_what_cannot_be_is_refused_in_words(name: str, value: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        asked_of({name: value})


def test_page_file_and_api_say_the_same(ledger: tuple[Ledger, str], told: Told) -> None:
    record, url = ledger
    client = TestClient(open_to_readers(create_app(Settings(database_url=url), record)))
    asked = {"product": "Q", "sets": "40", "spares": "3", "day": "2027-12-24"}
    sheet = plan(record, **asked)
    assert sheet.answer is not None

    html = client.get("/starts", params=asked).text
    csv = client.get("/starts/file.csv", params=asked).text

    assert f"Start {sheet.answer.start} parts" in html
    assert sheet.answer.needed == 43
    assert f",{sheet.answer.start}," in csv
    assert "head " in csv
    assert "closing. It balances." in csv
    assert "closing. It balances." in html
    assert csv == client.get("/starts/file.csv", params=asked).text
    with record.read("S") as read, pytest.raises(Missing):
        read_starts(read, asked_of({"product": "nothing"}))
    assert told.rows
