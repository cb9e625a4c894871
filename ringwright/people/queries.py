"""Temporary permissions and call-out lists, looked up."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, func, or_, select

from ringwright.db import FOREVER_US
from ringwright.ledger.tables import Event
from ringwright.people.rules import Permit
from ringwright.people.tables import CalloutList, PermitGiven

KINDS_OF: Final[dict[str, tuple[str, ...]]] = {
    "hold": ("hold",),
    "lift a hold": ("unhold",),
    "rework": ("end",),
    "skip a step": ("begin",),
    "shut": ("shut", "open"),
    "prioritise": ("prioritise",),
    "seek": ("seek", "find"),
    "create": ("create",),
}
"""Grantable permission to the kinds of entry that are booked by it."""
MOST_REVIEWED: Final = 20


def read_permits(connection: Connection, site_id: int, code: str, at_us: int) -> list[Permit]:
    """The temporary permissions of a person that are in force at a moment."""
    query = select(PermitGiven).where(
        PermitGiven.site_id == site_id,
        PermitGiven.person == code,
        PermitGiven.until_us > at_us,
        PermitGiven.from_us <= at_us,
        PermitGiven.ended_us > at_us,
    )
    return [_permit(row) for row in connection.execute(query.order_by(PermitGiven.number))]


def read_permit(connection: Connection, site_id: int, code: str) -> Permit | None:
    """One temporary permission, or None."""
    query = select(PermitGiven).where(PermitGiven.site_id == site_id, PermitGiven.code == code)
    row = connection.execute(query).first()
    return None if row is None else _permit(row)


def count_permits(connection: Connection, site_id: int) -> int:
    """How many were ever granted."""
    query = select(func.count()).where(PermitGiven.site_id == site_id)
    return int(connection.execute(query).scalar_one())


def read_open_permits(
    connection: Connection, site_id: int, known_before_us: int = FOREVER_US
) -> list[Permit]:
    """Every temporary permission that nobody has reviewed, the oldest first."""
    query = select(PermitGiven).where(
        PermitGiven.site_id == site_id,
        PermitGiven.from_known_us < known_before_us,
        PermitGiven.reviewed_known_us >= known_before_us,
    )
    rows = connection.execute(query.order_by(PermitGiven.number))
    return [_permit(row, known_before_us) for row in rows]


def read_reviewed_permits(connection: Connection, site_id: int) -> list[Permit]:
    """The last temporary permissions that were reviewed, the newest first."""
    query = (
        select(PermitGiven)
        .where(PermitGiven.site_id == site_id, PermitGiven.reviewed_us < FOREVER_US)
        .order_by(PermitGiven.number.desc())
        .limit(MOST_REVIEWED)
    )
    return [_permit(row) for row in connection.execute(query)]


def _permit(row: Any, known_before_us: int = FOREVER_US) -> Permit:
    ended = row.ended_us < FOREVER_US and row.ended_known_us < known_before_us
    reviewed = row.reviewed_us < FOREVER_US and row.reviewed_known_us < known_before_us
    return Permit(
        code=row.code,
        number=row.number,
        person=row.person,
        permission=row.permission,
        reason=row.reason,
        granted_by=row.granted_by,
        from_us=row.from_us,
        until_us=row.until_us,
        ended_us=row.ended_us if ended else None,
        ended_by=row.ended_by if ended else None,
        ended_why=row.ended_why if ended else None,
        reviewed_us=row.reviewed_us if reviewed else None,
        reviewed_by=row.reviewed_by if reviewed else None,
        agreed=bool(row.agreed) if reviewed else None,
        note=row.note if reviewed else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """An entry that was booked under a temporary permission."""

    entry: int
    at_us: int
    subject_kind: str
    subject: str
    kind: str


def read_done_under(
    connection: Connection, site_id: int, permits: Sequence[Permit]
) -> dict[str, list[Done]]:
    """Permit code to what its person booked by it while it was in force, in one question.

    Told by the time of recording: a booking dated back was still made that night.
    """
    found: dict[str, list[Done]] = {permit.code: [] for permit in permits}
    if not permits:
        return found
    spans = [
        (Event.actor == permit.person)
        & (Event.recorded_at_us >= permit.from_us)
        & (Event.recorded_at_us < permit.over_us)
        & Event.kind.in_(KINDS_OF.get(permit.permission, ()))
        for permit in permits
    ]
    query = (
        select(
            Event.site_seq, Event.at_us, Event.recorded_at_us, Event.actor,
            Event.subject_kind, Event.subject, Event.kind, Event.payload,
        )
        # By the key: what stands before the oldest of them is not looked at.
        .where(
            Event.site_id == site_id,
            Event.site_seq > min(permit.number for permit in permits),
            or_(*spans),
        )
        .order_by(Event.site_seq)
    )  # fmt: skip
    for row in connection.execute(query):
        for permit in permits:
            if _is_under(row, permit):
                done = Done(
                    entry=row.site_seq,
                    at_us=row.at_us,
                    subject_kind=row.subject_kind,
                    subject=row.subject,
                    kind=row.kind,
                )
                found[permit.code].append(done)
    return found


def _is_under(row: Any, permit: Permit) -> bool:
    inside = permit.from_us <= row.recorded_at_us < permit.over_us
    if row.actor != permit.person or not inside:
        return False
    if row.kind not in KINDS_OF.get(permit.permission, ()):
        return False
    data = json.loads(row.payload)
    if permit.permission == "rework":
        return bool(data.get("outcome") == "rework")
    # A skip bears its reason; beginning at the step that is due bears none.
    return permit.permission != "skip a step" or bool(data.get("reason"))


def read_callout(connection: Connection, site_id: int, at_us: int) -> dict[str, list[str]]:
    """Role to the codes of who is called for it at a moment, in order."""
    query = select(CalloutList.role, CalloutList.people).where(
        CalloutList.site_id == site_id,
        CalloutList.from_us <= at_us,
        CalloutList.to_us > at_us,
    )
    return {row.role: list(json.loads(row.people)) for row in connection.execute(query)}
