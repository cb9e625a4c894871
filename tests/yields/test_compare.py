"""Two groups compared on their page: tests, intervals, and the warning of many."""

from __future__ import annotations

import csv
import io
from itertools import combinations
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep

from ringwright.measure.two_groups import fisher
from ringwright.yields.comparing import compare
from ringwright.yields.depth import TwoGroups, read_comparison
from ringwright.yields.model import Question
from ringwright.yields.rules import share
from tests.make.floor import CODE, Floor
from tests.yields.conftest import make_fans
from tests.yields.test_page import WEEKS, asked, plain

COMPARE = WEEKS.replace("/yield?", "/yield/compare?")


def test_lots_are_compared_by_part_and_loads_where_the_step_works_in_them(
    client: TestClient, bearer: dict[str, str]
) -> None:
    """LOT-0 made loads 0, 2, 4 (12 of 15 out), LOT-1 loads 1 and 3 (10 of 10)."""
    by_part = plain(client.get(f"{COMPARE}&by=lot").text)
    by_load = plain(client.get(f"{COMPARE}&by=lot&step=20").text)
    final = {
        group["key"]: group["final_yield"]
        for group in asked(client, bearer, by="lot")["groups"]
    }

    assert (final["LOT-0"]["n"], final["LOT-1"]["n"]) == (15, 10)
    assert "LOT-0 and LOT-1: chance alone can do this; small n." in by_part
    assert "LOT-0: 80.0 % (12 of 15; 95 per cent interval 54.8 to 93.0), small n" in by_part
    low, high = confint_proportions_2indep(12, 15, 10, 10, method="newcomb")
    told = f"points, 95 per cent interval \N{MINUS SIGN}{-100 * low:.1f} to +{100 * high:.1f}"
    assert f"Difference \N{MINUS SIGN}20.0 {told}" in by_part
    often = round(100 * fisher(12, 15, 10, 10))
    assert f"would come {often} in 100 times (Fisher's exact test" in by_part
    assert "Many comparisons." not in by_part
    assert "LOT-0: 100.0 % (15 of 15;" in by_load
    assert "from 3 loads, small n" in by_load
    assert "(whole loads shared out anew" in by_load
    _many_are_warned_of(client)


def test_every_pair_counts_when_one_is_chosen() -> None:
    """Holm over all six pairs of four groups, by statsmodels."""
    counts = {"A": (19, 20), "B": (18, 20), "C": (8, 20), "D": (20, 20)}
    groups = [
        SimpleNamespace(key=key, final=share(good, n)) for key, (good, n) in counts.items()
    ]
    sheet: Any = SimpleNamespace(by="lot", groups=groups, question=SimpleNamespace(step=None))

    found = compare(sheet, None, "C", "D")

    pairs = list(combinations(counts, 2))
    plain_p = [fisher(*counts[one], *counts[two]) for one, two in pairs]
    wanted = dict(zip(pairs, multipletests(plain_p, method="holm")[1], strict=True))
    assert found.could == 6
    assert found.many
    assert [(pair.a.key, pair.b.key) for pair in found.pairs] == [
        ("C", "A"), ("C", "B"), ("C", "D"),
    ]  # fmt: skip
    for pair in found.pairs:
        assert pair.adjusted == pytest.approx(wanted[min(pair.a.key, pair.b.key),
                                                     max(pair.a.key, pair.b.key)])  # fmt: skip
    assert found.chosen is not None
    assert found.chosen.hard
    assert found.chosen.difference == pytest.approx(-0.6)


def _many_are_warned_of(client: TestClient) -> None:
    """A week has one group; stations at final yield share parts; the file says all of it."""
    week = plain(client.get(COMPARE).text)
    station = plain(client.get(f"{COMPARE}&by=station").text)
    answer = client.get(f"{COMPARE}&by=lot".replace("/compare?", "/compare/file.csv?"))
    cells = [
        c for row in csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))) for c in row
    ]

    assert "2026-W39 and 2026-W40" in week
    assert "Choose a step: one part can be at several" in station
    assert "25 parts in 2 groups: 15 + 10" in cells
    assert "It is the only comparison that could be made here." in cells
    assert client.get(f"{COMPARE}&by=furnace&step=20").status_code == 200
    assert client.get(f"{COMPARE}&by=shift&step=20&as_of=2026-09-25T00:00").status_code == 200


def test_both_stores_tell_loads_and_furnaces_apart_alike(floor: Floor) -> None:
    make_fans(floor)
    for by, groups in (
        ("lot", 2),
        ("station", 1),
        ("furnace", 1),
        ("week", 1),
        ("revision", 1),
    ):
        question = Question(product="FAN", first="2026-W38", last="2026-W40", step=20, by=by)
        with floor.ledger.read(CODE) as read:
            _, found = read_comparison(read, question, TwoGroups())
        assert len(found.sides) == groups, by
        assert sum(side.share.n for side in found.sides) == 25
        assert sum(side.share.loads or 0 for side in found.sides) == 5
