"""Pools and rings from files: what is read, and every bad row named by its line."""

from __future__ import annotations

import json

import pytest

from ringwright.balance.pool_file import read_pool, read_ring
from ringwright.core.errors import BadRows, Refused


def test_a_pool_reads_every_column_it_knows_in_any_order() -> None:
    pool = read_pool(
        "\ufefffrequency_hz,serial,moment_g_mm,moment_u_g_mm,axial_g_mm2,tangential_g_mm,mass_g\n"
        "61.5,B-1,120000.5,2,-30,4,900\n"
        ",B-2, 119000 ,,,,\n"
    )

    first, second = pool.blades
    assert (first.serial, first.moment_g_mm, first.frequency_hz) == ("B-1", 120000.5, 61.5)
    assert (first.moment_u_g_mm, first.axial_g_mm2, first.tangential_g_mm) == (2.0, -30.0, 4.0)
    assert (second.moment_g_mm, second.frequency_hz, second.tangential_g_mm) == (
        119000.0, None, 0.0,
    )  # fmt: skip


def test_every_bad_row_is_named_by_its_line() -> None:
    with pytest.raises(BadRows) as refused:
        read_pool(
            "serial,moment_g_mm,frequency_hz,moment_u_g_mm\n"
            "B-1,100,60,1\n"
            "B-1,101,60,1\n"
            ",102,60,1\n"
            "B-4,,60,1\n"
            "B-5,ten,60,1\n"
            "B-6,nan,60,1\n"
            "B-7,-5,60,1\n"
            "=B-8,100,60,1\n"
            "B-9,100,0,1\n"
            "B-10,100,60,-1\n"
            "B-11,1_000,60,1\n"
            "B-12,119,5,60,1\n"
            "B-13,1e308,60,1\n"
            "B-14,1e-300,60,1\n"
        )

    lines = refused.value.message.splitlines()
    assert [line.split(":")[0] for line in lines] == [f"line {n}" for n in range(3, 16)]
    assert "B-1 stands in line 2 already" in lines[0]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        ("serial,moment_g_mm\n", "no blade"),
        ("serial;moment_g_mm\nB-1;100\n", "commas"),
        ("serial\nB-1\n", "lacks moment_g_mm"),
        ("serial,moment_g_mm,moment_kg_m\nB-1,1,2\n", "does not know moment_kg_m"),
        ("serial,serial,moment_g_mm\nB-1,B-1,2\n", "repeats serial"),
    ],
)
def test_a_file_that_is_no_pool_is_refused_in_a_sentence(text: str, why: str) -> None:
    with pytest.raises(Refused, match=why):
        read_pool(text)


def test_nameless_columns_of_a_spreadsheet_are_left_alone() -> None:
    assert len(read_pool("serial,moment_g_mm,,\nB-1,100,,\nB-2,100,,\n")) == 2


def test_columns_that_are_no_readings_are_left_alone() -> None:
    assert len(read_pool("serial,moment_g_mm,operator\nB-1,100,somebody\n")) == 1


def test_a_ring_is_read_from_a_table_in_any_order_or_from_an_answer() -> None:
    table = "slot,serial\n2,B\n1,A\n3,C\n"
    answer = json.dumps({"sets": [{"slots": ["A", "B", "C"]}], "unused": []})

    assert read_ring(table).serials == ("A", "B", "C")
    assert read_ring(answer).serials == ("A", "B", "C")


@pytest.mark.parametrize(
    "text",
    [
        "slot,serial\n1,A\n3,C\n",
        "slot,serial\n1,A\n1,B\n",
        "slot,serial\n1,A\n2,A\n",
        "slot,serial\nx,A\n2,B\n",
        "slot,serial\n1,\n2,B\n",
        "{}",
        '{"sets": []}',
        '{"sets": [{"slots": "AB"}]}',
        "{not json",
        '{"sets":' * 100_000,
        "slot,serial\n" + "9" * 5_000 + ",A\n",
        "slot,serial\n1,A,B\n2,B\n",
    ],
)
def test_a_file_that_is_no_ring_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_ring(text)
