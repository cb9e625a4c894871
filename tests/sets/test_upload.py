"""A pool brought as a file: units asked once, slips found, bad rows and strange files refused.

The inch and the pound are those of the international yard and pound agreement of 1959:
1 in = 25.4 mm, 1 lb = 453.59237 g, 1 oz = 28.349523125 g, all exact.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import Any

import pytest
from openpyxl import Workbook

from ringwright.core.errors import BadRows, Refused
from ringwright.kit.forms import Upload
from ringwright.sets.upload import MOST_BYTES, Expected, Units, read_upload, slips

HEADER = "serial,moment,frequency\n"
THREE = HEADER + "A-1,12000,61.5\nA-2,12010,61.7\nA-3,11990,61.2\n"


def csv_file(text: str, name: str = "pool.csv") -> Upload:
    return Upload(name=name, content=text.encode())


def workbook(rows: Sequence[Sequence[Any]], name: str = "pool.xlsx") -> Upload:
    book, kept = Workbook(), io.BytesIO()
    assert book.active is not None
    for row in rows:
        book.active.append(row)
    book.save(kept)
    return Upload(name=name, content=kept.getvalue())


@pytest.mark.parametrize(
    ("unit", "moment_g_mm"),
    [
        ("g_mm", 12_000.0),
        ("g_cm", 120_000.0),
        ("kg_m", 12_000_000_000.0),
        ("oz_in", 12_000 * 28.349523125 * 25.4),
        ("lb_in", 12_000 * 453.59237 * 25.4),
    ],
)
def test_moments_are_converted_from_the_unit_that_was_asked(
    unit: str, moment_g_mm: float
) -> None:
    found = read_upload(csv_file(THREE), Units(moment=unit))

    assert found.blades[0].moment_g_mm == pytest.approx(moment_g_mm, rel=1e-15)
    assert found.blades[0].frequency_hz == 61.5


def test_frequencies_in_radians_a_second_become_hertz() -> None:
    found = read_upload(csv_file(THREE), Units(frequency="rad_s"))

    assert found.blades[0].frequency_hz == pytest.approx(61.5 / 6.283185307179586)


def test_a_workbook_says_the_same_as_the_csv() -> None:
    rows: list[list[object]] = [
        ["Serial", "Moment (g·mm)", "Frequency (Hz)"],
        ["A-1", 12000, 61.5],
        ["A-2", 12010, 61.7],
    ]

    found = read_upload(workbook(rows), Units())

    assert [b.serial for b in found.blades] == ["A-1", "A-2"]
    assert found.blades[1].moment_g_mm == 12010.0


def test_columns_of_the_contract_and_other_columns_are_understood() -> None:
    text = "note;moment_g_mm;serial;moment_u_g_mm\nold;120000.5;B-1;2\nnew;120001;B-2;3\n"

    found = read_upload(csv_file(text), Units())

    assert [(b.moment_g_mm, b.moment_u_g_mm) for b in found.blades] == [
        (120000.5, 2),
        (120001, 3),
    ]


def test_a_heading_with_another_unit_than_the_form_is_refused() -> None:
    with pytest.raises(Refused, match="says g·cm, the form says g·mm"):
        read_upload(csv_file("serial,moment_g_cm\nA,1\n"), Units())
    with pytest.raises(Refused, match="'furlong' is no unit of moment"):
        read_upload(csv_file("serial,moment_furlong\nA,1\n"), Units())


def test_every_bad_row_is_named_by_its_line_in_the_file() -> None:
    text = HEADER + "A-1,12000,61\n\nA-2,heavy,61\n,12000,61\nA-1,12000,61\n"

    with pytest.raises(BadRows) as found:
        read_upload(csv_file(text), Units(moment="g_cm"))

    assert [line for line, _ in found.value.problems] == [4, 5, 6]


def test_a_formula_in_a_workbook_is_refused_by_its_row() -> None:
    with pytest.raises(BadRows, match="line 3: a cell is a formula"):
        read_upload(workbook([["serial", "moment"], ["A", 1], ["B", "=1+1"]]), Units())


def test_macros_bombs_and_strange_files_are_refused() -> None:
    good = workbook([["serial", "moment"], ["A", 1]])
    kept = io.BytesIO(good.content)
    with zipfile.ZipFile(kept, "a") as packed:
        packed.writestr("xl/vbaProject.bin", b"x")
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"0" * 80_000_000)

    for content, name, why in (
        (kept.getvalue(), "a.xlsx", "macros"),
        (bomb.getvalue(), "a.xlsx", "unpacks"),
        (b"PK\x03\x04junk", "a.xlsx", "damaged"),
        (good.content, "a.csv", "neither"),
        (b"serial,moment\nA,1\n", "a.xls", "neither"),
        (b"serial,moment\nA,1\n", "a.xlsx", "neither"),
        (b"x" * (MOST_BYTES + 1), "a.csv", "larger"),
        (b"\xff\xfe", "a.csv", "UTF-8"),
        (b"", "a.csv", "first row"),
        (b"who,what\n1,2\n", "a.csv", "no column"),
    ):
        with pytest.raises(Refused, match=why):
            read_upload(Upload(name=name, content=content), Units())


def test_a_slip_of_units_is_caught_against_the_product() -> None:
    units = Units(moment="g_mm")
    found = read_upload(csv_file(THREE), units)

    told = slips(found, Expected(moment_g_mm=120_000.0), units)

    assert len(told) == 1
    assert "0.1 times that of the product; were they g·cm?" in told[0]
    assert slips(found, Expected(moment_g_mm=12_100.0, frequency_hz=61.0), units) == ()


def test_ounce_inches_taken_for_gram_millimetres_are_named() -> None:
    units = Units(moment="g_mm")
    text = HEADER + "".join(f"A-{n},{2263.0 + n},62\n" for n in range(5))
    found = read_upload(csv_file(text), units)

    told = slips(found, Expected(moment_g_mm=2265 * 720.0778), units)

    assert "oz·in" in told[0]


def test_one_blade_in_another_unit_than_the_rest_is_named() -> None:
    units = Units()
    found = read_upload(csv_file(THREE + "A-4,1200,61\n"), units)

    told = slips(found, Expected(), units)

    assert told == ("A-4: its moment is 0.1 times the median",)


def test_a_unit_that_nobody_knows_is_refused() -> None:
    with pytest.raises(Refused, match="'stone' is no unit of mass"):
        Units(mass="stone")
