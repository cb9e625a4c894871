"""A report's forms: what prints, what a spreadsheet and a reader of Parquet find in it."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime

import openpyxl
import pyarrow.parquet as pq
import pytest
from pypdf import PdfReader

from ringwright.core.errors import Missing
from ringwright.flow.model import ScrapReason
from ringwright.report.files import file_of, name_of
from ringwright.report.letters import drawable
from ringwright.report.model import FORMS, Report
from tests.make import week
from tests.make.reports import report, route, visit

ATTACKS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\uff1d1+1", " =1+1")


def pages(made: Report) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(file_of(made, "pdf"))).pages]


def rows_of(body: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(body.decode(), newline="")))


@pytest.mark.parametrize("form", FORMS)
def test_the_same_report_twice_is_the_same_bytes(form: str) -> None:
    assert file_of(report(), form) == file_of(report(), form)


def test_another_form_is_missing() -> None:
    with pytest.raises(Missing, match="pdf, xlsx, csv, parquet"):
        file_of(report(), "docx")


def test_an_ordinary_week_is_two_pages_and_each_says_where_it_is_from() -> None:
    found = pages(report(route(13)))

    assert len(found) == 2
    for number, text in enumerate(found, start=1):
        assert f"page {number} of 2" in text
        assert "Holmfell, 2026-W40, HF22-BLADE" in text
        assert "entry 184,206, head 7c1e90a4" in text
        assert "(Europe/Oslo)" in text


def test_a_long_route_goes_on_over_the_page_and_nothing_is_left_out() -> None:
    made = report(route(90))
    found = pages(made)

    assert len(found) > 2
    whole = " ".join(" ".join(found).split())
    lacking = [
        f"{n} Step no {n}" for n in range(10, 901, 10) if f"{n} Step no {n}" not in whole
    ]
    assert lacking == []
    assert whole.count("first-pass yield, ") >= len(found) - 2
    assert "step by step: 90;" in whole


def test_the_pictures_are_lines_not_pixels_and_the_font_is_inside() -> None:
    reader = PdfReader(io.BytesIO(file_of(report(), "pdf")))

    assert [image.name for page in reader.pages for image in page.images] == []
    fonts = reader.pages[0]["/Resources"]["/Font"]  # type: ignore[index]
    named = {fonts[name].get_object()["/BaseFont"] for name in fonts}
    assert {name.partition("+")[2] for name in named if "Vera" in name} == {
        "BitstreamVeraSans-Roman", "BitstreamVeraSans-Bold",
    }  # fmt: skip
    # The promise line alone has a corner for each of 33 releases.
    assert reader.pages[0].get_contents().get_data().count(b" l ") > 66  # type: ignore[union-attr]


def test_a_sign_that_the_font_lacks_is_told_by_its_number_never_a_box() -> None:
    assert drawable("Åse \u7fbd\u202f%") == "Åse [U+7FBD]\u00a0%"

    text = " ".join(pages(report(week.strip("\u7fbd\u6839"))))
    assert "[U+7FBD][U+6839]" in text
    assert "is told by its number" in " ".join(text.split())


def test_every_form_carries_cut_off_filter_zone_rows_head_and_account() -> None:
    made = report()
    account = (
        "13 opening + 38 created + 0 reopened = 33 released + 3 scrapped + "
        "0 used in test or making + 15 closing. It balances."
    )
    head = "7c1e90a4" + "0" * 56
    told = {
        "pdf": " ".join(" ".join(pages(made)).split()),
        "csv": file_of(made, "csv").decode(),
        "xlsx": " ".join(
            str(cell.value)
            for row in openpyxl.load_workbook(io.BytesIO(file_of(made, "xlsx")))["About"]
            for cell in row
        ),
        "parquet": json.dumps(
            {
                key.decode(): value.decode()
                for key, value in pq.read_schema(
                    io.BytesIO(file_of(made, "parquet"))
                ).metadata.items()
            }
        ),
    }
    for form, text in told.items():
        for wanted in (account, head, "Europe/Oslo", "2026-10-01T03:10:12", "one product, all"):
            assert wanted in text, (form, wanted)
    for form in ("csv", "xlsx"):
        assert "1 rows here of 1 in all" in told[form]
    assert "step by step: 2; Scrap of Fan blades: 1" in told["pdf"]


@pytest.mark.parametrize("text", ATTACKS)
def test_no_cell_can_start_a_formula(text: str) -> None:
    scrap = (ScrapReason(defect=text, count=3, found_at=text, caused_at=text),)
    made = report(week.strip(text, scrap=scrap))

    book = openpyxl.load_workbook(io.BytesIO(file_of(made, "xlsx")))
    cells = [cell for tab in book for row in tab.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "d"}
    risky = [
        c for c in cells if isinstance(c.value, str) and c.value.lstrip()[:1] in "=+-@\uff1d"
    ]
    assert all(cell.quotePrefix for cell in risky if cell.value.strip())
    assert text.strip() == "=1" or any(text.strip() in str(c.value) for c in cells)
    fields = [field for row in rows_of(file_of(made, "csv")) for field in row]
    bare = [f for f in fields if f.lstrip()[:1] in ("=", "@", "\uff1d") or f.startswith("\t")]
    assert bare == []
    assert any(field.startswith("'") for field in fields)


def test_the_workbook_has_figures_with_formats_frozen_headings_and_charts() -> None:
    book = openpyxl.load_workbook(io.BytesIO(file_of(report(), "xlsx")))
    tab = book["HF22-BLADE steps"]

    assert {sheet.freeze_panes for sheet in book if sheet.title != "About"} == {"B2"}
    heads = [cell.value for cell in tab[1]]
    share = tab.cell(2, heads.index("first-pass yield, %") + 1)
    # openpyxl reads floats by repr: 38 passed of 40.
    assert (share.value, share.number_format) == (0.95, "0.0%")
    assert tab.cell(2, heads.index("waiting") + 1).number_format == "#,##0"
    until = book["HF22-BLADE promise"].cell(2, 1)
    midnight = datetime(2026, 9, 29)  # noqa: DTZ001 - a cell holds the site's wall clock
    assert (until.value, until.number_format) == (midnight, "yyyy-mm-dd hh:mm")
    assert {tab.title: len(tab._charts) for tab in book if tab._charts} == {
        "HF22-BLADE promise": 1, "HF22-BLADE steps": 1, "HF22-BLADE scrap": 1,
    }  # fmt: skip
    (chart,) = book["HF22-BLADE promise"]._charts
    # Each series is drawn from the cells under it, every row of them.
    last = len(book["HF22-BLADE promise"]["A"])
    assert [series.yVal.numRef.f for series in chart.series] == [
        f"'HF22-BLADE promise'!$B$2:$B${last}", f"'HF22-BLADE promise'!$C$2:$C${last}",
    ]  # fmt: skip


def test_parquet_holds_the_visits_with_types() -> None:
    table = pq.read_table(io.BytesIO(file_of(report(), "parquet")))

    (row,) = table.to_pylist()
    assert row["serial"] == visit().serial
    assert row["end_at"] == datetime(2026, 9, 29, 6, 0, tzinfo=UTC)
    assert (row["touch_us"], row["first"], row["defect"]) == (3_600_000_000, True, None)


@pytest.mark.parametrize("form", FORMS)
def test_a_practice_site_s_report_says_practice(form: str) -> None:
    made = report(practice="HOLMFELL-PRACTICE")
    body = file_of(made, form)

    assert name_of(made, form).startswith("PRACTICE-week-report-")
    if form == "pdf":
        assert [text.count("PRACTICE") >= 2 for text in pages(made)] == [True, True]
    elif form == "xlsx":
        book = openpyxl.load_workbook(io.BytesIO(body))
        assert all(name.startswith("PRACTICE") for name in book.sheetnames)
    elif form == "csv":
        assert rows_of(body)[0][0] == "PRACTICE"
    else:
        assert pq.read_schema(io.BytesIO(body)).metadata[b"PRACTICE"] == b"HOLMFELL-PRACTICE"
    assert b"PRACTICE" not in file_of(report(), "csv")


def test_a_file_s_name_tells_products_and_states_of_the_record_apart() -> None:
    slash, dash = (
        name_of(report(week.strip(product=code)), "pdf") for code in ("HF/22", "HF-22")
    )
    assert dash == "week-report-HF-22-2026-W40-entry-184206.pdf"
    assert slash != dash
    assert "/" not in slash
    assert name_of(report(head_seq=184_207), "pdf") != name_of(report(), "pdf")
