"""Who may ask for a command, as handlings want it."""

from __future__ import annotations

from ringwright.core.errors import Forbidden, SecondNeeded
from ringwright.ledger.service import Allows
from ringwright.ledger.transaction import Actor, Tx
from ringwright.people.rules import GRANTABLE, may


def allows(permission: str) -> Allows:
    """A check of one permission that holds whatever the command says."""

    def check(_command: object, actor: Actor) -> bool:
        return may_act(actor, permission)

    return check


def may_act(actor: Actor, permission: str) -> bool:
    """True when a role of theirs may do it, or a temporary permission that is in force.

    A key that was narrowed opens only what it names.
    """
    if actor.scopes is not None and permission not in actor.scopes:
        return False
    # Asked again of the list: nothing outside it is ever lent, whatever an actor was given.
    lent = permission in actor.permits and permission in GRANTABLE
    return lent or may(permission, actor.roles)


def need_second(tx: Tx, permission: str, what: str, by: str = "") -> None:
    """Ask for a second person; from then on every fact of the command bears their code.

    `permission` is a line of the table (`second: repair`), `what` says in the shop's words what
    is to be signed, `by` is whom the entry names where that is not who acts. A token that
    stands for a role is a system of the shop's, which has asked its own second person: only
    people are asked here. Raises SecondNeeded while nobody signed, Forbidden where it is the
    same person or one whose role does not allow it.
    """
    second = tx.actor.second
    if not tx.actor.person and second is None:
        return
    if second is None:
        raise SecondNeeded(f"{what} needs a second person", permission=permission)
    if second.code in (tx.actor.code, by):
        raise Forbidden(f"{what} needs a second person; {second.code} acts already")
    if not may(permission, second.roles):
        raise Forbidden(f"the role of {second.code} may not be the second person of {what}")
    tx.approver = second.code
