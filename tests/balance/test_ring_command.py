"""`ringwright ring`: its contract, seen from outside."""

from __future__ import annotations

import csv
import json
import math
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ringwright.cli import main

SET_FIELDS = {
    "slots", "residual_g_mm", "residual_deg", "uncertainty_g_mm", "couple_g_mm2",
    "frequency_spread_hz", "moment_spread_g_mm", "neighbour_max_g_mm", "opposite_max_g_mm",
}  # fmt: skip
FIELDS = {"sets", "unused", "bound", "effort", "stopped_early", "seconds", "seed"}
Rows = list[dict[str, str]]


def pool_file(path: Path, count: int, seed: int = 1, **more: float) -> Rows:
    """A pool of normal moments and frequencies; `more` adds a column of that spread."""
    chance = np.random.default_rng(seed)
    rows = [
        {
            "serial": f"B-{n:02d}",
            "moment_g_mm": f"{chance.normal(120_000, 480):.1f}",
            "frequency_hz": f"{chance.normal(60, 1):.3f}",
            **{name: f"{chance.normal(0, spread):.2f}" for name, spread in more.items()},
        }
        for n in range(count)
    ]
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return rows


def vector(rows: Rows, slots: Sequence[str], field: str = "moment_g_mm") -> complex:
    """The sum of the vectors, worked out from the file alone."""
    by_serial = {row["serial"]: row for row in rows}
    found: complex = sum(
        complex(float(by_serial[s][field]), float(by_serial[s].get("tangential_g_mm", 0)))
        * np.exp(2j * math.pi * n / len(slots))
        for n, s in enumerate(slots)
    )
    return found


def ask(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    assert main(["ring", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["ring", *arguments, "--json"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    return told.err


def test_the_answer_holds_what_the_contract_names(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = pool_file(tmp_path / "pool.csv", 20)

    told = ask(capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "20", "--moment-u", "2")

    (one,) = told["sets"]
    assert set(told) >= FIELDS
    assert set(one) >= SET_FIELDS
    assert sorted(one["slots"]) == sorted(row["serial"] for row in rows)
    assert one["residual_g_mm"] == pytest.approx(abs(vector(rows, one["slots"])), abs=1e-6)
    assert one["uncertainty_g_mm"] == pytest.approx(2 * math.sqrt(20))
    assert one["residual_g_mm"] <= one["uncertainty_g_mm"] / 4
    assert one["couple_g_mm2"] is None
    assert (told["unused"], told["bound"]["max_sets"], told["seed"]) == ([], 1, 1)


def test_tangential_and_disc_vectors_count_and_angles_run_with_the_slots(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = pool_file(tmp_path / "pool.csv", 12, tangential_g_mm=40.0)
    disc = 3_000_000.0 * np.exp(1j * math.radians(75))

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "12",
        "--disc", "3000000@75", "--effort", "1",
    )  # fmt: skip

    (one,) = told["sets"]
    expected = vector(rows, one["slots"]) + disc
    assert one["residual_g_mm"] == pytest.approx(abs(expected), rel=1e-9)
    assert one["residual_deg"] == pytest.approx(math.degrees(np.angle(expected)) % 360)


def test_locks_exclusions_and_limits_are_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = pool_file(tmp_path / "pool.csv", 40)
    moment = {row["serial"]: float(row["moment_g_mm"]) for row in rows}
    tone = {row["serial"]: float(row["frequency_hz"]) for row in rows}
    left, right = sorted(rows, key=lambda row: abs(float(row["frequency_hz"]) - 60))[:2]

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "10",
        "--lock", f"3={left['serial']}", "--exclude", right["serial"],
        "--frequency-spread", "2.5", "--moment-spread", "1500", "--neighbour", "1200",
        "--opposite", "900", "--alternate",
    )  # fmt: skip

    (one,) = told["sets"]
    slots = one["slots"]
    held, rung = [moment[s] for s in slots], [tone[s] for s in slots]
    assert slots[2] == left["serial"]
    assert right["serial"] in told["unused"]
    assert max(rung) - min(rung) <= 2.5
    assert max(held) - min(held) <= 1500
    assert max(abs(a - b) for a, b in zip(held, held[1:] + held[:1], strict=True)) <= 1200
    assert max(abs(held[n] - held[n + 5]) for n in range(5)) <= 900
    high = [value > float(np.median(rung)) for value in rung]
    assert all(a != b for a, b in zip(high, high[1:] + high[:1], strict=True))


def test_as_many_sets_as_the_stock_allows_share_no_blade(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 64)

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "10", "--sets", "max",
        "--frequency-spread", "1.5", "--effort", "1",
    )  # fmt: skip

    used = [serial for one in told["sets"] for serial in one["slots"]]
    assert len(used) == len(set(used)) == 10 * len(told["sets"])
    assert len(used) + len(told["unused"]) == 64
    assert 1 <= len(told["sets"]) <= told["bound"]["max_sets"] <= 6
    assert all(one["frequency_spread_hz"] <= 1.5 for one in told["sets"])


def test_an_odd_ring_has_no_opposites(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 7)

    told = ask(capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "7")

    assert told["sets"][0]["opposite_max_g_mm"] is None


def test_an_impossible_limit_is_refused_with_the_smallest_that_is_possible(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 12)
    question = ("--pool", str(tmp_path / "pool.csv"), "--slots", "12", "--neighbour")

    told = refused(capsys, *question, "1")

    smallest = max(float(figure) for figure in re.findall(r"\d+(?:\.\d+)?", told))
    assert ask(capsys, *question, str(smallest))["sets"][0]["neighbour_max_g_mm"] <= smallest
    assert refused(capsys, *question, str(smallest - 0.1))


def test_a_lost_blade_is_mended_and_the_table_comes_along(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = pool_file(tmp_path / "pool.csv", 40)
    question = ("--pool", str(tmp_path / "pool.csv"), "--slots", "20")
    first = ask(capsys, *question)
    (tmp_path / "ring.json").write_text(json.dumps(first))
    gone = first["sets"][0]["slots"][6]

    told = ask(
        capsys, *question, "--ring", str(tmp_path / "ring.json"), "--lost", gone, "--moves", "1"
    )

    assert gone not in told["sets"][0]["slots"]
    assert gone not in told["unused"]
    best = min(row["residual_g_mm"] for row in told["moves"])
    assert told["sets"][0]["residual_g_mm"] == best
    assert all(len(row["exchanges"]) <= 1 for row in told["moves"])
    for row in told["moves"]:
        assert row["residual_g_mm"] == pytest.approx(abs(vector(rows, row["slots"])), abs=1e-6)


def test_a_ring_whose_lost_blade_is_in_the_pool_no_more_is_mended(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 12, axial_g_mm2=900.0)
    ring = "slot,serial\n" + "".join(f"{n},B-{n:02d}\n" for n in range(1, 8)) + "8,GONE\n"
    (tmp_path / "ring.csv").write_text(ring)

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "8",
        "--ring", str(tmp_path / "ring.csv"), "--lost", "GONE",
    )  # fmt: skip

    (one,) = told["sets"]
    assert "GONE" not in one["slots"]
    # What the lost blade was read as is known no more; the blades that stay have it all.
    assert one["frequency_spread_hz"] > 0
    assert one["couple_g_mm2"] is not None


def test_every_bad_row_is_told_in_the_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "pool.csv").write_text("serial,moment_g_mm\nA,1\nB,2,3\nC,nan\n,7\nA,9\n")

    told = refused(capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "2")

    assert re.findall(r"line (\d): ", told) == ["3", "4", "5", "6"]


def test_an_option_that_cannot_be_read_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as left:
        main(["ring", "--pool", "pool.csv", "--slots", "many"])

    assert left.value.code == 2
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "--slots" in told


@pytest.mark.parametrize("moves", [0, 1, 2, 7])
def test_no_more_is_moved_than_was_allowed(
    moves: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An exchange changes two slots at most, and one where a spare comes in."""
    pool_file(tmp_path / "pool.csv", 24)
    ring = [f"B-{n:02d}" for n in range(12)]
    text = "".join(f"{n},{serial}\n" for n, serial in enumerate(ring, 1))
    (tmp_path / "ring.csv").write_text("slot,serial\n" + text)

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "12",
        "--ring", str(tmp_path / "ring.csv"), "--lost", "B-04", "--moves", str(moves),
    )  # fmt: skip

    for one in (told["sets"][0], *told["moves"]):
        pairs = zip(ring, one["slots"], strict=True)
        changed = {n for n, (was, now) in enumerate(pairs) if was != now}
        came = set(one["slots"]) - set(ring)
        assert 4 in changed
        assert 1 <= len(came) <= 1 + min(moves, 2)
        assert len(changed) <= 1 + 2 * min(moves, 2)
        assert moves or changed == {4}


def test_a_repair_is_answered_however_short_the_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 24)
    ring = "slot,serial\n" + "".join(f"{n},B-{n:02d}\n" for n in range(1, 13))
    (tmp_path / "ring.csv").write_text(ring)

    told = ask(
        capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "12", "--seconds", "0.000001",
        "--ring", str(tmp_path / "ring.csv"), "--lost", "B-04",
    )  # fmt: skip

    assert told["stopped_early"]
    assert "B-04" not in told["sets"][0]["slots"]


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--slots", "50"), "blades"),
        (("--slots", "1"), "2 to 400 slots"),
        (("--slots", "12", "--lock", "3"), "SLOT=SERIAL"),
        (("--slots", "12", "--lock", "3=NO"), "not in the pool"),
        (("--slots", "12", "--lock", "99=B-01"), "no slot 99"),
        (("--slots", "12", "--exclude", "NO"), "not in the pool"),
        (("--slots", "12", "--disc", "5"), "G_MM@DEG"),
        (("--slots", "12", "--sets", "few"), "max"),
        (("--slots", "12", "--effort", "9"), "1 to 5"),
        (("--slots", "12", "--neighbour", "nan"), "0 or more"),
        (("--slots", "12", "--seed", "-1"), "0 or more"),
        (("--slots", "12", "--disc", "1e308@10"), "G_MM@DEG"),
        (("--slots", "12", "--sets", "9" * 5000), "whole number"),
        (("--slots", "12", "--lock", "9" * 5000 + "=B-01"), "SLOT=SERIAL"),
        (("--slots", "7", "--opposite", "3"), "no opposite"),
        (("--slots", "7", "--alternate"), "odd ring"),
        (("--slots", "12", "--lost", "B-01"), "--ring"),
    ],
)
def test_a_question_that_cannot_be_is_refused_in_one_line(
    arguments: tuple[str, ...],
    why: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    pool_file(tmp_path / "pool.csv", 20)

    assert why in refused(capsys, "--pool", str(tmp_path / "pool.csv"), *arguments)


def test_a_pool_that_is_not_there_or_no_text_is_refused_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "pool.csv").write_bytes(b"\xff\xfe\x00")

    assert "No such file" in refused(capsys, "--pool", str(tmp_path / "no.csv"), "--slots", "4")
    assert "UTF-8" in refused(capsys, "--pool", str(tmp_path / "pool.csv"), "--slots", "4")


def test_the_same_question_has_the_same_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 30)
    question = ("--pool", str(tmp_path / "pool.csv"), "--slots", "12", "--effort", "2")

    one, other = ask(capsys, *question), ask(capsys, *question)
    another = ask(capsys, *question, "--seed", "2")

    assert one["sets"] == other["sets"]
    assert one["sets"][0]["slots"] != another["sets"][0]["slots"]


def test_without_json_a_person_can_read_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pool_file(tmp_path / "pool.csv", 6)

    question = ["ring", "--pool", str(tmp_path / "pool.csv"), "--slots", "6"]
    assert main([*question, "--moment-u", "400"]) == 0
    told = capsys.readouterr().out
    # 400·√6 = 980 and 1.731 times that, 1,696: two digits of it, and none below.
    assert "980 g·mm standard, 1700 g·mm at 95 %" in told
    assert re.search(r"residual (under 100|[1-9]\d?00) g·mm at", told)
    assert "residual" in told
    assert "authorised person" in told


def test_the_command_loads_neither_web_nor_sql(tmp_path: Path) -> None:
    pool_file(tmp_path / "pool.csv", 20)
    program = (
        "import sys; from ringwright.cli import main; "
        f"main(['ring', '--pool', {str(tmp_path / 'pool.csv')!r}, '--slots', '20', '--json']); "
        "heavy = {'sqlalchemy', 'fastapi', 'starlette', 'pydantic', 'jinja2', 'alembic', "
        "'uvicorn', 'psycopg', 'pandas', 'openpyxl'}; "
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )

    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)

    assert done.returncode == 0, done.stderr.decode()
