"""Whole cells as files, through the commands: the week's numbers against pandas; bad rows.

The outside voice is pandas with statsmodels (`tests/outside/reference.py`); which rows are bad
is the project's own contract, judged by where the generator knows each part to stand.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from ringwright.cli import main
from tests.make.bad_rows import OF_THE_PART, OF_THE_ROW, bad_by_itself, bad_row_after
from tests.make.cells import Cell, as_csv, random_cell
from tests.outside.reference import site_week, week_numbers

Row = dict[str, str]
Tell = Callable[..., tuple[int, str, str]]
SEEDS = [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(1, 5))]


@pytest.fixture
def tell(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Tell:
    """Runs a command on a store: exit code, what it printed, what it complained of."""

    def run(url: str, *words: str, text: str = "", now: datetime | None = None) -> Any:
        monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", url)
        monkeypatch.setenv(
            "RINGWRIGHT_NOW", (now or datetime(2027, 3, 1, tzinfo=UTC)).isoformat()
        )
        file = tmp_path / "told"
        file.write_text(text, encoding="utf-8")
        code = main([*(str(file) if word == "FILE" else word for word in words)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def furnish(tell: Tell, url: str, cell: Cell) -> None:
    assert tell(url, "load", "site", "FILE", text=cell.site())[0] == 0
    for route in cell.routes:
        said = tell(url, "load", "route", "FILE", "--site", cell.code, text=route.toml())
        assert said[0] == 0, said


def load(tell: Tell, url: str, cell: Cell, rows: list[Row], *more: str) -> tuple[int, str, str]:
    return tell(url, "load", "history", "FILE", "--site", cell.code, *more, text=as_csv(rows))


def flat(value: Any, path: str = "") -> dict[str, Any]:
    """Every number by its path."""
    if isinstance(value, dict):
        return {
            p: v
            for name, under in value.items()
            for p, v in flat(under, f"{path}/{name}").items()
        }
    if isinstance(value, list):
        return {
            p: v for n, under in enumerate(value) for p, v in flat(under, f"{path}/{n}").items()
        }
    return {path: value}


def near(found: Any, expected: Any) -> bool:
    """Equal; numbers to nine digits."""
    if isinstance(expected, float) and isinstance(found, int | float):
        return abs(found - expected) <= 1e-9 * max(1.0, abs(expected))
    return bool(found == expected)


def wanted(cell: Cell, product: str, week: str, now: datetime, before: datetime | None) -> Any:
    route = next(route for route in cell.routes if route.product == product)
    rows = [row for life in cell.lives if life.route is route for row in life.rows]
    numbers = week_numbers(
        rows, route.steps, cell.zone, week, now, before=before, week_starts=cell.week_starts
    )
    numbers["cycle_time_h"]["plan"] = 4.5 * len(route.steps)
    for step in numbers["steps"]:
        step["name"] = f"Step {step['number']}"
    return numbers | {"product": product, "week": week, "target": float(route.target)}


def agree(
    tell: Tell, url: str, cell: Cell, before: datetime | None = None, **clock: Any
) -> None:
    now = clock.get("now", datetime(2027, 3, 1, tzinfo=UTC))
    for life in {life.route.product: life for life in cell.lives if life.rows}.values():
        for week in cell.weeks():
            words = ["week", "--product", life.route.product, "--week", week, "--json"]
            if before is not None:
                words += ["--as-of", before.isoformat()]
            code, out, err = tell(url, *words, "--site", cell.code, now=now)
            assert code == 0, err
            answer = json.loads(out)
            start, end = (datetime.fromisoformat(answer.pop(name)) for name in ("from", "to"))
            assert (start, end) == site_week(week, cell.zone, cell.week_starts)
            assert start.utcoffset() is not None
            expected = flat(wanted(cell, life.route.product, week, now, before))
            found = flat(answer)
            wrong = {p: (found[p], v) for p, v in expected.items() if not near(found[p], v)}
            assert wrong == {}, (life.route.product, week, before)
            assert answer["wip"].keys() == {
                path.split("/")[2] for path in expected if path.startswith("/wip/")
            }


@pytest.mark.parametrize("seed", SEEDS)
def test_a_cell_loaded_from_files_gives_the_numbers_pandas_gives(
    seed: int, new_store_url: Callable[[], str], tell: Tell
) -> None:
    dice = random.Random(f"cell {seed}")
    cell, url = random_cell(dice, 40), new_store_url()
    rows = cell.lines(dice)
    furnish(tell, url, cell)

    code, out, err = load(tell, url, cell, rows)

    assert code == 0, err
    count = sum(len(life.rows) for life in cell.lives)
    assert [int(n) for n in re.findall(r"\d+", out)][:3] == [count, 0, len(rows) - count]
    agree(tell, url, cell)
    assert load(tell, url, cell, rows)[1].startswith("0 events added")
    assert tell(url, "replay", "--compare")[0] == 0
    assert tell(url, "audit")[0] == 0


@pytest.mark.parametrize("seed", SEEDS)
def test_as_of_a_moment_is_what_a_store_cut_there_says(
    seed: int, new_store_url: Callable[[], str], tell: Tell
) -> None:
    dice = random.Random(f"cut {seed}")
    cell = random_cell(dice, 30)
    moments = [datetime.fromisoformat(row["at"]) for life in cell.lives for row in life.rows]
    before = dice.choice(moments).astimezone(UTC)  # an event at the very moment is not known
    whole, cut = new_store_url(), new_store_url()
    rows = cell.lines(dice)
    early = [row for row in rows if datetime.fromisoformat(row["at"]) < before]
    for url, told in ((whole, rows), (cut, early)):
        furnish(tell, url, cell)
        assert load(tell, url, cell, told)[0] == 0

    for product in {life.route.product for life in cell.lives}:
        for week in cell.weeks():
            words = (
                "week",
                "--product",
                product,
                "--week",
                week,
                "--json",
                "--site",
                cell.code,
            )
            past = tell(whole, *words, "--as-of", before.isoformat())
            assert past == tell(cut, *words, now=before), (product, week)
    agree(tell, whole, cell, before)


def spoil(dice: random.Random, cell: Cell) -> tuple[dict[int, tuple[int, Row]], dict[str, str]]:
    """A bad row of each kind, each in the life of a part of its own; their keys and kinds."""
    placed: dict[int, tuple[int, Row]] = {}
    kinds: dict[str, str] = {}
    for name, where, says in OF_THE_PART:
        free = [place for place in range(len(cell.lives)) if place not in placed]
        for place in dice.sample(free, len(free)):
            found = bad_row_after(where, says, cell.lives[place], dice)
            if found is not None:
                found[1]["key"] = f"bad {place}"
                placed[place], kinds[f"bad {place}"] = found, name
                break
    return placed, kinds


@pytest.mark.parametrize("seed", SEEDS)
def test_every_bad_row_is_named_and_no_good_one(
    seed: int, new_store_url: Callable[[], str], tell: Tell
) -> None:
    dice = random.Random(f"bad {seed}")
    cell, url = random_cell(dice, 45), new_store_url()
    furnish(tell, url, cell)
    placed, kinds = spoil(dice, cell)
    rows: list[Row] = []
    for place, life in enumerate(cell.lives):
        for number, row in enumerate(life.rows):
            rows.append(row)
            if place in placed and placed[place][0] == number:
                rows.append(placed[place][1])
    for number, (name, says) in enumerate(OF_THE_ROW):
        row = bad_by_itself(says, cell, number)
        rows.insert(dice.randrange(len(rows)), row)
        kinds[row["key"]] = name
    bad = {
        number: kinds[row["key"]] for number, row in enumerate(rows, 2) if row["key"] in kinds
    }

    code, out, err = load(tell, url, cell, rows)

    named = {int(number) for number in re.findall(r"(?m)^(?:ringwright: )?line (\d+): .", err)}
    assert (code, out) == (2, "")
    assert "Traceback" not in err
    assert {bad[line] for line in bad.keys() - named} == set(), "not named"
    assert {(n, str(rows[n - 2])) for n in named - bad.keys()} == set(), "named, but good"
    without = [row for row in rows if row["key"] not in kinds]
    added = load(tell, url, cell, without)[1]
    assert added.startswith(f"{len(without)} events added, 0 were there")


@pytest.mark.parametrize("name", ["serial", "defect", "lot", "station", "by"])
def test_a_space_hides_no_sign_that_a_spreadsheet_would_run(
    name: str, new_sqlite_url: Callable[[], str], tell: Tell
) -> None:
    cell, url = random_cell(random.Random("space"), 1), new_sqlite_url()
    furnish(tell, url, cell)

    code, _out, err = load(tell, url, cell, [bad_by_itself({name: " =1"}, cell, 0)])

    assert (code, err.count("line 2: ")) == (2, 1)


@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.slow)])
def test_times_without_an_offset_are_read_in_the_zone_named(
    seed: int, new_store_url: Callable[[], str], tell: Tell
) -> None:
    dice = random.Random(f"zone {seed}")
    cell, url = random_cell(dice, 20), new_store_url()
    furnish(tell, url, cell)
    rows = [row for life in cell.lives for row in life.rows]
    minutes = timedelta(minutes=345)  # Kathmandu knows no clock change
    naive = [
        row | {"at": (datetime.fromisoformat(row["at"]).astimezone(UTC) + minutes)
                     .replace(tzinfo=None).isoformat()}
        for row in rows
    ]  # fmt: skip

    code, _out, err = load(tell, url, cell, naive)

    assert (code, len(re.findall(r"line \d+: ", err))) == (2, len(rows))
    assert load(tell, url, cell, naive, "--zone", "Asia/Kathmandu")[0] == 0
    assert load(tell, url, cell, rows)[1].startswith("0 events added")
    agree(tell, url, cell)
