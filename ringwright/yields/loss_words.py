"""What scrap cost, in words, and its figures as sheets. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ringwright.kit.cutoff import cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import MOMENT, NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.yields.board import Board, step_text
from ringwright.yields.losses import Loss, Lost, by_reason, together
from ringwright.yields.sheets import YieldSheets, filters_of, product_line

NO_LINK: Callable[[str, str], str] = lambda _dimension, _key: ""  # noqa: E731


class LossWords:
    """The words and sheets of the losses in one language."""

    def __init__(self, board: Board, parts: Sequence[Lost], words: Words, show: Figures
                 ) -> None:  # fmt: skip
        self.board, self.sheet, self.parts = board, board.sheet, parts
        self.words, self.show, self.whole = words, show, together(None, parts)

    def answer(self) -> str:
        """The sentence at the head of the page."""
        if not self.parts:
            return self.words._("Nothing was scrapped in these weeks.")
        return self.words.ngettext(
            "%(n)s scrapped part took %(touch)s of work; its material: %(mass)s.",
            "%(n)s scrapped parts took %(touch)s of work; their material: %(mass)s.",
            len(self.parts), n=self.show.count(len(self.parts)),
            touch=self.show.hours(self.whole.touch_h), mass=self.mass(self.whole),
        )  # fmt: skip

    def mass(self, loss: Loss) -> str:
        """A mass, and of how many parts it is known."""
        _, show = self.words._, self.show
        if not loss.weighed:
            return _("not known")
        told = _("%(kg)s kg", kg=show.decimal(loss.mass_kg, 2))
        if loss.weighed == loss.parts:
            return told
        return _("%(mass)s from %(known)s of %(all)s, the rest not known", mass=told,
                 known=show.count(loss.weighed), all=show.count(loss.parts))  # fmt: skip

    def hours(self) -> tuple[str, ...]:
        """How long the parts were in work, and in the cell."""
        _, show, whole = self.words._, self.show, self.whole
        if not self.parts:
            return ()
        return (
            _("In work: %(hours)s; of the spans in work, pauses with them, %(working)s lay "
              "in working time.", hours=show.hours(whole.touch_h),
              working=show.hours(whole.touch_working_h)),
            _("From creation to scrap: %(hours)s, of these %(working)s of working time.",
              hours=show.hours(whole.elapsed_h),
              working=show.hours(whole.elapsed_working_h)),
        )  # fmt: skip

    def sheets(self, link: Callable[[str], str]) -> tuple[Sheet, ...]:
        """Losses by causing step, finding step, defect and place; reasons; part by part."""
        _, sheet = self.words._, self.sheet
        places = self.board.outline.zone_of
        lists = YieldSheets(self.board, self.words, self.show, NO_LINK)

        def place(part: Lost) -> str:
            zone = places(part.place)
            return _(zone.name) if zone else part.place or _("place not recorded")

        def step(number: int | None) -> str:
            return step_text(sheet, number, self.words)

        return (
            self._losses("caused", _("Lost, by step that caused it"), _("caused at"),
                         by_reason(self.parts, lambda part: step(part.caused))),
            self._losses("found", _("Lost, by step that found it"), _("found at"),
                         by_reason(self.parts, lambda part: step(part.found))),
            self._losses("defect", _("Lost, by defect"), _("defect"),
                         by_reason(self.parts, lambda part: part.defect or _("not named"))),
            self._losses("place", _("Lost, by place on the part"), _("place"),
                         by_reason(self.parts, place)),
            *(lists.pareto(each) for each in self.board.paretos),
            self._parts(link),
        )  # fmt: skip

    def _losses(self, code: str, title: str, head: str, losses: Sequence[Loss]) -> Sheet:
        _ = self.words._
        return Sheet(
            code=f"lost by {code}", title=title,
            columns=(
                Column(name=head, head=True), Column(name=_("parts"), kind=WHOLE),
                Column(name=_("weighed"), kind=WHOLE),
                Column(name=_("mass of these"), kind=NUMBER, unit="kg"),
                Column(name=_("in work"), kind=NUMBER, unit="h"),
                Column(name=_("at steps in working time"), kind=NUMBER, unit="h"),
                Column(name=_("in the cell"), kind=NUMBER, unit="h"),
                Column(name=_("in the cell in working time"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(self._row(loss) for loss in losses),
        )  # fmt: skip

    def _row(self, loss: Loss) -> tuple[Cell, ...]:
        _, show = self.words._, self.show
        mass = Cell(show.decimal(loss.mass_kg, 2), loss.mass_kg)
        hours = (loss.touch_h, loss.touch_working_h, loss.elapsed_h, loss.elapsed_working_h)
        return (
            Cell(str(loss.key)), Cell(show.count(loss.parts), loss.parts),
            Cell(show.count(loss.weighed), loss.weighed),
            mass if loss.weighed else Cell(_("not known")),
            *(Cell(show.decimal(one), one) for one in hours),
        )  # fmt: skip

    def _parts(self, link: Callable[[str], str]) -> Sheet:
        _, show, zone = self.words._, self.show, self.sheet.zone
        return Sheet(
            code="lost parts", title=_("Scrapped, part by part"),
            columns=(
                Column(name=_("part"), head=True), Column(name=_("when"), kind=MOMENT),
                Column(name=_("defect")), Column(name=_("place")), Column(name=_("caused at")),
                Column(name=_("found at")), Column(name=_("mass"), kind=NUMBER, unit="kg"),
                Column(name=_("in work"), kind=NUMBER, unit="h"),
                Column(name=_("in the cell"), kind=NUMBER, unit="h"),
            ),
            rows=tuple(
                (
                    Cell(part.serial, link=link(part.serial)),
                    Cell(show.moment(part.at_us, zone, self.sheet.now_us), part.at_us),
                    Cell(part.defect), Cell(part.place),
                    Cell(step_text(self.sheet, part.caused, self.words)),
                    Cell(step_text(self.sheet, part.found, self.words)),
                    Cell(_("not known")) if part.mass_kg is None
                    else Cell(show.decimal(part.mass_kg, 3), part.mass_kg),
                    Cell(show.decimal(part.touch_h), part.touch_h),
                    Cell(show.decimal(part.elapsed_h), part.elapsed_h),
                )
                for part in self.parts
            ),
        )  # fmt: skip

    def book(self, sheets: tuple[Sheet, ...]) -> Book:
        """The page as a file."""
        _, show, whole = self.words._, self.show, self.whole
        return Book(
            page="yield losses", question=_("What did scrap cost, and where did it lie?"),
            answer=self.answer(), filters=filters_of(self.sheet, self.words),
            cut_off=cut_off(self.sheet, self.words, show), zone=self.sheet.zone,
            at_us=self.sheet.now_us, sheets=sheets,
            reconciliation=(
                _("%(parts)s scrapped = %(known)s weighed + %(rest)s not weighed",
                  parts=show.count(whole.parts), known=show.count(whole.weighed),
                  rest=show.count(whole.parts - whole.weighed)),
                _("%(listed)s parts listed = %(counted)s counted as scrapped",
                  listed=show.count(whole.parts), counted=show.count(self.sheet.scrap.total)),
                product_line(self.sheet, self.words, show),
                *self.hours(),
            ),
        )  # fmt: skip
