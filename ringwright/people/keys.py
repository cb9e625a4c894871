"""API keys: bearer tokens with a name, an end and, where wanted, fewer permissions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Row, select, update

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import HOUR_US
from ringwright.ledger.service import Ledger
from ringwright.people.accounts import Desk
from ringwright.people.marks import begins_so
from ringwright.people.rules import PERMISSIONS
from ringwright.people.service import keep_token, opens
from ringwright.people.tables import ApiToken
from ringwright.sites.site import ROLES

DAY_US: Final = 24 * HOUR_US
LONGEST_DAYS: Final = 800


def make_key(
    desk: Desk, role: str, person: str, label: str, scopes: Sequence[str], days: int | None
) -> str:
    """A new key, told once. Raises Refused, Missing (no such person)."""
    if role not in ROLES:
        raise Refused("choose the role that the key acts in")
    if not label.strip():
        raise Refused("give the key a name: which program will hold it")
    wrong = [one for one in scopes if role not in PERMISSIONS.get(one, frozenset())]
    if wrong:
        raise Refused(f"the role {role} has no permission {', '.join(wrong)} to narrow to")
    if days is not None and not 1 <= days <= LONGEST_DAYS:
        raise Refused(f"a key lasts 1 to {LONGEST_DAYS} days, or until it is ended")
    now_us = desk.ledger.clock.now_us()
    name = label.strip()[:100]
    values = {
        "site_id": desk.site_id,
        "role": role,
        "actor": person or None,
        "made_us": now_us,
        "label": name,
        "scopes": ",".join(scopes) or None,
        "made_by": desk.actor,
        "ends_us": None if days is None else now_us + days * DAY_US,
    }
    secret = keep_token(desk.ledger.store, values)
    desk.note(name, f"made for {role}", "token")
    return secret


def keys(ledger: Ledger, site_id: int) -> list[Row[Any]]:
    """The keys that open something now, the newest first."""
    now_us = ledger.clock.now_us()
    query = select(ApiToken).where(ApiToken.site_id == site_id, *opens(now_us))
    with ledger.store.read() as connection:
        return list(connection.execute(query.order_by(ApiToken.made_us.desc())))


def end_key(desk: Desk, short: str) -> None:
    """A key opens nothing from now on. `short` are the first letters of its hash."""
    row = begins_so(keys(desk.ledger, desk.site_id), short)
    if row is None:
        raise Missing("there is no such key")
    with desk.ledger.store.write(0) as connection:
        mine = update(ApiToken).where(ApiToken.hash == row.hash)
        connection.execute(mine.values(ended_us=desk.ledger.clock.now_us()))
    desk.note(row.label or row.role, "ended", "token")
