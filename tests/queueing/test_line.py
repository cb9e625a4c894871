"""Bounds of a line and queues of like servers, against published lines and queues.

`penny_fab.csv`: the two lines of Hopp & Spearman, Factory Physics, 3rd ed., chapter 7, their
curves by its laws. `mmc_erlang_c.csv`: worked examples, each row with its source.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.queueing.erlang import erlang_c, waiting
from ringwright.queueing.hours import Hours, hours_of, length, mean_number, merged
from ringwright.queueing.line import AS_PRACTICAL, AS_WORST, Line, LineStation, line_of

HERE = Path(__file__).parent
ONE = [LineStation(touch_h=2.0)] * 4
TWO = [
    LineStation(touch_h=hours, machines=machines)
    for hours, machines in ((2.0, 1), (5.0, 2), (10.0, 6), (3.0, 2))
]


def _rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row", _rows("penny_fab.csv"), ids=lambda r: f"{r['line'][:13]}{r['wip']}"
)
def test_the_published_lines(row: dict[str, str]) -> None:
    line = line_of(ONE if "fab one" in row["line"] else TWO)
    wip = int(row["wip"])
    best, worst, practical = line.best(wip), line.worst(wip), line.practical_worst(wip)
    found = {
        "rb_per_h": line.rate_per_h, "T0_h": line.raw_h, "W0": line.critical_wip,
        "TH_best": best.rate_per_h, "CT_best": best.cycle_h,
        "TH_worst": worst.rate_per_h, "CT_worst": worst.cycle_h,
        "TH_pwc": practical.rate_per_h, "CT_pwc": practical.cycle_h,
    }  # fmt: skip

    assert found == {name: pytest.approx(float(row[name]), abs=6e-7) for name in found}


def test_rework_takes_of_the_rate_and_adds_to_the_time() -> None:
    line = line_of([LineStation(touch_h=2.0, passes=1.5), LineStation(touch_h=1.0)])

    assert line.rate_per_h == pytest.approx(1 / 3)
    assert line.raw_h == pytest.approx(4.0)


def test_a_line_is_judged_by_its_practical_worst_case() -> None:
    line = line_of(ONE)

    assert line.standing(4, 0.29) == AS_PRACTICAL
    assert line.standing(4, 0.28) == AS_WORST


@given(wip=st.floats(1, 500), rate=st.floats(0.01, 10), raw=st.floats(0.1, 500))
def test_the_bounds_keep_their_order_and_littles_law(
    wip: float, rate: float, raw: float
) -> None:
    line = Line(rate_per_h=rate, raw_h=max(raw, 1 / rate))
    best, middle, worst = line.best(wip), line.practical_worst(wip), line.worst(wip)

    assert best.rate_per_h >= middle.rate_per_h * (1 - 1e-9)
    assert middle.rate_per_h >= worst.rate_per_h * (1 - 1e-9)
    for case in (best, middle, worst):
        assert case.rate_per_h * case.cycle_h == pytest.approx(wip)


def test_what_is_no_line_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a bottleneck rate"):
        line_of([])
    with pytest.raises(ValueError, match="from one part"):
        line_of(ONE).best(0)


@pytest.mark.parametrize(
    "row", _rows("mmc_erlang_c.csv"), ids=lambda r: f"c{r['c']}-{r['rho']}"
)
def test_the_published_queues(row: dict[str, Any]) -> None:
    found = waiting(float(row["lambda"]), 1 / float(row["mu"]), int(row["c"]))

    assert found.use == pytest.approx(float(row["rho"]), abs=6e-7)
    assert found.waits == pytest.approx(float(row["erlang_C"]), abs=6e-7)
    assert found.queue == pytest.approx(float(row["Lq"]), abs=6e-7)
    assert found.queue_h == pytest.approx(float(row["Wq"]), abs=6e-7)


def test_a_queue_without_an_end_is_refused() -> None:
    with pytest.raises(ValueError, match="no end"):
        erlang_c(3.0, 3)
    with pytest.raises(ValueError, match="one server"):
        erlang_c(0.5, 0)


def test_a_stations_hours_go_where_they_went() -> None:
    """Worked 0-10 and 20-30: in use 2-6 by two parts, shut 5-8, parts waited 7-22."""
    found = hours_of([(0, 10), (20, 30)], [(2, 5), (4, 6)], [(5, 8)], [(7, 15), (12, 22)])

    assert found == Hours(in_use_us=4, shut_us=2, passed_by_us=4, starved_us=10)
    assert found.use == pytest.approx(0.2)
    assert Hours().use is None


SPANS = st.lists(
    st.tuples(st.integers(0, 40), st.integers(0, 40)).map(lambda s: (min(s), max(s))),
    max_size=6,
)


@given(working=SPANS, used=SPANS, shut=SPANS, waiting_spans=SPANS)
def test_no_hour_is_lost_or_counted_twice(
    working: list[tuple[int, int]],
    used: list[tuple[int, int]],
    shut: list[tuple[int, int]],
    waiting_spans: list[tuple[int, int]],
) -> None:
    open_time = merged(working)
    found = hours_of(open_time, used, shut, waiting_spans)

    def there(spans: list[tuple[int, int]], at: int) -> bool:
        return any(begin <= at < end for begin, end in spans)

    ticks = [at for at in range(40) if there(working, at)]
    idle = [at for at in ticks if not there(used, at) and not there(shut, at)]
    assert found.working_us == length(open_time) == len(ticks)
    assert found.in_use_us == sum(there(used, at) for at in ticks)
    assert found.passed_by_us == sum(there(waiting_spans, at) for at in idle)


def test_a_mean_number_weighs_by_time() -> None:
    assert mean_number([(0, 10), (5, 30)], 0, 20) == pytest.approx(1.25)
    with pytest.raises(ValueError, match="span of time"):
        mean_number([], 5, 5)
