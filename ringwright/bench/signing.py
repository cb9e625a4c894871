"""When an act on a part needs a second person.

ISO 9001:2015, 8.7 asks that whoever decides on a nonconforming output has the authority and is
named in the record; AS9100D, 8.7 keeps repair and use as it is for the design authority (both
from memory). That a second person signs such acts is this shop's own rule. It is asked last:
whatever else speaks against the act is told before anybody signs.
"""

from __future__ import annotations

from ringwright.bench.accepting import DECIDING, check_not_own
from ringwright.ledger.transaction import Tx
from ringwright.parts.state import FITTED, RELEASED, SCRAPPED, Part
from ringwright.people.allowing import need_second

OUTPUT = (RELEASED, FITTED)
"""Places of a part that counts as output."""


def sign_end(tx: Tx, part: Part, outcome: str, by: str) -> None:
    """Ask for a second person where a visit ends in a repair or concession (`DECIDING`)."""
    ask_second(tx, part, f"second: {outcome}", f"a {outcome} of {part.serial}", by)


def sign_sentence(tx: Tx, part: Part, decision: str) -> None:
    """Ask for one at a repair or concession, and where a release would not stand any more."""
    if decision in DECIDING:
        ask_second(tx, part, f"second: {decision}", f"a {decision} of {part.serial}")
    elif decision in ("scrap", "rework") and part.place in OUTPUT:
        verb = "scrapping" if decision == "scrap" else "taking back the release of"
        ask_second(tx, part, "second: scrap", f"{verb} {part.serial}, which is {part.place},")


def permission_to_correct(before: Part, after: Part, outcome: str | None) -> str:
    """What a correction's second person must be permitted; `outcome` is one it brings in."""
    if outcome in DECIDING:
        return f"second: {outcome}"
    if before.place in OUTPUT and after.place == SCRAPPED:
        return "second: scrap"
    return "second: correct"


def ask_second(tx: Tx, part: Part, permission: str, what: str, by: str = "") -> None:
    """As `need_second`; the second person does not decide on their own work either."""
    need_second(tx, permission, what, by)
    if tx.approver is not None:
        check_not_own(tx, part, (tx.approver,), "may not be the second person for it")
