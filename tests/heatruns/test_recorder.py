"""What recorders write, read by the columns that were chosen.

Outside: NIST Special Publication 811 (2008), appendix B, for degrees Fahrenheit and psi; pandas
for the hour that clocks show twice.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from ringwright.core.errors import Refused
from ringwright.furnaces.card import Columns
from ringwright.heat.recipe import SOAK, Recipe, Segment
from ringwright.heatruns.recorder import Clock, RecorderTable, Taken, read_table, take
from ringwright.heatruns.recorder_columns import (
    AT,
    Choice,
    guessed,
    remembered,
    slips,
    typed,
)

CLOCK = Clock(zone="Europe/Oslo", started_s=1_760_000_000.0)
PLAIN = Columns(time="at", channels={"tc1_c": "tc1_c", "tc2_c": "tc2_c"})
RECIPE = Recipe(
    segments=(
        Segment(
            name="form", kind=SOAK, target_c=900.0, tolerance_c=10.0, pressure_kpa=600.0,
            pressure_tolerance_kpa=30.0,
        ),
    )
)  # fmt: skip


def table(*lines: str) -> RecorderTable:
    return read_table("\n".join(lines) + "\n")


def taken(columns: Columns, *lines: str) -> Taken:
    return take(table(*lines), columns, CLOCK)


def test_a_plain_file_is_read_as_it_stands() -> None:
    found = taken(PLAIN, "at,tc1_c,tc2_c", "2026-10-01T12:00:00+02:00,900.1,899.95")

    assert found.trace.at_s.tolist() == [1_790_848_800.0]
    assert found.trace.temperatures_c["tc1_c"].tolist() == [900.1]
    assert found.trace.temperatures_c["tc2_c"].tolist() == [899.95]
    assert (found.bad, found.offsets, found.counted) == ((), True, False)


def test_fahrenheit_and_psi_become_what_is_kept() -> None:
    """SP 811, B.8 and B.9: t/degC = (t/degF - 32)/1.8; 1 psi = 6.894 757 kPa."""
    columns = Columns(
        time="Time",
        channels={"tc1_c": "T 1", "pressure_kpa": "Cavity"},
        temperature_unit="degF",
        pressure_unit="psi",
    )

    found = taken(columns, "Time;T 1;Cavity", "2026-10-01 12:00:00;1652,0;87,02")

    assert found.trace.temperatures_c["tc1_c"].tolist() == [900.0]
    assert found.trace.pressure_kpa is not None
    assert found.trace.pressure_kpa.tolist() == pytest.approx([87.02 * 6.894757], abs=1e-4)
    assert found.raw["tc1_c"].tolist() == [1652.0]


def test_a_preamble_and_a_row_of_units_are_passed_over() -> None:
    found = table(
        "Recorder,7,,", "Batch,B 12,,", "", "Time,TC 1,TC 2,Pressure", ",°C,°C,kPa",
        "2026-10-01T12:00:00Z,20,21,0",
    )  # fmt: skip

    assert found.heading == ("Time", "TC 1", "TC 2", "Pressure")
    assert found.units == ("", "°C", "°C", "kPa")
    assert (found.before, found.lines) == (2, (6,))
    choice = guessed(found, ["tc1_c", "tc2_c", "tc3_c"])
    assert choice.places == {AT: 0, "tc1_c": 1, "tc2_c": 2, "pressure_kpa": 3}
    assert (choice.temperature_unit, choice.pressure_unit) == ("degC", "kPa")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("one column\n1\n2\n", "one column only"),
        ("1,2,3\n4,5,6\n", "no row names the columns"),
        ("at,tc1_c\n", "no rows"),
        ("at," + ",".join(f"c{n}" for n in range(90)) + "\n" + "1," * 90 + "1\n", "up to 80"),
    ],
)
def test_what_is_no_table_of_a_recorder_is_refused(text: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        read_table(text)


def test_titles_that_stand_twice_are_numbered() -> None:
    assert table("at,T,T,", "1,2,3,4").heading == ("at", "T", "T (2)", "column 4")


def test_bad_rows_are_named_with_their_line_and_nothing_else_is_lost() -> None:
    found = taken(
        PLAIN,
        "at,tc1_c,tc2_c",
        "2026-10-01T12:00:00Z,900,OPEN",
        "2026-10-01T12:00:10Z,900",
        "never,900,901",
        ",900,901",
        "2026-10-01T12:00:40Z,1e999,901",
        "2026-10-01T12:00:50,900,901",
        "2026-10-01T12:01:00Z,,---",
        "2026-10-01T12:01:10Z,9_00,901",
    )

    assert [(row.line, row.why) for row in found.bad] == [
        (2, "tc2_c: 'OPEN' is no figure"),
        (3, "2 cells under 3 columns"),
        (4, "'never' is not an ISO 8601 date and time"),
        (5, "no time"),
        (6, "tc1_c: '1e999' is no figure"),
        (7, "'2026-10-01T12:00:50' has no offset from UTC, such as +02:00 or Z"),
        (9, "tc1_c: '9_00' is no figure"),
    ]
    assert found.trace.size == 4
    read = found.trace.temperatures_c["tc1_c"]
    assert read[0] == 900.0
    assert np.isnan(read[1:]).all()
    assert found.trace.temperatures_c["tc2_c"][1] == 901.0


def test_seconds_count_from_the_run_s_start() -> None:
    found = taken(replace(PLAIN, channels={"tc1_c": "tc1_c"}), "at,tc1_c", "0,20", "2.5,21")

    assert found.counted
    assert found.trace.at_s.tolist() == [1_760_000_000.0, 1_760_000_002.5]


def test_times_without_an_offset_are_read_by_the_zone_that_was_chosen() -> None:
    lines = ("at,tc1_c,tc2_c", "2026-10-01 12:00:00,1,2")

    oslo = take(table(*lines), PLAIN, CLOCK)
    utc = take(table(*lines), PLAIN, replace(CLOCK, zone="UTC"))

    assert utc.trace.at_s[0] - oslo.trace.at_s[0] == 7200.0


def test_the_hour_that_clocks_show_twice_is_not_folded_into_one() -> None:
    """Outside: pandas makes the wall clock of the same instants (25 October 2026, Oslo)."""
    instants = pd.date_range("2026-10-24T23:00", periods=240, freq="1min", tz="UTC")
    wall = instants.tz_convert("Europe/Oslo").strftime("%Y-%m-%d %H:%M:%S")
    rows = [f"{at},{n},{n}" for n, at in enumerate(wall)]

    found = take(table("at,tc1_c,tc2_c", *rows), PLAIN, CLOCK)

    assert found.trace.clashes == ()
    assert found.trace.at_s.tolist() == [one.timestamp() for one in instants]


def test_one_time_with_two_readings_is_a_clash_and_a_repeated_row_is_none() -> None:
    at = "2026-10-01T12:00:00Z"
    found = taken(PLAIN, "at,tc1_c,tc2_c", f"{at},1,2", f"{at},1,2")
    apart = taken(PLAIN, "at,tc1_c,tc2_c", f"{at},1,2", f"{at},9,2")

    assert (found.trace.size, found.trace.clashes) == (1, ())
    assert apart.trace.clashes == (at,)


def test_a_column_that_is_not_there_and_an_unknown_unit_are_refused() -> None:
    lines = ("at,tc1_c", "2026-10-01T12:00:00Z,1")

    with pytest.raises(Refused, match="no column 'tc2_c'"):
        taken(PLAIN, *lines)
    with pytest.raises(Refused, match="unknown unit"):
        taken(Columns(time="at", channels={"tc1_c": "tc1_c"}, temperature_unit="R"), *lines)
    with pytest.raises(Refused, match="no time can be read"):
        taken(Columns(time="tc1_c", channels={"tc1_c": "at"}), "at,tc1_c", "1,soon")


@pytest.mark.parametrize(
    ("title", "channel"),
    [
        ("tc1_c", "tc1_c"), ("TC 01", "tc1_c"), ("T/C 2", "tc2_c"), ("Thermocouple 2", "tc2_c"),
        ("Channel 1 (°C)", "tc1_c"), ("temp_2", "tc2_c"), ("TC12", None), ("Zone A", None),
    ],
)  # fmt: skip
def test_columns_are_guessed_by_their_titles(title: str, channel: str | None) -> None:
    found = guessed(table(f"Time,{title},other", "1,2,3"), ["tc1_c", "tc2_c"])

    assert {name for name, place in found.places.items() if place == 1} == (
        {channel} if channel else set()
    )


def test_a_unit_that_nobody_says_is_asked() -> None:
    found = guessed(table("at,TC1 (°F),TC2", "1,2,3"), ["tc1_c", "tc2_c"])

    assert found.temperature_unit == ""
    assert found.columns(table("at,TC1 (°F),TC2", "1,2,3")) is None
    both = guessed(table("at,TC1 [degF],TC2 [degF],P [bar]", "1,2,3,4"), ["tc1_c", "tc2_c"])
    assert (both.temperature_unit, both.pressure_unit) == ("degF", "bar")


def test_the_columns_of_last_time_are_found_again_where_all_are_there() -> None:
    before = Columns(time="t", channels={"tc1_c": "A"}, temperature_unit="degF", zone="UTC")

    found = remembered(table("B,A,t", "1,2,3"), before)

    assert found == Choice(
        places={AT: 2, "tc1_c": 1}, temperature_unit="degF", zone="UTC", before=True
    )
    assert remembered(table("B,t", "1,2"), before) is None
    assert remembered(table("B,t", "1,2"), None) is None


def test_one_column_is_not_two_channels() -> None:
    with pytest.raises(Refused, match="'A' is chosen for tc1_c and for tc2_c"):
        typed(table("at,A", "1,2"), {AT: "0", "tc1_c": "1", "tc2_c": "1"}, {}, "")
    with pytest.raises(Refused, match="a column was chosen that the file has not"):
        typed(table("at,A", "1,2"), {AT: "7"}, {}, "")


def soaked(temperature: float, pressure: float, **units: str) -> list[str]:
    """What is said of a file that holds one temperature and one pressure, once it was cold."""
    columns = Columns(
        time="at", channels={"tc1_c": "a", "tc2_c": "b", "pressure_kpa": "p"}, **units
    )
    cold = 293.0 if temperature == 1173.0 else 20.0
    rows = [
        f"{n},{cold if n < 5 else temperature},{temperature},{pressure}" for n in range(200)
    ]
    return slips(taken(columns, "at,a,b,p", *rows), columns, RECIPE)


@pytest.mark.parametrize(
    ("temperature", "pressure", "units", "looks"),
    [
        (900.0, 600.0, {}, []),
        (1652.0, 600.0, {}, ["look like degF, not degC"]),
        (1173.0, 600.0, {}, ["look like K, not degC"]),
        (900.0, 600.0, {"temperature_unit": "degF"}, ["look like degC, not degF"]),
        (1652.0, 600.0, {"temperature_unit": "degF"}, []),
        (900.0, 6.0, {}, ["look like bar, not kPa"]),
        (900.0, 87.0, {}, ["look like psi, not kPa"]),
        (900.0, 87.0, {"pressure_unit": "psi"}, []),
        (900.0, 600.0, {"pressure_unit": "bar"}, ["look like kPa, not bar"]),
        (450.0, 200.0, {}, []),
    ],
)
def test_slips_of_units_are_told(
    temperature: float, pressure: float, units: dict[str, str], looks: list[str]
) -> None:
    """900 degC is 1652 degF and 1173 K; 600 kPa are 6 bar and 87.02 psi (SP 811)."""
    found = soaked(temperature, pressure, **units)

    assert len(found) == len(looks)
    assert all(look in one for look, one in zip(looks, found, strict=True))
