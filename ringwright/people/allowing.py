"""Who may ask for a command, as handlings want it."""

from __future__ import annotations

from ringwright.ledger.service import Allows
from ringwright.ledger.transaction import Actor
from ringwright.people.rules import may


def allows(permission: str) -> Allows:
    """A check of one permission that holds whatever the command says."""

    def check(_command: object, actor: Actor) -> bool:
        return may(permission, actor.roles)

    return check
