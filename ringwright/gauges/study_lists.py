"""A gauge study as sheets, its picture, and its verdict in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ringwright.core.glossary import N_
from ringwright.gauges.lists import Link
from ringwright.gauges.studies import Study
from ringwright.kit.charts import Scale
from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import MOMENT, NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.measure.study import (
    CATEGORIES,
    GAUGE,
    GOOD,
    INTERACTION,
    OPERATOR,
    PART,
    POOL_ABOVE,
    POOR,
    REPEAT,
    TOTAL,
    VERDICTS,
    Component,
)

SOURCES: Final[dict[str, str]] = {
    GAUGE: N_("gauge, repeatability and reproducibility together"),
    REPEAT: N_("repeatability: the same operator, the same part"),
    OPERATOR: N_("reproducibility: between operators"),
    INTERACTION: N_("operators by parts"),
    PART: N_("between parts"),
    TOTAL: N_("total"),
}
VERDICT_WORDS: Final = dict(
    zip(VERDICTS, (N_("good"), N_("usable with care"), N_("not fit for this")), strict=True)
)
TOP, FLOOR = 10.0, 200.0
LEAST_P: Final = 0.0001


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One reading on the picture: operator's number, where, and its words."""

    operator: int
    x: float
    y: float
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPicture:
    """All readings by part; each operator has a shape and a line of means."""

    marks: tuple[Mark, ...]
    lines: tuple[str, ...]
    """Of each operator, the means as points in a picture 100 wide."""
    parts: tuple[tuple[float, str], ...]


def draw_study(study: Study, show: Figures) -> StudyPicture:
    """The picture by part and operator."""
    answer = study.answer
    values = [one.value for one in study.readings]
    down = Scale(min(values), max(values), FLOOR, TOP)
    along = Scale(0.0, float(max(1, len(answer.parts) - 1)), 4.0, 96.0)
    shift = 2.0 / max(1, len(answer.operators))
    marks = tuple(
        Mark(
            operator=(who := answer.operators.index(one.operator)),
            x=round(along(float(answer.parts.index(one.part))) + (who - 1) * shift, 2),
            y=down(one.value),
            told=f"{one.operator}, {one.part}: {show.reading(one.value, 0)}",
        )
        for one in study.readings
    )
    lines = []
    for who, operator in enumerate(answer.operators):
        points = []
        for place, part in enumerate(answer.parts):
            own = [
                one.value
                for one in study.readings
                if one.operator == operator and one.part == part
            ]
            x = round(along(float(place)) + (who - 1) * shift, 2)
            points.append(f"{x},{down(sum(own) / len(own))}")
        lines.append(" ".join(points))
    parts = tuple((along(float(n)), part) for n, part in enumerate(answer.parts))
    return StudyPicture(marks=marks, lines=tuple(lines), parts=parts)


@dataclass(frozen=True, slots=True)
class StudyLists:
    """The sheets in one language."""

    words: Words
    show: Figures
    link: Link

    def all(self, studies: list[Study], drawn: Snapshot) -> Sheet:
        """Every study on the record."""
        _, show = self.words._, self.show
        return Sheet(
            code="studies",
            title=_("Gauge studies"),
            columns=(
                Column(name=_("Study"), head=True),
                Column(name=_("Gauge")),
                Column(name=_("Characteristic")),
                Column(name=_("Kept"), kind=MOMENT),
                Column(name=_("Parts"), kind=WHOLE),
                Column(name=_("Operators"), kind=WHOLE),
                Column(name=_("Repeats"), kind=WHOLE),
                Column(name=_("Gauge, of total"), kind=SHARE, unit="%"),
                Column(name=_("Gauge, of tolerance"), kind=SHARE, unit="%"),
                Column(name=_("Verdict")),
                Column(name=_("By")),
            ),
            rows=tuple(
                (
                    Cell(
                        show.count(one.number), one.number,
                        self.link("gauges.study", number=one.number),
                    ),
                    Cell(one.gauge, one.gauge, self.link("gauges.one", gauge=one.gauge)),
                    Cell(one.characteristic),
                    Cell(show.moment(one.at_us, drawn.zone, drawn.now_us), one.at_us),
                    Cell(show.count(len(one.answer.parts)), len(one.answer.parts)),
                    Cell(show.count(len(one.answer.operators)), len(one.answer.operators)),
                    Cell(show.count(one.answer.repeats), one.answer.repeats),
                    self._share(one.answer.component(GAUGE).of_total),
                    self._share(one.answer.component(GAUGE).of_tolerance),
                    Cell(_(VERDICT_WORDS[one.answer.verdict])),
                    Cell(one.actor),
                )
                for one in studies
            ),
        )  # fmt: skip

    def table(self, study: Study) -> Sheet:
        """The analysis of variance."""
        _, show = self.words._, self.show
        return Sheet(
            code="variance",
            title=_("Analysis of variance"),
            columns=(
                Column(name=_("source"), head=True),
                Column(name=_("degrees of freedom"), kind=WHOLE),
                Column(name=_("sum of squares"), kind=NUMBER),
                Column(name=_("mean square"), kind=NUMBER),
                Column(name="F", kind=NUMBER),
                Column(name="p", kind=NUMBER),
            ),
            rows=tuple(
                (
                    Cell(_(SOURCES[one.name])),
                    Cell(show.count(one.df), one.df),
                    Cell(_digits(show, one.ss), one.ss),
                    Cell(_digits(show, one.ms), one.ms),
                    Cell(NOTHING if one.f is None else show.decimal(one.f, 3), one.f),
                    Cell(_chance(show, one.p), one.p),
                )
                for one in study.answer.table
            ),
            note=self.pooling(study),
        )

    def pooling(self, study: Study) -> str:
        """Whether the interaction was pooled, and by which rule."""
        _ = self.words._
        limit = self.show.decimal(POOL_ABOVE, 2)
        if study.answer.pooled:
            return _("operators by parts pooled with the repeats: p above %(p)s", p=limit)
        return _("operators by parts kept apart: p not above %(p)s", p=limit)

    def components(self, study: Study) -> Sheet:
        """Standard deviations and percentages of each source."""
        _ = self.words._
        return Sheet(
            code="components",
            title=_("Where the variation comes from"),
            columns=(
                Column(name=_("source"), head=True),
                Column(name=_("standard deviation"), kind=NUMBER, unit=study.unit),
                Column(name=_("from"), kind=NUMBER),
                Column(name=_("to"), kind=NUMBER),
                Column(name=_("of total"), kind=SHARE, unit="%"),
                Column(name=_("of variance"), kind=SHARE, unit="%"),
                Column(name=_("of tolerance"), kind=SHARE, unit="%"),
            ),
            rows=tuple(self._component(one) for one in study.answer.components),
            note=_("from, to: 95 %% interval where one is known"),
        )

    def _component(self, one: Component) -> tuple[Cell, ...]:
        show = self.show
        return (
            Cell(self.words._(SOURCES[one.name])),
            Cell(_digits(show, one.sigma), one.sigma),
            Cell(NOTHING if one.low is None else _digits(show, one.low), one.low),
            Cell(NOTHING if one.high is None else _digits(show, one.high), one.high),
            self._share(one.of_total),
            self._share(one.of_variance),
            self._share(one.of_tolerance),
        )

    def _share(self, share: float | None) -> Cell:
        return Cell(self.show.bare_percent(share), share)

    def readings(self, study: Study) -> Sheet:
        """The readings as they were given."""
        _ = self.words._
        return Sheet(
            code="readings",
            title=_("Readings"),
            columns=(
                Column(name=_("part"), head=True),
                Column(name=_("operator")),
                Column(name=_("value"), kind=NUMBER, unit=study.unit),
            ),
            rows=tuple(
                (
                    Cell(one.part),
                    Cell(one.operator),
                    Cell(self.show.reading(one.value, 0), one.value),
                )
                for one in study.readings
            ),
        )

    def answer(self, study: Study) -> str:
        """The verdict in one line."""
        found = study.answer
        return self.words._(
            "%(gauge)s on %(what)s: %(verdict)s",
            gauge=study.gauge,
            what=study.characteristic,
            verdict=self.words._(VERDICT_WORDS[found.verdict]),
        )

    def rule(self, study: Study) -> str:
        """The share that was judged, and the rule that judged it."""
        _, show, found = self.words._, self.show, study.answer
        gauge = found.component(GAUGE)
        by_tolerance = gauge.of_tolerance if found.judged_by == "tolerance" else None
        share = gauge.of_total if by_tolerance is None else by_tolerance
        told = (
            _("%(share)s of the total variation", share=show.percent(share))
            if by_tolerance is None
            else _("%(share)s of the tolerance", share=show.percent(share))
        )
        if found.categories is None:
            return _(
                "No reading differed from its repeats or between operators: the last digit is "
                "too coarse for this study to tell what the gauge takes."
            )
        return _(
            "The gauge takes %(told)s and tells %(n)s categories of parts apart. By the rule "
            "of the MSA manual (AIAG, 4th ed.) up to %(good)s is good, up to %(poor)s usable "
            "with care, and a gauge that follows a process tells %(least)s categories at "
            "least.",
            told=told,
            n=show.count(found.categories),
            good=show.percent(GOOD, 0),
            poor=show.percent(POOR, 0),
            least=show.count(CATEGORIES),
        )

    def book(self, study: Study, drawn: Snapshot) -> Book:
        """One study as a book."""
        _ = self.words._
        sheets = (self.components(study), self.table(study), self.readings(study))
        return Book(
            page=f"gauge study {study.number}",
            question=_("How much of what is read is the gauge?"),
            answer=self.answer(study),
            filters=((_("Site"), drawn.site_name or drawn.site), (_("Gauge"), study.gauge)),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=sheets,
        )


def _chance(show: Figures, p: float | None) -> str:
    """A p-value to four decimals; one that would show as zero is told as below the last."""
    if p is None:
        return NOTHING
    return show.decimal(p, 4) if p >= LEAST_P else f"< {show.decimal(LEAST_P, 4)}"


def _digits(show: Figures, value: float) -> str:
    """Four significant digits, never with an exponent."""
    if value == 0:
        return "0"
    exponent = int(f"{value:.3e}".partition("e")[2])
    return show.decimal(value, max(0, 3 - exponent))
