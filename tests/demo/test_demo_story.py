"""The demo's history: it obeys the rules of the record, and its numbers hang together."""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from datetime import datetime, timedelta
from itertools import pairwise, takewhile
from pathlib import Path
from statistics import correlation, mean
from zoneinfo import ZoneInfo

import pytest

import ringwright.demo
from ringwright.core.calendar import parse_instant
from ringwright.demo.simulate import history_start, simulate
from ringwright.routecards.toml import parse_route
from ringwright.sites.toml import parse_site
from tests.demo.referee import Row, judge, read_route

HERE = Path(ringwright.demo.__file__).parent
PRODUCTS = ("HF22-BLADE", "HF22-CASE", "PT68-BLADE")
OSLO = ZoneInfo("Europe/Oslo")
WEEK = timedelta(weeks=1)
NOW = parse_instant("2026-10-29T10:20:00+01:00")  # clocks went back four days before
START = history_start(NOW)
ROUTES = dict(read_route((HERE / f"{code}.toml").read_text("utf-8")) for code in PRODUCTS)
TARGETS = {"HF22-BLADE": 66, "HF22-CASE": 3, "PT68-BLADE": 204}
EXITS = frozenset({"pass", "concession"})


def told(weeks: int, seed: int = 1) -> list[Row]:
    """Rows of so many whole weeks of seven days."""
    return list(
        simulate(seed=seed, start_us=START, until_us=START + weeks * 7 * 86_400_000_000)
    )


def week_of_row(row: Row) -> int:
    begun = datetime.fromtimestamp(START / 1e6, OSLO)
    wall = datetime.fromisoformat(row["at"]).astimezone(OSLO)
    # Both without zone: weeks of the wall clock, an hour longer when clocks go back.
    return (wall.replace(tzinfo=None) - begun.replace(tzinfo=None)) // WEEK


def leaves(row: Row) -> bool:
    """The row takes the part out of work: a release or a scrap."""
    last = str(list(ROUTES[row["product"]])[-1])
    released = row["outcome"] in EXITS and row["step"] == last
    return row["act"] == "end" and (released or row["outcome"] == "scrap")


def hours(row: Row) -> float:
    return datetime.fromisoformat(row["at"]).timestamp() / 3600


@pytest.fixture(scope="module")
def story() -> list[Row]:
    """What the demo would tell at NOW."""
    return list(simulate(seed=1, start_us=START, until_us=NOW))


@pytest.fixture(scope="module")
def long_story() -> list[Row]:
    """Twenty weeks."""
    return told(20)


def outputs(rows: list[Row], product: str) -> list[int]:
    weeks = Counter(
        week_of_row(row)
        for row in rows
        if row["product"] == product and leaves(row) and row["outcome"] in EXITS
    )
    return [weeks[week] for week in range(max(weeks) + 1)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_referee_who_knows_only_the_rules_finds_nothing_wrong(seed: int) -> None:
    assert judge(told(9, seed), ROUTES) == []


def test_every_act_and_outcome_is_in_the_story(story: list[Row]) -> None:
    acts = {row["act"] for row in story}
    outcomes = {row["outcome"] for row in story} - {""}

    assert acts == {
        "create", "begin", "pause", "resume", "end", "hold", "unhold", "measure", "send",
    }  # fmt: skip
    assert outcomes == {"pass", "rework", "repair", "concession", "scrap"}


@pytest.mark.parametrize("act", ["create", "begin", "resume", "end", "unhold"])
def test_the_referee_misses_no_row_that_is_taken_out(story: list[Row], act: str) -> None:
    rows = story[:20_000]
    place = next(n for n, row in enumerate(rows) if n > 5_000 and row["act"] == act)
    if act == "create":
        place = 0

    assert judge(rows[:place] + rows[place + 1 :], ROUTES)


@pytest.mark.parametrize(
    ("act", "change"),
    [
        ("measure", {"unit": "inch"}),
        ("measure", {"value": "1"}),
        ("measure", {"characteristic": "colour"}),
        ("begin", {"step": "140"}),
        ("end", {"outcome": "scrap", "defect": ""}),
        ("begin", {"act": "send"}),
        ("create", {"key": "demo-1"}),
        ("create", {"at": "2026-01-01T00:00:00+01:00"}),
    ],
)
def test_the_referee_misses_no_row_that_is_changed(
    story: list[Row], act: str, change: dict[str, str]
) -> None:
    rows = [dict(row) for row in story[:20_000]]
    next(row for n, row in enumerate(rows) if n > 5_000 and row["act"] == act).update(change)

    assert judge(rows, ROUTES)


def test_the_referee_sees_a_maker_pass_the_own_work(story: list[Row]) -> None:
    rows = [dict(row) for row in story[:20_000]]
    for row in rows:
        row["by"] = "maker"

    assert any("passed by who worked on it" in why for why in judge(rows, ROUTES))


@pytest.mark.parametrize("cut", ["2026-09-18T03:00:07+02:00", "2026-10-25T02:30:00+02:00"])
def test_told_on_later_the_story_begins_with_the_same_rows(story: list[Row], cut: str) -> None:
    until = parse_instant(cut)

    shorter = list(simulate(seed=1, start_us=START, until_us=until))

    assert shorter == story[: len(shorter)]
    assert parse_instant(shorter[-1]["at"]) < until <= parse_instant(story[len(shorter)]["at"])


def test_another_seed_tells_another_story(story: list[Row]) -> None:
    other = takewhile(
        lambda pair: pair[0] == pair[1],
        zip(story, simulate(seed=2, start_us=START, until_us=NOW), strict=False),
    )

    assert len(list(other)) < 50


@pytest.mark.parametrize(
    "now",
    ["2026-11-25T15:00:00+01:00", "2026-03-29T23:59:59+02:00", "2027-01-04T00:00:00+01:00"],
)
def test_history_starts_on_the_monday_six_whole_weeks_before(now: str) -> None:
    then = datetime.fromtimestamp(history_start(parse_instant(now)) / 1e6, OSLO)
    gone = datetime.fromisoformat(now).replace(tzinfo=None) - then.replace(tzinfo=None)

    assert (then.weekday(), then.hour, then.minute) == (0, 0, 0)
    assert 6 * WEEK <= gone < 7 * WEEK


@pytest.mark.parametrize(("product", "low", "high"), [
    ("HF22-BLADE", 0.90, 1.10), ("HF22-CASE", 0.80, 1.20), ("PT68-BLADE", 0.90, 1.10),
])  # fmt: skip
def test_output_is_near_the_target_once_the_shop_is_full(
    long_story: list[Row], product: str, low: float, high: float
) -> None:
    target = parse_route((HERE / f"{product}.toml").read_text("utf-8")).target_per_week

    weekly = outputs(long_story, product)[3:20]

    assert target == TARGETS[product]
    assert low * target <= mean(weekly) <= high * target
    assert all(0.3 * target <= week <= 2.1 * target for week in weekly)


def test_the_week_before_last_was_in_trouble(story: list[Row]) -> None:
    fan, turbine = outputs(story, "HF22-BLADE"), outputs(story, "PT68-BLADE")

    assert fan[4] < 0.92 * TARGETS["HF22-BLADE"]
    assert turbine[4] < 0.92 * TARGETS["PT68-BLADE"]
    assert fan[5] > fan[4]
    assert turbine[5] > turbine[4]


def test_a_week_holds_ten_to_fourteen_thousand_rows(story: list[Row]) -> None:
    weekly = Counter(map(week_of_row, story))

    assert all(10_000 <= weekly[week] <= 14_000 for week in range(1, 6)), weekly


def test_six_weeks_are_told_in_four_seconds() -> None:
    begun = time.process_time()
    told(6)

    assert time.process_time() - begun < 4.0


def test_what_came_in_went_out_or_is_still_there(long_story: list[Row]) -> None:
    created = [row["serial"] for row in long_story if row["act"] == "create"]
    gone = [row["serial"] for row in long_story if leaves(row)]
    sent = {row["serial"] for row in long_story if row["act"] == "send"}

    assert len(created) == len(set(created))
    assert len(gone) == len(set(gone))
    assert set(gone) <= set(created)
    assert sent <= set(gone)


@pytest.mark.parametrize("product", PRODUCTS)
def test_littles_law_holds_over_a_long_window(long_story: list[Row], product: str) -> None:
    """L = lambda W: J. D. C. Little, Operations Research 9 (1961) 383-387.

    Over a window from a to b the law is exact with two edge terms: the time that exits had
    spent before a comes off, the time of parts still there at b since a (or since they were
    created) is added. Without them it holds only roughly, better the longer the window.
    """
    rows = [row for row in long_story if row["product"] == product]
    born = {row["serial"]: hours(row) for row in rows if row["act"] == "create"}
    out = {row["serial"]: hours(row) for row in rows if leaves(row)}
    a, b = START / 3.6e9 + 3 * 168, START / 3.6e9 + 20 * 168
    exits = [serial for serial, at in out.items() if a <= at < b]
    rate, stay = len(exits) / (b - a), mean(out[s] - born[s] for s in exits)

    level = mean_level(rows, a, b)
    before = sum(max(0.0, a - born[s]) for s in exits)
    still = sum(b - max(a, at) for s, at in born.items() if out.get(s, b) >= b)

    assert level == pytest.approx(rate * stay + (still - before) / (b - a), rel=1e-9)
    assert level == pytest.approx(rate * stay, rel=0.10)


def mean_level(rows: list[Row], a: float, b: float) -> float:
    """Mean number in work from a to b, by counting up and down along the rows."""
    level, since, area = 0, a, 0.0
    for row in rows:
        if row["act"] == "create" or leaves(row):
            now = min(max(hours(row), a), b)
            area += level * (now - since)
            since = now
            level += 1 if row["act"] == "create" else -1
    return (area + level * (b - since)) / (b - a)


def test_no_station_holds_more_than_fits(story: list[Row]) -> None:
    site = parse_site((HERE / "site.toml").read_text("utf-8"))
    fits = {station.code: station.capacity for station in site.stations}
    at_station: dict[str, set[str]] = defaultdict(set)
    for row in story:
        # A pause frees the station only when the part was stopped and carried off.
        if row["act"] == "begin":
            at_station[row["station"]].add(row["serial"])
            assert len(at_station[row["station"]]) <= fits[row["station"]], row
        elif row["act"] == "end" or row["reason"].startswith("stopped"):
            for there in at_station.values():
                there.discard(row["serial"])


def test_nobody_begins_anything_while_the_site_is_closed(long_story: list[Row]) -> None:
    for row in long_story:
        if row["act"] not in ("begin", "resume", "create"):
            continue
        at = datetime.fromisoformat(row["at"])
        since_monday_06 = at.weekday() * 24 + at.hour - 6
        assert 0 <= since_monday_06 < 126, row  # to Saturday 12:00


def test_offsets_are_those_of_oslo(story: list[Row]) -> None:
    offsets = {row["at"][-6:] for row in story}

    assert offsets == {"+01:00", "+02:00"}
    for row in story:
        at = datetime.fromisoformat(row["at"])
        assert at.utcoffset() == at.astimezone(OSLO).utcoffset()


def test_readings_lie_inside_their_limits_but_for_the_few_found_bad(story: list[Row]) -> None:
    limits = {
        (code, c["code"]): (c.get("lower", -1e99), c.get("upper", 1e99))
        for code, route in ROUTES.items()
        for step in route.values()
        for c in step.get("characteristic", ())
    }
    outside = total = 0
    for row in story:
        if row["act"] == "measure":
            low, high = limits[row["product"], row["characteristic"]]
            outside += not low <= float(row["value"]) <= high
            total += 1

    assert 0.002 < outside / total < 0.03


def test_a_heavy_fan_blade_has_a_large_mass_moment(story: list[Row]) -> None:
    reads: dict[str, dict[str, float]] = {"mass": {}, "moment": {}}
    for row in story:
        if row["product"] == "HF22-BLADE" and row["characteristic"] in reads:
            reads[row["characteristic"]][row["serial"]] = float(row["value"])
    both = sorted(reads["mass"].keys() & reads["moment"].keys())

    moments = [reads["moment"][serial] for serial in both]

    assert mean(moments) == pytest.approx(1_630_000, rel=0.001)
    assert correlation([reads["mass"][serial] for serial in both], moments) > 0.5


def test_the_story_ends_with_a_lot_in_doubt_a_furnace_running_and_sets_in_stock(
    story: list[Row],
) -> None:
    held: dict[str, str] = {}
    furnace: set[str] = set()
    stock: set[str] = set()
    for row in story:
        serial = row["serial"]
        if row["act"] in ("hold", "unhold"):
            held[serial] = row["reason"] if row["act"] == "hold" else ""
        heat = row["step"] and ROUTES[row["product"]][int(row["step"])]["kind"] == "heat-cycle"
        if heat and row["act"] in ("begin", "end"):
            (furnace.add if row["act"] == "begin" else furnace.discard)(serial)
        if row["product"] == "HF22-BLADE" and leaves(row) and row["outcome"] in EXITS:
            stock.add(serial)
        if row["act"] == "send":
            stock.discard(serial)

    assert sum("lot" in reason for reason in held.values()) >= 5
    assert furnace
    assert len(stock) >= 3 * 22


@pytest.mark.parametrize(("product", "steps"), [("HF22-BLADE", 13), ("PT68-BLADE", 15)])
def test_blades_are_at_nearly_every_step(story: list[Row], product: str, steps: int) -> None:
    at: dict[str, str] = {}
    order = list(map(str, ROUTES[product]))
    due = dict(pairwise([*order, "out"]))
    for row in story:
        if row["product"] == product and row["act"] in ("create", "begin", "end"):
            good = row["act"] == "end" and row["outcome"] in EXITS
            at[row["serial"]] = due[row["step"]] if good else row["step"] or order[0]
            if row["outcome"] == "scrap":
                del at[row["serial"]]

    assert len(set(at.values()) - {"out"}) >= steps
