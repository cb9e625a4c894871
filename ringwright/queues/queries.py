"""What the Queues page reads: SELECTs bounded by the span looked at, not by the record."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import and_, or_, select

from ringwright.flow.queries import Sql, believed, instant_then
from ringwright.ledger.service import Read
from ringwright.parts.tables import Visit
from ringwright.sites.tables import Shutting


class Stay(NamedTuple):
    """A visit and the wait after it; a page looks at thousands, so they are plain tuples."""

    serial: str
    product: str
    revision: str
    step: int | None
    station: str
    begin_us: int
    end_us: int
    leave_us: int
    next_step: int | None


def read_stays(read: Read, from_us: int) -> list[Stay]:
    """The rows of `visits_over`."""
    rows = read.connection.execute(visits_over(read, from_us)).all()
    return [Stay._make(row) for row in rows]


def visits_over(read: Read, from_us: int) -> Sql:
    """Visits, and the waits after them, not over by an instant, as known then."""
    begin = instant_then(read, Visit.begin_us, Visit.begin_known_us)
    leave = instant_then(read, Visit.leave_us, Visit.leave_known_us)
    stays = Visit.leave_us >= from_us
    if read.as_of_us is not None:
        # Left before, but nobody knew: few rows, and an index holds just those told late.
        untold = and_(
            Visit.leave_known_us > Visit.leave_us,
            Visit.leave_known_us >= read.known_before_us,
        )
        stays = or_(stays, untold)
    return select(
        Visit.serial, Visit.product, Visit.revision, Visit.step, Visit.station,
        begin.label("begin_us"),
        instant_then(read, Visit.end_us, Visit.end_known_us).label("end_us"),
        leave.label("leave_us"),
        Visit.next_step,
    ).where(believed(read, Visit), stays, begin < read.now_us)  # fmt: skip


def shut_over(read: Read, from_us: int) -> Sql:
    """Spans in which a station was shut, not over by an instant."""
    begin = instant_then(read, Shutting.from_us, Shutting.from_known_us)
    end = instant_then(read, Shutting.to_us, Shutting.to_known_us)
    return select(Shutting.code, begin.label("from_us"), end.label("to_us")).where(
        Shutting.site_id == read.site.id,
        Shutting.kind == "station",
        Shutting.to_us >= from_us,
        begin < read.now_us,
    )


def visits_ended(read: Read, from_us: int) -> Sql:
    """Visits, and the moments of creation, ended since an instant and before the snapshot's,
    as known then: what steps are learned from."""
    end = instant_then(read, Visit.end_us, Visit.end_known_us)
    return select(
        Visit.serial, Visit.product, Visit.step, Visit.station, Visit.run, Visit.begin_us,
        end.label("end_us"), Visit.touch_us, Visit.queue_us, Visit.outcome, Visit.next_step,
    ).where(believed(read, Visit), Visit.end_us >= from_us, end < read.now_us)  # fmt: skip
