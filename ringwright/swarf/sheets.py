"""The mass account as sheets: what the pages and their files show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.numbers import NOTHING, Figures
from ringwright.kit.sheets import NUMBER, WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.massing.account import Closing, volume_cm3
from ringwright.massing.swarf import KINDS as SWARF_KINDS
from ringwright.massing.swarf import dry
from ringwright.swarf.model import Case, Group, Kept, MassSheet
from ringwright.swarf.words import KINDS, STATES, MassWords

OPEN_SHOWN: Final = 40
Link = Callable[..., str]


class MassLists:
    """The sheets in one language."""

    def __init__(self, words: Words, show: Figures, link: Link, zone: str) -> None:
        self.words, self.show, self.link, self.zone = words, show, link, zone
        self.told = MassWords(words, show)

    def answer(self, sheet: MassSheet) -> str:
        """The week in one sentence."""
        if sheet.closing is None:
            return self.words._(
                "No case was weighed finished or scrapped in %(week)s", week=sheet.week
            )
        return self.told.closing(sheet.closing)

    def _columns(self, head: str) -> tuple[Column, ...]:
        _ = self.words._
        masses = (
            _("in"), _("good part"), _("scrapped part"),
            *(_(KINDS[kind]) for kind in SWARF_KINDS),
        )  # fmt: skip
        return (
            Column(name=head, head=True),
            *(Column(name=name, kind=NUMBER, unit="kg") for name in masses),
            Column(name=_("missing"), kind=NUMBER, unit="kg"),
            Column(name=_("account")),
            Column(name=_("buy-to-fly"), kind=NUMBER),
            Column(name=_("utilisation"), kind=NUMBER, unit="%"),
            Column(name=_("recovered clean"), kind=NUMBER, unit="%"),
        )

    def _figures(self, found: Closing) -> tuple[Cell, ...]:
        show, kg = self.show, self.told.kg
        masses = (
            found.bought, found.part, found.scrapped,
            *(found.by_kind[kind] for kind in SWARF_KINDS),
        )  # fmt: skip
        shares = (found.utilisation, found.recovered)
        return (
            *(Cell(kg(mass.kg), mass.kg) for mass in masses),
            Cell(self.told.rest(found), found.unaccounted.kg),
            Cell(self.told.closes(found)),
            Cell(show.decimal(found.buy_to_fly, 2), found.buy_to_fly),
            *(
                Cell(show.bare_percent(one), None if one is None else 100 * one)
                for one in shares
            ),
        )

    def cases(self, sheet: MassSheet) -> Sheet:
        """Each case closed in the week, the worst first."""
        _ = self.words._
        told = [one for one in sheet.cases if one.closing is not None]
        once = len(sheet.cases) - len(told)
        note = ""
        if once:
            note = self.words.ngettext(
                "%(n)s more was weighed only once and has no account",
                "%(n)s more were weighed only once and have no account",
                once, n=self.show.count(once),
            )  # fmt: skip
        return Sheet(
            code="cases",
            title=_("Cases closed in %(week)s, the worst first", week=sheet.week),
            columns=self._columns(_("case")),
            rows=tuple(self._case(one) for one in told),
            note=note,
        )

    def _case(self, case: Case) -> tuple[Cell, ...]:
        assert case.closing is not None
        where = self.link("swarf.case", serial=case.serial)
        return (Cell(case.serial, case.serial, where), *self._figures(case.closing))

    def weeks(self, sheet: MassSheet) -> Sheet:
        """The last weeks beside one another."""
        _ = self.words._
        return self._groups("weeks", _("Week by week"), _("week"), sheet.weeks[::-1], True)

    def alloys(self, sheet: MassSheet) -> Sheet:
        """The week by alloy."""
        title = self.words._("By alloy, %(week)s", week=sheet.week)
        return self._groups("alloys", title, self.words._("alloy"), sheet.alloys, False)

    def _groups(
        self, code: str, title: str, head: str, groups: Sequence[Group], weeks: bool
    ) -> Sheet:
        _ = self.words._
        first, *rest = self._columns(head)
        extra = (
            Column(name=_("cases"), kind=WHOLE),
            Column(name=_("scrapped"), kind=WHOLE),
        )
        density = (
            Column(name=_("density"), kind=NUMBER, unit="g/cm³"),
            Column(name=_("removed"), kind=NUMBER, unit="cm³"),
        )
        columns = (first, *extra, *(() if weeks else density), *rest)
        rows = tuple(self._group(one, weeks) for one in groups)
        return Sheet(code=code, title=title, columns=columns, rows=rows)

    def _group(self, one: Group, weeks: bool) -> tuple[Cell, ...]:
        show, density = self.show, one.density_g_cm3
        where = self.link("swarf.mass", week=one.name) if weeks else ""
        removed = volume_cm3(one.closing.removed_kg, density) if density else None
        solid = (
            Cell(show.decimal(density, 2), density),
            Cell(show.count(_whole(removed)), removed),
        )
        return (
            Cell(one.name or self.words._("not recorded"), one.name, where),
            Cell(show.count(one.cases), one.cases),
            Cell(show.count(one.scrapped), one.scrapped),
            *(() if weeks else solid),
            *self._figures(one.closing),
        )

    def kept(self, sheet: MassSheet) -> Sheet:
        """Where the swarf of the week's cases lies, by container."""
        _ = self.words._
        return Sheet(
            code="containers",
            title=_("Where the swarf of these cases went"),
            columns=(
                Column(name=_("container"), head=True),
                Column(name=_("alloy")),
                Column(name=_("kind")),
                Column(name=_("dry"), kind=NUMBER, unit="kg"),
                Column(name=_("clean or mixed")),
                Column(name=_("state")),
                Column(name=_("destination")),
            ),
            rows=tuple(map(self._kept, sheet.kept)),
        )

    def _kept(self, kept: Kept) -> tuple[Cell, ...]:
        _, batch, kg = self.words._, kept.batch, kept.dry.kg
        where = self.link("swarf.container", container=batch.container)
        return (
            Cell(batch.container, batch.container, where),
            Cell(batch.alloy or _("mixed")),
            Cell(_(KINDS[batch.swarf.kind])),
            Cell(self.told.kg(kg), kg),
            Cell(_("clean") if batch.swarf.clean else _("mixed")),
            Cell(_(STATES[batch.state])),
            Cell(batch.to or NOTHING, batch.to),
        )

    def open(self, sheet: MassSheet, most: int | None = None) -> Sheet:
        """Cases still in work, with what is known of them so far."""
        _ = self.words._
        return Sheet(
            code="open",
            title=_("Still in work"),
            columns=(
                Column(name=_("case"), head=True),
                Column(name=_("product")),
                Column(name=_("in"), kind=NUMBER, unit="kg"),
                Column(name=_("last weighed at step")),
                Column(name=_("then"), kind=NUMBER, unit="kg"),
                Column(name=_("missing up to then"), kind=NUMBER, unit="kg"),
                Column(name=_("swarf since"), kind=NUMBER, unit="kg"),
            ),
            rows=tuple(self._open(one) for one in sheet.open[:most]),
            of=len(sheet.open),
        )

    def _open(self, case: Case) -> tuple[Cell, ...]:
        first, last = case.weighed[0], case.weighed[-1]
        since = dry(one.swarf for one in case.waiting).kg
        found = case.closing
        return (
            Cell(case.serial, case.serial, self.link("swarf.case", serial=case.serial)),
            Cell(case.product),
            Cell(self.told.kg(first.mass.kg), first.mass.kg),
            Cell(f"{last.point.step} {last.point.name}"),
            Cell(self.told.kg(last.mass.kg), last.mass.kg),
            Cell(
                NOTHING if found is None else self.told.rest(found),
                None if found is None else found.unaccounted.kg,
            ),
            Cell(self.told.kg(since), since),
        )

    def figures(self, found: Closing) -> Sheet:
        """The figures of a ruler."""
        _ = self.words._
        rows = [
            (_("mass in"), found.bought),
            (_("good part"), found.part),
            (_("scrapped part"), found.scrapped),
            *((_(KINDS[kind]), found.by_kind[kind]) for kind in SWARF_KINDS),
            (_("found in all"), found.found),
            (_("missing"), found.unaccounted),
        ]
        return Sheet(
            code="account",
            title=_("Figures"),
            columns=(
                Column(name=_("of the account"), head=True),
                Column(name=_("mass"), kind=NUMBER, unit="kg"),
                Column(name=_("± (k = 2)"), kind=NUMBER, unit="kg"),
            ),
            rows=tuple(
                (
                    Cell(name),
                    Cell(self.told.kg(mass.kg, 2), mass.kg),
                    Cell(self.told.kg(mass.expanded_kg, 2), mass.expanded_kg),
                )
                for name, mass in rows
            ),
        )

    def book(self, sheet: MassSheet) -> Book:
        """The page as a book."""
        _ = self.words._
        filters = [(_("week"), sheet.week)]
        if sheet.product:
            filters.append((_("product"), sheet.product))
        account = () if sheet.closing is None else (self.figures(sheet.closing),)
        return self.bound(
            "case-mass",
            (_("Did the metal that came in come out again?"), self.answer(sheet)),
            filters,
            sheet.drawn,
            (self.cases(sheet), *account, self.weeks(sheet), self.alloys(sheet),
             self.kept(sheet), self.open(sheet)),
        )  # fmt: skip

    def bound(
        self,
        page: str,
        said: tuple[str, str],
        filters: Sequence[tuple[str, str]],
        drawn: Snapshot,
        sheets: tuple[Sheet, ...],
    ) -> Book:
        """Sheets of a page, its question and answer (`said`) as a book."""
        site = (self.words._("Site"), drawn.site_name or drawn.site)
        return Book(
            page=page,
            question=said[0],
            answer=said[1],
            filters=(site, *filters),
            cut_off=cut_off(drawn, self.words, self.show),
            zone=drawn.zone,
            at_us=drawn.now_us,
            sheets=sheets,
        )


def _whole(value: float | None) -> float | None:
    return None if value is None else float(round(value))
