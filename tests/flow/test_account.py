"""Every part accounted for, with what came back told apart; on both stores."""

from __future__ import annotations

from typing import Any

from ringwright.bench.acts import Sentence, Stop
from ringwright.bench.correcting import Correct
from ringwright.core.instants import parse_instant
from ringwright.flow.model import Account
from ringwright.flow.sheet import read_week_sheet
from tests.make.floor import CODE, DELEGATE, INSPECTOR, QUALITY, SUPERVISOR, Floor
from tests.make.second import signed

BEFORE, WEEK, AFTER = "2026-W40", "2026-W41", "2026-W42"
TUESDAY = parse_instant("2026-10-06T09:00:00+02:00")
SUNDAY = parse_instant("2026-10-11T09:00:00+02:00")
NEXT = parse_instant("2026-10-14T09:00:00+02:00")


def account(floor: Floor, week: str, as_of_us: int | None = None) -> Account:
    with floor.ledger.read(CODE, as_of_us) as read:
        (strip,) = read_week_sheet(read, week).strips
    assert strip.account.off_by == 0, (week, strip.account)
    return strip.account


def figures(found: Account) -> tuple[int, ...]:
    """Opening, created, reopened; released, scrapped, used, closing."""
    return (
        found.opening, found.created, found.reopened,
        found.released, found.scrapped, found.used, found.closing,
    )  # fmt: skip


def release(floor: Floor, serial: str) -> None:
    floor.bring_to(serial, 30)
    floor.book(
        "measure", serial, INSPECTOR, step=30, characteristic="chord", value=11.0, unit="mm"
    )
    floor.book("end", serial, INSPECTOR, step=30, outcome="pass")
    floor.visit(serial, 40)


def sentence(floor: Floor, serial: str, decision: str) -> None:
    stopped = floor.do(Stop(serial=serial, defect="crack", key=floor.key()), INSPECTOR)
    more: dict[str, Any] = {"caused_step": 20, "kept": "marked"}
    who = signed(QUALITY, "man-1", "manager")
    if decision == "repair":
        more = {"document": "D-1", "scope": "polish", "quantity": 1}
        who = signed(DELEGATE, "qe-1", "quality-engineer")
    act = Sentence(
        serial=serial, nonconformity=stopped["event"]["site_seq"], decision=decision,
        defect="crack", reason="cracked", key=floor.key(), **more,
    )  # fmt: skip
    floor.do(act, who)


def void_last(floor: Floor, serial: str) -> None:
    end = floor.part(serial).last_seq
    floor.do(
        Correct(serial=serial, entry=end, void=True, reason="wrong blade", key=floor.key()),
        signed(SUPERVISOR, "qe-1", "quality-engineer"),
    )


def test_what_is_taken_back_in_a_week_is_reopened_in_it_and_in_no_other(floor: Floor) -> None:
    """Worked by hand: four released and one left standing in the first week; in the second
    one release is sentenced to scrap, one to repair, one is voided and released anew."""
    for serial in ("A-1", "A-2", "A-3", "A-4"):
        release(floor, serial)
    floor.book("create", "A-5")
    assert figures(account(floor, BEFORE)) == (0, 5, 0, 4, 0, 0, 1)

    floor.clock.at_us = TUESDAY
    sentence(floor, "A-1", "scrap")
    sentence(floor, "A-2", "repair")
    void_last(floor, "A-3")
    assert figures(account(floor, WEEK)) == (1, 0, 3, 0, 1, 0, 3)
    floor.book("end", "A-3", step=40, outcome="pass")

    floor.clock.at_us = SUNDAY
    # Said to be closing of the week before: all three stood there after all.
    assert figures(account(floor, BEFORE)) == (0, 5, 0, 1, 0, 0, 4)
    assert figures(account(floor, WEEK)) == (1, 0, 3, 1, 1, 0, 2)
    # As it was known before any of it, nothing had come back.
    assert figures(account(floor, WEEK, TUESDAY)) == (1, 0, 0, 0, 0, 0, 1)
    assert figures(account(floor, BEFORE, TUESDAY)) == (0, 5, 0, 4, 0, 0, 1)

    floor.clock.at_us = NEXT
    assert figures(account(floor, AFTER)) == (2, 0, 0, 0, 0, 0, 2)


def test_released_and_taken_back_within_one_week_is_not_reopened(floor: Floor) -> None:
    release(floor, "A-1")
    sentence(floor, "A-1", "repair")

    assert figures(account(floor, BEFORE)) == (0, 1, 0, 0, 0, 0, 1)


def test_a_release_taken_back_after_the_week_stood_there_at_its_opening(floor: Floor) -> None:
    release(floor, "A-1")
    floor.clock.at_us = NEXT
    sentence(floor, "A-1", "repair")

    assert figures(account(floor, WEEK)) == (1, 0, 0, 0, 0, 0, 1)
    assert figures(account(floor, AFTER)) == (0, 0, 1, 0, 0, 0, 1)
