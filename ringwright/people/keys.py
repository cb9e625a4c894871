"""API keys: bearer tokens with a name, an end and, where wanted, fewer permissions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Row, insert, or_, select, update

from ringwright.core.errors import Missing, Refused
from ringwright.core.instants import HOUR_US
from ringwright.ledger.service import Ledger
from ringwright.people.accounts import Desk
from ringwright.people.marks import hash_of, new_secret
from ringwright.people.rules import PERMISSIONS
from ringwright.people.tables import ApiToken
from ringwright.sites.queries import person_known
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
    secret = new_secret()
    with desk.ledger.store.write(0) as connection:
        if person:
            found = person_known(connection, desk.site_id, person)
            if role not in found.roles:
                raise Refused(f"{person} does not act as {role}; a key gives no role away")
        connection.execute(
            insert(ApiToken).values(
                hash=hash_of(secret),
                site_id=desk.site_id,
                role=role,
                actor=person or None,
                made_us=now_us,
                label=label.strip()[:100],
                scopes=",".join(scopes) or None,
                made_by=desk.actor,
                ends_us=None if days is None else now_us + days * DAY_US,
            )
        )
    desk.note(label.strip()[:100], f"made for {role}", "token")
    return secret


def keys(ledger: Ledger, site_id: int) -> list[Row[Any]]:
    """The keys that open something now, the newest first."""
    now_us = ledger.clock.now_us()
    query = select(ApiToken).where(
        ApiToken.site_id == site_id,
        ApiToken.ended_us.is_(None),
        or_(ApiToken.ends_us.is_(None), ApiToken.ends_us > now_us),
    )
    with ledger.store.read() as connection:
        return list(connection.execute(query.order_by(ApiToken.made_us.desc())))


def end_key(desk: Desk, short: str) -> None:
    """A key opens nothing from now on. `short` are the first letters of its hash."""
    for row in keys(desk.ledger, desk.site_id):
        if len(short) >= 12 and row.hash.startswith(short):
            with desk.ledger.store.write(0) as connection:
                mine = update(ApiToken).where(ApiToken.hash == row.hash)
                connection.execute(mine.values(ended_us=desk.ledger.clock.now_us()))
            desk.note(row.label or row.role, "ended", "token")
            return
    raise Missing("there is no such key")
