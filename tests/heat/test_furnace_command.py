"""`ringwright furnace`: its contract, and files that cannot be judged."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ringwright.cli import main
from ringwright.heat.trace import Trace
from tests.heat.make_cycles import run

RECIPE = """
ceiling_c = 950
[[segment]]
name = "heat up"
kind = "ramp"
target_c = 920
max_rate_c_per_min = 10.5
[[segment]]
name = "hold"
kind = "soak"
target_c = 920
tolerance_c = 8
min_minutes = 120
[[segment]]
name = "cool"
kind = "ramp"
target_c = 500
tolerance_c = 20
"""
GOOD = run([(0, 20), (90, 920), (220, 920), (330, 480)])
KEYS = ["name", "start", "minutes", "min_c", "max_c", "spread_c", "out_of_band_minutes"]
KEYS += ["met", "why"]


def csv_of(trace: Trace, stamps: list[str] | None = None) -> str:
    columns = [np.round(read, 2) for read in trace.temperatures_c.values()]
    rows = [f"at,{','.join(trace.temperatures_c)}"]
    for place, stamp in enumerate(stamps or trace.stamps):
        rows.append(",".join([stamp, *(f"{column[place]:g}" for column in columns)]))
    return "\n".join(rows) + "\n"


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """A good run and its recipe."""
    trace, recipe = tmp_path / "run.csv", tmp_path / "recipe.toml"
    trace.write_text(csv_of(GOOD))
    recipe.write_text(RECIPE)
    return trace, recipe


def answer(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    assert main(["furnace", str(files[0]), "--recipe", str(files[1]), "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    found: dict[str, object] = json.loads(told.out)
    return found


def refused(files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(["furnace", str(files[0]), "--recipe", str(files[1]), "--json"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    return told.err


def test_the_answer_is_the_contract_s(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    found = answer(files, capsys)

    assert list(found) == ["verdict", "segments", "channels_failed"]
    assert (found["verdict"], found["channels_failed"]) == ("met", [])
    segments = found["segments"]
    assert isinstance(segments, list)
    assert [list(one) for one in segments] == [KEYS] * 3
    assert segments[1] == {
        "name": "hold",
        "start": 5400,
        "minutes": 131.0,
        "min_c": 913.95,
        "max_c": 922.0,
        "spread_c": 4.0,
        "out_of_band_minutes": 0.0,
        "met": True,
        "why": "",
    }


def test_not_met_is_an_answer_too(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[1].write_text(RECIPE.replace("min_minutes = 120", "min_minutes = 140"))

    found = answer(files, capsys)

    assert found["verdict"] == "not met"
    segments = found["segments"]
    assert isinstance(segments, list)
    assert [one["met"] for one in segments] == [True, False, True]
    assert segments[1]["why"] == "131 of 140 min in band"


def test_the_start_is_spelled_as_the_file_spells_it(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    # Over the night on which Oslo's clocks go back: two in the morning comes twice.
    stamps = [
        f"2026-10-25T{hour:02}:{minute:02}:00+0{offset}:00"
        for hour, offset in [(1, 2), (2, 2), (2, 1), (3, 1), (4, 1), (5, 1)]
        for minute in range(60)
    ][: GOOD.size]
    files[0].write_text(csv_of(GOOD, stamps))

    segments = answer(files, capsys)["segments"]

    assert isinstance(segments, list)
    assert [one["start"] for one in segments] == [
        "2026-10-25T01:00:00+02:00", "2026-10-25T02:30:00+02:00", "2026-10-25T03:41:00+01:00",
    ]  # fmt: skip
    assert segments[1]["minutes"] == 131.0


def test_rows_in_any_order_and_twice_say_the_same(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    plain = answer(files, capsys)
    head, *rows = files[0].read_text().splitlines()
    mixed = np.random.default_rng(4).permutation(rows + rows[:100])
    files[0].write_text("\n".join([head, *mixed]))

    assert answer(files, capsys) == plain


def test_one_time_with_two_readings_is_named_and_not_met(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[0].write_text(files[0].read_text() + "9000,918,930,922\n")

    found = answer(files, capsys)

    assert found["verdict"] == "not met"
    assert "two different readings at 9000" in json.dumps(found)


def test_a_person_reads_a_table_and_who_signs(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["furnace", str(files[0]), "--recipe", str(files[1])]) == 0

    told = capsys.readouterr().out.splitlines()
    assert told[0] == "Met"
    assert told[3].split() == ["hold", "131.0", "0.0", "914.0", "922.0", "4.0", "yes"]
    assert "an authorised person signs" in told[-1]


def test_a_person_reads_why_not_and_what_failed(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    rows = files[0].read_text().splitlines()
    frozen = [row.rsplit(",", 1)[0] + ",400" if n else row for n, row in enumerate(rows)]
    files[0].write_text("\n".join(frozen))
    files[1].write_text(RECIPE.replace("min_minutes = 120", "min_minutes = 140"))

    assert main(["furnace", str(files[0]), "--recipe", str(files[1])]) == 0

    told = capsys.readouterr().out.splitlines()
    assert told[0] == "Not met"
    assert "hold: 131 of 140 min in band" in told
    assert "Failed and left out: tc3_c. Such a run goes to engineering review." in told


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("at,pressure_kpa\n0,1\n60,1\n", "no thermocouple"),
        ("at,tc1_c\n0,20\n", "one sample"),
        ("at,tc1_c\n0,20\n0,20\n", "one sample"),
        ("at,tc1_c\n0,20\n60,warm\n", "line 3"),
        ("at,tc1_f\n0,20\n60,21\n", "tc1_f"),
    ],
)
def test_a_trace_that_cannot_be_judged_is_refused_in_one_line(
    text: str, why: str, files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[0].write_text(text)
    assert why in refused(files, capsys)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (b"", "1 to 200"),
        (b"\xff\xfe", "UTF-8"),
        (RECIPE.replace("tolerance_c = 8", "tolerence_c = 8").encode(), "'hold'"),
        (b"[[segment]", "not valid TOML"),
    ],
)
def test_a_recipe_that_is_none_is_refused_in_one_line(
    text: bytes, why: str, files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[1].write_bytes(text)
    assert why in refused(files, capsys)


@pytest.mark.parametrize("place", [0, 1])
def test_a_file_that_is_not_there_is_refused(
    place: int, files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[place].unlink()
    assert "No such file" in refused(files, capsys)
    files[place].mkdir()
    assert files[place].name in refused(files, capsys)


def test_without_a_recipe_there_is_nothing_to_judge_by(
    files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        main(["furnace", str(files[0]), "--json"])
    assert end.value.code == 2
    assert capsys.readouterr().err.count("\n") == 1


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    data=st.binary(max_size=200), head=st.sampled_from([b"", b"at,tc1_c\n", b"\xef\xbb\xbf"])
)
def test_no_bytes_make_it_fall(
    data: bytes, head: bytes, files: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    files[0].write_bytes(head + data)

    code = main(["furnace", str(files[0]), "--recipe", str(files[1]), "--json"])

    told = capsys.readouterr()
    assert (code, told.err.count("\n")) in {(0, 0), (2, 1)}


def test_the_command_loads_neither_web_nor_sql(files: tuple[Path, Path]) -> None:
    program = (
        "import sys; from ringwright.cli import main; "
        f"main(['furnace', {str(files[0])!r}, '--recipe', {str(files[1])!r}, '--json']); "
        "heavy = {'sqlalchemy', 'fastapi', 'starlette', 'pydantic', 'jinja2', 'alembic', "
        "'uvicorn', 'psycopg', 'pandas', 'openpyxl', 'scipy', 'soundfile'}; "
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)"
    )

    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)

    assert done.returncode == 0, done.stderr.decode()
