"""Who may ask for a command, as handlings want it."""

from __future__ import annotations

from ringwright.core.errors import Forbidden, SecondNeeded
from ringwright.ledger.service import Allows
from ringwright.ledger.transaction import Actor, Tx
from ringwright.people.rules import may


def permits(actor: Actor, permission: str) -> bool:
    """True when one of the actor's roles may do it and the key used is not narrowed past it."""
    within = actor.scopes is None or permission in actor.scopes
    return within and may(permission, actor.roles)


def allows(permission: str) -> Allows:
    """A check of one permission that holds whatever the command says."""

    def check(_command: object, actor: Actor) -> bool:
        return permits(actor, permission)

    return check


def need_second(tx: Tx, permission: str, what: str) -> None:
    """Ask for a second person; from then on every fact of the command bears their code.

    `permission` is a line of the table (`second: repair`), `what` says in the shop's words what
    is to be signed. A token that stands for a role is a system of the shop's, which has asked
    its own second person: only people are asked here. Raises SecondNeeded while nobody signed,
    Forbidden where it is the same person or one whose role does not allow it.
    """
    second = tx.actor.second
    if not tx.actor.person and second is None:
        return
    if second is None:
        raise SecondNeeded(f"{what} needs a second person", permission=permission)
    if second.code == tx.actor.code:
        raise Forbidden(f"{what} needs a second person; {second.code} acts already")
    if not may(permission, second.roles):
        raise Forbidden(f"{second.code} may not be the second person here; {what}")
    tx.approver = second.code
