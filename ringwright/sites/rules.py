"""Who may do a method on a day: pure, from what was granted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from ringwright.core.authorisation import Asked, asked_of
from ringwright.sites.site import Authorisation, Person

NAMED: Final = 6
"""People that a refusal names; the rest are counted."""
SOON_DAYS: Final = 30
"""An authorisation that ends within so many days is about to lapse."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """An authorisation as it was granted, and what became of it."""

    number: int
    """Its entry in the record: the later one is the newer word."""
    paper: Authorisation
    granted_by: str
    at_us: int
    withdrawn_us: int | None = None
    withdrawn_day: str = ""
    """The site's day of it."""
    withdrawn_by: str = ""
    withdrawn_why: str = ""

    def withdrawn(self, at_us: int) -> bool:
        """True once it was withdrawn."""
        return self.withdrawn_us is not None and at_us >= self.withdrawn_us


Grants = Mapping[tuple[str, str], Sequence[Grant]]
"""(person, method) to what was granted them, in the order of the record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """A moment and the site's day it falls on."""

    at_us: int
    day: str
    """ISO date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a person holds what a step asks, until when, or what is lacking."""

    person: str
    asked: Asked
    lacking: str = ""
    """A piece of a sentence: what is missing or since when it has lapsed; empty: nothing."""
    until: str | None = None
    """The last day it holds; None where a code without dates is enough."""

    @property
    def holds(self) -> bool:
        """True when nothing is lacking."""
        return not self.lacking


def paper_on(grants: Sequence[Grant], day: str) -> Grant | None:
    """The newest word about a day: of those begun by then, the one granted last."""
    begun = [grant for grant in grants if grant.paper.valid_from <= day]
    return max(begun, key=lambda grant: grant.number, default=None)


def judge(asked: Asked, person: Person, grants: Grants, when: When) -> Verdict:
    """Whether the person may do it then.

    What was granted with dates rules where there is any. A code alone is enough for a method
    that is no testing method; for testing it is not, since it says neither level nor eyesight.
    """
    given = grants.get((person.code, asked.method), ())
    if given:
        lacking, until = _by_paper(asked, person.code, given, when)
    else:
        lacking, until = _by_code(asked, person), None
    return Verdict(person=person.code, asked=asked, lacking=lacking, until=until)


def _by_code(asked: Asked, person: Person) -> str:
    codes = [asked_of(code) for code in person.authorisations]
    if not any(code.method == asked.method for code in codes):
        return f"{person.code} holds no authorisation for {asked.text}"
    if not asked.is_ndt:
        return ""
    return (
        f"{person.code} has {asked.method} as a code alone, without level, dates and eyesight "
        "test, which does not count"
    )


def _by_paper(
    asked: Asked, code: str, given: Sequence[Grant], when: When
) -> tuple[str, str | None]:
    grant = paper_on(given, when.day)
    if grant is None:
        first = min(one.paper.valid_from for one in given)
        return f"{code}'s {asked.method} is valid from {first} only", None
    paper = grant.paper
    if grant.withdrawn(when.at_us):
        why = f" ({grant.withdrawn_why})"
        return f"{code}'s {asked.method} was withdrawn on {grant.withdrawn_day}{why}", None
    if paper.valid_to < when.day:
        return f"{code}'s {asked.method} has lapsed: it was valid to {paper.valid_to}", None
    if paper.level < asked.level:
        return f"{code}'s {asked.method} is of level {paper.level}", None
    if paper.eyesight_to is not None and paper.eyesight_to < when.day:
        lapsed = f"{code}'s eyesight test for {asked.method} has lapsed"
        return f"{lapsed}: it was valid to {paper.eyesight_to}", None
    return "", min(paper.valid_to, paper.eyesight_to or paper.valid_to)


def holders(
    asked: Asked, people: Iterable[Person], grants: Grants, when: When
) -> tuple[str, ...]:
    """The codes of those who may do it then."""
    return tuple(one.code for one in people if judge(asked, one, grants, when).holds)


def sentence_of(step: int, verdict: Verdict, valid: Sequence[str], day: str) -> str:
    """Why a step does not take somebody, who could do it, and what to do next."""
    listed = ", ".join(valid[:NAMED])
    if len(valid) > NAMED:
        listed += f" and {len(valid) - NAMED} more"
    who = f"valid on {day}: {listed}" if valid else f"nobody here holds it on {day}"
    then = "Hold the part, or let one of them do it" if valid else "Hold the part"
    return (
        f"step {step} takes only people authorised for {verdict.asked.text}: "
        f"{verdict.lacking}; {who}. {then}"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapse:
    """Something that has lapsed or is about to."""

    person: str
    method: str
    level: int
    what: str
    """`authorisation`, `eyesight`, or `code` for a testing method without dates."""
    day: str | None
    """The last day it is, or was, good for."""
    left_days: int | None
    """Days until then; negative once it is over, None where it never counted."""
    certificate: str = ""


def lapses(
    people: Sequence[Person], grants: Grants, when: When, within_days: int = SOON_DAYS
) -> list[Lapse]:
    """What has lapsed or will within so many days, the worst first."""
    found = [
        lapse
        for given in grants.values()
        for lapse in _lapses_of(given, when)
        if lapse.left_days is not None and lapse.left_days <= within_days
    ]
    found += [
        Lapse(person=one.code, method=asked.method, level=0, what="code", day=None,
              left_days=None)
        for one in people
        for asked in {asked_of(code) for code in one.authorisations}
        if asked.is_ndt and (one.code, asked.method) not in grants
    ]  # fmt: skip
    worst = -(10**9)
    found.sort(
        key=lambda one: (
            worst if one.left_days is None else one.left_days,
            one.person,
            one.method,
            one.what,
        )
    )
    return found


def _lapses_of(given: Sequence[Grant], when: When) -> list[Lapse]:
    chain = _chain(given, when)
    if not chain:
        return []
    # Eyes that lapse before their own paper does; else those of the paper that comes last.
    eyes = next((g.paper for g in chain[:-1] if _eyes_end_first(g.paper)), chain[-1].paper)
    last = {"authorisation": chain[-1].paper.valid_to, "eyesight": eyes.eyesight_to}
    paper = chain[0].paper
    return [
        Lapse(
            person=paper.person,
            method=paper.method,
            level=paper.level,
            what=what,
            day=day,
            left_days=(date.fromisoformat(day) - date.fromisoformat(when.day)).days,
            certificate=paper.certificate,
        )
        for what, day in last.items()
        if day is not None
    ]


def _chain(given: Sequence[Grant], when: When) -> list[Grant]:
    """The word about that day and the renewals that carry it on without a gap."""
    grant = paper_on(given, when.day)
    chain: list[Grant] = []
    while grant is not None and not grant.withdrawn(when.at_us):
        chain.append(grant)
        grant = paper_on(given, _next_day(grant.paper.valid_to))
        if grant is chain[-1]:  # nothing newer begins in time
            break
    return chain


def _eyes_end_first(paper: Authorisation) -> bool:
    return paper.eyesight_to is not None and paper.eyesight_to < paper.valid_to


def _next_day(day: str) -> str:
    try:
        return (date.fromisoformat(day) + timedelta(days=1)).isoformat()
    except OverflowError:
        return day
