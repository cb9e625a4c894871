"""A report on paper: two pages A4 for an ordinary week, more where there are more rows.

The first page answers: the promise line, the figures, that every part is accounted for, scrap.
The second has the steps, what it was drawn from and what each word means. Nothing is cut: a
table that is longer goes on over the page under its heading again.
"""

from __future__ import annotations

import io
from typing import Any, Final

from ringwright.core.practice import WORD
from ringwright.kit.sheets import Sheet
from ringwright.report.drawings import interval_drawing, promise_drawing
from ringwright.report.letters import BOLD, PLAIN, drawable, known_signs, marked
from ringwright.report.model import Report

MM: Final = 72 / 25.4
MARGIN: Final = 14 * MM
PAD: Final = 6
"""What the library's frame keeps free inside its margins."""
WIDTH: Final = 210 * MM - 2 * (MARGIN + PAD)
GREY: Final = 0.35


def pdf_of(report: Report) -> bytes:
    """The report as PDF, the same bytes each time: no clock and no chance goes into it."""
    from reportlab.lib.pagesizes import A4
    from reportlab.platypus import PageBreak, SimpleDocTemplate

    known_signs()
    kept = io.BytesIO()
    title = f"{report.sheet.week} {report.product}"
    title = f"{WORD}: {title}" if report.book.practice else title
    paper = SimpleDocTemplate(
        kept, pagesize=A4, invariant=1, title=title,
        author="Ringwright", subject=drawable(report.book.cut_off), lang=report.words.tag,
        leftMargin=MARGIN, rightMargin=MARGIN, topMargin=18 * MM, bottomMargin=17 * MM,
    )  # fmt: skip
    flow = Flow(report)
    story = [
        *flow.answer(),
        PageBreak(),
        *flow.steps(),
        *flow.drawn_from(),
        *flow.definitions(),
    ]
    paper.build(story, canvasmaker=_numbered(report))
    return kept.getvalue()


class Flow:
    """The pieces of the paper, in order."""

    def __init__(self, report: Report) -> None:
        self.report = report
        self.words, self.show = report.words, report.show
        self.styles = _styles()

    def answer(self) -> list[Any]:
        """The first page: the answer, its picture, the figures, the account."""
        _, strip = self.words._, self.report.strip
        name = f"{strip.strip.name} ({self.report.product})"
        return [
            self.text(_("Week %(week)s, %(name)s", week=self.report.sheet.week, name=name),
                      "name"),
            self.text(self.report.book.answer, "answer"),
            self.text(_("Output less pace, over working time; the dashed line is the pace."),
                      "head"),
            promise_drawing(self.report, WIDTH),
            self.text(_("Figures"), "head"),
            self.facts(self.figures()),
            self.text(_("Every part accounted for"), "head"),
            self.text(self.report.book.reconciliation[0], "body"),
            *self.table("cycle time"),
            *self.table("scrap"),
        ]  # fmt: skip

    def figures(self) -> tuple[tuple[str, str], ...]:
        """The week's own figures, worded as on the page."""
        _, show = self.words._, self.show
        n = self.report.strip.strip.numbers
        final = n.final_yield
        interval = ""
        if final.n:
            low, high = show.bare_percent(final.low), show.bare_percent(final.high)
            said = _(
                "(%(low)s to %(high)s), n %(n)s", low=low, high=high, n=show.count(final.n)
            )
            interval = f" {said}"
        missing = ""
        if n.rolled_missing and n.rolled_throughput_yield is not None:
            steps = ", ".join(n.rolled_missing)
            missing = f" {_('without %(steps)s: no first visit', steps=steps)}"
        cohort = n.cohort
        return (
            (_("output"), show.count(n.output)),
            (_("target"), show.count(n.target)),
            (_("scrapped"), show.count(n.scrapped)),
            (_("created"), show.count(n.created)),
            (_("in the cell at the end"), show.count(sum(n.wip.values()))),
            (_("rolled throughput"), show.percent(n.rolled_throughput_yield) + missing),
            (_("final"), show.percent(final.value) + interval),
            (_("Created this week"), _(
                "%(created)s created: %(released)s released, %(scrapped)s scrapped, "
                "%(open)s open as of now.",
                created=show.count(cohort.created), released=show.count(cohort.released),
                scrapped=show.count(cohort.scrapped), open=show.count(cohort.open),
            )),
        )  # fmt: skip

    def counts(self) -> tuple[tuple[str, str], ...]:
        """How many rows each table of the paper has, all of them here."""
        _ = self.words._
        named = [(self.sheet(name).title, len(self.sheet(name).rows)) for name in
                 ("steps", "scrap", "cycle time")]  # fmt: skip
        told = "; ".join(f"{title}: {self.show.count(rows)}" for title, rows in named)
        return ((_("Rows"), told),)

    def steps(self) -> list[Any]:
        """Every step, with the interval of its first-pass yield as a bar."""
        _, show, strip = self.words._, self.show, self.report.strip
        floor = show.bare_percent(strip.floor, 0)
        bar = _("first-pass yield, %(floor)s to 100 %%", floor=floor)
        heads = (
            _("step"), _("waiting"), _("in work"), _("held"), _("over plan"), bar, "%",
            _("95 %% interval, n"), _("rework ratio, %%, n"), _("touch, h"), _("queue, h"),
        )  # fmt: skip
        rows = [[self.text(head, "cell-head") for head in heads]]
        rows += [self.step(row) for row in strip.rows]
        shares = (0.19, 0.065, 0.055, 0.05, 0.055, 0.175, 0.055, 0.14, 0.095, 0.06, 0.06)
        title = _("%(name)s, step by step", name=strip.strip.name)
        return [self.text(title, "head"), self.grid(rows, shares)]

    def step(self, row: Any) -> list[Any]:
        """One step as a row of the table."""
        _, show = self.words._, self.show
        stands, week, rework = row.standing, row.week, row.rework
        counts = ("waiting", "in_work", "held", "over_plan")
        stood = [show.count(getattr(stands, name)) if stands else "" for name in counts]
        share = week.first_pass_yield if week else None
        value, interval = show.decimal(None), _("no first visit")
        if share is not None and share.n:
            low, high = show.bare_percent(share.low), show.bare_percent(share.high)
            value = show.bare_percent(share.value)
            interval = f"{_('%(low)s to %(high)s', low=low, high=high)}, {show.count(share.n)}"
        again = show.decimal(None)
        if rework.n:
            again = f"{show.bare_percent(rework.value)}, {show.count(rework.n)}"
        texts = [self.text(text, "cell") for text in (f"{row.number} {row.name}", *stood)]
        hours = (week.touch_h_median, week.queue_h_median) if week else (None, None)
        after = (value, interval, again, *map(show.decimal, hours))
        return [*texts, interval_drawing(row.bar), *(self.text(text, "cell") for text in after)]

    def drawn_from(self) -> list[Any]:
        """Site, filter, zone, cut-off, the whole head, how many rows and visits."""
        pairs = (*self.report.book.filters, *self.counts())
        return [self.text(self.words._("Drawn from"), "head"), self.facts(pairs)]

    def definitions(self) -> list[Any]:
        """What each word means, in small print."""
        sheet = {sheet.code: sheet for sheet in self.report.book.sheets}["definitions"]
        lines = [
            self.marked(f"<b>{marked(word.shown)}</b>: {marked(meaning.shown)}", "small")
            for word, meaning in sheet.rows
        ]
        lacks = self.words._(
            "A sign that this paper's font lacks is told by its number, as [U+4E2D]; workbook, "
            "CSV and Parquet have it."
        )
        return [self.text(sheet.title, "head"), *lines, self.text(lacks, "small")]

    def sheet(self, name: str) -> Sheet:
        """One of the product's sheets."""
        return self.report.book.sheet(f"{self.report.product} {name}")

    def table(self, name: str) -> list[Any]:
        """A sheet as a table; nothing where it has no rows."""
        sheet = self.sheet(name)
        if not sheet.rows:
            return []
        heads = [f"{c.name}, {c.unit}" if c.unit else c.name for c in sheet.columns]
        rows = [[self.text(head, "cell-head") for head in heads]]
        rows += [[self.text(cell.shown, "cell") for cell in row] for row in sheet.rows]
        share = 0.75 / len(heads)
        return [self.text(sheet.title, "head"), self.grid(rows, (share,) * len(heads))]

    def facts(self, pairs: tuple[tuple[str, str], ...]) -> Any:
        """Words and what they come to, a line each."""
        rows = [[self.text(word, "cell"), self.text(told, "cell")] for word, told in pairs]
        return self.grid(rows, (0.22, 0.78), heads=0)

    def grid(self, rows: list[list[Any]], shares: tuple[float, ...], heads: int = 1) -> Any:
        """A ruled table; its heading stands again on every page it goes on over."""
        from reportlab.lib.colors import Color
        from reportlab.platypus import Table, TableStyle

        rule = Color(0.75, 0.75, 0.75)
        style = [
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, rule),
            ("LEFTPADDING", (0, 0), (-1, -1), 2), ("RIGHTPADDING", (0, 0), (-1, -1), 2),
            ("TOPPADDING", (0, 0), (-1, -1), 1.2), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8),
        ]  # fmt: skip
        widths = [WIDTH * share for share in shares]
        table = Table(rows, colWidths=widths, repeatRows=heads, hAlign="LEFT")
        table.setStyle(TableStyle(style))
        return table

    def text(self, text: str, style: str) -> Any:
        """A paragraph of plain text."""
        return self.marked(marked(text), style)

    def marked(self, text: str, style: str) -> Any:
        """A paragraph of text that is marked already."""
        from reportlab.platypus import Paragraph

        return Paragraph(text, self.styles[style])


def _styles() -> dict[str, Any]:
    from reportlab.lib.styles import ParagraphStyle

    def made(size: float, font: str = PLAIN, before: float = 0, after: float = 0) -> Any:
        return ParagraphStyle(
            f"{font} {size}", fontName=font, fontSize=size, leading=size * 1.25,
            spaceBefore=before, spaceAfter=after, splitLongWords=1,
        )  # fmt: skip

    return {
        "name": made(10, PLAIN, after=1),
        "answer": made(15, BOLD, after=4),
        "head": made(8.5, BOLD, before=7, after=2),
        "body": made(8),
        "cell": made(7.2),
        "cell-head": made(6.4, BOLD),
        "small": made(6.2, after=1.1),
    }


def _numbered(report: Report) -> Any:
    """A canvas that knows how many pages there are when it writes the foot of each."""
    from reportlab.pdfgen.canvas import Canvas

    class Numbered(Canvas):  # type: ignore[misc]
        def __init__(self, *given: Any, **named: Any) -> None:
            super().__init__(*given, **named)
            self.kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - the library's name
            self.kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, state in enumerate(self.kept, start=1):
                self.__dict__.update(state)
                _frame(self, report, (number, len(self.kept)))
                super().showPage()
            super().save()

    return Numbered


def _frame(canvas: Any, report: Report, page: tuple[int, int]) -> None:
    """What stands on every page: which week of what, the cut-off, the page of how many."""
    sheet, show = report.sheet, report.show
    top, bottom = 297 * MM - 11 * MM, 10 * MM
    canvas.setFont(PLAIN, 7)
    canvas.setFillGray(GREY)
    place = sheet.site_name or sheet.site
    canvas.drawString(MARGIN + PAD, top, drawable(f"{place}, {sheet.week}, {report.product}"))
    cut = show.full(sheet.now_us, sheet.zone)
    foot = report.words._(
        "Cut-off %(moment)s (%(zone)s), entry %(entry)s, head %(head)s",
        moment=cut, zone=sheet.zone, entry=show.count(sheet.head_seq),
        head=sheet.head_hash[:16],
    )  # fmt: skip
    canvas.drawString(MARGIN + PAD, bottom, drawable(foot))
    said = report.words._(
        "page %(page)s of %(pages)s", page=show.count(page[0]), pages=show.count(page[1])
    )
    canvas.drawRightString(MARGIN + PAD + WIDTH, bottom, drawable(said))
    if report.book.practice:
        _watermark(canvas, top)


def _watermark(canvas: Any, top: float) -> None:
    """Practice across the page and above it, so that no half of it passes for real."""
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 12)
    canvas.drawRightString(MARGIN + PAD + WIDTH, top, WORD)
    canvas.saveState()
    canvas.setFillGray(0.0, 0.12)
    canvas.setFont(BOLD, 90)
    canvas.translate(105 * MM, 148 * MM)
    canvas.rotate(55)
    canvas.drawCentredString(0, -30, WORD)
    canvas.restoreState()
