"""The people of a site with what they can sign in by."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from ringwright.ledger.service import Read
from ringwright.people.signing import alive
from ringwright.people.tables import Account, SignedIn
from ringwright.sites.queries import read_people
from ringwright.sites.site import Person


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One person, their account if they have one, how often they are signed in."""

    person: Person
    account: Any | None
    sessions: int

    @property
    def is_shut(self) -> bool:
        """True when nobody gets in as this person."""
        return self.account is not None and self.account.shut_us is not None


def read_overview(read: Read) -> list[Row]:
    """Everybody of the site, by code."""
    mine = Account.site_id == read.site.id
    accounts = {row.code: row for row in read.connection.execute(select(Account).where(mine))}
    here = select(SignedIn.code).where(SignedIn.site_id == read.site.id, *alive(read.now_us))
    signed_in = Counter(read.connection.execute(here).scalars())
    return [
        Row(person=one, account=accounts.get(one.code), sessions=signed_in[one.code])
        for one in read_people(read.connection, read.site.id)
    ]
