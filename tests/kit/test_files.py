"""A book of figures as CSV and workbook: what is shown, in full beside it, nothing that runs.

Sources: RFC 4180 (lines of one length, CRLF, doubled quotes); OWASP, "CSV Injection" (which
letters begin a formula), with full-width forms added from memory of spreadsheet habits.
"""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import time
from typing import Any

import pandas as pd
import pytest

from ringwright.core.errors import Missing
from ringwright.core.instants import parse_instant
from ringwright.kit.files import csv_of, file_name, xlsx_of
from ringwright.kit.sheets import (
    MOMENT,
    NUMBER,
    SHARE,
    WHOLE,
    Book,
    Cell,
    Column,
    Sheet,
)
from ringwright.kit.words import words_of
from tests.make.figures import csv_table, workbook

ZONE = "Europe/Oslo"
AT = parse_instant("2026-10-25T00:30:00+02:00")  # the night the clock goes back
COLUMNS = (
    Column(name="step", head=True),
    Column(name="waiting", kind=WHOLE),
    Column(name="touch", kind=NUMBER, unit="h"),
    Column(name="first-pass yield", kind=SHARE, unit="%"),
    Column(name="since", kind=MOMENT),
)


def row(text: str = "10 Clean", **given: Any) -> tuple[Cell, ...]:
    """A row of figures that rounding would spoil."""
    return (
        Cell(text, text),
        Cell("1,234", 1234),
        Cell("1.3", given.get("touch", 1.2500000000000002)),
        Cell("93.4", 0.9337349397590361),
        Cell("Sun 25 Oct 00:30", given.get("since", AT)),
    )


def book(*rows: tuple[Cell, ...], of: int | None = None) -> Book:
    """A page with one sheet."""
    return Book(
        page="week", question="Will it?", answer="+1 ahead.", zone=ZONE, at_us=AT,
        filters=(("Week", "2026-W43"),), cut_off="Sun 25 Oct, head 7c1e",
        sheets=(Sheet(code="OAR steps", title="Oars", columns=COLUMNS, rows=rows, of=of),),
        reconciliation=("1 opening + 2 created = 3 closing.",),
    )  # fmt: skip


def test_figures_stand_as_shown_and_beside_it_in_full() -> None:
    _, (heading, cells) = csv_table(csv_of(book(row())))

    assert dict(zip(heading, cells, strict=True)) == {
        "step": "10 Clean",
        "waiting": "1234",
        "touch, h": "1.3",
        "touch, h, in full": "1.2500000000000002",
        "first-pass yield, %": "93.4",
        "first-pass yield, in full, 0 to 1": "0.9337349397590361",
        "since": "Sun 25 Oct 00:30",
        "since, in full": "2026-10-25T00:30:00+02:00",
    }


def test_a_workbook_holds_real_numbers_and_dates_in_site_time() -> None:
    (_, cells) = workbook(xlsx_of(book(row())))["OAR steps"]

    assert cells[1:4] == [1234, "1.3", 1.2500000000000002]
    assert cells[5] == 0.9337349397590361
    assert cells[7].isoformat() == "2026-10-25T00:30:00"


def test_the_head_says_what_was_asked_from_when_and_how_many_rows() -> None:
    head, _ = csv_table(csv_of(book(row(), row(), of=57)))

    assert [line[:2] for line in head] == [
        ["Question", "Will it?"],
        ["Answer", "'+1 ahead."],
        ["Week", "2026-W43"],
        ["Cut-off", "Sun 25 Oct, head 7c1e"],
        ["Reconciliation", "1 opening + 2 created = 3 closing."],
        ["Rows", "Oars: 2 rows here of 57 in all"],
    ]
    about = workbook(xlsx_of(book(row(), row(), of=57)))["About"]
    assert about[1] == ["Answer", "+1 ahead."]
    assert about[-1] == ["Rows", "Oars: 2 rows here of 57 in all"]


@pytest.mark.parametrize(
    "text",
    [
        "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1",
        "\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20SUM(A1)", "=cmd|' /C calc'!A1",
        '=HYPERLINK("http://x.example","y")', "-", "+", "-2+3", "+1-800-555", "=", "@x",
    ],
)  # fmt: skip
def test_no_cell_begins_a_formula(text: str) -> None:
    _, (_, cells) = csv_table(csv_of(book(row(text))))
    tab = workbook(xlsx_of(book(row(text))))["OAR steps"]

    assert cells[0].startswith("'")
    assert isinstance(tab[1][0], str)
    assert b"<f>" not in xlsx_of(book(row(text)))


@pytest.mark.parametrize("text", ["-1.5", "+3.4", "-1,234", "+2", "-1e-05", "12"])
def test_a_real_number_with_a_sign_stays_a_number(text: str) -> None:
    _, (_, cells) = csv_table(csv_of(book(row(text))))

    assert cells[0] == text


def test_control_characters_are_shown_and_not_written() -> None:
    body = csv_of(book(row("a\x00b\x07c\td\re\nf\x7fg\ud800h")))
    _, (_, cells) = csv_table(body)

    assert cells[0] == "a\u2400b\u2407c\u2409d\u240de\u240af\u2421g\ufffdh"
    assert workbook(xlsx_of(book(row("a\x00\ufffeb"))))["OAR steps"][1][0] == "a\u2400\ufffdb"


def test_quotes_commas_and_umlauts_survive() -> None:
    text = 'Kühl, "Los" 5; µm'
    _, (_, cells) = csv_table(csv_of(book(row(text))))

    assert cells[0] == text
    assert csv_of(book(row(text))).count(b"\r\n") == csv_of(book(row(text))).count(b"\n")


def test_pandas_reads_the_same_figures() -> None:
    body = csv_of(book(row(), row("20 Inflate", touch=0.1 + 0.2)))
    lines = body.decode().split("\r\n")
    start = next(n for n, line in enumerate(lines) if line.startswith("step,"))
    frame = pd.read_csv(io.BytesIO(body), skiprows=start)

    assert list(frame["touch, h, in full"]) == [1.2500000000000002, 0.1 + 0.2]
    assert pd.Timestamp(frame["since, in full"][0]).value == AT * 1_000


def test_the_same_book_is_the_same_bytes_a_second_later() -> None:
    first = csv_of(book(row())), xlsx_of(book(row()))
    time.sleep(2.1)  # a zip file tells time in steps of two seconds

    assert (csv_of(book(row())), xlsx_of(book(row()))) == first


def test_no_row_is_left_out() -> None:
    many = book(*(row(f"S-{number:05}") for number in range(20_000)))

    _, cells = csv_table(csv_of(many))
    assert len(cells) == 20_001
    assert cells[-1][0] == "S-19999"


def test_the_file_is_named_for_page_and_the_sites_day() -> None:
    # Half past midnight in Oslo is still the day before in UTC.
    assert file_name(book(), "csv", "OAR steps") == "week-2026-10-25-OAR-steps.csv"
    assert file_name(book(), "xlsx") == "week-2026-10-25.xlsx"


def test_all_sheets_in_one_file_have_lines_of_one_length() -> None:
    one = book(row()).sheets[0]
    short = Sheet(code="x", title="X", columns=COLUMNS[:1], rows=((Cell("a"),),))
    both = Book(**{**_fields(book()), "sheets": (one, short)})

    rows = list(csv.reader(io.StringIO(csv_of(both).decode(), newline="")))
    assert {len(line) for line in rows} == {8}
    assert set(workbook(xlsx_of(both))) == {"About", "OAR steps", "x"}


def _fields(made: Book) -> dict[str, Any]:
    return {name: getattr(made, name) for name in Book.__dataclass_fields__}


def test_tabs_have_names_that_a_workbook_allows() -> None:
    columns, rows = COLUMNS[:1], ((Cell("a"),),)
    codes = ("HF22/BLADE [x]: " + "long " * 9, "HF22/BLADE [x]: " + "long " * 9, "History")
    sheets = tuple(Sheet(code=c, title=c, columns=columns, rows=rows) for c in codes)

    tabs = workbook(xlsx_of(Book(**{**_fields(book()), "sheets": sheets})))
    assert len(tabs) == 4
    assert max(len(name) for name in tabs) <= 31


def test_a_sheet_that_is_not_there_is_missing() -> None:
    with pytest.raises(Missing, match="no sheet 'steps'"):
        csv_of(book(row()), "steps")


def test_words_are_those_of_the_reader() -> None:
    head, _ = csv_table(csv_of(book(row()), None, words_of("en-XA")))

    assert head[0][0].startswith("[Q")


def test_what_has_no_figure_has_no_value() -> None:
    empty = (Cell("10"), Cell("\u2013"), Cell("\u2013"), Cell("\u2013"), Cell(""))
    _, (_, cells) = csv_table(csv_of(book(empty)))

    assert cells[1:] == ["\u2013", "\u2013", "", "\u2013", "", "", ""]


def test_a_count_that_is_no_whole_number_is_not_rounded() -> None:
    half = (*row()[:1], Cell("66.5", 66.5), *row()[2:])

    assert workbook(xlsx_of(book(half)))["OAR steps"][1][1] == 66.5


def test_a_figure_without_end_is_told_as_text() -> None:
    tab = workbook(xlsx_of(book(row(touch=float("inf")))))["OAR steps"]

    assert tab[1][3] == "inf"


def test_nothing_loads_the_workbook_library_until_a_workbook_is_made() -> None:
    code = "import sys, ringwright.kit.render; print('xlsxwriter' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert done.stdout.strip() == "False"


def test_a_wrapped_text_has_a_row_as_high_as_its_lines() -> None:
    """LibreOffice lets lines overlap where a workbook names no height; openpyxl reads them."""
    from openpyxl import load_workbook

    long = " ".join(["opening"] * 40)
    told = Book(**{**_fields(book(row())), "reconciliation": (long,)})
    opened = load_workbook(io.BytesIO(xlsx_of(told)))

    heights = {
        line[0].value: opened["About"].row_dimensions[line[0].row].height
        for line in opened["About"].iter_rows()
    }
    assert heights["Question"] in (None, 15)
    assert heights["Reconciliation"] == 60  # 319 letters on lines of 88
    assert opened["OAR steps"].row_dimensions[1].height == 30
