"""What is attached, looked up."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import Connection, select

from ringwright.attachments.content import Content
from ringwright.attachments.rules import KINDS, PHOTO, WITH_LEVELS
from ringwright.attachments.tables import Attachment
from ringwright.core.errors import Missing
from ringwright.ledger.service import Read
from ringwright.ledger.tables import Event

_DIGEST: Final = re.compile("[0-9a-f]{64}")
AT_ONCE: Final = 500
"""Digests asked for in one SELECT."""


def read_attachment(connection: Connection, site_id: int, digest: str) -> Content:
    """What a site keeps under a digest; raises Missing."""
    found = None
    if _DIGEST.fullmatch(digest):
        query = select(Attachment.media, Attachment.content).where(
            Attachment.site_id == site_id, Attachment.digest == digest
        )
        found = connection.execute(query).first()
    if found is None:
        raise Missing(f"nothing is kept under {digest[:12]!r} at this site")
    return Content(data=bytes(found.content), media=found.media)


def read_attachments(
    connection: Connection, site_id: int, digests: Sequence[str]
) -> dict[str, Content]:
    """What a site keeps under each of many digests; raises Missing for the first it has not."""
    found: dict[str, Content] = {}
    for start in range(0, len(digests), AT_ONCE):
        query = select(Attachment.digest, Attachment.media, Attachment.content).where(
            Attachment.site_id == site_id,
            Attachment.digest.in_(digests[start : start + AT_ONCE]),
        )
        for row in connection.execute(query):
            found[row.digest] = Content(data=bytes(row.content), media=row.media)
    lost = next((digest for digest in digests if digest not in found), None)
    if lost is not None:
        raise Missing(f"nothing is kept under {lost[:12]!r} at this site")
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached:
    """One attachment of a part, as its entry tells it."""

    entry: int
    at_us: int
    by: str
    station: str
    digest: str
    media: str
    shows: str
    step: int | None

    @property
    def is_photo(self) -> bool:
        """True for one that is shown as a picture."""
        return KINDS[self.media].what == PHOTO

    @property
    def is_drawn(self) -> bool:
        """True for one whose levels can be set: a radiograph, or a PNG that may be one."""
        return self.media in WITH_LEVELS

    @property
    def word(self) -> str:
        """What it is, in a word to be translated."""
        return KINDS[self.media].word

    @property
    def ending(self) -> str:
        """The ending of its file."""
        return KINDS[self.media].ending


def read_attached(read: Read, serial: str) -> list[Attached]:
    """The attachments of a part, the newest first; one whose entry is void is none."""
    query = (
        select(Event)
        .where(
            Event.site_id == read.site.id,
            Event.subject_kind == "part",
            Event.subject == serial,
            Event.kind.in_(("attach", "correct")),
            Event.known_at_us < read.known_before_us,
        )
        .order_by(Event.site_seq.desc())
    )
    rows = read.connection.execute(query).all()
    void = {row.corrects for row in rows if row.kind == "correct" and _data(row).get("void")}
    return [_attached(row) for row in rows if row.kind == "attach" and row.site_seq not in void]


def _data(row: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(row.payload)
    return found


def _attached(row: Any) -> Attached:
    data = _data(row)
    return Attached(
        entry=row.site_seq,
        at_us=row.at_us,
        by=row.actor,
        station=row.station,
        digest=data["digest"],
        media=data["media"],
        shows=data.get("reason") or "",
        step=data.get("step"),
    )
