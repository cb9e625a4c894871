"""Authorisations of people as one page shows them: what lapses, what is held, as sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.core.authorisation import asked_of, words_of_method
from ringwright.core.glossary import N_
from ringwright.kit.cutoff import Snapshot, cut_off
from ringwright.kit.numbers import Figures
from ringwright.kit.sheets import WHOLE, Book, Cell, Column, Sheet
from ringwright.kit.words import Words
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.sites.queries import read_grants, read_people, when_at
from ringwright.sites.rules import Grant, Grants, Lapse, When, lapses, paper_on
from ringwright.sites.site import Person

MINUTE_US: Final = 60_000_000
SELF: Final = "self-inspection"
WHAT: Final[dict[str, str]] = {
    "authorisation": N_("authorisation"),
    "eyesight": N_("eyesight test"),
    "code": N_("code without level, dates and eyesight test: does not count"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One authorisation as it stands today."""

    person: str
    method: str
    grant: Grant | None
    """None: a code alone, without dates."""
    state: str
    """`valid`, `lapsed`, `eyes lapsed`, `begins`, `withdrawn`, `code`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Authorisations:
    """All authorisations of a site, from one snapshot."""

    drawn: Snapshot
    people: tuple[Person, ...]
    lines: tuple[Line, ...]
    lapses: tuple[Lapse, ...]

    @property
    def lapsed(self) -> int:
        """How many hold no more, or never did."""
        return sum(one.left_days is None or one.left_days < 0 for one in self.lapses)

    @property
    def soon(self) -> int:
        """How many end within the days that the list looks ahead."""
        return len(self.lapses) - self.lapsed

    @property
    def standing(self) -> tuple[Line, ...]:
        """What can be withdrawn: granted with dates and not withdrawn yet."""
        return tuple(
            line for line in self.lines if line.grant is not None and line.state != "withdrawn"
        )


def read_authorisations(read: Read) -> Authorisations:
    """What everybody at the site is authorised for, as of today."""
    zone = read.site.zone
    drawn = snapshot_of(read, to_the_minute=True)
    when = when_at(drawn.now_us, zone)
    people = tuple(read_people(read.connection, read.site.id))
    grants = read_grants(
        read.connection, read.site.id, zone, known_before_us=read.known_before_us
    )
    return Authorisations(
        drawn=drawn,
        people=people,
        lines=tuple(_lines(people, grants, when)),
        lapses=tuple(lapses(people, grants, when)),
    )  # fmt: skip


def _lines(people: Sequence[Person], grants: Grants, when: When) -> list[Line]:
    found = [
        Line(person=person, method=method, grant=grant, state=_state(grant, when))
        for (person, method), given in grants.items()
        for grant in _shown(given, when)
    ]
    found += [
        Line(person=one.code, method=code, grant=None, state="code")
        for one in people
        for code in one.authorisations
        if code != SELF and (one.code, asked_of(code).method) not in grants
    ]
    return sorted(found, key=lambda one: (one.person, one.method, _begin(one)))


def _begin(line: Line) -> str:
    return line.grant.paper.valid_from if line.grant else ""


def _shown(given: Sequence[Grant], when: When) -> list[Grant]:
    """The word about today, and what begins later."""
    now = paper_on(given, when.day)
    later = [one for one in given if one.paper.valid_from > when.day]
    return ([now] if now else []) + later


def _state(grant: Grant, when: When) -> str:
    paper = grant.paper
    if grant.withdrawn(when.at_us):
        return "withdrawn"
    if paper.valid_from > when.day:
        return "begins"
    if paper.valid_to < when.day:
        return "lapsed"
    if paper.eyesight_to is not None and paper.eyesight_to < when.day:
        return "eyes lapsed"
    return "valid"


Link = Callable[..., str]


class AuthorisationList:
    """The lists in one language."""

    def __init__(self, words: Words, show: Figures, link: Link) -> None:
        self.words, self.show, self.link = words, show, link

    def lapsing(self, found: Authorisations) -> Sheet:
        """What has lapsed or is about to, the worst first."""
        _ = self.words._
        return Sheet(
            code="lapsing",
            title=_("Lapsed, or within 30 days"),
            columns=(
                Column(name=_("Person"), head=True),
                Column(name=_("Method")),
                Column(name=_("What")),
                Column(name=_("Good to")),
                Column(name=_("Days left"), kind=WHOLE),
                Column(name=_("Certificate")),
            ),
            rows=tuple(self._lapse(one) for one in found.lapses),
        )

    def _lapse(self, one: Lapse) -> tuple[Cell, ...]:
        left = one.left_days
        return (
            Cell(one.person),
            Cell(self._method(one.method, one.level)),
            Cell(self.words._(WHAT[one.what])),
            Cell(one.day or "\u2013"),
            Cell("\u2013" if left is None else self.show.count(left), left),
            Cell(one.certificate),
        )

    def held(self, found: Authorisations) -> Sheet:
        """What everybody holds, by person."""
        _ = self.words._
        return Sheet(
            code="held",
            title=_("Authorisations, by person"),
            columns=(
                Column(name=_("Person"), head=True),
                Column(name=_("Method")),
                Column(name=_("State")),
                Column(name=_("Valid from")),
                Column(name=_("Valid to")),
                Column(name=_("Eyesight to")),
                Column(name=_("Certificate")),
                Column(name=_("Scope")),
                Column(name=_("Granted by")),
            ),
            rows=tuple(self._line(one) for one in found.lines),
        )

    def _line(self, one: Line) -> tuple[Cell, ...]:
        if one.grant is None:
            rest = (Cell(self._code_state(one)), *(Cell("\u2013") for _ in range(3)))
            return (Cell(one.person), Cell(one.method), *rest, Cell(""), Cell(""), Cell(""))
        paper = one.grant.paper
        return (
            Cell(one.person),
            Cell(self._method(paper.method, paper.level)),
            Cell(self._state(one, one.grant)),
            Cell(paper.valid_from),
            Cell(paper.valid_to),
            Cell(paper.eyesight_to or "\u2013"),
            Cell(paper.certificate),
            Cell(paper.scope),
            Cell(one.grant.granted_by),
        )

    def _method(self, method: str, level: int) -> str:
        words = words_of_method(method)
        if words == method:
            return method
        if not level:
            return f"{method}, {self.words._(words)}"
        return self.words._(
            "%(method)s level %(level)s, %(words)s",
            method=method,
            level=level,
            words=self.words._(words),
        )

    def _code_state(self, one: Line) -> str:
        if asked_of(one.method).is_ndt:
            return self.words._("does not count: a code without level, dates, eyesight test")
        return self.words._("valid: a code without dates")

    def _state(self, one: Line, grant: Grant) -> str:
        _ = self.words._
        if one.state == "withdrawn":
            return _(
                "withdrawn %(day)s: %(why)s",
                day=grant.withdrawn_day,
                why=grant.withdrawn_why,
            )
        return {
            "valid": _("valid"),
            "lapsed": _("lapsed"),
            "eyes lapsed": _("eyesight test lapsed"),
            "begins": _("not begun"),
        }[one.state]

    def book(self, found: Authorisations) -> Book:
        """Both lists as a book."""
        _ = self.words._
        name = found.drawn.site_name or found.drawn.site
        return Book(
            page="authorisations",
            question=_("Who is authorised for what, and what is about to lapse?"),
            answer=self.answer(found),
            filters=((_("Site"), name),),
            cut_off=cut_off(found.drawn, self.words, self.show),
            zone=found.drawn.zone,
            at_us=found.drawn.now_us,
            sheets=(self.lapsing(found), self.held(found)),
        )

    def answer(self, found: Authorisations) -> str:
        """The page's one line."""
        _, show = self.words._, self.show
        if not found.lines:
            return _("Nobody is authorised for anything yet")
        if not found.lapses:
            return _("Nothing has lapsed, and nothing will within 30 days")
        return _(
            "%(lapsed)s lapsed, %(soon)s about to lapse",
            lapsed=show.count(found.lapsed),
            soon=show.count(found.soon),
        )
