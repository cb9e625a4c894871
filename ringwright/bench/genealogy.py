"""Acts that tie parts to one another: new marks, joins and splits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.bench.acts import Act, act_allowed, desk_of, done
from ringwright.bench.permitted import check_lots
from ringwright.bench.service import open_desk
from ringwright.core.errors import Missing, Refused
from ringwright.core.practice import serial_of
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Tx
from ringwright.parts import facts


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark(Act):
    """The part bears a new mark, verified by scanning it."""

    operation: ClassVar[str] = "remark"
    permission: ClassVar[str] = "genealogy"
    mark: str
    scanned: str


def remark(tx: Tx, act: Remark) -> dict[str, Any]:
    """Record the new mark; raises Refused for a scan that differs or another part's mark."""
    desk = desk_of(tx, act)
    if act.mark != act.scanned or not act.mark.strip():
        raise Refused("the scan does not read the new mark; mark or scan it again")
    mark = serial_of(act.mark, practice=tx.site.practice_of is not None)
    if open_desk(tx, mark).part.card is not None:
        raise Refused(f"{mark} is another part's serial; both must be held and looked at")
    return done(desk, act, facts.Remarked(mark=mark), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Join(Act):
    """The part was made from these parts."""

    operation: ClassVar[str] = "join"
    permission: ClassVar[str] = "genealogy"
    members: tuple[str, ...]


def join(tx: Tx, act: Join) -> dict[str, Any]:
    """Link the members to the part; each member is used up."""
    desk = desk_of(tx, act)
    check_lots(tx, desk.part.route, _lots(tx, act.members))
    _each(tx, act, act.members, facts.Joined(whole=desk.part.serial))
    return done(desk, act, facts.Joined(members=act.members), key=act.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class Split(Act):
    """The part was parted into these parts."""

    operation: ClassVar[str] = "split"
    permission: ClassVar[str] = "genealogy"
    pieces: tuple[str, ...]


def split(tx: Tx, act: Split) -> dict[str, Any]:
    """Link the pieces to the part, which is used up."""
    desk = desk_of(tx, act)
    for serial in act.pieces:
        piece = open_desk(tx, serial).part
        if piece.card is not None:
            check_lots(tx, piece.route, [desk.part.lot])
    _each(tx, act, act.pieces, facts.Split(whole=desk.part.serial))
    return done(desk, act, facts.Split(pieces=act.pieces), key=act.key)


def _lots(tx: Tx, serials: tuple[str, ...]) -> list[str | None]:
    """The lots of the members, and of what was made into them before."""
    found: list[str | None] = []
    for serial in serials:
        desk = open_desk(tx, serial)
        found += [desk.part.lot, *(str(e.data["lot"]) for e in desk.history if "lot" in e.data)]
    return found


def _each(tx: Tx, act: Act, serials: tuple[str, ...], fact: facts.PartFact) -> None:
    if not serials or len(set(serials)) != len(serials) or act.serial in serials:
        raise Refused("name each other part once, and not the part itself")
    for serial in serials:
        other = open_desk(tx, serial)
        if other.part.card is None:
            raise Missing(f"there is no part {serial}")
        other.record(fact, station=act.station)


HANDLINGS: dict[type, Handling] = {
    Remark: Handling(remark, act_allowed),
    Join: Handling(join, act_allowed),
    Split: Handling(split, act_allowed),
}
