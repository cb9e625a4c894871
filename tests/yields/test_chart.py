"""The chart of a yield on its own page: limits, signals, false signals, the parts behind."""

from __future__ import annotations

import csv
import io
import math
from itertools import pairwise

import pytest
from scipy import stats
from starlette.testclient import TestClient

from ringwright.core.errors import Refused
from ringwright.measure.signals import BEYOND, SIDE
from ringwright.yields.chart_drawing import draw_control
from ringwright.yields.charting import Control, Dot, shares_chart, singles_chart, told_of
from ringwright.yields.depth_asked import asked_rules
from ringwright.yields.model import Trend
from ringwright.yields.rules import share
from ringwright.yields.tally import trend_of
from tests.yields.conftest import BAD
from tests.yields.test_page import WEEKS, plain

CHART = WEEKS.replace("/yield?", "/yield/chart?")
WEEK_NAMES = [f"2026-W{number:02}" for number in range(20, 36)]


def of_weeks(good: list[int], sizes: list[int]) -> Trend:
    shares = [share(k, n) for k, n in zip(good, sizes, strict=True)]
    before = share(sum(good[:8]), sum(sizes[:8]))
    now = share(sum(good[8:]), sum(sizes[8:]))
    return trend_of(WEEK_NAMES, shares, before, now, 8)


def test_each_weeks_limits_are_of_its_own_n_and_a_small_one_signals_nothing() -> None:
    trend = of_weeks(
        [45] * 8 + [45, 30, 2, 45, 45, 45, 45, 88], [50] * 10 + [10] + [50] * 4 + [99]
    )

    dots, centre, _ = shares_chart(trend, (BEYOND,))

    assert centre == pytest.approx(0.9)
    assert [dot.name for dot in dots if dot.broken] == ["2026-W29"]
    assert dots[-1].lower == pytest.approx(0.9 - 3 * math.sqrt(0.09 / 99))
    assert dots[9].lower == pytest.approx(0.9 - 3 * math.sqrt(0.09 / 50))
    assert dots[10].small


def test_false_signals_of_a_week_are_the_binomials_at_its_own_n() -> None:
    """scipy's binomial: shares of 99 past three standard errors round 0.9."""
    trend = of_weeks([45] * 15 + [88], [50] * 15 + [99])

    wrong = shares_chart(trend, (BEYOND,))[2]

    reach = 3 * math.sqrt(0.09 / 99)
    outside = [k for k in range(100) if abs(k / 99 - 0.9) > reach]
    assert wrong == pytest.approx(sum(stats.binom.pmf(k, 99, 0.9) for k in outside))


def test_more_rules_find_more_and_are_wrong_more_often() -> None:
    trend = of_weeks([45] * 8 + [44] * 8, [50] * 16)
    short = of_weeks([46, 44] * 4 + [46] * 8, [50] * 16)

    one, more = shares_chart(trend, (BEYOND,)), shares_chart(trend, (BEYOND, SIDE))

    assert not [dot for dot in one[0] if dot.broken]
    assert not [dot for dot in more[0] if dot.broken]  # eight on one side are one too few
    assert more[2] is not None
    assert one[2] is not None
    assert more[2] > one[2]
    assert not [dot for dot in shares_chart(short, (BEYOND, SIDE))[0] if dot.broken]


def single(place: int, value: float) -> Dot:
    return Dot(name=str(place), begin_us=place, station="F", value=value, n=5, loads=None,
               in_window=True, small=False, lower=None, upper=None)  # fmt: skip


def test_single_values_stand_within_the_moving_ranges() -> None:
    """Limits at the mean and 2.66 mean moving ranges: NIST/SEMATECH e-Handbook, 6.3.2.2."""
    values = [0.8, 0.9, 0.85, 0.8, 0.9, 0.8, 0.85, 0.9, 0.3]
    ranges = [abs(b - a) for a, b in pairwise(values)]
    mean, reach = sum(values) / 9, 3 / (2 / math.sqrt(math.pi)) * sum(ranges) / 8

    dots, centre, a_week = singles_chart(
        [single(n, value) for n, value in enumerate(values)], (BEYOND,), 3
    )

    assert centre == pytest.approx(mean)
    assert dots[0].lower == pytest.approx(mean - reach)
    assert dots[0].upper == 1.0  # a share is at most 1
    assert [dot.name for dot in dots if dot.broken] == ["8"]
    assert a_week == pytest.approx(3 * 2 * stats.norm.sf(3), rel=1e-6)


def test_balloons_of_a_crowded_chart_stand_apart_and_the_latest_is_one() -> None:
    values = [0.5 + 0.01 * (n % 2) for n in range(200)]
    values[196] = values[197] = values[199] = 0.99
    dots, centre, _ = singles_chart(
        [single(n, value) for n, value in enumerate(values)], (BEYOND,), 3
    )
    control = Control(
        kind="elapsed", step=20, in_loads=False, of_loads=False, rules=(BEYOND,), dots=dots,
        centre=centre, from_before=False, false_a_week=0.1, charts=1, false_all=0.1,
    )  # fmt: skip

    drawing = draw_control(control)

    assert [dot.name for dot in control.signals] == ["196", "197", "199"]
    assert [(m.dot.name, m.rank) for m in drawing.marks if m.rank] == [("199", 3)]
    assert drawing.crowded
    assert drawing.ink == ""


def test_an_unknown_rule_or_chart_is_refused() -> None:
    with pytest.raises(Refused, match="chosen by yes"):
        asked_rules(side="lucky")
    with pytest.raises(Refused, match="a chart shows"):
        told_of("pie", [], None)


def test_the_page_opens_a_load_with_its_parts_and_the_file_says_the_same(
    client: TestClient,
) -> None:
    asked = f"{CHART}&step=20&kind=singles&side=yes&four=yes&point={BAD.replace('+', '%2B')}"
    page = client.get(asked)
    answer = client.get(asked.replace("/yield/chart?", "/yield/chart/file.csv?"))
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))

    assert page.status_code == answer.status_code == 200
    text = plain(page.text)
    assert "Inflate: cannot say yet, there are no limits." in text
    assert "nine in a row on one side (Nelson 1984, test 2)" in text
    for serial in ("B2-1", "B2-5"):
        assert f'href="/parts/{serial}"' in page.text
        assert any(serial in row for row in rows)
    assert 'href="/parts/B1-1"' not in page.text
    assert sum("F-1, Wed 23 Sep 11:00" in row for row in rows) == 1
    cells = [cell for row in rows for cell in row]
    assert any("5 points with parts = 0 that signal + 5 that do not" in cell for cell in cells)
    _weeks_open_too(client)


def _weeks_open_too(client: TestClient) -> None:
    page = plain(client.get(f"{CHART}&point=2026-W39").text)
    monday = plain(client.get(f"{CHART}&point=2026-W40").text)
    past = client.get(f"{CHART}&point=2026-W39&as_of=2026-09-22T00:00")

    assert "Final yield at 2026-W39, part by part" in page
    assert page.count(" released ") > 20
    assert monday.count(" scrapped core buckled ") == 3
    assert past.status_code == 200
    assert past.text.count("<td>released</td>") == 5
