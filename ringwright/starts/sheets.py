"""The plan of starts as sheets: how many for how sure, and what each step is taken for."""

from __future__ import annotations

from collections.abc import Callable

from ringwright.flow.account_words import span_line
from ringwright.flow.queries import HOUR_US
from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import NUMBER, SHARE, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.starting.plan import MOST
from ringwright.starts.service import WEEKS, StartsSheet, StepPlan

Link = Callable[..., str]


class StartsLists:
    """The sheets in one language."""

    def __init__(self, words: Words, show: Figures, link: Link) -> None:
        self.words, self.show, self.link = words, show, link

    def answer(self, sheet: StartsSheet) -> str:
        """The answer as one sentence."""
        _, show, found = self.words._, self.show, sheet.answer
        if sheet.unknown:
            steps = ", ".join(map(str, sheet.unknown))
            return _("Say what yield to take for step %(steps)s", steps=steps)
        if found is None:
            return _("More than %(most)s would have to be started", most=show.count(MOST))
        if not found.start:
            return _("Start none: what is finished and in work is enough")
        last = show.full(sheet.last_start_us, sheet.drawn.zone)
        return self.words.ngettext(
            "Start %(n)s part, by %(last)s",
            "Start %(n)s parts, the last of them by %(last)s",
            found.start,
            n=show.count(found.start),
            last=last,
        )

    def too_late(self, sheet: StartsSheet) -> bool:
        """True where parts have to be started and the last moment for it is over."""
        start = sheet.answer.start if sheet.answer else 0
        return start > 0 and sheet.last_start_us <= sheet.drawn.now_us

    def ladder(self, sheet: StartsSheet) -> Sheet:
        """How many to start for how sure, and what plain division would give."""
        _, show, found = self.words._, self.show, sheet.answer
        rows = [
            (
                Cell(_("at least %(sure)s sure", sure=show.percent(sure, 1))),
                Cell(show.count(start), start),
                Cell(show.percent(chance, 1), chance),
            )
            for sure, start, chance in (found.ladder if found else ())
        ]
        if found:
            plain = Cell(show.percent(found.plain_chance, 1), found.plain_chance)
            text = _("needed over the yield, rounded up")
            rows.append((Cell(text), Cell(show.count(found.plain), found.plain), plain))
        return Sheet(
            code="starts",
            title=_("How many to start"),
            columns=(
                Column(name=_("how sure"), head=True),
                Column(name=_("start"), kind=WHOLE),
                Column(name=_("chance of enough"), kind=SHARE),
            ),
            rows=tuple(rows),
        )

    def steps(self, sheet: StartsSheet) -> Sheet:
        """What is known of each step, and what stands there."""
        _ = self.words._
        return Sheet(
            code="steps",
            title=_("Step by step"),
            columns=(
                Column(name=_("step"), head=True),
                Column(name=_("went on"), kind=WHOLE),
                Column(name=_("scrapped"), kind=WHOLE),
                Column(name=_("parts a load"), kind=NUMBER),
                Column(name=_("yield"), kind=SHARE),
                Column(name=_("from"), kind=SHARE),
                Column(name=_("to"), kind=SHARE),
                Column(name=_("here now"), kind=WHOLE),
                Column(name=_("on hold"), kind=WHOLE),
                Column(name=_("too late"), kind=WHOLE),
                Column(name=_("counted"), kind=WHOLE),
                Column(name=_("way left"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(self._step(one, sheet) for one in sheet.steps),
            note=_("%(weeks)s weeks; intervals hold 95 in 100", weeks=self.show.count(WEEKS)),
        )

    def _step(self, one: StepPlan, sheet: StartsSheet) -> tuple[Cell, ...]:
        show, known = self.show, one.evidence
        low, high = known.interval()
        missing = one.step.number in sheet.unknown
        shares = [(None if missing else value) for value in (known.mean, low, high)]
        left_h = one.left_us / HOUR_US
        link = self.link("floor.parts", product=sheet.card.product, step=one.step.number)
        counted = known.assumed is None
        return (
            Cell(f"{one.step.number} {one.step.name}", one.step.number, link),
            *(
                Cell(show.count(n), n) if counted else Cell(self.words._("assumed"))
                for n in (known.through, known.lost)
            ),
            Cell(show.decimal(known.parts_a_load, 1), known.parts_a_load),
            *(Cell(show.percent(value), value) for value in shares),
            *(Cell(show.count(n), n) for n in (one.here, one.held, one.late, one.counted)),
            Cell(show.decimal(left_h, 1), left_h),
        )

    def book(self, sheet: StartsSheet) -> Book:
        """The page as a book."""
        _, show, asked = self.words._, self.show, sheet.asked
        return Book(
            page="starts",
            question=_("How many parts to start?"),
            answer=self.answer(sheet),
            filters=(
                (_("Site"), sheet.drawn.site_name or sheet.drawn.site),
                (_("product"), sheet.card.product),
                (_("sets"), show.count(asked.sets)),
                (_("spares"), show.count(asked.spares)),
                (_("wanted by"), show.full(sheet.due_us, sheet.drawn.zone)),
                (_("how sure"), show.percent(asked.sure, 1)),
            ),
            cut_off=cut_off(sheet.drawn, self.words, show),
            zone=sheet.drawn.zone,
            at_us=sheet.drawn.now_us,
            sheets=(self.ladder(sheet), self.steps(sheet)),
            reconciliation=self._accounts(sheet),
        )

    def _accounts(self, sheet: StartsSheet) -> tuple[str, ...]:
        """Every part of the weeks that yields are from, and those here now step by step."""
        _, show, zone = self.words._, self.show, sheet.drawn.zone
        here = sum(one.here for one in sheet.steps)
        span = (sheet.since_us, sheet.drawn.now_us + 1)
        return (
            span_line((sheet.card.product, zone), span, sheet.account, (self.words, show)),
            _(
                "%(closing)s closing = %(here)s at the steps listed + %(rest)s at steps of "
                "other revisions",
                closing=show.count(sheet.account.closing),
                here=show.count(here),
                rest=show.count(sheet.account.closing - here),
            ),
        )
