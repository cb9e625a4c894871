"""The corridor of good runs in the record: who makes it, who is tried by it, what it says.

How the corridor and its back test are reckoned is held against pandas and drawn runs in
`tests/outside/test_envelope_pandas.py` and `tests/heat/`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sqlalchemy import event
from starlette.testclient import TestClient

from ringwright.core.instants import parse_instant
from ringwright.furnaces.queries import read_run
from ringwright.furnaces.service import ReviseRecipe, SetFurnace
from ringwright.heat.back_test import EARLY, QUIET, TOO_FEW
from ringwright.heat.minutes import minute_by_minute
from ringwright.heat.trace import Trace
from ringwright.heatruns.breaking import broken_min, cut
from ringwright.heatruns.departing import Departure, departure, departure_text
from ringwright.heatruns.envelopes import GoodRuns, minutely, read_good_runs
from ringwright.kit.numbers import Figures
from ringwright.kit.words import words_of
from ringwright.ledger.remembered import forget_everything
from ringwright.settings import Settings
from ringwright.web.factory import create_app
from tests.make.figures import csv_table, drawn_sheets, shown_only
from tests.make.floor import CODE, MINUTE_US, QUALITY
from tests.make.furnaces import CYCLE, HOT, RECIPE, Hall, open_hall
from tests.make.heat_weeks import at, begin, end
from tests.make.html import read
from tests.make.signing import signed_in

FIRST = parse_instant("2026-09-28T08:00:00+02:00")
EVERY_US = 4 * 60 * MINUTE_US
MINUTES = 130


def cycle(
    began_us: int, seed: int, sag_c_per_min: float = 0.0, minutes: int = MINUTES
) -> Trace:
    """Up to 900 degC in an hour and held; from minute 80 on it may sag."""
    dice = np.random.default_rng(seed)
    minute = np.arange(minutes + 1, dtype=np.float64)
    level = 20.0 + np.minimum(minute / 60.0, 1.0) * 880.0 + dice.normal(0.0, 0.4)
    level -= sag_c_per_min * np.maximum(minute - 80.0, 0.0)
    return Trace(
        at_s=began_us / 1e6 + minute * 60.0,
        temperatures_c={
            name: level + side + dice.normal(0.0, 0.05, minute.size)
            for name, side in (("tc1_c", 1.0), ("tc2_c", -1.0))
        },
    )


@pytest.fixture
def hall(sqlite_url: str) -> Hall:
    """A furnace whose thermocouples last."""
    found = open_hall(sqlite_url)
    lasting = tuple(replace(one, most_uses=None) for one in HOT.channels)
    plain = replace(HOT, proofs={}, channels=lasting)
    found.floor.do(SetFurnace(furnace=plain, key="plain"), QUALITY)
    return found


def good(hall: Hall, place: int) -> str:
    """The run at a place in the row, accepted."""
    began = FIRST + place * EVERY_US
    run = begin(hall, began, [f"G-{place}"])
    end(hall, run, MINUTES, trace=cycle(began, place))
    hall.accept(run)
    return run


def bad(hall: Hall, place: int) -> str:
    """One that sags by 0.2 degC a minute from minute 80 on: past its 8 degC in minute 120."""
    began = FIRST + place * EVERY_US
    run = begin(hall, began, [f"B-{place}"])
    end(hall, run, 180, trace=cycle(began, place, 0.2, 180))
    return run


def found_of(hall: Hall) -> GoodRuns:
    with hall.floor.ledger.read(CODE) as read_:
        return read_good_runs(read_, RECIPE)


def left(hall: Hall, code: str) -> Departure | None:
    with hall.floor.ledger.read(CODE) as read_:
        run = read_run(read_.connection, read_.site.id, code)
        assert run is not None
        return departure(read_, run)


@pytest.mark.parametrize("seed", range(8))
def test_a_trace_by_the_minute_reads_as_the_whole(seed: int) -> None:
    dice = np.random.default_rng(seed)
    at_s = np.cumsum(dice.choice([0.5, 7.0, 30.0, 60.0, 61.0, 400.0], 300))
    values = {name: dice.normal(500.0, 5.0, 300) for name in ("tc1_c", "tc2_c")}
    values["tc1_c"][dice.random(300) < 0.2] = np.nan
    whole = Trace(at_s=1e9 + at_s, temperatures_c=values, pressure_kpa=dice.normal(80, 1, 300))

    np.testing.assert_allclose(
        minute_by_minute(minutely(whole)), minute_by_minute(whole), rtol=1e-12
    )


def test_a_limit_is_broken_from_the_first_minute_that_nothing_can_mend() -> None:
    """The edge of the band, 908 degC, is passed for good between minutes 75 and 76."""
    trace = cycle(FIRST, 1)
    hot = {name: values.copy() for name, values in trace.temperatures_c.items()}
    hot["tc1_c"][76:80] = 912.0
    spoilt = Trace(at_s=trace.at_s, temperatures_c=hot)

    assert broken_min(spoilt, CYCLE) == 76.0
    assert broken_min(trace, CYCLE) is None


def test_of_a_soak_that_is_too_short_the_moment_is_when_it_left_its_band() -> None:
    """It cools from minute 100 on by 4 degC a minute: below 892 degC after two minutes."""
    whole = cycle(FIRST, 1)
    minute = (whole.at_s - whole.at_s[0]) / 60.0
    cooled = {
        name: values - 4.0 * np.maximum(minute - 100.0, 0.0)
        for name, values in whole.temperatures_c.items()
    }

    assert broken_min(Trace(at_s=whole.at_s, temperatures_c=cooled), CYCLE) == pytest.approx(
        101.0, abs=1.0
    )


def test_what_was_never_reached_is_no_moment() -> None:
    warm = cut(cycle(FIRST, 1), -np.inf, FIRST / 1e6 + 40 * 60.0)

    assert broken_min(warm, CYCLE) is None


def test_a_sagging_run_breaks_its_limit_when_it_leaves_the_band() -> None:
    """The colder one, a degree below, is below 892 degC from about minute 115."""
    assert broken_min(cycle(FIRST, 3, 0.2, 180), CYCLE) == pytest.approx(115.0, abs=5.0)


def test_ten_accepted_runs_make_a_corridor_and_a_bad_one_is_seen_early(
    hall: Hall, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in range(9):
        good(hall, place)
    assert found_of(hall).envelope is None
    assert found_of(hall).good == 9
    for place in range(9, 12):
        good(hall, place)
    spoilt = bad(hall, 12)

    found = found_of(hall)
    told = {one.run: one for one in found.test.runs}

    assert found.envelope is not None
    assert found.envelope.runs == 12
    assert [one.outcome for one in found.test.runs][:10] == [TOO_FEW] * 10
    assert {one.outcome for one in found.test.runs[10:12]} <= {QUIET, "false alarm"}
    assert told[spoilt].outcome == EARLY
    assert told[spoilt].past_runs == 12
    assert told[spoilt].early_min is not None
    # It is 3 degC below its like by minute 95 or so, and out of its band 20 minutes later.
    assert (told[spoilt].early_min or 0.0) > 10
    assert (found.left_out, found.not_walked) == (0, 0)

    # Of more runs than are walked through, all are counted, and the corridor is the same.
    monkeypatch.setattr("ringwright.heatruns.envelopes.MOST", 4)
    few = found_of(hall)
    assert (few.good, few.not_walked, len(few.runs)) == (12, 9, 4)
    assert few.envelope is not None
    assert few.envelope.runs == 12


def test_aborted_runs_and_those_of_another_revision_make_no_corridor(hall: Hall) -> None:
    good(hall, 0)
    run = begin(hall, FIRST + EVERY_US, ["A-1"])
    at(hall, FIRST + EVERY_US + 30 * MINUTE_US)
    hall.abort(run)
    assert (found_of(hall).good, found_of(hall).left_out) == (1, 1)

    hall.floor.do(ReviseRecipe(recipe=replace(CYCLE, revision="2"), key="r2"), QUALITY)
    good(hall, 2)

    newest = found_of(hall)
    assert newest.revisions == ("1", "2")
    assert (newest.recipe.revision, newest.good) == ("2", 1)


def test_a_run_that_goes_on_is_told_when_it_left(hall: Hall) -> None:
    for place in range(10):
        good(hall, place)
    began = FIRST + 10 * EVERY_US
    run = begin(hall, began, ["R-1"])
    whole = cycle(began, 10, 0.2, 180)

    assert left(hall, run) is None, "nothing was read yet"
    at(hall, began + 82 * MINUTE_US)
    hall.keep(run, cut(whole, -np.inf, began / 1e6 + 80 * 60))
    assert left(hall, run) is None
    at(hall, began + 112 * MINUTE_US)
    hall.keep(run, cut(whole, began / 1e6 + 80 * 60 + 1, began / 1e6 + 110 * 60))

    seen = left(hall, run)
    assert seen is not None
    assert 82 < seen.found.minute <= 110
    assert seen.at_us == began + seen.found.minute * MINUTE_US
    zone = ("Europe/Oslo", hall.floor.clock.at_us)
    assert seen.before_min is None, "it is within its limits yet"
    text = departure_text(seen, words_of("en"), Figures("en"), zone)
    assert text.startswith("left the good runs' corridor at ")
    assert f", minute {seen.found.minute}: " in text
    assert text.endswith("below")
    assert "\u202f°C" in text

    at(hall, began + 142 * MINUTE_US)
    hall.keep(run, cut(whole, began / 1e6 + 110 * 60 + 1, began / 1e6 + 140 * 60))
    late = left(hall, run)
    assert late is not None
    assert late.found == seen.found
    # It is out of its band for good from about minute 115 on, as by itself above.
    limit_min = broken_min(cycle(began, 10, 0.2, 180), CYCLE)
    assert limit_min is not None
    assert late.before_min == pytest.approx(limit_min - late.found.minute, abs=1.0)
    text = departure_text(late, words_of("en"), Figures("en"), zone)
    assert text.endswith(f"below; {late.before_min:.0f} minutes before a limit was broken")


def test_a_decided_run_has_left_nothing(hall: Hall) -> None:
    for place in range(10):
        good(hall, place)

    assert left(hall, "HF-1-0003") is None


def test_past_runs_are_read_once(hall: Hall) -> None:
    """A booking elsewhere changes the head, not the past: no trace is unpacked again."""
    for place in range(10):
        good(hall, place)
    forget_everything()
    asked: list[str] = []
    engine = hall.floor.ledger.store.engine
    event.listen(engine, "before_cursor_execute", lambda *a: asked.append(a[2]))

    first = found_of(hall)
    cold = sum("attachment" in one for one in asked)
    asked.clear()
    hall.floor.book("create", "X-1", product="SAIL")
    asked.clear()
    second = found_of(hall)

    assert cold >= 10
    assert sum("attachment" in one for one in asked) == 0
    assert second.envelope is first.envelope


@pytest.fixture
def client(hall: Hall) -> TestClient:
    for place in range(11):
        good(hall, place)
    bad(hall, 11)
    url = str(hall.floor.ledger.store.engine.url)
    app = create_app(Settings(database_url=url), hall.floor.ledger)
    browser = TestClient(app, follow_redirects=False)
    signed_in(browser, hall.floor.ledger, "sup-1")
    return browser


def test_the_page_says_it_in_a_supervisor_s_words(client: TestClient) -> None:
    answer = client.get(f"/furnace/recipes/{RECIPE}/envelope")
    page = " ".join(" ".join(read(answer.text).texts).split())

    assert answer.status_code == 200
    assert "1 of 1 bad run flagged early, by " in page
    assert "min before its limit broke" in page
    assert "HF-1-0012" in page
    assert "small n" in page
    assert "c-corridor__ring" in answer.text, "the held run lies over it"
    assert "not compared: fewer than 10 good runs were known then" in page


def test_a_past_run_can_be_laid_over_it(client: TestClient) -> None:
    path = f"/furnace/recipes/{RECIPE}/envelope"

    page = client.get(f"{path}?run=HF-1-0002").text
    assert "Laid over it: HF-1-0002" in page
    assert client.get(f"{path}?run=HF-1-0099").status_code == 404
    assert client.get(f"{path}?revision=7").status_code == 404
    assert client.get("/furnace/recipes/NONE/envelope").status_code == 404


@pytest.mark.parametrize("code", ["sums", "back test"])
def test_the_file_says_what_the_screen_says(client: TestClient, code: str) -> None:
    path = f"/furnace/recipes/{RECIPE}/envelope"
    drawn = drawn_sheets(client.get(path).text).found[code]
    file = client.get(f"{path}/file.csv?sheet={code}")

    rows = shown_only(csv_table(file.content)[1])
    assert [[" ".join(c.split()) for c in row] for row in drawn[1:]] == [
        [" ".join(c.split()) for c in row] for row in rows[1:]
    ]


@pytest.mark.parametrize("path", ["/furnace", "/furnace/runs/HF-1-0013"])
def test_furnace_and_run_say_that_it_has_left(
    client: TestClient, hall: Hall, path: str
) -> None:
    began = FIRST + 13 * EVERY_US
    run = begin(hall, began, ["R-1"])
    assert run == "HF-1-0013"
    signed_in(client, hall.floor.ledger, "sup-1")
    said = "Left the good runs' corridor at "
    assert said not in told(client, path)
    at(hall, began + 112 * MINUTE_US)
    hall.keep(run, cut(cycle(began, 12, 0.2, 180), -np.inf, began / 1e6 + 110 * 60))
    signed_in(client, hall.floor.ledger, "sup-1")

    page = told(client, path)

    assert said in page
    assert "the corridor of 11 good runs; of good runs" in page
    assert f"/furnace/recipes/{RECIPE}/envelope?revision=1&amp;run={run}" in (
        client.get(path).text
    )


def told(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text[:500]
    return " ".join(" ".join(read(answer.text).texts).split())
