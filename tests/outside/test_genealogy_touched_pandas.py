"""What a suspect touched, against a plain computation with pandas from the exported events.

The exported history is read by pandas and asked again from scratch: visits are rebuilt from
begin and end rows, a window keeps what overlaps it, a lot keeps what was created from it or
used it. pandas: W. McKinney, "Data structures for statistical computing in Python", SciPy 2010.
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable, Iterator

import pandas as pd
import pytest

from ringwright.bench.export import history_csv
from tests.trace.works import CODE, Works, line, open_works

STATIONS, LOTS, PEOPLE = ("INF-1", "INF-2"), ("L-1", "L-2", "L-3"), ("mk-1", "in-1")
FAR = pd.Timestamp("2200-01-01", tz="UTC")


def random_story(dice: random.Random, plates: int) -> str:
    """Plates that go through some of their steps at odd hours, in odd lots and hands."""
    rows = []
    for number in range(plates):
        hour, serial = dice.randint(0, 200), f"R-{number:02}"
        rows.append(line(_at(hour), serial, "create", lot=dice.choice(LOTS)))
        for step in (10, 20, 30):
            if dice.random() < 0.15:
                break
            hour += dice.randint(0, 30)
            given = {"step": step, "station": dice.choice(STATIONS), "by": dice.choice(PEOPLE)}
            if dice.random() < 0.3:
                given["lot"] = dice.choice(LOTS)
            rows.append(line(_at(hour), serial, "begin", **given))
            if dice.random() < 0.1:
                break
            hour += dice.randint(0, 30)
            outcome = dice.choices(("pass", "scrap"), (9, 1))[0]
            defect = dice.choice(("crack", "dent")) if outcome == "scrap" else ""
            rows.append(
                line(_at(hour), serial, "end", step=step, outcome=outcome, defect=defect)
            )
            if outcome == "scrap":
                break
    return "".join(rows)


def _at(hour: int) -> str:
    return f"09-{1 + hour // 24:02}T{hour % 24:02}:{(7 * hour) % 60:02}"


@pytest.fixture(params=range(4))
def told(
    request: pytest.FixtureRequest, new_sqlite_url: Callable[[], str]
) -> Iterator[tuple[Works, pd.DataFrame]]:
    """A random works, and its exported events as pandas reads them."""
    works = open_works(new_sqlite_url(), random_story(random.Random(request.param), 40))
    with works.ledger.read(CODE) as read:
        text = history_csv(read)
    frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    frame["at"] = pd.to_datetime(frame["at"], utc=True, format="ISO8601")
    yield works, frame
    works.ledger.store.close()


def visits_of(frame: pd.DataFrame) -> pd.DataFrame:
    """Begin rows with the end of the same part and step behind them; FAR while open."""
    keys = ["serial", "step"]
    begun = frame[frame["act"] == "begin"].copy()
    ended = frame[frame["act"] == "end"][[*keys, "at", "defect"]]
    found = begun.merge(ended, on=keys, how="left", suffixes=("", "_end"))
    found["at_end"] = found["at_end"].fillna(FAR)
    return found


def window(dice: random.Random) -> tuple[str, str, pd.Timestamp, pd.Timestamp]:
    """A random window of up to four days, as an address and as pandas says it."""
    start = dice.randint(0, 220)
    end = start + dice.randint(1, 96)
    texts = [f"2026-{_at(hour)}+02:00" for hour in (start, end)]
    first, last = (pd.Timestamp(text).tz_convert("UTC") for text in texts)
    return texts[0], texts[1], first, last


def test_a_station_in_a_window_touches_what_pandas_finds(
    told: tuple[Works, pd.DataFrame],
) -> None:
    works, frame = told
    visits, dice = visits_of(frame), random.Random(7)
    found = 0
    for _ in range(12):
        since, until, first, last = window(dice)
        for station in STATIONS:
            overlap = (visits["at"] < last) & (
                (visits["at"] >= first) | (visits["at_end"] > first)
            )
            expected = set(visits[(visits["station"] == station) & overlap]["serial"])
            touched = works.touched(station=station, since=since, until=until)
            assert set(touched.serials) == expected
            found += len(expected)
    assert found > 30


def test_lots_people_steps_and_defects_touch_what_pandas_finds(
    told: tuple[Works, pd.DataFrame],
) -> None:
    works, frame = told
    visits = visits_of(frame)
    created = frame[frame["act"] == "create"]
    for lot in LOTS:
        both = {
            *created[created["lot"] == lot]["serial"],
            *visits[visits["lot"] == lot]["serial"],
        }
        assert set(works.touched(lot=lot).serials) == both
    for person in PEOPLE:
        expected = set(visits[visits["by"] == person]["serial"])
        assert set(works.touched(person=person).serials) == expected
    for step in ("10", "20", "30"):
        expected = set(visits[visits["step"] == step]["serial"])
        assert set(works.touched(step=f"PLATE/{step}").serials) == expected
    for defect in ("crack", "dent"):
        expected = set(visits[visits["defect_end"] == defect]["serial"])
        assert set(works.touched(defect=defect).serials) == expected


def test_where_they_are_now_is_what_their_last_rows_say(
    told: tuple[Works, pd.DataFrame],
) -> None:
    works, frame = told
    scrapped = set(frame[frame["outcome"] == "scrap"]["serial"])
    released = set(frame[(frame["step"] == "30") & (frame["outcome"] == "pass")]["serial"])
    open_now = visits_of(frame)
    in_work = set(open_now[open_now["at_end"] == FAR]["serial"])

    for station in STATIONS:
        for part in works.touched(station=station).parts:
            expected = (
                "scrapped" if part.serial in scrapped
                else "released" if part.serial in released
                else "in work" if part.serial in in_work
                else "waiting"
            )  # fmt: skip
            assert part.standing.place == expected
