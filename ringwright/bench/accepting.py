"""Nobody accepts their own work: who may pass it, sentence it, see it made unusable.

The rule asks everybody whose name the record would bear: who acts, whom a booking names
(`by`), whom a correction puts there, and the second person.
"""

from __future__ import annotations

from collections.abc import Iterable

from ringwright.core.errors import Forbidden, Refused
from ringwright.core.facts import Entry
from ringwright.ledger.transaction import Tx
from ringwright.parts.knowledge import in_effect
from ringwright.parts.rows import VisitRow
from ringwright.parts.state import ACCEPTING, Part
from ringwright.sites.queries import read_person

DECIDING = ("repair", "concession")
"""Outcomes of a visit that are sentences in themselves."""


def check_end(tx: Tx, part: Part, outcome: str, names: Iterable[str]) -> None:
    """Refuse to pass one's own work at an inspection or a dispatch, or to decide on it at all.

    A pass at any other step only ends the work there; the next inspection judges it. Rework and
    scrap accept nothing.
    """
    visit = part.open_visit
    if visit is None or visit.step is None:
        return
    _check_run(part, visit)
    kind = part.route.by_number[visit.step].kind
    if outcome in DECIDING:
        check_not_own(tx, part, names, "may not sentence it")
    elif outcome == "pass" and kind in ACCEPTING:
        told = {
            "inspection": "may not pass its next inspection; another inspector must",
            "dispatch": "may not release it; somebody else must",
        }
        check_not_own(tx, part, names, told[kind])


def _check_run(part: Part, visit: VisitRow) -> None:
    """Refuse to end by itself what a furnace run does.

    A part that was stopped in the run goes its own way once its nonconformity is sentenced.
    """
    stopped = any(row.opened_us >= visit.begin_us for row in part.nonconformities)
    if part.run is not None and not stopped:
        raise Refused(
            f"{part.serial} is in furnace run {part.run}, whose acceptance ends this step",
            code="in-run",
        )


def check_sentence(tx: Tx, part: Part) -> None:
    """Refuse to sentence one's own work."""
    check_not_own(tx, part, (tx.actor.code,), "may not sentence it")


def check_witness(tx: Tx, part: Part, history: list[Entry]) -> None:
    """Refuse a witness who worked on the part or scrapped it: somebody else has to see it."""
    check_not_own(tx, part, (tx.actor.code,), "may not be its witness")
    if tx.actor.code == _scrapper(history) and not _excused(tx, tx.actor.code):
        raise Forbidden(
            f"{tx.actor.code} scrapped {part.serial} and may not be its witness; "
            "somebody else must"
        )


def _scrapper(history: list[Entry]) -> str | None:
    for entry in reversed(in_effect(history)):
        if "scrap" in (entry.data.get("outcome"), entry.data.get("decision")):
            return str(entry.actor)
    return None


def check_not_own(tx: Tx, part: Part, names: Iterable[str], told: str) -> None:
    """Raise Forbidden when one of the names worked on the part and is not authorised for it."""
    for name in names:
        if name in part.hands and not _excused(tx, name):
            raise Forbidden(f"{name} worked on {part.serial} and {told}")


def _excused(tx: Tx, name: str) -> bool:
    """Authorised for self-inspection; a token that stands for a role counts as that."""
    if not tx.actor.person:
        return True
    if name == tx.actor.code:
        return tx.actor.self_inspection
    person = read_person(tx.connection, tx.site.id, name)
    return person is not None and "self-inspection" in person.authorisations
