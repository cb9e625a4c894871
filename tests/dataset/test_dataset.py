"""The data set in an engine that knows nothing of us says what the screen says.

Sources: the project's own definitions, as SQL in `docs/dataset/`, run by DuckDB; pandas and
pyarrow read the same files. Wilson's interval stands in the SQL itself.
"""

from __future__ import annotations

import hashlib
import json
import random
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pyarrow.dataset as ds
import pytest

from ringwright.cli import main
from ringwright.core.errors import Refused
from ringwright.core.weeks import week_before, week_of
from ringwright.dataset import parquet, service
from ringwright.dataset.folder import site_folder
from ringwright.dataset.service import write_dataset
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.ledger.service import Ledger
from tests.make import furnaces, states
from tests.make.histories import random_history, random_route
from tests.outside.test_random_histories import WEEKS, Told, open_store, tell_all, us

SQL = Path(__file__).parents[2] / "docs" / "dataset"
WHOLE = {"released": "released_at", "scrapped": "scrapped_at", "used": "used_at"}


class Engine:
    """DuckDB over one data set, with the SQL of the documentation."""

    def __init__(self, folder: Path) -> None:
        self.run = duckdb.connect()
        views = (SQL / "views.sql").read_text()
        self.run.execute(views.replace("$folder", f"'{folder}'"))

    def rows(self, name: str, **asked: str) -> list[dict[str, Any]]:
        """The rows of one documented statement."""
        found = self.run.execute((SQL / f"{name}.sql").read_text(), asked)
        names = [column[0] for column in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found.fetchall()]

    def week(self, site: str, product: str, week: str) -> dict[str, Any]:
        """The numbers of `week --json`, from the documented SQL alone."""
        asked = {"site": site, "product": product, "week": week}
        (counts,), (cycle,) = self.rows("output", **asked), self.rows("cycle_time", **asked)
        (plan,), (cohort,) = self.rows("plan", **asked), self.rows("cohort", **asked)
        return {
            **{name: counts[name] for name in ("output", "scrapped", "created", "target")},
            "wip": {str(row["step"]): row["parts"] for row in self.rows("wip", **asked)},
            "cycle_time_h": {**cycle, "plan": plan["plan_h"]},
            "steps": {row["step"]: row for row in self.rows("steps", **asked)},
            "rolled": self.rows("rolled", **asked)[0]["rolled"],
            "final": [counts[f"final_{name}"] for name in ("yield", "low", "high", "n")],
            "cohort": cohort,
        }


def of_screen(numbers: dict[str, Any]) -> dict[str, Any]:
    """The same from `week --json`; a step without visits is no row of the SQL."""
    final = numbers["final_yield"]
    return {
        **{name: numbers[name] for name in ("output", "scrapped", "created", "target")},
        **{name: numbers[name] for name in ("wip", "cycle_time_h", "cohort")},
        "steps": {s["number"]: _step(s) for s in numbers["steps"] if s["visits"]},
        "rolled": numbers["rolled_throughput_yield"],
        "final": [final[name] for name in ("value", "low", "high", "n")],
    }


def _step(step: dict[str, Any]) -> dict[str, Any]:
    first = step["first_pass_yield"]
    same = ("visits", "first_visits", "first_passes", "rework_ratio")
    return {
        "step": step["number"],
        **{name: step[name] for name in (*same, "touch_h_median", "queue_h_median")},
        "first_pass_yield": first["value"],
        **{name: first[name] for name in ("low", "high")},
    }


def same(found: Any, wanted: Any, where: str) -> None:
    """Equal, figures to eleven digits."""
    if isinstance(wanted, dict):
        assert set(found) == set(wanted), where
        for name in wanted:
            same(found[name], wanted[name], f"{where}.{name}")
    elif isinstance(wanted, list):
        for place, value in enumerate(wanted):
            same(found[place], value, f"{where}[{place}]")
    elif isinstance(wanted, float):
        assert found == pytest.approx(wanted, rel=1e-11, abs=1e-11), where
    else:
        assert found == wanted, where


def agree(ledger: Ledger, folder: Path, site: str, weeks: list[str], as_of: Any = None) -> int:
    """Engine and screen on every product of a site; how many figures were above nought."""
    with ledger.read(site, as_of) as read:
        write_dataset(read, folder)
        engine, told = Engine(folder), 0
        products = engine.run.execute("SELECT DISTINCT product FROM revisions").fetchall()
        held = {week for (week,) in engine.run.execute("SELECT week FROM weeks").fetchall()}
        for (product,) in sorted(products):
            for week in (one for one in weeks if one in held):
                numbers = of_screen(week_json(read_week_numbers(read, product, week)))
                same(engine.week(site, product, week), numbers, f"{product} {week}")
                told += numbers["output"] + numbers["scrapped"] + len(numbers["steps"])
    return told


@pytest.fixture
def states_ledger(store_url: str) -> Iterator[Ledger]:
    """A works in which everything has happened."""
    record = states.open_states(store_url)
    furnaces.tell_runs(record, states.CODE)
    yield record
    record.store.close()


def weeks_up_to(ledger: Ledger, site: str, count: int) -> list[str]:
    with ledger.read(site) as read:
        last = week_of(read.now_us, read.site.zone, read.site.week_starts)
    return [week_before(last, back) for back in range(count)]


def test_the_engine_says_what_the_screen_says_of_a_works_where_all_has_happened(
    states_ledger: Ledger, tmp_path: Path
) -> None:
    weeks = weeks_up_to(states_ledger, states.CODE, 4)

    assert agree(states_ledger, tmp_path / "set", states.CODE, weeks) > 20

    with states_ledger.read(states.CODE) as read:
        manifest = json.loads(next((tmp_path / "set").glob("_site=*.json")).read_text())
        assert manifest["head"] == {"entry": read.head_seq, "hash": read.head_hash}
    account = manifest["account"]
    assert account["balances"]
    table = Engine(tmp_path / "set").run
    for word, column in WHOLE.items():
        (count,) = table.execute(f"SELECT count({column}) FROM parts").fetchone() or (None,)
        assert account[word] == count
    for name, rows in manifest["rows"].items():
        assert table.execute(f"SELECT count(*) FROM {name}").fetchall() == [(rows,)]
    assert manifest["rows"]["readings"] > 0


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(n, marks=pytest.mark.long) for n in (2, 3, 4, 5))]
)
def test_the_engine_says_what_the_screen_says_of_random_histories_then_and_now(
    new_store_url: Callable[[], str], tmp_path: Path, seed: int
) -> None:
    dice = random.Random(f"data set {seed}")
    route = random_route(dice, f"D{seed}")
    zone = ("Europe/Oslo", "America/St_Johns")[seed % 2]
    told = Told(route, zone, random_history(dice, route, 25))
    ledger, clock = open_store(new_store_url(), told)
    tell_all(told, ledger, clock, "data set")
    moments = sorted(datetime.fromisoformat(row["at"]) for row in told.rows)

    assert agree(ledger, tmp_path / "now", "S", list(WEEKS)) > 0
    for place in (len(moments) // 3, 2 * len(moments) // 3):
        then = us(moments[place])
        agree(ledger, tmp_path / "then", "S", list(WEEKS), then)
    ledger.store.close()


def test_a_month_is_read_alone_and_pandas_reads_the_same(
    states_ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parquet, "ROWS_A_GROUP", 7)
    folder = tmp_path / "set"
    with states_ledger.read(states.CODE) as read:
        manifest = write_dataset(read, folder)

    visits = ds.dataset(folder / "visits", partitioning="hive")
    months = sorted({one["path"].split("month=")[1][:7] for one in manifest["files"]
                     if one["path"].startswith("visits/")})  # fmt: skip
    last = ds.field("month") == months[-1]
    assert len(list(visits.get_fragments(last))) == 1 < len(list(visits.get_fragments()))
    one = visits.filter(last)
    frame = pd.read_parquet(folder / "visits")
    assert len(frame) == manifest["rows"]["visits"]
    assert len(one.to_table()) == int((frame["month"].astype(str) == months[-1]).sum())
    begun = frame[frame["month"].astype(str) == months[-1]]["begin_at"]
    assert (begun.dt.strftime("%Y-%m") == months[-1]).all()


def test_the_same_record_gives_the_same_bytes_and_a_digest_of_each_file(
    states_ledger: Ledger, tmp_path: Path
) -> None:
    for name in ("one", "two"):
        with states_ledger.read(states.CODE) as read:
            manifest = write_dataset(read, tmp_path / name)

    found = {path.relative_to(tmp_path / "one"): path.read_bytes()
             for path in (tmp_path / "one").rglob("*") if path.is_file()}  # fmt: skip
    again = {path.relative_to(tmp_path / "two"): path.read_bytes()
             for path in (tmp_path / "two").rglob("*") if path.is_file()}  # fmt: skip
    assert found == again
    assert len(manifest["files"]) == len(found) - 1
    for one in manifest["files"]:
        assert hashlib.sha256(found[Path(one["path"])]).hexdigest() == one["sha256"]


def test_a_rerun_replaces_its_site_and_leaves_others_and_other_things(
    states_ledger: Ledger, tmp_path: Path
) -> None:
    folder = tmp_path / "set"
    other = folder / "visits" / "site=ELSEWHERE" / "month=2026-01"
    with states_ledger.read(states.CODE) as read:
        write_dataset(read, folder)
        shutil.copytree(next((folder / "visits").glob("site=*/*")), other)
        stale = next((folder / "visits").glob(f"site={states.CODE}")) / "month=1999-01"
        stale.mkdir()
        write_dataset(read, folder)

        assert other.is_dir()
        assert not stale.exists()
        assert not list(folder.glob(".ringwright-*"))
        (folder / "holiday.jpg").touch()
        with pytest.raises(Refused, match=r"holiday\.jpg"):
            write_dataset(read, folder)


def test_a_write_that_breaks_off_leaves_the_old_set_whole(
    states_ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "set"
    with states_ledger.read(states.CODE) as read:
        write_dataset(read, folder)
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}

        def full(*_: Any) -> Any:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("ringwright.dataset.service._manifest", full)
        with pytest.raises(OSError, match="No space"):
            write_dataset(read, folder)

    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_practice_site_s_folder_says_so(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    states.open_states(sqlite_url).store.close()
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", sqlite_url)
    assert main(["practice"]) == 0

    assert main(["dataset", str(tmp_path / "set"), "--site", f"{states.CODE}-PRACTICE"]) == 0
    (manifest,) = (tmp_path / "PRACTICE-set").glob("_site=*.json")
    assert json.loads(manifest.read_text())["practice_of"] == states.CODE
    assert not (tmp_path / "set").exists()


@pytest.mark.usefixtures("states_ledger")
def test_the_command_writes_and_says_what(
    store_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", store_url)
    asked = ["dataset", str(tmp_path / "set"), "--site", states.CODE]

    assert main(asked) == 0
    assert "visits" in capsys.readouterr().out
    assert main([*asked, "--as-of", "no time"]) == 2
    (tmp_path / "file").touch()
    assert main(["dataset", str(tmp_path / "file"), "--site", states.CODE]) == 2
    said = capsys.readouterr().err.strip().splitlines()
    assert len(said) == 2
    assert "is a file" in said[1]


def test_a_site_with_a_slash_in_its_code_keeps_its_name_in_the_engine(tmp_path: Path) -> None:
    within = f"revisions/{site_folder('A/1 Ø')}/part-0.parquet"
    columns = service.REVISIONS
    row = ("P", "1", "Name", 0, 1, None, 2.5)
    parquet.write_file(tmp_path / within, parquet.schema_of(columns), [row])

    read = f"read_parquet('{tmp_path}/revisions/*/*.parquet', hive_partitioning = true)"
    found = duckdb.connect().execute(f"SELECT site, plan_h FROM {read}").fetchall()
    assert found == [("A/1 Ø", 2.5)]


def test_time_is_kept_in_utc_to_the_microsecond(states_ledger: Ledger, tmp_path: Path) -> None:
    with states_ledger.read(states.CODE) as read:
        write_dataset(read, tmp_path / "set")
        moment = read.now_us
    schema = ds.dataset(tmp_path / "set" / "visits").schema
    assert str(schema.field("begin_at").type) == "timestamp[us, tz=UTC]"
    frame = pd.read_parquet(tmp_path / "set" / "visits")
    assert frame["begin_at"].max() <= pd.Timestamp(datetime.fromtimestamp(moment / 1e6, UTC))
