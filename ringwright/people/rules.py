"""What each role may do: the one table that code, tests and Ground rules all read."""

from __future__ import annotations

from typing import Final

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
    "shut": frozenset({SUPERVISOR, QUALITY}),
    "open up": ALL_ROLES,
    "prioritise": frozenset({SUPERVISOR, PLANNER}),
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
    "ground rules": frozenset({ADMINISTRATOR}),
    "load": frozenset({ADMINISTRATOR}),
    "accounts": frozenset({ADMINISTRATOR}),
    "devices": frozenset({ADMINISTRATOR, SUPERVISOR}),
    "keys": frozenset({ADMINISTRATOR}),
    "audit": frozenset({ADMINISTRATOR, MANAGER}),
}
"""Act to the roles that may do it. A role not named may not."""


def may(permission: str, roles: frozenset[str]) -> bool:
    """True when one of the roles may do it; an unknown permission is nobody's."""
    return bool(PERMISSIONS.get(permission, frozenset()) & roles)
