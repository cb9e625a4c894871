"""Files of wall readings: units, decimals, angles, and every row that is none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringwright.core.errors import Refused
from ringwright.walls.packing import pack, unpack
from ringwright.walls.reading import (
    MOST_ROWS,
    Chosen,
    WallFile,
    WallReading,
    expects,
    guessed,
    read_table,
    read_walls,
    refuse_bad,
)
from tests.make.walls import make_plan

HEAD = "station_mm,angle_deg,wall_mm\n"


def read(text: str) -> WallFile:
    table = read_table(text)
    return read_walls(table, guessed(table), expects(make_plan(), 60))


def why(text: str) -> list[tuple[int, str]]:
    return [(one.line, one.why) for one in read(text).bad]


def test_a_plain_file_is_read_in_the_order_of_place() -> None:
    found = read(HEAD + "20,10,2.5\n10,350,2.51\n")
    assert [(r.station_mm, r.angle_deg, r.wall_mm) for r in found.readings] == [
        (10.0, 350.0, 2.51), (20.0, 10.0, 2.5),
    ]  # fmt: skip


def test_an_inch_is_25_4_mm_and_a_thou_a_thousandth_of_it_exactly() -> None:
    # NIST SP 811 (2008), appendix B.8: 1 in = 2.54 E-02 m, exact; 1 mil = 2.54 E-05 m, exact.
    one = read("station_in,angle_deg,wall_thou,u_thou\n10,0,98.5,0.5\n").readings[0]
    assert (one.station_mm, one.wall_mm, one.u_mm) == (254.0, 2.5019, 0.0127)


def test_a_file_with_semicolons_commas_and_a_mark_of_order_is_the_same() -> None:
    text = "\ufeffstation_mm;angle_deg;wall_mm\r\n10,5;0;2,51\r\n"
    one = read(text).readings[0]
    assert (one.station_mm, one.wall_mm) == (10.5, 2.51)


@pytest.mark.parametrize(
    ("said", "is_"), [("-0.1", 359.9), ("360", 0.0), ("725.5", 5.5), ("-360", 0.0)]
)
def test_an_angle_comes_to_lie_within_one_turn(said: str, is_: float) -> None:
    assert read(HEAD + f"10,{said},2.5\n").readings[0].angle_deg == is_


def test_the_same_row_again_is_taken_once_and_another_wall_there_is_refused() -> None:
    found = read(HEAD + "10,0,2.5\n10,360,2.50\n10,-360,2.6\n")
    assert (len(found.readings), found.repeated) == (1, 1)
    assert [one.line for one in found.bad] == [4]
    assert "line 2 says 2.5" in found.bad[0].why


def test_every_bad_row_is_named_by_its_line() -> None:
    text = HEAD + "10,0,2.5\n-1,0,2.5\n301,0,2.5\nx,0,2.5\n20,0,\n30,0,-2\n40,0,2500\n"
    told = why(text + "50,0,40\n60,0,0.1\n")
    assert [line for line, _ in told] == [3, 4, 5, 6, 7, 8, 9, 10]
    for (_, text), says in zip(
        told,
        ("off the case", "off the case", "not a figure", "missing", "cannot be", "in µm?",
         "over 10 times", "a tenth"),
        strict=True,
    ):  # fmt: skip
        assert says in text


def test_bad_rows_refuse_the_file_and_say_how_many_more_there_are() -> None:
    rows = "".join(f"{n},0,x\n" for n in range(20))
    with pytest.raises(Refused, match=r"20 rows cannot be taken: line 2: .*; and 8 more"):
        refuse_bad(read(HEAD + rows))


def test_a_file_of_too_many_rows_is_refused_with_how_many_it_has() -> None:
    with pytest.raises(Refused, match="this file has 20,001"):
        read_table(HEAD + "1,1,1\n" * (MOST_ROWS + 1))


@pytest.mark.parametrize("text", ["", "\n\n", " ,,\n,,", "station_mm\n1\n", HEAD])
def test_what_is_no_table_of_readings_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_table(text)


def test_a_column_is_chosen_once_and_must_be_there() -> None:
    table = read_table(HEAD + "1,1,2.5\n")
    for places, says in (
        ({"station_mm": 0, "angle_deg": 1}, "wall_mm"),
        ({"station_mm": 0, "angle_deg": 1, "wall_mm": 1}, "two things"),
        ({"station_mm": 0, "angle_deg": 1, "wall_mm": 7}, "not in the file"),
    ):
        with pytest.raises(Refused, match=says):
            read_walls(table, Chosen(places=places, units={}), expects(make_plan(), 60))


walls = st.builds(
    WallReading,
    station_mm=st.floats(0, 300),
    angle_deg=st.floats(0, 359.9),
    wall_mm=st.floats(0.5, 20),
    u_mm=st.none() | st.floats(0.001, 0.5),
    point=st.sampled_from(["", "A1", 'quo"te', "com,ma", "ü"]),
)


@given(st.lists(walls, max_size=30, unique_by=lambda one: (one.station_mm, one.angle_deg)))
def test_what_is_packed_comes_out_as_it_was(readings: list[WallReading]) -> None:
    found = unpack(pack(readings))
    assert sorted(map(repr, found)) == sorted(map(repr, readings))
    assert pack(list(reversed(readings))) == pack(readings)
