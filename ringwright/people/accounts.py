"""Accounts: how people of a site prove who they are, made and changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, delete, insert, or_, select, update

from ringwright.core.errors import Refused
from ringwright.core.instants import HOUR_US
from ringwright.ledger.service import Ledger
from ringwright.ledger.tables import LedgerHead
from ringwright.people.auditing import Asker, Line, note
from ringwright.people.marks import code_of, hash_of, new_badge, new_code
from ringwright.people.passwords import check_password, check_pin, hash_secret
from ringwright.people.tables import Account, OneTimeCode, SignedIn
from ringwright.sites.queries import person_known, read_people

CODE_LASTS_US: Final[dict[str, int]] = {
    "first": HOUR_US,
    "password": 24 * HOUR_US,
    "bench": HOUR_US // 4,
    "wall": HOUR_US // 4,
    "signed": HOUR_US // 20,
    "sign-on": HOUR_US // 6,
}
"""How long a one-time code of each purpose is good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """Who changes accounts, of which site, from where."""

    ledger: Ledger
    site_id: int
    site: str
    actor: str
    asker: Asker

    def note(self, subject: str, why: str, kind: str = "account") -> None:
        """Keep in the audit what was done."""
        line = Line(kind=kind, actor=self.actor, subject=subject, why=why)
        note(self.ledger, self.site_id, self.asker, line)


def read_account(connection: Connection, site_id: int, code: str) -> Any | None:
    """The account of a person, or None while they have none."""
    query = select(Account).where(Account.site_id == site_id, Account.code == code)
    return connection.execute(query).first()


def _keep(desk: Desk, code: str, **values: Any) -> None:
    """Change a person's account, made where there is none; raises Missing (no such person)."""
    with desk.ledger.store.write(0) as connection:
        person_known(connection, desk.site_id, code)
        if read_account(connection, desk.site_id, code) is None:
            now_us = desk.ledger.clock.now_us()
            made = {"site_id": desk.site_id, "code": code, "made_us": now_us}
            connection.execute(insert(Account).values(made))
        mine = (Account.site_id == desk.site_id, Account.code == code)
        connection.execute(update(Account).where(*mine).values(values))


def set_password(desk: Desk, code: str, password: str) -> None:
    """Give a person a password; their other sign-ins end. Raises Refused, Missing."""
    check_password(password, ("ringwright", desk.site, code, "password"))
    _keep(desk, code, password_hash=hash_secret(password), demo=False)
    end_sign_ins(desk, code)
    desk.note(code, "password set")


def set_pin(desk: Desk, code: str, pin: str) -> None:
    """Give a person a PIN for shared benches. Raises Refused, Missing."""
    _keep(desk, code, pin_hash=hash_secret(check_pin(pin)))
    desk.note(code, "PIN set")


def make_badge(desk: Desk, code: str) -> str:
    """A new badge, shown once; the one before is worth nothing from now on."""
    badge = new_badge()
    _keep(desk, code, badge_hash=hash_of(badge))
    desk.note(code, "badge made")
    return badge


def end_badge(desk: Desk, code: str) -> None:
    """A lost badge is worth nothing from now on."""
    _keep(desk, code, badge_hash=None)
    desk.note(code, "badge ended")


def set_outside_subject(desk: Desk, code: str, subject: str) -> None:
    """Say who this person is to the shop's sign-on server; empty: nobody there."""
    given = subject.strip()[:300] or None
    if given is not None:
        with desk.ledger.store.read() as connection:
            taken = connection.execute(
                select(Account.code).where(
                    Account.site_id == desk.site_id, Account.outside_subject == given
                )
            ).scalar()
        if taken is not None and taken != code:
            raise Refused(f"{taken} is {given} at the sign-on server already")
    _keep(desk, code, outside_subject=given)
    desk.note(code, "sign-on name set" if given else "sign-on name taken away")


def shut_account(desk: Desk, code: str) -> None:
    """Nobody gets in as this person any more; sign-ins and codes of theirs end at once."""
    if code == desk.actor:
        raise Refused("nobody shuts their own account; another administrator does")
    _keep(desk, code, shut_us=desk.ledger.clock.now_us())
    with desk.ledger.store.write(0) as connection:
        theirs = (OneTimeCode.purpose.in_(("password", "signed")), OneTimeCode.code == code)
        connection.execute(
            delete(OneTimeCode).where(OneTimeCode.site_id == desk.site_id, *theirs)
        )
    end_sign_ins(desk, code)
    desk.note(code, "account shut")


def open_account(desk: Desk, code: str) -> None:
    """A shut account works again, with what it had."""
    _keep(desk, code, shut_us=None)
    desk.note(code, "account opened")


def end_sign_ins(desk: Desk, code: str, but: str | None = None) -> int:
    """End all sign-ins of a person, `but` one; how many ended."""
    with desk.ledger.store.write(0) as connection:
        ended = connection.execute(
            update(SignedIn)
            .where(
                SignedIn.site_id == desk.site_id,
                SignedIn.code == code,
                SignedIn.ended_us.is_(None),
                SignedIn.hash != (but or ""),
            )
            .values(ended_us=desk.ledger.clock.now_us())
        )
    return int(ended.rowcount)


def make_code(desk: Desk, purpose: str, code: str, label: str = "") -> str:
    """A one-time code, shown once; an older one of the same person and purpose is void."""
    made = new_code()
    now_us = desk.ledger.clock.now_us()
    with desk.ledger.store.write(0) as connection:
        mine = (OneTimeCode.site_id == desk.site_id, OneTimeCode.purpose == purpose)
        connection.execute(delete(OneTimeCode).where(*mine, OneTimeCode.code == code))
        connection.execute(delete(OneTimeCode).where(OneTimeCode.ends_us < now_us))
        connection.execute(
            insert(OneTimeCode).values(
                hash=hash_of(made),
                site_id=desk.site_id,
                purpose=purpose,
                code=code,
                label=label,
                made_by=desk.actor,
                ends_us=now_us + CODE_LASTS_US[purpose],
            )
        )
    return made


def _good(connection: Connection, purposes: tuple[str, ...], typed: str, now_us: int) -> Any:
    good = (
        OneTimeCode.hash == hash_of(code_of(typed)),
        OneTimeCode.purpose.in_(purposes),
        OneTimeCode.used_us.is_(None),
        OneTimeCode.ends_us > now_us,
    )
    query = select(OneTimeCode, LedgerHead.code.label("site"))
    query = query.join(LedgerHead, LedgerHead.site_id == OneTimeCode.site_id)
    row = connection.execute(query.where(*good)).first()
    if row is None:
        raise Refused("that code is none, was used, or is too old; ask for a new one")
    return row


def read_code(ledger: Ledger, purposes: tuple[str, ...], typed: str) -> Any:
    """The row of a code that is good, not used up by looking. Raises Refused."""
    with ledger.store.read() as connection:
        return _good(connection, purposes, typed, ledger.clock.now_us())


def use_code(ledger: Ledger, purposes: tuple[str, ...], typed: str) -> Any:
    """The row of a code that is good, used up by this. Raises Refused."""
    now_us = ledger.clock.now_us()
    with ledger.store.write(0) as connection:
        row = _good(connection, purposes, typed, now_us)
        mine = update(OneTimeCode).where(OneTimeCode.hash == row.hash)
        connection.execute(mine.values(used_us=now_us))
    return row


def code_for_password(desk: Desk, person: str) -> str:
    """A one-time code by which a person chooses a password. Raises Missing, Refused (shut)."""
    with desk.ledger.store.read() as connection:
        person_known(connection, desk.site_id, person)
        account = read_account(connection, desk.site_id, person)
    if account is not None and account.shut_us is not None:
        raise Refused(f"the account of {person} is shut; open it first")
    code = make_code(desk, "password", person)
    desk.note(person, "code for a password made")
    return code


def first_code(ledger: Ledger) -> str:
    """The code that makes the first administrator; one printed before is void."""
    site = ledger.sites(practice=False)[0][0]
    with ledger.read(site) as read:
        site_id = read.site.id
    desk = Desk(
        ledger=ledger,
        site_id=site_id,
        site=site,
        actor="command-line",
        asker=Asker(address="command line"),
    )
    return make_code(desk, "first", "")


def administrators(ledger: Ledger, site_id: int) -> list[str]:
    """People of the site who are administrators, by code."""
    with ledger.store.read() as connection:
        people = read_people(connection, site_id)
    return [person.code for person in people if "administrator" in person.roles]


def has_way_in(ledger: Ledger) -> bool:
    """True once an administrator anywhere in the store can sign in, by whatever way."""
    ways = or_(Account.password_hash.is_not(None), Account.outside_subject.is_not(None))
    with ledger.store.read() as connection:
        rows = connection.execute(
            select(Account.site_id, Account.code).where(ways, Account.shut_us.is_(None))
        ).all()
    return any(code in administrators(ledger, site_id) for site_id, code in rows)
