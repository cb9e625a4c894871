"""A practice site is known as one for ever, and counts nowhere among the real ones.

No published standard asks for such a site. That a copy for training must be told from the real
thing wherever it turns up is common practice, no source; what is checked of the chain is the
collision resistance of SHA-256 (FIPS 180-4) and of nothing weaker.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from ringwright.assembly import PROJECTORS, SYSTEM, ensure_site, open_ledger
from ringwright.bench.rules import Booking
from ringwright.bench.service import Book
from ringwright.core.errors import Missing, Refused
from ringwright.db import Store
from ringwright.ground.practice import Practise, open_practice
from ringwright.ledger.backup import backup, restore
from ringwright.ledger.service import Ledger
from ringwright.ledger.transaction import Actor, Draft
from ringwright.ledger.verify import audit
from ringwright.parts.tables import PartNow
from ringwright.replaying import compare
from ringwright.routecards.queries import in_force, read_revisions
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sets.building import SetRotor
from ringwright.sets.queries import read_rotor
from ringwright.settings import Settings
from ringwright.sites.facts import PracticeOpened
from ringwright.sites.queries import (
    practice_site_of,
    read_calendars,
    read_people,
    read_site,
)
from ringwright.sites.service import ExtendSite, SetGroundRule
from ringwright.sites.site import Person
from ringwright.sites.toml import parse_site
from tests.make import practice, shop
from tests.make.practice import CODE, REAL, practise


@pytest.fixture
def ledger(store_url: str) -> Iterator[Ledger]:
    """The shop with its practised site; the test runs once on each database."""
    record = practice.open_practised(store_url, shop.HISTORY)
    yield record
    record.store.close()


@pytest.fixture
def small(sqlite_url: str) -> Iterator[Ledger]:
    """The real shop alone, for what does not differ between stores."""
    record = shop.open_shop(sqlite_url, "")
    yield record
    record.store.close()


def create(serial: str, **more: Any) -> Book:
    return Book(booking=Booking(act="create", serial=serial, product="VANE", **more))


def fault_of(ledger: Ledger) -> str | None:
    with ledger.store.read() as connection:
        _, fault = audit(connection)
    return fault.why if fault else None


def alter(ledger: Ledger, statement: str) -> None:
    """Change the store as somebody with its password can: the trigger away first."""
    on = "" if ledger.store.is_sqlite else " ON ledger_head"
    with ledger.store.write(0) as connection:
        connection.execute(text(f"DROP TRIGGER ledger_head_stays_practice{on}"))
        connection.execute(text(statement))


def test_it_has_the_ground_rules_and_none_of_the_parts(small: Ledger) -> None:
    small.execute(REAL, create("V-900"), practice.ACTOR)
    answer = practise(small)

    with small.read(REAL) as real, small.read(CODE) as copy:
        ids = real.site.id, copy.site.id
        for read in (read_people, lambda c, site: read_calendars(c, site, None)):
            assert read(copy.connection, ids[1]) == read(real.connection, ids[0]) != []
        cards = [read_revisions(copy.connection, site) for site in ids]
        assert cards[0][0].card == cards[1][0].card
        zones = [read_site(copy.connection, site)[1:] for site in ids]
        assert zones[0] == zones[1] == ("Europe/Oslo", "monday 00:00")
        assert copy.site.practice_of == REAL
        assert copy.connection.execute(
            text("SELECT DISTINCT site_id FROM part_now")
        ).scalars().all() == [ids[0]]
    assert (answer["site"], answer["parts"], answer["left"]) == (CODE, 0, [])


def test_its_record_begins_with_the_fact_and_from_a_hash_of_its_own(ledger: Ledger) -> None:
    query = (
        "SELECT e.kind, e.prev_hash FROM event e JOIN ledger_head h ON h.site_id = e.site_id "
        "WHERE h.code = :code AND e.site_seq = 1"
    )
    with ledger.store.read() as connection:
        rows = {
            code: connection.execute(text(query), {"code": code}).one() for code in (REAL, CODE)
        }

    assert rows[CODE].kind == "practice-opened"
    own = hashlib.sha256(b"ringwright practice site of NORD").digest()
    assert bytes(rows[CODE].prev_hash) == own
    assert bytes(rows[REAL].prev_hash) == bytes(32)


def test_the_record_audits_and_replays(ledger: Ledger, store_url: str) -> None:
    assert fault_of(ledger) is None
    assert compare(store_url)[1] is None


SQL = (
    f"UPDATE ledger_head SET practice_of = NULL WHERE code = '{CODE}'",
    f"UPDATE ledger_head SET practice_of = 'SYD' WHERE code = '{REAL}'",
    f"UPDATE ledger_head SET practice_of = 'SYD' WHERE code = '{CODE}'",
)


@pytest.mark.parametrize("statement", SQL)
def test_the_store_refuses_to_make_one_kind_the_other(ledger: Ledger, statement: str) -> None:
    with (
        pytest.raises(DBAPIError, match="the record refuses change"),
        ledger.store.write(0) as connection,
    ):
        connection.execute(text(statement))


@pytest.mark.parametrize("statement", SQL)
def test_whoever_makes_it_the_other_all_the_same_breaks_the_audit(
    ledger: Ledger, statement: str
) -> None:
    alter(ledger, statement)

    assert "event 1 " in (fault_of(ledger) or "")


def test_an_empty_record_that_is_marked_otherwise_breaks_the_audit_too(small: Ledger) -> None:
    small.open_site("NORD-EXTRA", practice_of=REAL)
    assert fault_of(small) is None

    alter(small, "UPDATE ledger_head SET practice_of = NULL WHERE code = 'NORD-EXTRA'")

    assert "event 1 is missing" in (fault_of(small) or "")


def test_a_real_chain_that_bears_the_fact_is_no_real_one(small: Ledger) -> None:
    """Someone may count every hash anew; the first fact then speaks against the head."""
    small.open_site("SYD")
    with small.store.write(2) as connection:
        tx = small._open(connection, 2, SYSTEM)
        tx.append(Draft(fact=PracticeOpened(of=REAL), subject=REAL, at_us=1))

    assert "event 1 is a practice record's" in (fault_of(small) or "")


def test_a_restored_store_keeps_it_practice(
    ledger: Ledger, new_store_url: Callable[[], str], tmp_path: Path
) -> None:
    file = tmp_path / "both.backup"
    backup(ledger.store, file)
    other = open_ledger(Store(new_store_url()), ledger.clock)
    restore(other, file, PROJECTORS)

    with other.read(CODE) as read:
        assert read.site.practice_of == REAL
        assert practice_site_of(read.connection, 1) == CODE
    assert fault_of(other) is None
    other.store.close()


def test_a_backup_from_before_there_was_practice_is_restored_as_real(
    small: Ledger, new_sqlite_url: Callable[[], str], tmp_path: Path
) -> None:
    file = tmp_path / "old.backup"
    backup(small.store, file)
    with sqlite3.connect(file) as old:
        old.execute("ALTER TABLE ledger_head DROP COLUMN practice_of")
    old.close()
    other = open_ledger(Store(new_sqlite_url()), small.clock)
    restore(other, file, PROJECTORS)

    with other.read(REAL) as read:
        assert read.site.practice_of is None
    other.store.close()


def test_a_backup_whose_mark_was_taken_away_is_refused(
    ledger: Ledger, new_store_url: Callable[[], str], tmp_path: Path
) -> None:
    file = tmp_path / "forged.backup"
    backup(ledger.store, file)
    with sqlite3.connect(file) as forged:
        forged.execute("UPDATE ledger_head SET practice_of = NULL")
    forged.close()
    other = open_ledger(Store(new_store_url()), ledger.clock)

    with pytest.raises(Refused, match="damaged"):
        restore(other, file, PROJECTORS)
    other.store.close()


def test_it_is_brought_up_to_the_real_site_and_keeps_what_is_only_its_own(
    small: Ledger,
) -> None:
    practise(small)
    trainee = Person(code="trainee-1", roles=("inspector",))
    small.execute(CODE, SetGroundRule(thing=trainee, key=None), SYSTEM)
    newer = shop.ROUTE.replace('name = "Guide vane"', 'name = "Guide vane"\nrevision = "2"')
    small.execute(REAL, LoadRoute(card=parse_route(newer, "route")), SYSTEM)
    planner = Person(code="plan-7", roles=("planner",))
    small.execute(REAL, SetGroundRule(thing=planner, key=None), SYSTEM)

    assert practise(small)["added"] == 2
    assert practise(small)["added"] == 0

    with small.read(CODE) as read:
        rows = read_revisions(read.connection, read.site.id, "VANE")
        assert in_force(rows, read.now_us).revision == "2"
        people = {one.code for one in read_people(read.connection, read.site.id)}
    assert people == {"insp-1", "trainee-1", "plan-7"}


def test_a_card_that_differs_there_is_named_and_left(small: Ledger) -> None:
    practise(small)
    two = shop.ROUTE.replace('name = "Guide vane"', 'name = "Guide vane"\nrevision = "2"')
    small.execute(CODE, LoadRoute(card=parse_route(two, "route")), SYSTEM)
    real = two.replace("planned_hours = 1.0", "planned_hours = 3.0")
    small.execute(REAL, LoadRoute(card=parse_route(real, "route")), SYSTEM)

    assert practise(small)["left"] == ["VANE 2"]


def test_the_rotor_comes_along(small: Ledger) -> None:
    rotor = SetRotor(product="VANE", rotor={"mass_kg": 50.0}, reason="drawing", key="r-1")
    delegate = Actor(code="da-1", roles=frozenset({"design-authority"}))
    small.execute(REAL, rotor, delegate)

    practise(small)

    with small.read(CODE) as read:
        assert read_rotor(read, "VANE").mass_kg == 50.0


def test_parts_to_practise_on_wait_at_the_first_step_and_are_made_up(small: Ledger) -> None:
    assert practise(small, parts=3)["parts"] == 3
    assert practise(small, parts=3)["parts"] == 0
    begin = Booking(act="begin", serial="P-VANE-002", step=10)
    small.execute(CODE, Book(booking=begin), Actor(code="m", roles=MAKER))

    assert practise(small, parts=3)["parts"] == 1

    with small.read(CODE) as read:
        rows = read.connection.execute(PartNow.__table__.select()).all()
    waiting = sorted(row.serial for row in rows if row.place == "waiting")
    assert waiting == ["P-VANE-001", "P-VANE-003", "P-VANE-004"]
    assert {row.step for row in rows} == {10}


MAKER = frozenset({"maker"})


@pytest.mark.parametrize("parts", [-1, 201])
def test_too_many_parts_are_refused_before_anything_is_opened(
    small: Ledger, parts: int
) -> None:
    with pytest.raises(Refused, match="from 0 to 200"):
        open_practice(small, None, None, parts, SYSTEM)
    assert set(small.heads()) == {REAL}


def test_without_a_site_the_only_real_one_is_meant(ledger: Ledger) -> None:
    with ledger.read() as read:
        assert read.site.code == REAL
    assert ledger.head() == ledger.head(REAL)
    assert set(ledger.heads(practice=False)) == {REAL}


def test_two_real_sites_still_want_a_name(small: Ledger) -> None:
    practise(small)
    small.open_site("SYD")

    with pytest.raises(Missing, match="several sites"), small.read():
        pass


def site_file(code: str) -> ExtendSite:
    return ExtendSite(file=parse_site(shop.SITE.replace("NORD", code, 1), "site"))


def test_no_site_file_makes_it_a_real_one(small: Ledger) -> None:
    practise(small)

    with pytest.raises(Refused, match="practice site of NORD and stays one"):
        small.open_site(CODE)


@pytest.mark.parametrize(
    ("site", "code", "why"),
    [
        (None, REAL, "a real site and stays one"),
        (None, "OTHER", "has a practice site already, NORD-PRACTICE"),
        ("SYD", CODE, "the practice site of NORD and stays one"),
        (None, "SYD", "a real site and stays one"),
        (CODE, "OTHER", "has a practice site already"),
    ],
)
def test_no_practice_takes_a_place_that_is_taken(
    small: Ledger, site: str | None, code: str, why: str
) -> None:
    practise(small)
    small.open_site("SYD")
    small.execute("SYD", site_file("SYD"), SYSTEM)
    before = small.heads()

    with pytest.raises(Refused, match=why):
        open_practice(small, site or REAL, code, 0, SYSTEM)
    assert small.heads() == before


def test_the_command_does_nothing_in_a_real_site(small: Ledger) -> None:
    before = small.head(REAL)

    with pytest.raises(Refused, match="real site"):
        small.execute(REAL, Practise(), SYSTEM)
    assert small.head(REAL) == before


def test_beside_a_bare_site_nothing_is_opened(sqlite_url: str) -> None:
    ledger = open_ledger(Store(sqlite_url))
    ensure_site(ledger, Settings(database_url=sqlite_url))

    with pytest.raises(Refused, match="still empty"):
        practise(ledger)
    ledger.open_site("NORD")
    assert set(ledger.heads()) == {"NORD"}
    ledger.store.close()


def test_a_practice_record_sent_to_a_real_site_by_its_key_is_refused(ledger: Ledger) -> None:
    before = ledger.head(REAL)

    with pytest.raises(Refused, match="a real site takes none in"):
        ledger.execute(REAL, create("V-990", key="practice:k-1"), practice.ACTOR)
    assert ledger.head(REAL) == before
    ledger.execute(CODE, create("V-990", key="practice:k-1"), practice.ACTOR)


def test_a_practice_label_books_nothing_at_a_real_site(ledger: Ledger) -> None:
    """The part is there at both sites: only what was scanned tells them apart."""
    for site in (REAL, CODE):
        ledger.execute(site, create("V-910"), practice.ACTOR)
    hold = Book(booking=Booking(act="hold", serial="PRACTICE:V-910", reason="look"))
    before = ledger.head(REAL)

    with pytest.raises(Refused, match="is a practice label"):
        ledger.execute(REAL, hold, practice.ACTOR)
    assert ledger.head(REAL) == before

    answer = ledger.execute(CODE, hold, practice.ACTOR)
    assert (answer["part"]["serial"], answer["part"]["hold"]) == ("V-910", "look")
