"""Every route has its door, and every door its route (OWASP ASVS 5.0.0, 8.1.1, 8.2.1)."""

from __future__ import annotations

from starlette.routing import Route

from ringwright.people.rules import PERMISSIONS
from ringwright.web import health
from ringwright.web.doors import DOORS
from ringwright.web.factory import room_routers


def routes() -> set[str]:
    """The names of all routes that any room serves."""
    routers = [*room_routers(), health.router]
    return {r.name for router in routers for r in router.routes if isinstance(r, Route)}


def test_no_route_lacks_a_door_and_no_door_a_route() -> None:
    assert routes() == set(DOORS)


def test_a_door_names_permissions_of_the_table() -> None:
    named = {permission for door in DOORS.values() for permission in door.any_of}

    assert named <= set(PERMISSIONS)
