"""The moves a part can make; the rules decide which of them a fact makes."""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.rows import HoldRow, VisitRow
from ringwright.parts.state import ACCEPTING, RELEASED, SCRAPPED, WAITING, Part


def wait_from(part: Part, entry: Entry, step: int | None) -> None:
    """Start a wait that follows no visit: after creation, or by a sentence."""
    part.visits.append(
        VisitRow(
            number=len(part.visits),
            step=None,
            first=False,
            ready_us=entry.at_us,
            begin_us=entry.at_us,
            begin_known_us=entry.known_us,
            end_us=entry.at_us,
            end_known_us=entry.known_us,
            next_step=step,
            product=part.route.product,
            revision=part.route.revision,
            part_lot=part.lot,
            known_from_us=entry.known_us,
        )
    )
    part.awaited = step


def leave(part: Part, entry: Entry) -> None:
    """The wait, or the stay, that the last row describes is over."""
    row = part.visits[-1]
    row.leave_us, row.leave_known_us = entry.at_us, entry.known_us


def close_visit(part: Part, entry: Entry, outcome: str, defect: str | None) -> None:
    """End the open visit and put the part where the outcome sends it."""
    visit = part.visits[-1]
    if part.paused_since_us is not None:
        visit.pause_us += entry.at_us - part.paused_since_us
        part.paused_since_us = None
    visit.end_us, visit.end_known_us = entry.at_us, entry.known_us
    visit.outcome, visit.defect, visit.ended_by = outcome, defect, entry.actor
    visit.touch_us = entry.at_us - visit.begin_us - visit.pause_us
    visit.queue_us = visit.begin_us - visit.ready_us
    if not visit.station:
        visit.station = entry.station
    step = visit.step
    assert step is not None
    part.left_us, part.last_outcome, part.last_step = entry.at_us, outcome, step
    part.run = None
    if part.route.by_number[step].kind not in ACCEPTING:
        part.workers.add(visit.actor)
        # Whoever sentences it, or accepts the run it was in, did not work on it.
        if entry.kind == "end" and not entry.data.get("run"):
            part.workers.add(entry.actor)
    _go_on(part, entry, step, outcome)
    visit.next_step = part.awaited


def _go_on(part: Part, entry: Entry, step: int, outcome: str) -> None:
    part.place, part.awaited = WAITING, step
    if outcome == "scrap":
        part.life.scrapped_us, part.life.scrapped_known_us = entry.at_us, entry.known_us
        part.place, part.awaited = SCRAPPED, None
        leave(part, entry)
    elif outcome in ("pass", "concession"):
        part.passed.add(step)
        if part.route.by_number[step].kind == "inspection":
            part.workers.clear()
        if part.rework:
            part.rework = part.rework[1:]
            part.awaited = part.rework[0] if part.rework else part.route.after(step)
        else:
            part.awaited = part.route.after(step)
        if part.awaited is None:
            release(part, entry)


def release(part: Part, entry: Entry) -> None:
    """The last step ended well: the part counts as output."""
    part.place = RELEASED
    part.life.released_us, part.life.released_known_us = entry.at_us, entry.known_us
    leave(part, entry)


def put_on_hold(part: Part, entry: Entry, reason: str) -> None:
    """From now on the part must not move."""
    part.holds.append(
        HoldRow(
            number=entry.seq,
            reason=reason,
            from_us=entry.at_us,
            from_known_us=entry.known_us,
            known_from_us=entry.known_us,
        )
    )


def lift_hold(part: Part, entry: Entry) -> None:
    """The part may move again."""
    row = part.holds[-1]
    row.to_us, row.to_known_us = entry.at_us, entry.known_us


def open_visit(part: Part, entry: Entry, verb: str) -> VisitRow:
    """The visit in work; raises Refused where none is, or it is at another step."""
    visit = part.open_visit
    if visit is None:
        raise Refused(f"{part.serial} has no open visit to {verb}; it is {part.place}")
    step = entry.data.get("step")
    if step is not None and step != visit.step:
        raise Refused(
            f"{part.serial} is in work at step {visit.step}, not at step {step}; "
            f"there is no open visit there to {verb}"
        )
    return visit
