"""What an address of the Yield page asks, and the same address with something changed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import Depends, Query, Request

from ringwright.core.calendar import week_before
from ringwright.core.errors import Refused
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import path_for
from ringwright.ledger.service import Ledger, Read
from ringwright.yields.model import DIMENSIONS, REWORK, SCRAP, Question, YieldSheet
from ringwright.yields.service import known_yield

NARROWING: Final = ("lot", "station", "shift", "revision", "without")
Text = Annotated[str | None, Query(max_length=200)]
Product = Annotated[str | None, Query(max_length=200, examples=["HF22-BLADE"])]
# What the rules refuse in their own words stands here for the API's document alone.
Week = Annotated[
    str | None,
    Query(
        max_length=200,
        examples=["2026-W40"],
        json_schema_extra={"pattern": "^([0-9]{4}-W[0-9]{2})?$"},
    ),
]
Step = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"pattern": "^([0-9]{1,9})?$"})
]
By = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": [*DIMENSIONS, "", None]})
]
What = Annotated[
    str | None, Query(max_length=200, json_schema_extra={"enum": [SCRAP, REWORK, "", None]})
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The question, as of when, and at which site."""

    question: Question
    as_of: str | None
    site: str | None

    def query(self, **other: Any) -> dict[str, Any]:
        """The address's query again, some of it changed; None leaves out."""
        q = self.question
        own = {
            "product": q.product, "first": q.first, "last": q.last, "step": q.step,
            "lot": q.lot, "station": q.station, "shift": q.shift, "revision": q.revision,
            "without": q.without, "by": q.by, "what": q.what, "as_of": self.as_of,
        }  # fmt: skip
        return {**own, **other}


def _what(
    product: Product = None, first: Week = None, last: Week = None, step: Step = None
) -> Question:
    if step and not (step.isascii() and step.isdigit() and len(step) < 10):
        raise Refused(f"step {step[:40]!r} is not a step's number")
    return Question(
        product=product or None, first=first or None, last=last or None,
        step=int(step) if step else None,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """What narrows the question."""

    lot: str | None
    station: str | None
    shift: str | None
    revision: str | None
    without: str | None


def _narrow(
    lot: Text = None,
    station: Text = None,
    shift: Text = None,
    revision: Text = None,
    without: Text = None,
) -> Narrow:
    return Narrow(
        lot=lot or None, station=station or None, shift=shift or None,
        revision=revision or None, without=without or None,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """How the answer is shown, as of when, where."""

    by: str | None
    what: str | None
    as_of: str | None
    site: str | None


def _shown(by: By = None, what: What = None, as_of: Text = None, site: Text = None) -> Shown:
    return Shown(by=by or None, what=what or None, as_of=as_of or None, site=site or None)


def asked_of(
    what: Annotated[Question, Depends(_what)],
    narrow: Annotated[Narrow, Depends(_narrow)],
    shown: Annotated[Shown, Depends(_shown)],
) -> Asked:
    """The question that an address asks; raises Refused."""
    question = Question(
        product=what.product, first=what.first, last=what.last, step=what.step, lot=narrow.lot,
        station=narrow.station, shift=narrow.shift, revision=narrow.revision,
        without=narrow.without, by=shown.by, what=shown.what,
    )  # fmt: skip
    return Asked(question=question, as_of=shown.as_of, site=shown.site)


AskedYield = Annotated[Asked, Depends(asked_of)]


@contextmanager
def snapshot_asked(request: Request, asked: Asked) -> Iterator[Read]:
    """The snapshot that an address asks about, to the minute."""
    ledger: Ledger = request.app.state.ledger
    with ledger.read(asked.site, past_us(ledger, asked.site, asked.as_of)) as snapshot:
        yield to_the_minute(snapshot)


def sheet_of(request: Request, asked: Asked) -> YieldSheet:
    """The answer, from one snapshot."""
    with snapshot_asked(request, asked) as read:
        return known_yield(read, asked.question)


@dataclass(frozen=True)
class Links:
    """Addresses of the page with something changed."""

    request: Request
    asked: Asked
    sheet: YieldSheet
    room: str = "yields.ladder"
    """The route of the page that they lead to."""
    own: tuple[tuple[str, Any], ...] = ()
    """What that page is asked besides."""

    @cached_property
    def _page(self) -> str:
        """The page's own address; looked up once, since a page holds a hundred links to it."""
        return path_for(self.request, self.room).split("?")[0]

    def at(self, room: str, *own: tuple[str, Any]) -> Links:
        """The same question on another page."""
        return replace(self, room=room, own=own)

    def to(self, **other: Any) -> str:
        """The same page, some of its question changed."""
        site = self.request.query_params.get("site")
        own = {**self.asked.query(), **dict(self.own), "site": site, **other}
        query = {name: value for name, value in own.items() if value not in (None, "")}
        return self._page + (f"?{urlencode(query)}" if query else "")

    def file(self, form: str) -> str:
        """The page as a file."""
        name = "yields.file" if self.room == "yields.ladder" else f"{self.room}_file"
        page = path_for(self.request, name, form=form).split("?")[0]
        return page + self.to()[len(self._page) :]

    def moved(self, way: int) -> str:
        """The same number of weeks, before (1) or after (-1) those shown."""
        weeks = self.sheet.weeks
        by = way * len(weeks)
        return self.to(first=week_before(weeks[0], by), last=week_before(weeks[-1], by))

    def group(self, dimension: str, key: str) -> str:
        """The page narrowed to one group; "" where there is nothing to narrow to."""
        if not key or dimension == "furnace":
            return ""
        if dimension == "week":
            return self.to(first=key, last=key)
        if dimension == "step":
            return self.to(step=key) + "#yield-chart"
        if dimension == "product":
            return self.to(product=key, step=None, **dict.fromkeys(NARROWING))
        return self.to(**{dimension: key})

    def narrowed(self) -> list[tuple[str, str, str]]:
        """(dimension, value, address without it) of all that narrows."""
        q = self.asked.question
        own = [(name, getattr(q, name)) for name in NARROWING]
        return [(name, value, self.to(**{name: None})) for name, value in own if value]
