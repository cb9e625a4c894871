"""Stops and sentences: what a nonconformity does to a part, and how it ends."""

from __future__ import annotations

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry
from ringwright.parts.conditions import lift_if_free
from ringwright.parts.moves import close_visit, leave, put_on_hold, wait_from
from ringwright.parts.rows import NonconformityRow
from ringwright.parts.state import FITTED, IN_WORK, RELEASED, SCRAPPED, WAITING, Part
from ringwright.routecards.card import ReworkCard


def stop(part: Part, entry: Entry) -> None:
    """Pause the visit, open a nonconformity, hold the part."""
    if part.place == FITTED:
        raise Refused(f"{part.serial} is fitted; stop what it went into")
    if part.place == IN_WORK and part.paused_since_us is None:
        part.paused_since_us = entry.at_us
    data = entry.data
    found = data.get("step") or part.step or part.last_step
    row = NonconformityRow(
        number=entry.seq,
        defect=data["defect"],
        found_step=found,
        characteristic=data.get("characteristic"),
        place_on_part=data.get("place_on_part"),
        note=data.get("reason"),
        opened_us=entry.at_us,
        opened_known_us=entry.known_us,
        opened_by=entry.actor,
        station=entry.station,
        product=part.route.product,
        known_from_us=entry.known_us,
    )
    part.nonconformities.append(row)
    part.open_nonconformities.append(row)
    if part.open_hold is None:
        put_on_hold(part, entry, f"nonconformity {entry.seq}: {data['defect']}")


def sentence(part: Part, entry: Entry) -> None:
    """Close a nonconformity by a decision, and send the part where the decision says."""
    number = entry.data["nonconformity"]
    row = next((row for row in part.open_nonconformities if row.number == number), None)
    if row is None:
        raise Refused(f"{part.serial} has no open nonconformity {number}")
    decision = entry.data["decision"]
    card = None
    if decision == "rework" and entry.data.get("card") is not None:
        card = listed_card(part, entry.data["card"], row.found_step)
    if decision == "scrap":
        close_all(part, entry, "scrap")
        lift_if_free(part, entry)
        _scrap(part, entry, row)
    else:
        _close(part, row, entry, decision)
        lift_if_free(part, entry)
        if decision in ("rework", "repair"):
            _send_back(part, entry, row, card)
        elif decision == "concession" and part.place == IN_WORK:
            close_visit(part, entry, "concession", row.defect)


def listed_card(part: Part, code: str, step: int | None) -> ReworkCard:
    """The rework card of that code, if it is listed for the step; raises Refused."""
    card = part.route.rework_card(code)
    if card is None:
        listed = ", ".join(card.code for card in part.route.rework_cards) or "none"
        raise Refused(f"{part.route.product} lists no rework card {code} (listed: {listed})")
    if step is not None and card.raised_at != step:
        raise Refused(f"rework card {code} is raised at step {card.raised_at}, not at {step}")
    return card


def follow(part: Part, card: ReworkCard, step: int) -> None:
    """Put the part on a rework card: its steps in order, then the step that raised it."""
    repeat = tuple(number for number in card.repeat if number != step)
    part.rework = (*repeat, step)
    part.awaited = part.rework[0]


def close_all(part: Part, entry: Entry, decision: str) -> None:
    """A scrapped part has nothing left to decide."""
    for row in list(part.open_nonconformities):
        _close(part, row, entry, decision)


def _close(part: Part, row: NonconformityRow, entry: Entry, decision: str) -> None:
    row.closed_us, row.closed_known_us = entry.at_us, entry.known_us
    row.decision, row.sentence = decision, entry.seq
    row.caused_step = entry.data.get("caused_step")
    row.document = entry.data.get("document")
    part.open_nonconformities.remove(row)


def _scrap(part: Part, entry: Entry, row: NonconformityRow) -> None:
    data, life = entry.data, part.life
    defect = data.get("defect") or row.defect
    if part.place == IN_WORK:
        close_visit(part, entry, "scrap", defect)
    else:
        _revoke_release(part)
        leave(part, entry)
        life.scrapped_us, life.scrapped_known_us = entry.at_us, entry.known_us
        part.place, part.awaited = SCRAPPED, None
    part.kept = data.get("kept")
    life.scrap_defect, life.found_step = defect, row.found_step
    life.scrap_place = data.get("place_on_part") or row.place_on_part
    life.caused_step = data.get("caused_step") or row.found_step


def _revoke_release(part: Part) -> None:
    """Take a release back: until now the part waited for its last step after all."""
    if part.place != RELEASED:
        return
    part.life.released_us, part.life.released_known_us = None, 2**62
    visit = part.visits[-1]
    visit.next_step = part.route.last
    visit.leave_us, visit.leave_known_us = 2**62, 2**62
    part.passed.discard(part.route.last)
    part.place, part.awaited = WAITING, part.route.last


def _send_back(
    part: Part, entry: Entry, row: NonconformityRow, card: ReworkCard | None
) -> None:
    decision = entry.data["decision"]
    _revoke_release(part)
    raised = part.step or row.found_step or part.route.last
    if part.place == IN_WORK:
        close_visit(part, entry, decision, row.defect)
        visit = part.visits[-1]
        if card is not None:
            visit.card = card.code
            follow(part, card, raised)
            visit.next_step = part.awaited
        return
    leave(part, entry)
    part.last_outcome = decision
    if card is not None:
        follow(part, card, raised)
    elif decision == "repair" and part.last_step is not None:
        part.awaited = part.last_step
    wait_from(part, entry, part.awaited)


def witness(part: Part, entry: Entry) -> None:
    """The scrapped part was seen made unusable."""
    if part.place != SCRAPPED:
        raise Refused(
            f"{part.serial} is {part.place}, not scrapped; there is nothing to witness"
        )
    if part.life.witnessed_us is not None:
        raise Refused(f"{part.serial} has been witnessed already")
    part.life.witnessed_us = entry.at_us
