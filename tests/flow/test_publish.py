"""The published week: what was said stays said, and what changed since stands beside it."""

from __future__ import annotations

import pytest

from ringwright.bench.acts import Sentence, Stop
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Clash, Forbidden, Refused
from ringwright.core.instants import parse_instant
from ringwright.flow.published import CORRECTED, LATE, REVOKED, Publication, read_publications
from ringwright.flow.publishing import PublishWeek, numbers_digest
from ringwright.flow.service import read_week_numbers, week_json
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, SUPERVISOR, Floor
from tests.make.second import signed

WEEK = "2026-W40"
AFTER = parse_instant("2026-10-06T09:00:00+02:00")


def release(floor: Floor, serial: str) -> None:
    """One oar blade through all its steps."""
    floor.bring_to(serial, 30)
    floor.book(
        "measure", serial, INSPECTOR, step=30, characteristic="chord", value=11.0, unit="mm"
    )
    floor.book("end", serial, INSPECTOR, step=30, outcome="pass")
    floor.visit(serial, 40)


def seen(floor: Floor, week: str = WEEK) -> str:
    with floor.ledger.read(CODE) as read:
        return numbers_digest(read_week_numbers(read, "OAR", week))


def publish(floor: Floor, who: Actor = SUPERVISOR, **given: str) -> dict[str, object]:
    """Publish what stands on the screen now."""
    usual = {"product": "OAR", "week": WEEK, "seen": seen(floor), "key": floor.key()}
    return floor.do(PublishWeek(**{**usual, **given}), who)


def publication(ledger: Ledger, as_of_us: int | None = None) -> Publication:
    with ledger.read(CODE, as_of_us) as read:
        return read_publications(read, [read_week_numbers(read, "OAR", WEEK)])[0]


@pytest.fixture
def over(floor: Floor) -> Floor:
    """Two blades released in a week that is over."""
    release(floor, "A-1")
    release(floor, "A-2")
    floor.clock.at_us = AFTER
    return floor


def test_a_published_week_keeps_its_numbers_and_the_head_they_were_made_from(
    over: Floor,
) -> None:
    head_seq, head_hash = over.ledger.head(CODE)
    with over.ledger.read(CODE) as read:
        numbers = week_json(read_week_numbers(read, "OAR", WEEK))

    publish(over)

    newest = publication(over.ledger).newest
    assert newest is not None
    assert (newest.output, newest.actor, newest.number) == (2, "sup-1", 1)
    assert (newest.head_seq, newest.head_hash) == (head_seq, head_hash)
    assert newest.numbers == numbers


def test_nothing_has_changed_right_after_publishing(over: Floor) -> None:
    publish(over)

    found = publication(over.ledger)
    assert not found.restated
    assert found.changes is not None
    assert (found.changes.later, found.changes.went_on) == ((), 0)


def test_a_voided_release_restates_the_week_and_is_listed(over: Floor) -> None:
    publish(over)
    end = over.part("A-2").last_seq
    answer = over.do(
        Correct(serial="A-2", entry=end, void=True, reason="wrong blade", key=over.key()),
        signed(SUPERVISOR, "qe-1", "quality-engineer"),
    )

    found = publication(over.ledger)
    assert found.restated
    assert found.numbers_now["output"] == 1
    assert found.changes is not None
    assert [(row.entry, row.why) for row in found.changes.later] == [
        (answer["event"]["site_seq"], CORRECTED)
    ]


def test_a_late_row_is_listed_as_late(over: Floor) -> None:
    publish(over)
    over.book("create", "A-3", at_us=parse_instant("2026-10-02T10:00:00+02:00"))

    found = publication(over.ledger)
    assert not found.restated
    assert found.changes is not None
    assert [(row.serial, row.why) for row in found.changes.later] == [("A-3", LATE)]


def test_bookings_of_the_next_week_change_nothing_of_the_published_one(over: Floor) -> None:
    over.book("create", "A-4", at_us=parse_instant("2026-10-02T10:00:00+02:00"))
    publish(over)
    over.visit("A-4", 10)

    found = publication(over.ledger)
    assert found.changes is not None
    assert (found.changes.later, found.changes.went_on) == ((), 0)


def test_a_week_still_running_may_be_published_and_then_goes_on(floor: Floor) -> None:
    release(floor, "A-1")
    publish(floor)
    release(floor, "A-2")

    found = publication(floor.ledger)
    assert found.restated
    assert found.changes is not None
    assert found.changes.later == ()
    # Create; three visits of begin and end and one with a reading between.
    assert found.changes.went_on == 10


def test_published_again_is_a_new_edition_and_needs_its_reason(over: Floor) -> None:
    publish(over)
    with pytest.raises(Refused, match="say why it is published again"):
        publish(over)

    publish(over, reason="one release was booked on the wrong blade")

    assert [e.number for e in publication(over.ledger).editions] == [1, 2]
    assert [e.reason for e in publication(over.ledger).editions] == [
        None,
        "one release was booked on the wrong blade",
    ]


def test_what_moved_since_it_was_shown_is_not_published(over: Floor) -> None:
    shown = seen(over)
    over.book("create", "A-3", at_us=parse_instant("2026-10-02T10:00:00+02:00"))

    with pytest.raises(Clash, match="have moved since they were shown"):
        publish(over, seen=shown)
    assert publication(over.ledger).editions == ()


def test_a_week_that_has_not_begun_is_refused(over: Floor) -> None:
    with pytest.raises(Refused, match="has not begun"):
        publish(over, week="2026-W42", seen=seen(over, "2026-W42"))


@pytest.mark.parametrize("who", [MAKER, INSPECTOR, QUALITY])
def test_only_a_supervisor_publishes(over: Floor, who: Actor) -> None:
    with pytest.raises(Forbidden):
        publish(over, who)


def test_the_same_key_publishes_once(over: Floor) -> None:
    first = publish(over, key="form-1")
    again = publish(over, key="form-1", seen=seen(over))

    assert first == again
    assert len(publication(over.ledger).editions) == 1


def test_as_of_before_the_publication_nothing_was_published(over: Floor) -> None:
    before_us = over.clock.at_us
    publish(over)

    assert publication(over.ledger, before_us).editions == ()
    assert len(publication(over.ledger, over.clock.at_us + 1).editions) == 1


def test_a_release_revoked_by_a_sentence_is_listed(over: Floor) -> None:
    publish(over)
    stopped = over.do(Stop(serial="A-2", defect="crack", key=over.key()), INSPECTOR)
    over.do(
        Sentence(
            serial="A-2", nonconformity=stopped["event"]["site_seq"], decision="scrap",
            defect="crack", caused_step=20, kept="marked", reason="cracked", key=over.key(),
        ),
        signed(QUALITY, "man-1", "manager"),
    )  # fmt: skip

    found = publication(over.ledger)
    assert found.restated
    assert found.changes is not None
    assert [(row.serial, row.why) for row in found.changes.later] == [("A-2", REVOKED)]
