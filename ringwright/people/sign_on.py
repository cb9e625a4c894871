"""Signing in by the shop's own server: begun here, proved there, ended here once.

What was begun is a row that works once, within ten minutes, and only together with the secret
that the same browser holds: an answer that somebody else was given opens nothing.
"""

from __future__ import annotations

import json
import logging
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import parse_qs, urlsplit

from sqlalchemy import delete, insert, select, update

from ringwright.core.errors import Forbidden, Refused, RingwrightError
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import LedgerHead
from ringwright.people.accounts import CODE_LASTS_US
from ringwright.people.auditing import Line, note, plain
from ringwright.people.id_token import NotProved
from ringwright.people.marks import hash_of, new_secret
from ringwright.people.provider import Provider, Unreachable
from ringwright.people.signing import Doorkeeper
from ringwright.people.tables import Account, OneTimeCode
from ringwright.people.throttle import SIGN_ONS
from ringwright.sites.queries import read_person

log = logging.getLogger("ringwright.people")

PURPOSE: Final = "sign-on"
LONGEST: Final = 300
"""Letters of a name at the server; the Accounts page keeps no more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the browser brought back from the server."""

    state: str
    code: str
    error: str
    issuer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What was kept of a sign-on when it began."""

    nonce: str
    verifier: str
    then: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Whose account it is, and at which other sites the same person has one."""

    site_id: int
    site: str
    code: str
    elsewhere: tuple[str, ...]


def begin(keeper: Doorkeeper, provider: Provider, then: str) -> tuple[str, str]:
    """(address to go to, secret of this browser). Raises Unreachable, TooOften."""
    keeper.throttle.check(SIGN_ONS, keeper.asker.address)
    keeper.throttle.failed(SIGN_ONS, keeper.asker.address)
    # 256 random bits each; the verifier's 43 letters are what RFC 7636, 4.1 asks for.
    state, browser, nonce, verifier = (new_secret() for _ in range(4))
    address = provider.where_to(state, nonce, verifier)
    begun = {"nonce": nonce, "verifier": verifier, "then": then[:2000]}
    now_us = keeper.ledger.clock.now_us()
    with keeper.ledger.store.write(0) as connection:
        old = (OneTimeCode.purpose == PURPOSE, OneTimeCode.ends_us < now_us)
        connection.execute(delete(OneTimeCode).where(*old))
        connection.execute(
            insert(OneTimeCode).values(
                hash=_row_of(state, browser),
                site_id=0,
                purpose=PURPOSE,
                code="",
                label=json.dumps(begun),
                made_by="",
                ends_us=now_us + CODE_LASTS_US[PURPOSE],
            )
        )
    return address, browser


def _row_of(state: str, browser: str) -> str:
    return hash_of(f"{state} {browser}")


def take(ledger: Ledger, state: str, browser: str) -> Begun:
    """What was begun in this browser, used up by this; raises Refused, and nothing changes."""
    now_us = ledger.clock.now_us()
    mine = (
        OneTimeCode.hash == _row_of(state, browser),
        OneTimeCode.purpose == PURPOSE,
        OneTimeCode.used_us.is_(None),
        OneTimeCode.ends_us > now_us,
    )
    over = Refused("this sign-on is over, or was begun in another browser; begin anew")
    with ledger.store.read() as connection:
        label = connection.execute(select(OneTimeCode.label).where(*mine)).scalar()
    if label is None:
        raise over
    with ledger.store.write(0) as connection:
        used = update(OneTimeCode).where(*mine).values(used_us=now_us, label="")
        # Of two that come at once one finds the row used.
        if connection.execute(used).rowcount != 1:
            raise over
    return Begun(**json.loads(label))


def finish(keeper: Doorkeeper, provider: Provider, answer: Answer, begun: Begun) -> Found:
    """Whose account the answer opens. Raises NotProved, Unreachable, Forbidden."""
    subject = ""
    try:
        provider.check_answer(answer.error, answer.issuer)
        if not answer.code:
            raise NotProved(f"{provider.name} sent no answer; begin anew")
        now_s = keeper.ledger.clock.now_us() // 1_000_000
        claims = provider.claims(answer.code, begun.verifier, begun.nonce, now_s)
        subject = subject_of(claims, provider.claim)
        return _account_of(keeper.ledger, subject, begun.then)
    except RingwrightError as trouble:
        _failed(keeper, subject, trouble)
        raise


def subject_of(claims: dict[str, Any], claim: str) -> str:
    """The person's name at the server. Raises NotProved, Forbidden."""
    value = claims.get(claim)
    if not isinstance(value, str) or not value.strip() or len(value) > LONGEST:
        raise NotProved(
            f"the sign-on server did not say {claim!r} of you; whoever keeps it lets the id "
            "token hold that"
        )
    # Core, 5.7: an address that nobody has verified may be anybody's.
    if claim == "email" and claims.get("email_verified") is not True:
        raise Forbidden(
            f"the sign-on server has not verified that {plain(value, 300)} is yours"
        )
    return value


def _account_of(ledger: Ledger, subject: str, then: str) -> Found:
    query = (
        select(Account.site_id, Account.code, LedgerHead.code.label("site"))
        .join(LedgerHead, LedgerHead.site_id == Account.site_id)
        .where(Account.outside_subject == subject, Account.shut_us.is_(None))
        .order_by(LedgerHead.code)
    )
    with ledger.store.read() as connection:
        rows = connection.execute(query).all()
        rows = [row for row in rows if read_person(connection, row.site_id, row.code)]
    shown = plain(subject, LONGEST)
    if not rows:
        raise Forbidden(
            f"no open account here is {shown} at the sign-on server; "
            "an administrator writes that at Accounts"
        )
    sites = [str(row.site) for row in rows]
    if len(set(sites)) < len(sites):
        raise Forbidden(f"two accounts of one site are {shown}; an administrator mends that")
    wanted = parse_qs(urlsplit(then).query).get("site", [""])[-1]
    row = rows[sites.index(wanted) if wanted in sites else 0]
    others = () if wanted in sites else tuple(site for site in sites if site != row.site)
    return Found(site_id=row.site_id, site=row.site, code=row.code, elsewhere=others)


def _failed(keeper: Doorkeeper, subject: str, trouble: RingwrightError) -> None:
    """Every site's audit has it: nobody knows yet whose person it was."""
    if isinstance(trouble, Unreachable):
        log.warning("sign-on: %s", trouble.message)
    line = Line(kind="not-signed-in", actor=subject, subject=PURPOSE, why=trouble.message)
    with keeper.ledger.store.read() as connection:
        sites = connection.execute(select(LedgerHead.site_id)).scalars().all()
    for site_id in sites:
        note(keeper.ledger, site_id, keeper.asker, line)
