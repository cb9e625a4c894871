"""Attach something to a part; note something about it. Neither decides anything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.attachments.content import Content
from ringwright.attachments.service import keep
from ringwright.bench.acts import Act, act_allowed, desk_of, done
from ringwright.core.errors import Refused
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Tx
from ringwright.parts import facts

MOST_LETTERS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Attach(Act):
    """A file belongs to the part."""

    operation: ClassVar[str] = "attach"
    permission: ClassVar[str] = "attach"
    content: Content
    shows: str

    def body(self) -> Any:
        """What it is, by its digest: the bytes themselves would be kept with the key."""
        return [self.serial, self.content.digest, self.shows, self.station, self.at_us]


def attach(tx: Tx, act: Attach) -> dict[str, Any]:
    """Keep the bytes and record whose they are; raises Refused without what it shows."""
    desk = desk_of(tx, act)
    shows = _said(act.shows, "what it shows")
    for entry in desk.history:
        if entry.kind == "attach" and entry.data["digest"] == act.content.digest:
            raise Refused(
                f"this {act.content.kind.word} is attached to {desk.part.serial} already "
                f"(entry {entry.seq})"
            )
    fact = facts.Attached(
        digest=keep(tx, act.content.data, act.content.media),
        media=act.content.media,
        what=act.content.kind.what,
        step=desk.part.step,
        reason=shows,
    )
    return done(desk, act, fact, key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Act):
    """Something worth telling about the part."""

    operation: ClassVar[str] = "note"
    permission: ClassVar[str] = "attach"
    text: str


def note(tx: Tx, act: Note) -> dict[str, Any]:
    """Record the note; raises Refused for an empty one."""
    desk = desk_of(tx, act)
    fact = facts.Noted(step=desk.part.step, reason=_said(act.text, "the note"))
    return done(desk, act, fact, key=act.key)


def _said(text: str, what: str) -> str:
    said = text.strip()
    if not said:
        raise Refused(f"say {what}; nothing was booked")
    if len(said) > MOST_LETTERS:
        raise Refused(f"{what} may have {MOST_LETTERS} letters, not {len(said)}")
    return said


HANDLINGS: dict[type, Handling] = {
    Attach: Handling(attach, act_allowed),
    Note: Handling(note, act_allowed),
}
