"""A report as the file that was asked for, and its name."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Final

from ringwright.core.errors import Missing
from ringwright.core.practice import file_name_of
from ringwright.kit.files import csv_of
from ringwright.kit.sheets import plain
from ringwright.report.model import CSV, FORMS, PARQUET, PDF, XLSX, Report
from ringwright.report.paper import pdf_of
from ringwright.report.parquet import parquet_of
from ringwright.report.workbook import xlsx_of

MEDIA: Final = {
    PDF: "application/pdf",
    XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    CSV: "text/csv; charset=utf-8",
    PARQUET: "application/vnd.apache.parquet",
}
"""How each form is named on the wire."""
_MAKERS: Final[dict[str, Callable[[Report], bytes]]] = {
    PDF: pdf_of,
    XLSX: xlsx_of,
    CSV: lambda report: csv_of(report.book, None, report.words),
    PARQUET: parquet_of,
}


def file_of(report: Report, form: str) -> bytes:
    """The report in one form, the same bytes each time; raises Missing for no such form."""
    check_form(form)
    return _MAKERS[form](report)


def check_form(form: str) -> None:
    """Raise Missing for a form that no report has."""
    if form not in _MAKERS:
        raise Missing(f"no report of the form {form!r}; there are {', '.join(FORMS)}")


def name_of(report: Report, form: str) -> str:
    """Week, product and the newest entry it was drawn from: a grown record writes over none."""
    pieces = ["week-report", _told_apart(report.product), report.sheet.week]
    if report.sheet.as_of:
        pieces.append(f"as-of-{report.sheet.now_us // 1_000_000}")
    name = f"{'-'.join(pieces)}-entry-{report.sheet.head_seq}.{form}"
    return file_name_of(name) if report.book.practice else name


def _told_apart(code: str) -> str:
    """The code as a piece of a name; one that loses signs by that gets its digest too."""
    short = plain(code)
    if short == code:
        return short
    return f"{short[:60]}-{hashlib.sha256(code.encode('utf-8', 'replace')).hexdigest()[:8]}"
