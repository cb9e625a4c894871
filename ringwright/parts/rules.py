"""What a part's history must obey, and where each fact leaves the part.

`apply` takes one fact at a time, in the order they happened. It refuses what the rules forbid
and otherwise moves the part on. These are the rules of any record, from the bench or from a
file; what the floor asks beyond them (a reason to skip, a role) is asked by the command.
"""

from __future__ import annotations

from collections.abc import Callable

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts import conditions, reading, reserving, sentencing, windows
from ringwright.parts.moves import (
    close_visit,
    leave,
    lift_hold,
    open_visit,
    put_on_hold,
    wait_from,
)
from ringwright.parts.rows import LifeRow, LinkRow, VisitRow
from ringwright.parts.state import (
    ACCEPTING,
    FITTED,
    IN_WORK,
    RELEASED,
    SCRAPPED,
    SENT,
    WAITING,
    Part,
)
from ringwright.routecards.card import FindCard


def apply(part: Part, entry: Entry, find_card: FindCard) -> None:
    """Move the part on by one fact; raises Refused and leaves it as it was."""
    if entry.kind == "create":
        _create(part, entry, find_card)
    elif part.card is None:
        raise Refused(f"there is no part {part.serial} at that time; create it first")
    elif part.place == SENT and entry.kind not in AFTER_SENT:
        raise Refused(f"{part.serial} has been sent; nothing more can be booked on it")
    elif part.place == SCRAPPED and entry.kind not in AFTER_SCRAP:
        raise Refused(f"{part.serial} is scrapped; nothing more can be booked on it")
    else:
        RULES[entry.kind](part, entry)
        if part.sought and entry.kind in conditions.IN_HAND:
            conditions.end_search(part, entry)
    if entry.seq > part.last_seq:
        part.last_seq = entry.seq
    part.last_at_us = entry.at_us
    part.last_place = (entry.at_us, entry.seq)


def _create(part: Part, entry: Entry, find_card: FindCard) -> None:
    if part.card is not None:
        raise Refused(f"{part.serial} exists already; serials are unique within a site")
    card = find_card(entry.data["product"], entry.data["revision"])
    part.card = card
    part.place, part.awaited, part.left_us = WAITING, card.first, entry.at_us
    part.lot = entry.data.get("lot")
    part.lives.append(
        LifeRow(
            product=card.product,
            revision=card.revision,
            created_us=entry.at_us,
            created_known_us=entry.known_us,
            lot=part.lot,
            known_from_us=entry.known_us,
        )
    )
    wait_from(part, entry, card.first)


def _begin(part: Part, entry: Entry) -> None:
    step = entry.data["step"]
    skipped = check_begin(part, step, entry.data.get("renews"), entry.at_us)
    visit = part.visits[-1]
    visit.leave_us, visit.leave_known_us = entry.at_us, entry.known_us
    count = part.visits_at.get(step, 0)
    part.visits_at[step] = count + 1
    part.skipped.update(skipped)
    part.rework = _rework_from(part, step)
    part.visits.append(
        VisitRow(
            number=len(part.visits),
            step=step,
            first=count == 0,
            ready_us=part.left_us,
            begin_us=entry.at_us,
            begin_known_us=entry.known_us,
            skipped=len(skipped),
            station=entry.station,
            lot=entry.data.get("lot"),
            actor=entry.actor,
            product=part.route.product,
            revision=part.route.revision,
            part_lot=part.lot,
            run=entry.data.get("run") or "",
            known_from_us=entry.known_us,
        )
    )
    part.place, part.awaited, part.paused_since_us = IN_WORK, None, None
    part.run = entry.data.get("run")


def check_begin(
    part: Part, step: int, renews: int | None = None, at_us: int = 0
) -> tuple[int, ...]:
    """The steps a begin at `step` would skip; raises Refused where it may not begin at all.

    `renews`: the step whose window ran out by `at_us`, for which an earlier step is done again.
    """
    card = part.route
    if step not in card.index:
        raise Refused(f"{card.product} has no step {step} at revision {card.revision}")
    if part.place == IN_WORK:
        raise Refused(
            f"{part.serial} is in work at step {part.step}; end that visit before another"
        )
    if part.open_hold is not None:
        raise Refused(f"{part.serial} is on hold: {part.open_hold.reason}")
    if part.awaited is None:
        raise Refused(f"{part.serial} is {part.place}; no step is due")
    if renews is not None and lies_behind(part, step):
        windows.check_renewal(part, step, renews, at_us)
        return ()
    return _skipped(part, step, part.awaited)


def lies_behind(part: Part, step: int) -> bool:
    """True for a step before the one awaited, at which only what sent a part back may begin."""
    if part.awaited is None or part.card is None or step not in part.card.index:
        return False
    sent_back = part.last_outcome in ("rework", "repair")
    free = step in part.rework if part.rework else sent_back
    return not free and part.card.index[step] < part.card.index[part.awaited]


def _rework_from(part: Part, step: int) -> tuple[int, ...]:
    """What is still to do on the rework card once `step` has begun, that step first.

    A part on a card that is cleaned again goes back to it along the route.
    """
    if step in part.rework:
        return part.rework[part.rework.index(step) :]
    if part.rework and lies_behind(part, step):
        assert part.awaited is not None
        order, index = part.route.order, part.route.index
        return (*order[index[step] : index[part.awaited]], *part.rework)
    return part.rework


def _skipped(part: Part, step: int, awaited: int) -> tuple[int, ...]:
    card = part.route
    if step == awaited:
        return ()
    if part.rework and step in part.rework:
        return part.rework[: part.rework.index(step)]
    if not lies_behind(part, step):  # further on; or back, after a rework: that skips nothing
        return card.order[card.index[awaited] : card.index[step]]
    raise Refused(
        f"step {step} lies behind the step awaited ({awaited}); "
        "only a rework or repair sends a part back"
    )


def _pause(part: Part, entry: Entry) -> None:
    open_visit(part, entry, "pause")
    if part.paused_since_us is not None:
        raise Refused(f"the visit of {part.serial} is paused already")
    part.paused_since_us = entry.at_us


def _resume(part: Part, entry: Entry) -> None:
    visit = open_visit(part, entry, "resume")
    if part.paused_since_us is None:
        raise Refused(f"the visit of {part.serial} is not paused")
    if part.open_nonconformities:
        raise Refused(f"{part.serial} was stopped; it waits for its sentence")
    visit.pause_us += entry.at_us - part.paused_since_us
    part.paused_since_us = None
    assert visit.step is not None
    if part.route.by_number[visit.step].kind not in ACCEPTING:
        part.workers.add(visit.actor)
    visit.actor = entry.actor


def _end(part: Part, entry: Entry) -> None:
    visit = open_visit(part, entry, "end")
    outcome = entry.data["outcome"]
    step = entry.data["step"]
    if outcome in ("pass", "concession") and step == part.route.last:
        _check_release(part)
    if part.open_nonconformities and outcome != "scrap":
        raise Refused(f"{part.serial} was stopped; it waits for its sentence")
    card = None
    if entry.data.get("card") is not None:
        card = sentencing.listed_card(part, entry.data["card"], step)
    close_visit(part, entry, outcome, entry.data.get("defect"))
    if outcome == "scrap":
        life = part.life
        life.scrap_defect, life.found_step = entry.data.get("defect"), visit.step
        life.caused_step = visit.step
        sentencing.close_all(part, entry, "scrap")
    elif card is not None:
        visit.card = card.code
        sentencing.follow(part, card, step)
        visit.next_step = part.awaited


def _check_release(part: Part) -> None:
    if part.open_hold is not None:
        raise Refused(
            f"{part.serial} is on hold ({part.open_hold.reason}); it cannot be released"
        )
    last = part.route.last
    undone = [
        number
        for number in part.route.order
        if number != last and number not in part.passed and number not in part.skipped
    ]
    if undone:
        raise Refused(f"{part.serial} has undone steps: {', '.join(map(str, undone))}")
    reading.check_none_suspect(part)


def _check_step(part: Part, entry: Entry) -> None:
    """A step that is named must be one of the route."""
    step = entry.data.get("step")
    if step is not None and step not in part.route.index:
        raise Refused(f"{part.route.product} has no step {step}")


def _hold(part: Part, entry: Entry) -> None:
    _check_step(part, entry)
    if part.open_hold is not None:
        raise Refused(f"{part.serial} is on hold already: {part.open_hold.reason}")
    put_on_hold(part, entry, entry.data.get("reason") or "no reason recorded")


def _unhold(part: Part, entry: Entry) -> None:
    _check_step(part, entry)
    if part.open_hold is None:
        raise Refused(f"{part.serial} is not on hold")
    if part.open_nonconformities:
        numbers = ", ".join(str(row.number) for row in part.open_nonconformities)
        raise Refused(
            f"{part.serial} is held by nonconformity {numbers}; its sentence lifts the hold"
        )
    contained = part.open_condition(conditions.CONTAINMENT)
    if contained is not None:
        raise Refused(
            f"{part.serial} is in containment {contained.value}; clearing it there lifts "
            "the hold"
        )
    lift_hold(part, entry)


def _send(part: Part, entry: Entry) -> None:
    in_disc = part.open_condition(reserving.IN_SLOT) is not None
    if part.place != RELEASED and not in_disc:
        raise Refused(f"{part.serial} is {part.place}, not released; it cannot be sent")
    if part.reservation is not None and not in_disc:
        raise Refused(
            f"{part.serial} is reserved for {part.reservation}; give it back, or fit it first"
        )
    step = entry.data.get("step")
    if step is not None and step != part.route.last:
        raise Refused(f"a part is sent from its last step, {part.route.last}, not from {step}")
    if part.open_hold is not None:
        raise Refused(f"{part.serial} is on hold ({part.open_hold.reason}); it cannot be sent")
    part.place = SENT
    part.life.sent_us = entry.at_us
    conditions.leave_site(part, entry)


def _remark(part: Part, entry: Entry) -> None:
    part.mark = entry.data["mark"]


def _link(part: Part, entry: Entry) -> None:
    """One end of a join or split; a member of a join and the whole of a split are used up."""
    data, kind = entry.data, entry.kind
    others = data.get("members") or data.get("pieces") or ()
    for place, other in enumerate(others):
        parent, child = (other, part.serial) if kind == "join" else (part.serial, other)
        part.links.append(
            LinkRow(
                number=entry.seq * 1000 + place,
                link=kind,
                parent=parent,
                child=child,
                at_us=entry.at_us,
                known_from_us=entry.known_us,
            )
        )
    used = data.get("whole") is not None if kind == "join" else bool(others)
    if used:
        _use_up(part, entry)


def _use_up(part: Part, entry: Entry) -> None:
    if part.place == IN_WORK:
        raise Refused(f"{part.serial} is in work at step {part.step}; end that visit first")
    if part.place == FITTED:
        raise Refused(f"{part.serial} has been used already")
    if part.reservation is not None:
        raise Refused(f"{part.serial} is reserved for {part.reservation}; give it back first")
    if part.open_hold is not None:
        raise Refused(f"{part.serial} is on hold: {part.open_hold.reason}")
    if part.place == WAITING:
        leave(part, entry)
        part.life.used_us, part.life.used_known_us = entry.at_us, entry.known_us
    part.place, part.awaited = FITTED, None


def _told(part: Part, entry: Entry) -> None:
    """A note or an attachment: it stands in the history and moves nothing."""


AFTER_SENT = frozenset({"contain", "clear", "notice-sent", "doubt", "trust", "attach", "note"})
AFTER_SCRAP = AFTER_SENT - {"notice-sent"} | {"witness", "move", "remark", "give-back"}
RULES: dict[str, Callable[[Part, Entry], None]] = {
    "begin": _begin,
    "pause": _pause,
    "resume": _resume,
    "end": _end,
    "hold": _hold,
    "unhold": _unhold,
    "measure": reading.measure,
    "doubt": reading.doubt,
    "trust": reading.trust,
    "send": _send,
    "move": conditions.move,
    "remark": _remark,
    "join": _link,
    "split": _link,
    "stop": sentencing.stop,
    "sentence": sentencing.sentence,
    "witness": sentencing.witness,
    "prioritise": conditions.prioritise,
    "seek": conditions.seek,
    "find": conditions.find,
    "contain": conditions.contain,
    "clear": conditions.clear,
    "notice-sent": conditions.notice_sent,
    "reserve": reserving.reserve,
    "give-back": reserving.give_back,
    "fit": reserving.fit,
    "return": reserving.take_out,
    "attach": _told,
    "note": _told,
}
