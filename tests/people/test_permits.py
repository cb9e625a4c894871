"""A temporary permission from its granting to its review, in the record of both stores."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from ringwright.assembly import PROJECTORS, SYSTEM, open_ledger
from ringwright.bench.acts import Sentence, Stop
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.instants import HOUR_US
from ringwright.db import Base, Store, table_of
from ringwright.ledger.backup import backup, restore
from ringwright.ledger.transaction import Actor
from ringwright.people.allowing import may_act
from ringwright.people.callout import count_overdue, read_callout_sheet
from ringwright.people.contacts import Contact, erase_contact, keep_contact, read_contacts
from ringwright.people.permits import EndPermit, GrantPermit, ReviewPermit, SetCallout
from ringwright.people.queries import read_callout, read_open_permits, read_permits
from ringwright.people.tables import BESIDE, CalloutList, PermitGiven
from ringwright.replaying import compare
from ringwright.sites.service import SetGroundRule
from ringwright.sites.site import Person
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, SUPERVISOR, Floor, actor

MANAGER = actor("man-1", "manager")


def grant(floor: Floor, who: Actor = SUPERVISOR, **given: Any) -> str:
    """Let insp-1 lift holds for four hours; its code."""
    asked = {"person": "insp-1", "permission": "lift a hold", "hours": 4,
             "reason": "nobody on site", **given}  # fmt: skip
    return str(floor.do(GrantPermit(key=None, **asked), who)["subject"])


def permits_of(floor: Floor, code: str = "insp-1") -> frozenset[str]:
    """What the person may do beyond their roles now."""
    with floor.ledger.read(CODE) as read:
        found = read_permits(read.connection, read.site.id, code, read.now_us)
    return frozenset(one.permission for one in found)


def acting(floor: Floor) -> Actor:
    """insp-1 as a screen would let them act now."""
    return replace(INSPECTOR, permits=permits_of(floor))


def test_its_person_may_do_it_until_it_ends_by_itself_and_no_longer(floor: Floor) -> None:
    floor.book("create", "B-1")
    floor.book("hold", "B-1", reason="look")
    with pytest.raises(Forbidden):
        floor.book("unhold", "B-1", acting(floor))

    grant(floor)
    floor.book("unhold", "B-1", acting(floor))
    floor.book("hold", "B-1", reason="look again")
    floor.clock.at_us += 4 * HOUR_US

    assert permits_of(floor) == frozenset()
    assert permits_of(floor, "insp-2") == frozenset()
    with pytest.raises(Forbidden):
        floor.book("unhold", "B-1", acting(floor))


def test_it_is_ended_early_once(floor: Floor) -> None:
    code = grant(floor)

    floor.do(EndPermit(code=code, reason="supervisor came", key=None), QUALITY)

    assert permits_of(floor) == frozenset()
    with pytest.raises(Refused, match="over already"):
        floor.do(EndPermit(code=code, reason="", key=None), QUALITY)
    with pytest.raises(Missing):
        floor.do(EndPermit(code="P-9", reason="", key=None), QUALITY)


def test_an_actor_given_more_than_may_be_lent_still_may_not(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    floor.book("create", "B-1")
    stopped = floor.do(Stop(key="s", serial="B-1", defect="crack"), MAKER)
    bold = replace(INSPECTOR, permits=frozenset({"concession", "repair", "sentence"}))
    decision = Sentence(
        key="d", serial="B-1", nonconformity=stopped["event"]["site_seq"],
        decision="concession", document="D-1", scope="all", quantity=1,
    )  # fmt: skip

    assert not any(may_act(bold, name) for name in bold.permits)
    with pytest.raises(Forbidden):
        floor.do(decision, bold)
    with pytest.raises(Refused, match="never granted"):
        grant(floor, permission="concession")


def test_only_a_supervisor_or_quality_engineer_grants_and_a_system_never(
    sqlite_floor: Floor,
) -> None:
    floor = sqlite_floor
    for who in (INSPECTOR, MANAGER, SYSTEM):
        with pytest.raises(Forbidden):
            grant(floor, who)
    with pytest.raises(Forbidden, match="a person grants"):
        grant(floor, replace(SUPERVISOR, person=False))
    with pytest.raises(Missing):
        grant(floor, person="stranger")
    grant(floor)
    with pytest.raises(Refused, match="already"):
        grant(floor)


def test_what_was_booked_under_it_is_listed_for_its_review(floor: Floor) -> None:
    for serial in ("B-1", "B-2", "B-3"):
        floor.book("create", serial)
        floor.book("hold", serial, reason="look")
    code = grant(floor)
    floor.book("unhold", "B-1", acting(floor))
    floor.book("unhold", "B-2", SUPERVISOR)
    floor.book("hold", "B-2", acting(floor), reason="again")
    floor.clock.at_us += 5 * HOUR_US
    grant(floor)
    floor.book("unhold", "B-3", acting(floor))

    with floor.ledger.read(CODE) as read:
        sheet = read_callout_sheet(read, "")

    assert [done.subject for done in sheet.done[code]] == ["B-1"]
    assert [done.subject for done in sheet.done["P-2"]] == ["B-3"]
    assert [one.code for one in sheet.in_force] == ["P-2"]
    assert [one.code for one in sheet.to_review] == [code]


def test_it_waits_for_its_review_and_is_overdue_after_the_next_eight(floor: Floor) -> None:
    code = grant(floor, hours=1)  # a little after six in the morning
    floor.clock.at_us += 90 * 60_000_000
    with floor.ledger.read(CODE) as read:
        assert count_overdue(read) == 0
    with pytest.raises(Forbidden, match="somebody else"):
        floor.do(ReviewPermit(code=code, agreed=True, note="", key=None),
                 replace(QUALITY, code="sup-1"))  # fmt: skip
    floor.clock.at_us += HOUR_US
    with floor.ledger.read(CODE) as read:
        assert count_overdue(read) == 1

    floor.do(ReviewPermit(code=code, agreed=False, note="held again", key=None), MANAGER)

    with floor.ledger.read(CODE) as read:
        sheet = read_callout_sheet(read, "")
        before = read_open_permits(read.connection, read.site.id, floor.clock.at_us)
    assert (sheet.overdue, sheet.to_review) == (0, ())
    assert [(one.agreed, one.note) for one in sheet.reviewed] == [(False, "held again")]
    assert [one.code for one in before] == [code]  # not known to be reviewed a moment before


def test_a_call_out_list_holds_from_its_setting_on_in_its_order(floor: Floor) -> None:
    first = SetCallout(role="inspector", people=("insp-2", "insp-1"), key=None)
    with pytest.raises(Forbidden):
        floor.do(first, INSPECTOR)
    floor.do(first)
    between_us = floor.clock.at_us + 1
    floor.do(SetCallout(role="inspector", people=("insp-1",), key=None))
    with pytest.raises(Refused, match="sup-1 is no inspector"):
        floor.do(SetCallout(role="inspector", people=("sup-1",), key=None))
    with pytest.raises(Refused, match="no role"):
        floor.do(SetCallout(role="wizard", people=(), key=None))

    with floor.ledger.read(CODE) as read:
        then = read_callout(read.connection, read.site.id, between_us)
        now = read_callout(read.connection, read.site.id, read.now_us)
    assert (then, now) == ({"inspector": ["insp-2", "insp-1"]}, {"inspector": ["insp-1"]})


def test_who_left_the_role_is_not_called_for_it(sqlite_floor: Floor) -> None:
    floor = sqlite_floor
    floor.do(SetCallout(role="supervisor", people=("sup-1",), key=None))
    moved = SetGroundRule(thing=Person(code="sup-1", roles=("planner",)), key=None)
    floor.do(moved, actor("adm", "administrator"))

    with floor.ledger.read(CODE) as read:
        roles = read_callout_sheet(read, "lift a hold").roles
    assert [one.role for one in roles if one.wanted] == ["supervisor", "quality-engineer"]
    assert roles[0].calls == ()


def test_names_and_numbers_are_kept_beside_the_record_and_erased(floor: Floor) -> None:
    before = floor.events()
    store, site_id = floor.ledger.store, 1
    keep_contact(store, site_id, Contact(code="qe-1", name="Somebody", phone="01632 960 001"))
    keep_contact(store, site_id, Contact(code="qe-1", phone="+44 (0)1632-960002 x 12"))

    with store.read() as connection:
        kept = read_contacts(connection, site_id)
    assert kept["qe-1"].name == ""
    assert kept["qe-1"].dial == "+4401632960002"
    assert floor.events() == before
    for bad in ("call me", "<script>", "12\n34567"):
        with pytest.raises(Refused, match="is not a telephone number"):
            keep_contact(store, site_id, Contact(code="qe-1", phone=bad))
    with pytest.raises(Missing):
        keep_contact(store, site_id, Contact(code="stranger", phone="01632 960001"))

    erase_contact(store, site_id, "qe-1")
    with store.read() as connection:
        assert read_contacts(connection, site_id) == {}


def test_the_record_replays_and_a_backup_brings_all_of_it_back(
    floor: Floor, store_url: str, new_store_url: Callable[[], str], tmp_path: Path
) -> None:
    code = grant(floor)
    floor.do(EndPermit(code=code, reason="", key=None))
    floor.do(ReviewPermit(code=code, agreed=True, note="", key=None), QUALITY)
    grant(floor)
    floor.do(SetCallout(role="inspector", people=("insp-2", "insp-1"), key=None))
    keep_contact(floor.ledger.store, 1, Contact(code="qe-1", phone="01632 960001"))
    models: list[type[Base]] = [PermitGiven, CalloutList, *BESIDE]
    tables = [table_of(model) for model in models]

    assert compare(store_url)[1] is None
    backup(floor.ledger.store, tmp_path / "kept", [table_of(model) for model in BESIDE])
    store = Store(new_store_url())
    restore(open_ledger(store), tmp_path / "kept", PROJECTORS, [table_of(m) for m in BESIDE])

    for table in tables:
        with store.read() as connection:
            again = sorted(map(repr, connection.execute(select(table)).all()))
        with floor.ledger.store.read() as connection:
            assert again == sorted(map(repr, connection.execute(select(table)).all()))
    store.close()


def test_a_backup_of_an_older_program_lacks_names_and_is_restored(
    sqlite_floor: Floor, new_sqlite_url: Callable[[], str], tmp_path: Path
) -> None:
    backup(sqlite_floor.ledger.store, tmp_path / "old")
    store = Store(new_sqlite_url())

    events = restore(
        open_ledger(store), tmp_path / "old", PROJECTORS, [table_of(m) for m in BESIDE]
    )

    store.close()
    assert events == sqlite_floor.events()
