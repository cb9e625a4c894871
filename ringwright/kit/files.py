"""A book of figures as a file: CSV (RFC 4180) or a workbook, the same bytes each time.

Each figure stands twice: as it is shown on the page, and in full precision beside it. A text
that a spreadsheet would run as a formula is kept from it; control characters are shown.
"""

from __future__ import annotations

import csv
import io
import math
import re
import textwrap
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import iso_text, site_time
from ringwright.core.practice import WORD, file_name_of
from ringwright.kit.numbers import UNITS
from ringwright.kit.sheets import (
    MOMENT,
    NUMBER,
    SHARE,
    TEXT,
    WHOLE,
    Book,
    Cell,
    Column,
    Sheet,
    plain,
)
from ringwright.kit.words import ENGLISH, Words, words_of

MOST_ROWS: Final = 1_048_575
"""Rows under the heading that a worksheet holds."""
LINE_POINTS: Final = 15
"""Height of one line of a worksheet."""
MOST_LINES: Final = 27
"""Lines that the highest row holds: 409 points."""
FILLED: Final = 0.88
"""How much of a column's width in figures a bold text of letters may fill."""
MOST_LETTERS: Final = 32_767
"""Letters that a worksheet's cell holds."""
FORMULA: Final = frozenset(
    "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b",
)
"""What may begin a formula in a spreadsheet; full-width and small forms too."""
_FIGURE: Final = re.compile(r"[+-]?\d[\d.,\u202f\u00a0]*(e[+-]?\d+)?", re.IGNORECASE)
_TWICE: Final = frozenset({NUMBER, SHARE, MOMENT})

Value = str | int | float | datetime | None


def csv_of(book: Book, code: str | None = None, words: Words | None = None) -> bytes:
    """One sheet of a book, or all of them one after the other, as CSV.

    Every line has as many fields as the widest table, as RFC 4180 asks. Raises Missing.
    """
    said = words or words_of(ENGLISH)
    sheets = _chosen(book, code)
    lines = [_safe_all(line) for line in head_lines(book, sheets, said)]
    for sheet in sheets:
        lines += [[], [_safe(sheet.title), *_safe_all(_extent(sheet, said))]]
        lines.append(_safe_all(_headings(sheet, said)))
        lines += [_csv_row(sheet, row, book.zone) for row in sheet.rows]
    width = max(len(line) for line in lines)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerows(line + [""] * (width - len(line)) for line in lines)
    return text.getvalue().encode("utf-8")


def xlsx_of(book: Book, words: Words | None = None) -> bytes:
    """A book as a workbook: what it says first, then each sheet. Raises Refused if too long."""
    # Only here: no command but an export needs it.
    from xlsxwriter import Workbook  # type: ignore[import-untyped]

    said = words or words_of(ENGLISH)
    for sheet in book.sheets:
        if len(sheet.rows) > MOST_ROWS:
            raise Refused(f"{sheet.title} has more rows than a workbook holds; take the CSV")
    kept = io.BytesIO()
    options = {
        "in_memory": True,
        "strings_to_formulas": False,
        "strings_to_numbers": False,
        "strings_to_urls": False,
    }
    with Workbook(kept, options) as workbook:
        created = datetime.fromtimestamp(book.at_us // 1_000_000, UTC).replace(tzinfo=None)
        title = f"{WORD}: {book.question}" if book.practice else book.question
        workbook.set_properties({"title": title, "created": created})
        codes = [said._("About"), *(sheet.code for sheet in book.sheets)]
        names = tab_names([f"{WORD} {code}" for code in codes] if book.practice else codes)
        styles = _styles(workbook)
        _write_about(workbook.add_worksheet(names[0]), book, said, styles)
        for name, sheet in zip(names[1:], book.sheets, strict=True):
            _write_sheet(workbook.add_worksheet(name), sheet, book.zone, (said, styles))
        if book.practice:
            mark_practice(workbook.worksheets())
    return kept.getvalue()


def file_name(book: Book, form: str, code: str | None = None) -> str:
    """The page, the site's date of the cut-off, the sheet where it is one of several."""
    day = site_time(book.at_us, book.zone).date().isoformat()
    pieces = [plain(book.page), day, *([plain(code)] if code else [])]
    name = f"{'-'.join(pieces)}.{form}"
    return file_name_of(name) if book.practice else name


def _chosen(book: Book, code: str | None) -> Sequence[Sheet]:
    if not code:
        return book.sheets
    found = [sheet for sheet in book.sheets if sheet.code == code]
    if not found:
        raise Missing(f"there is no sheet {code!r} on this page")
    return found


def head_lines(book: Book, sheets: Sequence[Sheet], said: Words) -> Iterator[tuple[str, ...]]:
    """What the file is about, as (word, text) lines; practice comes first."""
    _ = said._
    if book.practice:
        told = _(
            "%(site)s is a practice site: nothing here is a real record.", site=book.practice
        )
        yield _(WORD), told
    yield _("Question"), book.question
    yield _("Answer"), book.answer
    yield from book.filters
    yield _("Cut-off"), book.cut_off
    for line in book.reconciliation:
        yield _("Reconciliation"), line
    for sheet in sheets:
        yield _("Rows"), ": ".join((sheet.title, " ".join(_extent(sheet, said))))


def _extent(sheet: Sheet, said: Words) -> list[str]:
    """How many rows there are, of how many in all; then the note."""
    rows = len(sheet.rows)
    all_rows = max(rows, sheet.of or 0)
    told = said._("%(shown)s rows here of %(all)s in all", shown=rows, all=all_rows)
    return [told, sheet.note] if sheet.note else [told]


def _headings(sheet: Sheet, said: Words) -> list[str]:
    found: list[str] = []
    for column in sheet.columns:
        unit = UNITS.get(column.unit, column.unit)
        name = f"{column.name}, {unit}" if unit else column.name
        found.append(name)
        if column.kind == SHARE:
            found.append(said._("%(name)s, in full, 0 to 1", name=column.name))
        elif column.kind in _TWICE:
            found.append(said._("%(name)s, in full", name=name))
    return found


def _values(column: Column, cell: Cell, zone: str) -> Iterator[Value]:
    """What a cell becomes in a file: its text, and its full value where it has one."""
    if column.kind == WHOLE:
        yield cell.shown if cell.value is None else cell.value
        return
    yield cell.shown
    if column.kind == MOMENT:
        yield None if cell.value is None else site_time(int(cell.value), zone)
    elif column.kind in _TWICE:
        yield cell.value


def _csv_row(sheet: Sheet, row: Sequence[Cell], zone: str) -> list[str]:
    found: list[str] = []
    for column, cell in zip(sheet.columns, row, strict=True):
        if column.kind == MOMENT:
            moment = None if cell.value is None else int(cell.value)
            found += [_safe(cell.shown), "" if moment is None else iso_text(moment, zone)]
            continue
        found += [_csv_text(value) for value in _values(column, cell, zone)]
    return found


def _csv_text(value: Value) -> str:
    if value is None:
        return ""
    return _safe(value) if isinstance(value, str) else repr(value)


def _safe_all(texts: Sequence[str]) -> list[str]:
    return [_safe(text) for text in texts]


def _safe(text: str) -> str:
    """A text that no spreadsheet runs: marked as text where it could begin a formula."""
    shown = _without_controls(text)
    first = text.lstrip(" \u00a0\u202f\u3000\ufeff")[:1]
    if first in FORMULA and not _FIGURE.fullmatch(text):
        return f"'{shown}"
    return shown


def _without_controls(text: str) -> str:
    """Control characters as the signs that picture them; what no file can hold as U+FFFD."""
    if text.isprintable():
        return text
    return "".join(_pictured(letter) for letter in text)


def _pictured(letter: str) -> str:
    code, kind = ord(letter), unicodedata.category(letter)
    if kind == "Cc":
        return chr(0x2400 + code) if code < 0x20 else "\u2421" if code == 0x7F else "\ufffd"
    return "\ufffd" if kind == "Cs" or code & 0xFFFE == 0xFFFE else letter


def tab_names(codes: Sequence[str]) -> list[str]:
    """Names that a workbook allows: short, without its special signs, none twice."""
    taken: dict[str, str] = {}
    for code in codes:
        base = re.sub(r"[\[\]:*?/\\']", " ", _without_controls(code)).strip()[:31] or "Sheet"
        name, number = base, 2
        while name.lower() in taken or name.lower() == "history":
            name, number = f"{base[:27]} {number}", number + 1
        taken[name.lower()] = name
    return list(taken.values())


def _styles(workbook: Any) -> dict[str, Any]:
    return {
        "head": workbook.add_format({"bold": True, "text_wrap": True, "valign": "top"}),
        WHOLE: workbook.add_format({"num_format": "#,##0"}),
        NUMBER: workbook.add_format({"num_format": "General"}),
        SHARE: workbook.add_format({"num_format": "0.0000"}),
        MOMENT: workbook.add_format({"num_format": "yyyy-mm-dd hh:mm:ss.000"}),
        "end": workbook.add_format({"align": "right"}),
        "wrap": workbook.add_format({"text_wrap": True, "valign": "top"}),
    }


def mark_practice(tabs: Iterable[Any]) -> None:
    """Practice above and below every printed page; the tab's name says it on the screen."""
    for tab in tabs:
        tab.set_header(f"&L&20{WORD}&R&20{WORD}")
        tab.set_footer(f"&L&20{WORD}&R&P / &N")
        tab.set_tab_color("black")


def fit_row(tab: Any, line: int, cells: Iterable[tuple[str, float]]) -> None:
    """Make a row as high as its wrapped texts need: (text, width of its column in letters).

    Some programs do so by themselves when they open a workbook, others let lines overlap.
    """
    needed = (len(textwrap.wrap(text, max(1, int(FILLED * width)))) for text, width in cells)
    lines = max(needed, default=1)
    if lines > 1:
        tab.set_row(line, LINE_POINTS * min(lines, MOST_LINES))


def _write_about(tab: Any, book: Book, said: Words, styles: dict[str, Any]) -> None:
    tab.set_column(0, 0, 22)
    tab.set_column(1, 1, 100)
    for line, (word, text) in enumerate(head_lines(book, book.sheets, said)):
        tab.write_string(line, 0, cell_text(word), styles["head"])
        tab.write_string(line, 1, cell_text(text), styles["wrap"])
        fit_row(tab, line, [(text, 100)])


def _write_sheet(
    tab: Any, sheet: Sheet, zone: str, manner: tuple[Words, dict[str, Any]]
) -> None:
    said, styles = manner
    headings = _headings(sheet, said)
    tab.freeze_panes(1, 1)
    # Shown figures are texts on purpose; the real ones stand beside them.
    tab.ignore_errors({"number_stored_as_text": "A1:XFD1048576"})
    widths = [min(60, max(10, len(heading) * 0.7)) for heading in headings]
    fit_row(tab, 0, zip(headings, widths, strict=True))
    for place, (heading, width) in enumerate(zip(headings, widths, strict=True)):
        tab.write_string(0, place, cell_text(heading), styles["head"])
        tab.set_column(place, place, width)
    for line, row in enumerate(sheet.rows, start=1):
        place = 0
        for column, cell in zip(sheet.columns, row, strict=True):
            for value in _values(column, cell, zone):
                _write_cell(tab, (line, place), value, (column.kind, styles))
                place += 1


def _write_cell(
    tab: Any, spot: tuple[int, int], value: Value, manner: tuple[str, dict[str, Any]]
) -> None:
    kind, styles = manner
    if isinstance(value, float) and not math.isfinite(value):
        value = repr(value)
    if isinstance(value, datetime):
        tab.write_datetime(*spot, value.replace(tzinfo=None), styles[MOMENT])
    elif isinstance(value, str):
        style = None if kind in (TEXT, MOMENT) else styles["end"]
        tab.write_string(*spot, cell_text(value), style)
    elif value is not None:
        # A plan may hold half a part: such a count is not rounded away.
        style = styles[kind if value == int(value) or kind != WHOLE else NUMBER]
        tab.write_number(*spot, Exact(value), style)


class Exact(float):
    """A figure written with every digit it has; the workbook library would round the last."""

    def __format__(self, _spec: str) -> str:
        return repr(float(self))


def cell_text(text: str) -> str:
    """A text as a cell holds it; one that is too long says where it is whole."""
    shown = _without_controls(text)
    if len(shown) <= MOST_LETTERS:
        return shown
    more = "\u2026 (cut here; the CSV has it whole)"
    return shown[: MOST_LETTERS - len(more)] + more
