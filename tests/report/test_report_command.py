"""The command's files against `week --json`, against pandas over the visits, and twice."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from pypdf import PdfReader

from ringwright.cli import main
from tests.make import practice, shop

ASKED = ("--product", "VANE", "--week", "2026-W40")


@pytest.fixture
def store(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> str:
    shop.open_shop(sqlite_url).store.close()
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", sqlite_url)
    monkeypatch.setenv("RINGWRIGHT_NOW", "2026-10-06T08:00:00+02:00")
    return sqlite_url


def made(folder: Path, *words: str) -> dict[str, bytes]:
    folder.mkdir()
    assert main(["report", *ASKED, "--to", str(folder), *words]) == 0
    return {path.suffix[1:]: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.usefixtures("store")
def test_every_form_says_the_numbers_of_week_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week", *ASKED, "--json"]) == 0
    wanted = json.loads(capsys.readouterr().out)
    files = made(tmp_path / "out")

    book = openpyxl.load_workbook(io.BytesIO(files["xlsx"]), data_only=True)
    steps = pd.DataFrame(book["VANE steps"].values)
    steps = steps.set_axis(steps.iloc[0], axis=1).iloc[1:]
    assert list(steps["first-pass yield, %"]) == [
        step["first_pass_yield"]["value"] for step in wanted["steps"]
    ]
    assert list(steps["touch, h"]) == [step["touch_h_median"] for step in wanted["steps"]]
    account = dict(zip(*book["VANE account"].values, strict=True))
    assert account["released, parts"] == wanted["output"]
    assert account["scrapped, parts"] == wanted["scrapped"]
    assert account["closing, parts"] == sum(wanted["wip"].values())
    times = {row[0]: row[1] for row in book["VANE cycle time"].values}
    assert times["median"] == wanted["cycle_time_h"]["median"]
    assert times["90th percentile"] == wanted["cycle_time_h"]["p90"]

    lines = list(csv.reader(io.StringIO(files["csv"].decode(), newline="")))
    final = next(line for line in lines if line[0] == "final")
    assert float(final[2]) == wanted["final_yield"]["value"]

    text = " ".join(
        " ".join(page.extract_text().split())
        for page in PdfReader(io.BytesIO(files["pdf"])).pages
    )
    assert f"output {wanted['output']} target {wanted['target']:.0f}" in text
    value = wanted["rolled_throughput_yield"]
    assert f"rolled throughput {100 * value:.1f}" in text
    for step in wanted["steps"]:
        share = step["first_pass_yield"]
        assert f"{100 * share['low']:.1f} to {100 * share['high']:.1f}, {share['n']}" in text

    # The visits alone, in pandas, give the steps again.
    visits = pd.read_parquet(io.BytesIO(files["parquet"]))
    for step in wanted["steps"]:
        own = visits[visits.step == step["number"]]
        firsts = own[own["first"]]
        assert len(own) == step["visits"]
        assert len(firsts) == step["first_visits"]
        assert (firsts.outcome == "pass").sum() == step["first_passes"]
        assert own.touch_us.median() / 3.6e9 == pytest.approx(step["touch_h_median"])
        assert own.queue_us.median() / 3.6e9 == pytest.approx(step["queue_h_median"])
    assert len(visits) == sum(step["visits"] for step in wanted["steps"])


@pytest.mark.usefixtures("store")
def test_the_same_report_later_is_the_same_bytes_until_the_record_grows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = made(tmp_path / "one")
    monkeypatch.setenv("RINGWRIGHT_NOW", "2026-11-11T11:11:11+01:00")

    assert made(tmp_path / "two") == first
    past = made(tmp_path / "past", "--as-of", "2026-09-29T10:30:00+02:00")
    assert past["parquet"] != first["parquet"]
    assert b"as of Tue 29 Sep 2026 10:30:00" in past["csv"]


@pytest.mark.usefixtures("store")
@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--product", "NONE", "--week", "2026-W40"), "no product 'NONE'"),
        (("--product", "VANE", "--week", "2026-W60"), "2026-W60"),
        ((*ASKED, "--as-of", "soon"), "--as-of 'soon'"),
        ((*ASKED, "--to", "/no/such/folder"), "is no folder"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    assert main(["report", "--to", str(tmp_path), *words]) == 2
    told = capsys.readouterr().err
    assert why in told
    assert told.count("\n") == 1
    assert list(tmp_path.glob("*.pdf")) == []


def test_a_practice_site_s_report_is_named_and_said(
    sqlite_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    practice.open_practised(sqlite_url, shop.HISTORY).store.close()
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", sqlite_url)

    assert made(tmp_path / "out", "--site", practice.CODE)
    names = [path.name for path in (tmp_path / "out").iterdir()]
    assert all(name.startswith("PRACTICE-week-report-VANE-2026-W40-") for name in names)
    assert "is a practice site" in capsys.readouterr().err
