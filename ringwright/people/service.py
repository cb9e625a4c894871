"""Tokens for the API, and who stands behind one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import ColumnElement, and_, insert, or_, select

from ringwright.core.errors import Refused
from ringwright.db import Store
from ringwright.ledger.tables import LedgerHead
from ringwright.ledger.transaction import Actor
from ringwright.people.marks import hash_of, new_secret
from ringwright.people.tables import Account, ApiToken
from ringwright.sites.queries import person_known, read_person
from ringwright.sites.site import ROLES


def make_token(store: Store, site_id: int, role: str, actor: str | None, now_us: int) -> str:
    """A new bearer token, shown once. Raises Refused (no such role, or not that person's) or
    Missing (person)."""
    values = {"site_id": site_id, "role": role, "actor": actor, "made_us": now_us}
    return keep_token(store, values)


def keep_token(store: Store, values: Mapping[str, Any]) -> str:
    """As `make_token`, of the columns given; a token gives nobody a role they lack."""
    site_id, role, actor = values["site_id"], values["role"], values["actor"]
    if role not in ROLES:
        raise Refused(f"no role {role!r}; roles are {', '.join(ROLES)}")
    token = new_secret()
    with store.write(site_id) as connection:
        if actor is not None and role not in person_known(connection, site_id, actor).roles:
            raise Refused(f"{actor} does not act as {role}; a key or token gives no role away")
        connection.execute(insert(ApiToken).values(hash=hash_of(token), **values))
    return token


def opens(now_us: int) -> tuple[ColumnElement[bool], ...]:
    """The conditions of a token that opens something now."""
    return (
        ApiToken.ended_us.is_(None),
        or_(ApiToken.ends_us.is_(None), ApiToken.ends_us > now_us),
    )


def bearer(store: Store, token: str, now_us: int) -> tuple[str, Actor] | None:
    """(site code, actor) behind a token, or None when there is no such token.

    A token without a person acts for its role and counts as authorised for self-inspection. One
    of a person whose role was taken away acts in none; of a shut account it is none.
    """
    with store.read() as connection:
        row = connection.execute(
            select(ApiToken, LedgerHead.code, Account.shut_us)
            .join(LedgerHead, LedgerHead.site_id == ApiToken.site_id)
            .outerjoin(
                Account,
                and_(Account.site_id == ApiToken.site_id, Account.code == ApiToken.actor),
            )
            .where(ApiToken.hash == hash_of(token), *opens(now_us))
        ).first()
        if row is None or row.shut_us is not None:
            return None
        person = read_person(connection, row.site_id, row.actor) if row.actor else None
    scopes = frozenset(row.scopes.split(",")) if row.scopes else None
    if row.actor is None:
        return row.code, Actor(
            code=row.role,
            roles=frozenset({row.role}),
            self_inspection=True,
            person=False,
            scopes=scopes,
        )
    held = frozenset(person.roles if person else ())
    return row.code, Actor(
        code=row.actor,
        roles=frozenset({row.role}) & held,
        self_inspection=person is not None and "self-inspection" in person.authorisations,
        scopes=scopes,
    )
