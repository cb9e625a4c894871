"""A report as a workbook: figures as figures, a sheet a table, the heading frozen, charts.

On the Week page's own workbook each figure stands twice, as shown and in full. Here it stands
once, in full, and its format shows it.
"""

from __future__ import annotations

import io
import math
from datetime import UTC, datetime
from typing import Any, Final

from ringwright.core.instants import site_time
from ringwright.core.practice import WORD
from ringwright.kit.files import (
    FORMULA,
    MOST_ROWS,
    Exact,
    cell_text,
    fit_row,
    head_lines,
    mark_practice,
    tab_names,
)
from ringwright.kit.numbers import UNITS
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, WHOLE, Cell, Column, Sheet
from ringwright.report.charts import add_charts
from ringwright.report.model import Report

OPTIONS: Final = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_numbers": False,
    "strings_to_urls": False,
}
WIDEST: Final = 70


def xlsx_of(report: Report) -> bytes:
    """The report as a workbook, the same bytes each time. Raises Refused if too long."""
    from xlsxwriter import Workbook  # type: ignore[import-untyped]

    book, said = report.book, report.words
    check_rows(book.sheets)
    kept = io.BytesIO()
    with Workbook(kept, OPTIONS) as workbook:
        created = datetime.fromtimestamp(book.at_us // 1_000_000, UTC).replace(tzinfo=None)
        title = f"{report.sheet.week} {report.product}"
        title = f"{WORD}: {title}" if book.practice else title
        workbook.set_properties({"title": title, "created": created})
        codes = [said._("About"), *(sheet.code for sheet in book.sheets)]
        names = tab_names([f"{WORD} {code}" for code in codes] if book.practice else codes)
        styles = _styles(workbook)
        _write_about(workbook.add_worksheet(names[0]), report, styles)
        tabs = {}
        for name, sheet in zip(names[1:], book.sheets, strict=True):
            tabs[sheet.code] = workbook.add_worksheet(name)
            _write_sheet(tabs[sheet.code], sheet, book.zone, styles)
        add_charts(workbook, tabs, report)
        _paper(workbook.worksheets())
        if book.practice:
            mark_practice(workbook.worksheets())
    return kept.getvalue()


def check_rows(sheets: tuple[Sheet, ...]) -> None:
    """No row is left out in silence: more than a worksheet holds is refused."""
    from ringwright.core.errors import Refused

    for sheet in sheets:
        if len(sheet.rows) > MOST_ROWS:
            raise Refused(f"{sheet.title} has more rows than a workbook holds; take the CSV")


def _styles(workbook: Any) -> dict[str, Any]:
    wrapped = {"text_wrap": True, "valign": "top"}
    return {
        "head": workbook.add_format({"bold": True, "bottom": 1, **wrapped}),
        "text": workbook.add_format(wrapped),
        # Stays a text even after somebody has opened it to edit and pressed Enter.
        "inert": workbook.add_format({"quote_prefix": True, **wrapped}),
        WHOLE: workbook.add_format({"num_format": "#,##0"}),
        NUMBER: workbook.add_format({"num_format": "#,##0.0"}),
        SHARE: workbook.add_format({"num_format": "0.0%"}),
        MOMENT: workbook.add_format({"num_format": "yyyy-mm-dd hh:mm"}),
    }


def _write_text(tab: Any, spot: tuple[int, int], text: str, styles: dict[str, Any]) -> None:
    first = text.lstrip(" \u00a0\u202f\u3000\ufeff")[:1]
    tab.write_string(*spot, cell_text(text), styles["inert" if first in FORMULA else "text"])


def _write_about(tab: Any, report: Report, styles: dict[str, Any]) -> None:
    tab.set_column(0, 0, 26)
    tab.set_column(1, 1, 100)
    lines = head_lines(report.book, report.book.sheets, report.words)
    for line, (word, text) in enumerate(lines):
        tab.write_string(line, 0, cell_text(word), styles["head"])
        _write_text(tab, (line, 1), text, styles)
        fit_row(tab, line, [(text, 100)])


def _write_sheet(tab: Any, sheet: Sheet, zone: str, styles: dict[str, Any]) -> None:
    tab.freeze_panes(1, 1)
    tab.repeat_rows(0)
    headings = [_heading(column) for column in sheet.columns]
    widths = [_width(sheet, place, heading) for place, heading in enumerate(headings)]
    fit_row(tab, 0, zip(headings, widths, strict=True))
    for place, (heading, width) in enumerate(zip(headings, widths, strict=True)):
        tab.write_string(0, place, cell_text(heading), styles["head"])
        tab.set_column(place, place, width)
    for line, row in enumerate(sheet.rows, start=1):
        fit_row(tab, line, ((cell.shown, w) for cell, w in zip(row, widths, strict=True)))
        for place, (column, cell) in enumerate(zip(sheet.columns, row, strict=True)):
            _write_cell(tab, (line, place), cell, (column, zone, styles))


def _width(sheet: Sheet, place: int, heading: str) -> float:
    """Wide enough for the heading on two lines and the longest cell, up to a limit."""
    longest = max((len(row[place].shown) for row in sheet.rows), default=0)
    return min(WIDEST, max(10, len(heading) * 0.7, longest + 3))


def _heading(column: Column) -> str:
    unit = UNITS.get(column.unit, column.unit)
    return f"{column.name}, {unit}" if unit else column.name


def _write_cell(
    tab: Any, spot: tuple[int, int], cell: Cell, manner: tuple[Column, str, dict[str, Any]]
) -> None:
    column, zone, styles = manner
    value = cell.value
    if (
        value is None
        or isinstance(value, str)
        or not column.is_figure | (column.kind == MOMENT)
    ):
        _write_text(tab, spot, cell.shown, styles)
    elif column.kind == MOMENT:
        wall = site_time(int(value), zone).replace(tzinfo=None)
        tab.write_datetime(*spot, wall, styles[MOMENT])
    elif not math.isfinite(value):
        _write_text(tab, spot, repr(value), styles)
    else:
        # A plan may hold half a part: such a count is not rounded away.
        kind = NUMBER if column.kind == WHOLE and value != int(value) else column.kind
        tab.write_number(*spot, Exact(value), styles[kind])


def _paper(tabs: list[Any]) -> None:
    """Printed: A4 across, all columns on one page, pages numbered."""
    for tab in tabs:
        tab.set_landscape()
        tab.set_paper(9)
        tab.fit_to_pages(1, 0)
        tab.set_footer("&L&A&R&P / &N")
