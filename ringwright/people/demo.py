"""The accounts of a demo: known to everybody, and only in a demo's store."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Row, insert, select

from ringwright.core.errors import Forbidden
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import LedgerHead
from ringwright.people import signing
from ringwright.people.marks import hash_of, new_badge
from ringwright.people.passwords import hash_secret
from ringwright.people.tables import Account

PASSWORD: Final = "test-fans-for-tunnels"  # noqa: S105  (the demo's, told on its sign-in page)
PIN: Final = "246824"


def make_demo_accounts(ledger: Ledger, site: str, codes: Sequence[str]) -> None:
    """Give the demo's people their accounts, those that have none yet."""
    site_id = signing.site_id_of(ledger, site)
    with ledger.store.read() as connection:
        query = select(Account.code).where(Account.site_id == site_id)
        there = set(connection.execute(query).scalars())
    lacking = [code for code in codes if code not in there]
    if not lacking or site_id is None:
        return
    # One hash for all: what is told to everybody needs no salt of its own.
    password, pin = hash_secret(PASSWORD), hash_secret(PIN)
    now_us = ledger.clock.now_us()
    made: dict[str, Any] = {"site_id": site_id, "made_us": now_us, "demo": True}
    made |= {"password_hash": password, "pin_hash": pin}
    rows = [{**made, "code": code, "badge_hash": hash_of(new_badge())} for code in lacking]
    with ledger.store.write(0) as connection:
        connection.execute(insert(Account), rows)


def demo_accounts(ledger: Ledger) -> list[Row[Any]]:
    """(site, code) of the demo's people who can sign in; none in any other store."""
    query = (
        select(LedgerHead.code.label("site"), Account.code)
        .join(LedgerHead, LedgerHead.site_id == Account.site_id)
        .where(Account.demo, Account.shut_us.is_(None))
    )
    with ledger.store.read() as connection:
        return list(connection.execute(query.order_by(Account.code)))


def sign_in_demo(keeper: signing.Doorkeeper, site: str, code: str) -> tuple[str, str]:
    """(secret, site) of a new session of one of the demo's people; raises Forbidden."""
    for one in demo_accounts(keeper.ledger):
        if (one.site, one.code) == (site, code):
            site_id = signing.site_id_of(keeper.ledger, site) or 0
            return signing.open_session(keeper, site_id, code, "demo"), site
    raise Forbidden("that is no account of a demo; sign in with a password")
