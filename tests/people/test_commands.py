"""Every command declares a permission of the table (OWASP ASVS 5.0.0, 8.2.1, 8.3.1)."""

from __future__ import annotations

from dataclasses import fields
from types import SimpleNamespace
from typing import Any

import pytest

from ringwright.handlings import handlings
from ringwright.ledger.transaction import Actor
from ringwright.people import rules
from ringwright.people.words import PERMISSION_WORDS

COMMANDS = sorted(handlings(), key=lambda one: one.__name__)
GIVEN: dict[str, Any] = {
    "entry": 1,
    "booking": SimpleNamespace(act="begin", outcome=None),
    "decision": "scrap",
    "outcome": "pass",
}
"""What a command holds that its own check looks at."""


class Asked(dict[str, frozenset[str]]):
    """The table, which remembers what was looked up."""

    def __init__(self) -> None:
        super().__init__(rules.PERMISSIONS)
        self.looked_up: set[str] = set()

    def get(self, key: str, default: Any = None) -> Any:
        self.looked_up.add(key)
        return super().get(key, default)


def made(command: type) -> Any:
    """A command of that class, with nothing in it but what its check looks at."""
    bare: Any = object.__new__(command)
    for one in fields(command):
        object.__setattr__(bare, one.name, GIVEN.get(one.name, ""))
    return bare


def actor(*roles: str, scopes: frozenset[str] | None = None) -> Actor:
    return Actor(code="x", roles=frozenset(roles), scopes=scopes)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_asks_the_table_and_lets_nobody_without_a_role(
    command: type, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = Asked()
    monkeypatch.setattr(rules, "PERMISSIONS", table)

    allowed = handlings()[command].allows(made(command), actor())

    assert allowed is False
    assert table.looked_up, "it asks for no permission"
    assert table.looked_up <= set(table), "it asks for a permission that is not in the table"


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_lets_somebody(command: type) -> None:
    handling = handlings()[command]

    assert any(handling.allows(made(command), actor(role)) for role in rules.ALL_ROLES)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_key_narrowed_to_looking_commands_nothing(command: type) -> None:
    everybody = actor(*rules.ALL_ROLES, scopes=frozenset({"read"}))

    assert handlings()[command].allows(made(command), everybody) is False


def test_every_permission_has_holders_of_known_roles_and_words() -> None:
    assert set(PERMISSION_WORDS) == set(rules.PERMISSIONS)
    assert all(holders and holders <= rules.ALL_ROLES for holders in rules.PERMISSIONS.values())


def test_repairs_and_concessions_are_the_delegates_alone() -> None:
    for permission in ("repair", "concession", "rotor"):
        assert rules.PERMISSIONS[permission] == {"design-authority"}
