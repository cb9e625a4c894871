"""What an address of the Floor asks: which product, which parts, as of when."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Final

from fastapi import Depends, Request

from ringwright.core.errors import Refused
from ringwright.floor.model import FloorSheet
from ringwright.floor.standing import read_floor
from ringwright.flow.moment import past_us, to_the_minute
from ringwright.kit.render import STATIC, TEMPLATES
from ringwright.ledger.service import Ledger

STATES: Final = ("waiting", "in-work", "late", "held", "reserved", "sought", "raised", "window")
"""What the list of parts can be narrowed to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The filters of an address; None narrows nothing."""

    product: str | None = None
    step: int | None = None
    state: str | None = None
    whereabouts: str | None = None
    lot: str | None = None
    station: str | None = None
    as_of: str | None = None
    site: str | None = None

    def query(self, **other: Any) -> dict[str, Any]:
        """The address's query again, some of it changed."""
        names = ("product", "step", "state", "whereabouts", "lot", "station", "as_of")
        return {**{name: getattr(self, name) for name in names}, **other}


def _asked(
    product: str | None = None,
    step: str | None = None,
    state: str | None = None,
    whereabouts: str | None = None,
    lot: str | None = None,
    station: str | None = None,
) -> Asked:
    if state and state not in STATES:
        raise Refused(f"{state[:40]!r} is no state to ask for; there are {', '.join(STATES)}")
    if step and not (step.isascii() and step.isdigit() and len(step) < 10):
        raise Refused(f"step {step[:40]!r} is not a step's number")
    return Asked(
        product=product or None,
        step=int(step) if step else None,
        state=state or None,
        whereabouts=whereabouts or None,
        lot=lot or None,
        station=station or None,
    )


def _with_moment(
    asked: Annotated[Asked, Depends(_asked)],
    as_of: str | None = None,
    site: str | None = None,
) -> Asked:
    given = {name: getattr(asked, name) for name in Asked.__dataclass_fields__}
    return Asked(**{**given, "as_of": as_of or None, "site": site or None})


Question = Annotated[Asked, Depends(_with_moment)]


def sheet_of(request: Request, asked: Asked, *, all_products: bool = False) -> FloorSheet:
    """The floor as the address asks for it; raises Missing or Refused."""
    ledger: Ledger = request.app.state.ledger
    at_us = past_us(ledger, asked.site, asked.as_of)
    with ledger.read(asked.site, at_us) as read:
        return read_floor(to_the_minute(read), asked.product, all_products=all_products)


@lru_cache(maxsize=1)
def page_code() -> str:
    """A digest of everything a page is made of, as this server runs it.

    A wall screen that shows another one asks for itself anew: nobody stands there to reload it.
    """
    digest = hashlib.sha256()
    for root in (TEMPLATES, STATIC / "css", STATIC / "js", STATIC / "vendor"):
        for file in sorted(path for path in root.rglob("*") if path.is_file()):
            digest.update(file.relative_to(root).as_posix().encode())
            digest.update(file.read_bytes())
    return digest.hexdigest()[:12]
