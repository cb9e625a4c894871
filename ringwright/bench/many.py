"""Book one fact on each of many parts, all of them or none."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ringwright.bench.service import Desk
from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts.facts import PartFact
from ringwright.parts.knowledge import fold
from ringwright.routecards.queries import card_finder

NAMED: Final = 12
"""Parts that a refusal names; the rest are counted."""


def open_desks(tx: Tx, serials: Sequence[str]) -> dict[str, Desk]:
    """A desk for each serial, all histories read at once; one without facts has no card."""
    histories = tx.histories("part", serials)
    find = card_finder(tx.connection, tx.site.id)
    return {
        serial: Desk(tx, fold(serial, history, find), history, find)
        for serial in serials
        for history in (histories.get(serial, []),)
    }


def record_each(
    tx: Tx,
    desks: dict[str, Desk],
    facts: dict[str, PartFact],
    *,
    station: str = "",
    at_us: int | None = None,
) -> list[Entry]:
    """Record each part's fact; raises Refused naming every part whose history forbids it."""
    drafts, refused = [], []
    for serial, fact in facts.items():
        try:
            drafts.append(_draft(desks[serial], fact, station, at_us))
        except Refused as why:
            refused.append(why.message)
    if refused:
        raise Refused(listed(refused, "; "))
    known = {("part", serial): desks[serial].history for serial in facts}
    return tx.append_many(drafts, known)


def _draft(desk: Desk, fact: PartFact, station: str, at_us: int | None) -> Draft:
    if desk.part.card is None:
        raise Refused(f"there is no part {desk.part.serial}")
    return desk.draft(fact, station=station, at_us=at_us)


def listed(items: Sequence[str], between: str = ", ") -> str:
    """The first of many, and how many more there are."""
    shown, more = between.join(items[:NAMED]), len(items) - NAMED
    return f"{shown} and {more} more" if more > 0 else shown
