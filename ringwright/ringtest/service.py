"""Keep the frequencies of a ring test with the recording they were heard in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.attachments.content import Content
from ringwright.attachments.service import keep
from ringwright.bench.acts import Act, act_allowed, desk_of
from ringwright.bench.authorised import check_authorised
from ringwright.bench.reading import Readings, Taken, enter
from ringwright.core.errors import Refused
from ringwright.core.fields import as_data
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Tx
from ringwright.parts import facts


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepRing(Act):
    """Frequencies heard in a recording, which is kept with the part."""

    operation: ClassVar[str] = "keep ring test"
    permission: ClassVar[str] = "measure"
    content: Content
    taken: dict[str, Taken]
    gauges: dict[str, str]
    shows: str = "ring test"

    def body(self) -> Any:
        """The recording by its digest, and what was heard."""
        taken = {code: as_data(one) for code, one in sorted(self.taken.items())}
        return [self.serial, self.content.digest, taken, self.gauges, self.station, self.at_us]


def keep_ring(tx: Tx, act: KeepRing) -> dict[str, Any]:
    """Record the recording and each frequency; raises Refused where none may be kept."""
    desk = desk_of(tx, act)
    visit = desk.part.open_visit
    if visit is None or visit.step is None:
        raise Refused(f"{act.serial} has no open visit; it is {desk.part.place}. Begin first")
    if not act.taken:
        raise Refused("no mode that this step asks for was heard; nothing is kept")
    check_authorised(tx, desk.part, visit.step, (tx.actor.code,), act.at_us)
    known = any(
        entry.kind == facts.Attached.kind and entry.data["digest"] == act.content.digest
        for entry in desk.history
    )
    if not known:
        fact = facts.Attached(
            digest=keep(tx, act.content.data, act.content.media),
            media=act.content.media,
            what=act.content.kind.what,
            step=visit.step,
            reason=act.shows,
        )
        desk.record(fact, station=act.station, at_us=act.at_us)
    given = Readings(taken=act.taken, gauges=act.gauges, at_us=act.at_us, station=act.station)
    enter(desk, visit.step, given)
    return desk.answer(desk.history[-1], act.key)


HANDLINGS: dict[type, Handling] = {KeepRing: Handling(keep_ring, act_allowed)}
