"""A week read for a report, and put in words: the same board and book as the Week page."""

from __future__ import annotations

from dataclasses import replace

from ringwright.core.glossary import meaning
from ringwright.core.instants import iso_text
from ringwright.flow.board import make_board
from ringwright.flow.book import make_book
from ringwright.flow.editions import Drawn
from ringwright.flow.moment import to_the_minute
from ringwright.flow.published import read_publications
from ringwright.flow.queries import Window
from ringwright.flow.service import week_bounds
from ringwright.flow.sheet import read_week_sheet
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.ledger.service import Read, last_entry_us
from ringwright.report.model import Found, Report, VisitLine
from ringwright.report.queries import visits_ended


def read_report(snapshot: Read, week: str, product: str, *, with_visits: bool = True) -> Found:
    """Everything a report holds, from one snapshot; the visits only where they are written.

    Raises Missing or Refused.
    """
    read = at_rest(snapshot, week)
    sheet = read_week_sheet(read, week, product)
    window = Window(products=(product,), start_us=sheet.start_us, end_us=sheet.end_us)
    (publication,) = read_publications(read, [sheet.strips[0].numbers])
    rows = read.connection.execute(visits_ended(read, window)) if with_visits else ()
    return Found(
        sheet=sheet,
        publication=publication,
        visits=tuple(VisitLine(**row._mapping) for row in rows),
        practice=read.site.code if read.site.practice_of else "",
    )


def at_rest(read: Read, week: str) -> Read:
    """The moment a report speaks of, so that it is the same to the byte until the record grows.

    Of a week that is over: its end, or the newest entry where that came later. Of one that
    runs: the minute, as on the page. A past moment that was asked for stays.
    """
    _, end_us = week_bounds(read, week)
    if read.as_of_us is not None or read.now_us < end_us:
        return to_the_minute(read)
    newest_us = last_entry_us(read) or end_us
    return replace(read, now_us=max(end_us, min(newest_us, read.now_us)))


def make_report(found: Found, words: Words, show: Figures) -> Report:
    """The report in one language."""
    sheet, numbers = found.sheet, found.sheet.strips[0].numbers
    board = make_board(sheet, words, show)
    drawn = Drawn(words, show, sheet.zone, sheet.now_us, lambda _serial, _entry: "")
    block = drawn.block(found.publication, numbers)
    page = make_book(board, {numbers.product: block}, words, show)
    book = replace(
        page,
        page="week-report",
        practice=found.practice,
        filters=(*page.filters, *_drawn_from(found, words, show)),
        sheets=(*page.sheets, _definitions(board.terms, words)),
    )
    return Report(board=board, book=book, visits=found.visits, words=words, show=show)


def visits_counted(found: Found) -> int:
    """How many visits the numbers are of: as many as the Parquet has rows."""
    return sum(step.visits for step in found.sheet.strips[0].numbers.steps)


def _drawn_from(found: Found, words: Words, show: Figures) -> tuple[tuple[str, str], ...]:
    """Filter, zone, head and how many visits there are: a line each."""
    _, sheet = words._, found.sheet
    cut = iso_text(sheet.now_us, sheet.zone)
    return (
        (_("Filter"), _("one product, all its steps, stations and lots; nothing left out")),
        (_("Zone"), sheet.zone),
        (_("Data cut-off"), _("%(moment)s, as known then", moment=cut) if sheet.as_of else cut),
        (_("Entry"), show.count(sheet.head_seq)),
        (_("Head of the record"), sheet.head_hash),
        (_("Visits under the numbers"), show.count(visits_counted(found))),
    )


def _definitions(terms: tuple[str, ...], words: Words) -> Sheet:
    """What each word means, as the page says it."""
    return Sheet(
        code="definitions",
        title=words._("How this is counted"),
        columns=(
            Column(name=words._("word"), head=True), Column(name=words._("meaning")),
        ),
        rows=tuple(
            (Cell(words._(term)), Cell(meaning(term, words.catalogue.gettext)))
            for term in terms
        ),
    )  # fmt: skip
