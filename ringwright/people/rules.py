"""What each role may do: the one table that code, tests and Ground rules all read."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import time, timedelta
from typing import Final

from ringwright.core.errors import Forbidden, Refused
from ringwright.core.instants import HOUR_US, site_time, wall_us

MAKER, INSPECTOR, SUPERVISOR, PLANNER = "maker", "inspector", "supervisor", "planner"
MANAGER, QUALITY, DELEGATE = "manager", "quality-engineer", "design-authority"
ADMINISTRATOR = "administrator"

ALL_ROLES: Final = frozenset(
    {MAKER, INSPECTOR, SUPERVISOR, PLANNER, MANAGER, QUALITY, DELEGATE, ADMINISTRATOR}
)
_FLOOR = frozenset({MAKER, INSPECTOR, SUPERVISOR, QUALITY})

PERMISSIONS: Final[dict[str, frozenset[str]]] = {
    "read": ALL_ROLES,
    "own account": ALL_ROLES,
    "export": ALL_ROLES - {MAKER},
    "create": frozenset({MAKER, SUPERVISOR, PLANNER, QUALITY}),
    "visit": _FLOOR,
    "skip a step": frozenset({SUPERVISOR, QUALITY}),
    "measure": _FLOOR,
    "pass": _FLOOR,
    "rework": frozenset({INSPECTOR, SUPERVISOR, QUALITY}),
    "scrap": frozenset({QUALITY}),
    "repair": frozenset({DELEGATE}),
    "concession": frozenset({DELEGATE}),
    "hold": frozenset({INSPECTOR, SUPERVISOR, QUALITY, DELEGATE}),
    "lift a hold": frozenset({SUPERVISOR, QUALITY}),
    "stop": _FLOOR,
    "sentence": frozenset({QUALITY}),
    "send": frozenset({SUPERVISOR, PLANNER}),
    "move": _FLOOR | {PLANNER},
    "witness": frozenset({INSPECTOR, SUPERVISOR, QUALITY}),
    "correct": frozenset({SUPERVISOR, QUALITY}),
    "take back": _FLOOR | {PLANNER, DELEGATE},
    "genealogy": _FLOOR,
    "attach": _FLOOR | {PLANNER, DELEGATE},
    "shut": frozenset({SUPERVISOR, QUALITY}),
    "open up": ALL_ROLES,
    "prioritise": frozenset({SUPERVISOR, PLANNER}),
    "hand over a shift": _FLOOR,
    "seek": _FLOOR | {PLANNER},
    "contain": frozenset({SUPERVISOR, QUALITY}),
    "clear": frozenset({QUALITY}),
    "notice": frozenset({QUALITY, MANAGER}),
    "publish": frozenset({SUPERVISOR}),
    "build sets": frozenset({PLANNER, SUPERVISOR}),
    "reserve": frozenset({PLANNER}),
    "give back": frozenset({PLANNER}),
    "hand over": frozenset({PLANNER, SUPERVISOR}),
    "fit": frozenset({MAKER, INSPECTOR, SUPERVISOR, PLANNER}),
    "rotor": frozenset({DELEGATE}),
    "gauges": frozenset({QUALITY, ADMINISTRATOR}),
    "check gauge": _FLOOR,
    "trust readings": frozenset({QUALITY}),
    "run furnace": frozenset({MAKER, SUPERVISOR}),
    "accept run": frozenset({INSPECTOR, QUALITY}),
    "close run": frozenset({QUALITY}),
    "furnaces": frozenset({QUALITY, ADMINISTRATOR}),
    "prove furnace": frozenset({INSPECTOR, SUPERVISOR, QUALITY}),
    "recipes": frozenset({QUALITY, DELEGATE}),
    "plan machines": frozenset({PLANNER, SUPERVISOR}),
    "weld": frozenset({MAKER, SUPERVISOR}),
    "radiograph": frozenset({INSPECTOR}),
    "weld plans": frozenset({QUALITY, ADMINISTRATOR}),
    "welders": frozenset({QUALITY}),
    "swarf": frozenset({MAKER, INSPECTOR, SUPERVISOR, QUALITY}),
    "lots": frozenset({QUALITY, PLANNER, DELEGATE}),
    "release lots": frozenset({QUALITY, DELEGATE}),
    "authorise": frozenset({QUALITY, ADMINISTRATOR}),
    "permit": frozenset({SUPERVISOR, QUALITY}),
    "review permit": frozenset({QUALITY, MANAGER}),
    "call-out": frozenset({SUPERVISOR, ADMINISTRATOR}),
    "contacts": frozenset({ADMINISTRATOR}),
    "ground rules": frozenset({ADMINISTRATOR}),
    "load": frozenset({ADMINISTRATOR}),
    "accounts": frozenset({ADMINISTRATOR}),
    "devices": frozenset({ADMINISTRATOR, SUPERVISOR}),
    "keys": frozenset({ADMINISTRATOR}),
    "audit": frozenset({ADMINISTRATOR, MANAGER}),
    "second: repair": frozenset({QUALITY, DELEGATE}),
    "second: concession": frozenset({QUALITY, DELEGATE}),
    "second: scrap": frozenset({QUALITY, MANAGER}),
    "second: correct": frozenset({SUPERVISOR, QUALITY}),
}
"""Act to the roles that may do it. A role not named may not.

Lines that begin with `second:` say who may be the second person of an act. Each has a role
beside the one that acts, so that one person in each role is enough.
"""


def may(permission: str, roles: frozenset[str]) -> bool:
    """True when one of the roles may do it; an unknown permission is nobody's."""
    return bool(PERMISSIONS.get(permission, frozenset()) & roles)


GRANTABLE: Final = (
    "hold",
    "lift a hold",
    "rework",
    "skip a step",
    "shut",
    "prioritise",
    "seek",
    "create",
)
"""What may be granted for a night: nothing that decides a nonconformity or sends a part away,
no second person, no account, no ground rule."""
MOST_HOURS: Final = 12
REVIEW_AT: Final = time(8, 0)
"""Site time by which last night's permissions are reviewed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """A temporary permission as it stands."""

    code: str
    number: int
    person: str
    permission: str
    reason: str
    granted_by: str
    from_us: int
    until_us: int
    """When it ends by itself."""
    ended_us: int | None = None
    """When it was ended before that."""
    ended_by: str | None = None
    ended_why: str | None = None
    reviewed_us: int | None = None
    reviewed_by: str | None = None
    agreed: bool | None = None
    note: str | None = None

    @property
    def over_us(self) -> int:
        """When it was, or will be, over."""
        return self.until_us if self.ended_us is None else min(self.until_us, self.ended_us)

    def in_force(self, at_us: int) -> bool:
        """True from its granting to the moment before it is over."""
        return self.from_us <= at_us < self.over_us

    def due_us(self, zone: str) -> int:
        """When its review is due: at the next 08:00, or when it is over if that is later."""
        here = site_time(self.from_us, zone).replace(tzinfo=None)
        morning = here.replace(hour=REVIEW_AT.hour, minute=0, second=0, microsecond=0)
        if here >= morning:
            morning += timedelta(days=1)
        return max(wall_us(morning, zone), self.over_us)

    def overdue(self, at_us: int, zone: str) -> bool:
        """True when nobody has reviewed it by the time that was due."""
        return self.reviewed_us is None and at_us > self.due_us(zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asks:
    """A temporary permission as it is asked for."""

    person: str
    roles: frozenset[str]
    """Of the person who is to have it."""
    permission: str
    reason: str
    hours: int


def check_grant(asks: Asks, by: str, by_roles: frozenset[str]) -> None:
    """Refuse what nobody may grant, or not this granter; raises Refused or Forbidden."""
    if asks.person == by:
        raise Forbidden("nobody grants themselves a permission; call somebody who may")
    if asks.permission not in GRANTABLE:
        raise Refused(f"{asks.permission[:40]!r} is never granted for a time; hold the part")
    if not may(asks.permission, by_roles):
        raise Forbidden(f"only who may {asks.permission} by their own role grants it")
    if may(asks.permission, asks.roles):
        raise Refused(f"{asks.person} may do that by their role already")
    if not 1 <= asks.hours <= MOST_HOURS:
        raise Refused(f"a temporary permission lasts 1 to {MOST_HOURS} hours")
    if not asks.reason.strip():
        raise Refused("say why (reason); whoever reviews it will ask")


def check_review(permit: Permit, by: str, now_us: int, agreed: bool, note: str) -> None:
    """Refuse a review by one of the two, too early, twice, or without what is done about it."""
    if by in (permit.person, permit.granted_by):
        raise Forbidden(f"{by} is one of the two it is about; somebody else reviews it")
    if permit.reviewed_us is not None:
        raise Refused(f"{permit.code} was reviewed by {permit.reviewed_by} already")
    if permit.in_force(now_us):
        raise Refused(f"{permit.code} is still in force; end it first, or wait")
    if not agreed and not note.strip():
        raise Refused("not agreed: say what is done about it")


def until_us_of(now_us: int, hours: int) -> int:
    """When a permission granted now is over by itself."""
    return now_us + hours * HOUR_US


def check_list(role: str, people: Collection[str], holders: Collection[str]) -> None:
    """Refuse a call-out list that names somebody twice, or who does not hold the role."""
    if len(set(people)) != len(people):
        raise Refused("somebody stands twice on the list; name each person once")
    strangers = [code for code in people if code not in holders]
    if strangers:
        raise Refused(f"{strangers[0]} is no {role} at this site; set their roles first")
