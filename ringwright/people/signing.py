"""Signing in and out: sessions that the server keeps and can end.

A session's cookie holds 256 random bits and the store their hash. It is new at every sign-in,
ends when nobody used it for a while, and after a shift and its handover in any case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from limits import RateLimitItem
from sqlalchemy import Connection, Row, and_, delete, insert, select, update

from ringwright.core.errors import RingwrightError
from ringwright.core.instants import HOUR_US
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import LedgerHead
from ringwright.people.accounts import read_account
from ringwright.people.auditing import Asker, Line, note, plain
from ringwright.people.marks import badge_of, hash_of, looks_like_badge, new_secret
from ringwright.people.passwords import fits, hash_secret, outdated
from ringwright.people.tables import Account, SignedIn
from ringwright.people.throttle import (
    SIGNATURES,
    SIGNATURES_OF_BENCH,
    TRIES,
    TRIES_OF_ADDRESS,
    TRIES_OF_STRANGERS,
    Throttle,
    TooOften,
)
from ringwright.sites.queries import read_person
from ringwright.sites.site import Person

IDLE_US: Final = 2 * HOUR_US
"""Nobody used it that long: a desk that somebody left."""
WHOLE_US: Final = 13 * HOUR_US
"""From sign-in: the longest shift and its handover."""
SEEN_EVERY_US: Final = 5 * 60 * 1_000_000
"""Use is noted that often at most, so that looking at pages seldom writes."""


Limits = Sequence[tuple[RateLimitItem, tuple[str, ...]]]
"""How often something may fail, each with what it is counted by."""


class NotThem(RingwrightError):
    """The secret does not prove that person; which part was wrong is not told."""

    status = 401
    code = "not-them"


@dataclass(frozen=True, slots=True, kw_only=True)
class Doorkeeper:
    """Who looks at secrets: the record, the failures so far, and from where is asked."""

    ledger: Ledger
    throttle: Throttle
    asker: Asker

    def check(self, site_id: int, limits: Limits, who: str, where: str = "") -> None:
        """Raise TooOften where a limit is reached; the audit has a line of it."""
        try:
            for limit, key in limits:
                self.throttle.check(limit, *key)
        except TooOften:
            self.note(site_id, "too-often", who, where)
            raise

    def failed(self, limits: Limits) -> None:
        """Count one failure against each limit."""
        for limit, key in limits:
            self.throttle.failed(limit, *key)

    def note(self, site_id: int, kind: str, who: str, why: str = "") -> None:
        """Keep a line in the audit of the doors."""
        note(self.ledger, site_id, self.asker, Line(kind=kind, actor=who, why=why))


def site_id_of(ledger: Ledger, site: str) -> int | None:
    """The number of a site by its code."""
    with ledger.store.read() as connection:
        query = select(LedgerHead.site_id).where(LedgerHead.code == site)
        return connection.execute(query).scalar()


def sign_in(keeper: Doorkeeper, site: str, code: str, password: str) -> str:
    """The secret of a new session. Raises NotThem, TooOften."""
    site_id = site_id_of(keeper.ledger, site) or 0
    address = keeper.asker.address
    with keeper.ledger.store.read() as connection:
        account = read_account(connection, site_id, code)
        person = read_person(connection, site_id, code)
        known = _was_here(connection, site_id, code, address)
    keeper_of = (str(site_id), code)
    limits: Limits = (
        (TRIES, (*keeper_of, address)),
        (TRIES_OF_ADDRESS, (address,)),
        *(() if known else ((TRIES_OF_STRANGERS, keeper_of),)),
    )
    keeper.check(site_id, limits, code)
    kept = account.password_hash if account and account.shut_us is None and person else None
    if not fits(kept, password):
        keeper.failed(limits)
        keeper.note(site_id, "not-signed-in", code)
        raise NotThem("that code and password do not go together")
    keeper.throttle.forget(TRIES, *keeper_of, address)
    if kept and outdated(kept):
        _raise_hash(keeper.ledger, site_id, code, password)
    return open_session(keeper, site_id, code, "password")


def _raise_hash(ledger: Ledger, site_id: int, code: str, password: str) -> None:
    mine = (Account.site_id == site_id, Account.code == code)
    with ledger.store.write(0) as connection:
        new = hash_secret(password)
        connection.execute(update(Account).where(*mine).values(password_hash=new))


def _was_here(connection: Connection, site_id: int, code: str, address: str) -> bool:
    query = select(SignedIn.hash).where(
        SignedIn.site_id == site_id, SignedIn.code == code, SignedIn.address == address
    )
    return connection.execute(query.limit(1)).first() is not None


def open_session(keeper: Doorkeeper, site_id: int, code: str, way: str) -> str:
    """A new session of somebody who has proved who they are; its secret, told once."""
    secret = new_secret()
    now_us = keeper.ledger.clock.now_us()
    with keeper.ledger.store.write(0) as connection:
        month_us = now_us - 30 * 24 * HOUR_US
        connection.execute(delete(SignedIn).where(SignedIn.seen_us < month_us))
        connection.execute(
            insert(SignedIn).values(
                hash=hash_of(secret),
                site_id=site_id,
                code=code,
                way=way,
                address=plain(keeper.asker.address, 100),
                agent=plain(keeper.asker.agent, 200),
                made_us=now_us,
                seen_us=now_us,
            )
        )
    keeper.note(site_id, "signed-in", code, way)
    return secret


def alive(now_us: int) -> tuple[Any, ...]:
    """The conditions of a session that still counts."""
    return (
        SignedIn.ended_us.is_(None),
        SignedIn.seen_us > now_us - IDLE_US,
        SignedIn.made_us > now_us - WHOLE_US,
    )


def read_session(ledger: Ledger, secret: str) -> tuple[Row[Any], Person] | None:
    """(session with its site's code, person as they are now), or None."""
    now_us = ledger.clock.now_us()
    with ledger.store.read() as connection:
        row: Any = connection.execute(
            select(SignedIn, LedgerHead.code.label("site"))
            .join(LedgerHead, LedgerHead.site_id == SignedIn.site_id)
            .outerjoin(
                Account,
                and_(Account.site_id == SignedIn.site_id, Account.code == SignedIn.code),
            )
            .where(SignedIn.hash == hash_of(secret), Account.shut_us.is_(None), *alive(now_us))
        ).first()
        person = read_person(connection, row.site_id, row.code) if row else None
    return (row, person) if row is not None and person is not None else None


def used(ledger: Ledger, session: Row[Any]) -> None:
    """Note that somebody used the session, seldom enough to cost nothing."""
    now_us = ledger.clock.now_us()
    if now_us - session.seen_us < SEEN_EVERY_US:
        return
    with ledger.store.write(0) as connection:
        query = update(SignedIn).where(SignedIn.hash == session.hash)
        connection.execute(query.values(seen_us=now_us))


def sign_out(keeper: Doorkeeper, secret: str) -> None:
    """The session is over, here and in the store."""
    found = read_session(keeper.ledger, secret)
    if found is None:
        return
    row, _person = found
    end_session(keeper.ledger, row.hash)
    keeper.note(row.site_id, "signed-out", row.code)


def end_session(ledger: Ledger, hash_: str) -> None:
    """A session is over from now on."""
    with ledger.store.write(0) as connection:
        query = update(SignedIn).where(SignedIn.hash == hash_)
        connection.execute(query.values(ended_us=ledger.clock.now_us()))


def sessions_of(ledger: Ledger, site_id: int, code: str | None = None) -> list[Row[Any]]:
    """The sessions that count now, the last used first; of one person or of all."""
    query = select(SignedIn).where(SignedIn.site_id == site_id, *alive(ledger.clock.now_us()))
    if code is not None:
        query = query.where(SignedIn.code == code)
    with ledger.store.read() as connection:
        return list(connection.execute(query.order_by(SignedIn.seen_us.desc())))


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How somebody signs an act: a badge, or a code with PIN or password."""

    badge: str = ""
    code: str = ""
    secret: str = ""

    @property
    def empty(self) -> bool:
        """True when nothing was scanned or typed."""
        return not (self.badge or self.code or self.secret)


def signer(keeper: Doorkeeper, site_id: int, given: Proof, where: str) -> Person:
    """Who signed an act at a bench. Raises NotThem, TooOften.

    Failures count for the person, or the badge, at that bench and for the bench: nobody can
    shut a colleague out at another, nor a lost badge every other one. A part's serial scanned
    where a badge is asked for is no guess at one, so it does not count.
    """
    if given.badge and not looks_like_badge(given.badge):
        raise NotThem("that is no badge; scan your badge, or take the code and PIN")
    who = hash_of(badge_of(given.badge) or given.badge) if given.badge else given.code
    named = "a badge" if given.badge else given.code
    limits = (
        (SIGNATURES, (str(site_id), who, where)),
        (SIGNATURES_OF_BENCH, (str(site_id), where)),
    )
    keeper.check(site_id, limits, named, where)
    person = _proved(keeper.ledger, site_id, given)
    if person is None:
        keeper.failed(limits)
        keeper.note(site_id, "signature-refused", named, where)
        raise NotThem(
            "that badge is not known here; take the code and PIN"
            if given.badge
            else "that code and PIN do not go together"
        )
    keeper.throttle.forget(SIGNATURES, str(site_id), who, where)
    return person


def _proved(ledger: Ledger, site_id: int, given: Proof) -> Person | None:
    query = select(Account).where(Account.site_id == site_id, Account.shut_us.is_(None))
    with ledger.store.read() as connection:
        if given.badge:
            badge = badge_of(given.badge)
            query = query.where(Account.badge_hash == hash_of(badge or given.badge))
        else:
            query = query.where(Account.code == given.code)
        account = connection.execute(query).first()
        person = read_person(connection, site_id, account.code) if account else None
    if given.badge:
        return person
    pin, password = (account.pin_hash, account.password_hash) if account else (None, None)
    by_pin = given.secret.isdigit() and len(given.secret) <= 12
    return person if fits(pin if by_pin else password, given.secret) else None
