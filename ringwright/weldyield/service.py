"""The yield of welds over whole weeks, from one snapshot."""

from __future__ import annotations

from bisect import bisect_right

from ringwright.core.calendar import shifts_between, week_before, week_of, week_window
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.shifts import working_intervals, working_us
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.ledger.transaction import Actor
from ringwright.people.allowing import may_act
from ringwright.routecards.queries import read_revisions
from ringwright.sites.queries import read_calendars
from ringwright.weldyield.model import (
    DIMENSIONS,
    MOST_WEEKS,
    WEEKS_SHOWN,
    WELDER,
    History,
    Question,
    WeldYield,
)
from ringwright.weldyield.queries import read_history, read_products
from ringwright.weldyield.tally import Site, count

PERMISSION = "welders"
YIELDS = Remembered[WeldYield]()


def may_see_welders(actor: Actor | None) -> bool:
    """True for whoever may be shown figures by welder: nobody who is not known by name."""
    return actor is not None and may_act(actor, PERMISSION)


def check_asker(question: Question, actor: Actor | None) -> None:
    """Raise Forbidden where welders are told apart for somebody who may not see that."""
    if question.by == WELDER and not may_see_welders(actor):
        raise Forbidden(
            "figures by welder are for the quality engineer; ask for another grouping"
        )


def read_weld_yield(read: Read, question: Question) -> WeldYield:
    """The answer; raises Refused or Missing for what cannot be asked."""
    return YIELDS.answer(read, question, lambda: _read(read, question))


def _read(read: Read, question: Question) -> WeldYield:
    if question.by not in DIMENSIONS:
        raise Refused(f"by {question.by[:40]!r} is not one of {', '.join(DIMENSIONS)}")
    products = read_products(read)
    if question.product is not None and question.product not in products:
        _check_product(read, question.product)
    weeks, from_us, to_us = weeks_of(read, question)
    history = read_history(read, question.product, from_us, to_us)
    return WeldYield(
        question=question,
        products=products,
        weeks=weeks,
        counted=count(history, _site(read, history, from_us, to_us), question.by),
        site=read.site.code,
        site_name=read.site.name,
        zone=read.site.zone,
        now_us=read.now_us,
        as_of=read.as_of_us is not None,
        head_seq=read.head_seq,
        head_hash=read.head_hash,
    )


def _check_product(read: Read, product: str) -> None:
    """Raise Missing for a product that the site does not know; one without welds has none."""
    if not read_revisions(read.connection, read.site.id, product):
        raise Missing(f"there is no product {product[:40]!r} at this site")


def weeks_of(read: Read, question: Question) -> tuple[tuple[str, ...], int, int]:
    """The weeks asked for, else the last quarter up to the running one; raises Refused."""
    site = read.site
    last = question.last or week_of(read.now_us, site.zone, site.week_starts)
    first = question.first or week_before(last, WEEKS_SHOWN - 1)
    from_us, _ = week_window(first, site.zone, site.week_starts)
    _, to_us = week_window(last, site.zone, site.week_starts)
    if from_us >= to_us:
        raise Refused(f"week {last} ends before week {first} begins; give the earlier first")
    names = [last]
    while names[-1] != first:
        if len(names) >= MOST_WEEKS:
            raise Refused(f"at most {MOST_WEEKS} weeks at once; ask for fewer")
        names.append(week_before(names[-1]))
    return tuple(reversed(names)), from_us, to_us


def _site(read: Read, history: History, from_us: int, to_us: int) -> Site:
    """Weeks, shifts and working hours of the site over all that is counted."""
    site = read.site
    begun = [one.at_us for one in history.made] + [one.at_us for one in history.verdicts]
    start_us = min([from_us, *begun])
    calendars = read_calendars(read.connection, site.id, None, read.known_before_us)
    shifts = shifts_between(calendars, start_us, to_us, site.zone)
    begins = [begin for begin, _, _ in shifts]
    worked = working_intervals(calendars, start_us, to_us, site.zone)

    def shift(at_us: int) -> str:
        place = bisect_right(begins, at_us) - 1
        return shifts[place][2] if place >= 0 and at_us < shifts[place][1] else ""

    return Site(
        from_us=from_us,
        to_us=to_us,
        week=lambda at_us: week_of(at_us, site.zone, site.week_starts),
        shift=shift,
        worked_us=lambda begin, end: working_us(worked, begin, end),
    )
