"""Whom to call when nobody on site may decide, and what was permitted for a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.ledger.service import Read
from ringwright.people.contacts import Contact, read_contacts
from ringwright.people.queries import (
    Done,
    read_callout,
    read_done_under,
    read_open_permits,
    read_reviewed_permits,
)
from ringwright.people.rules import PERMISSIONS, Permit
from ringwright.sites.queries import read_people
from ringwright.sites.site import Person

CALLED: Final = (
    "supervisor",
    "quality-engineer",
    "design-authority",
    "manager",
    "planner",
    "administrator",
)
"""Roles that somebody may be called for, those wanted oftenest first."""
DECIDED: Final = (
    "lift a hold",
    "skip a step",
    "permit",
    "sentence",
    "scrap",
    "repair",
    "concession",
    "correct",
    "shut",
    "contain",
    "clear",
    "notice",
    "send",
    "reserve",
    "review permit",
    "authorise",
    "load",
)
"""What a call is about: decisions that not everybody on the floor may take."""
MOST_CALLS: Final = 4
"""Calls that a list can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleList:
    """Who is called for one role."""

    role: str
    decides: tuple[str, ...]
    """Permissions, to be told in words."""
    calls: tuple[Contact, ...]
    """In order; name and number empty where none is kept."""
    holders: tuple[str, ...]
    """Everybody in that role, for the form."""
    wanted: bool
    """True where the role may do what was asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalloutSheet:
    """The page, from one snapshot."""

    zone: str
    now_us: int
    need: str
    roles: tuple[RoleList, ...]
    in_force: tuple[Permit, ...]
    to_review: tuple[Permit, ...]
    """Over and not reviewed, the oldest first."""
    overdue: int
    done: Mapping[str, Sequence[Done]]
    reviewed: tuple[Permit, ...]
    people: tuple[Person, ...]
    contacts: Mapping[str, Contact]


def read_callout_sheet(read: Read, need: str) -> CalloutSheet:
    """Whom to call now, for what was asked first; and the temporary permissions."""
    connection, site_id, zone = read.connection, read.site.id, read.site.zone
    unreviewed = read_open_permits(connection, site_id)
    people = tuple(read_people(connection, site_id))
    contacts = read_contacts(connection, site_id)
    lists = read_callout(connection, site_id, read.now_us)
    return CalloutSheet(
        zone=zone,
        now_us=read.now_us,
        need=need if need in PERMISSIONS else "",
        roles=_roles(need, people, lists, contacts),
        in_force=tuple(one for one in unreviewed if one.in_force(read.now_us)),
        to_review=tuple(one for one in unreviewed if not one.in_force(read.now_us)),
        overdue=sum(one.overdue(read.now_us, zone) for one in unreviewed),
        done=read_done_under(connection, site_id, unreviewed),
        reviewed=tuple(read_reviewed_permits(connection, site_id)),
        people=people,
        contacts=contacts,
    )


def _roles(
    need: str,
    people: Sequence[Person],
    lists: Mapping[str, Sequence[str]],
    contacts: Mapping[str, Contact],
) -> tuple[RoleList, ...]:
    wanted = PERMISSIONS.get(need, frozenset())
    found = []
    for role in CALLED:
        holders = tuple(one.code for one in people if role in one.roles)
        # Who has left the role since the list was made is not called for it.
        calls = [code for code in lists.get(role, ()) if code in holders]
        found.append(
            RoleList(
                role=role,
                decides=tuple(act for act in DECIDED if role in PERMISSIONS[act]),
                calls=tuple(contacts.get(code, Contact(code=code)) for code in calls),
                holders=holders,
                wanted=role in wanted,
            )
        )
    return tuple(sorted(found, key=lambda one: not one.wanted))


def count_overdue(read: Read) -> int:
    """How many temporary permissions should have been reviewed by now."""
    unreviewed = read_open_permits(read.connection, read.site.id)
    return sum(one.overdue(read.now_us, read.site.zone) for one in unreviewed)
