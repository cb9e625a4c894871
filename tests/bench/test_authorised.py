"""A step that asks an authorisation takes only people who hold it that day, on both stores."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from ringwright.assembly import PROJECTORS, open_ledger
from ringwright.bench.acts import EnterReadings, HandOver, Inspect, Stop
from ringwright.bench.history import LoadHistory, read_csv
from ringwright.core.authorisation import asked_of
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.core.instants import parse_instant
from ringwright.db import Store
from ringwright.ledger.backup import backup, restore
from ringwright.ledger.transaction import Actor
from ringwright.replaying import compare
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.authorising import Authorise, Withdraw
from ringwright.sites.queries import read_grants, when_at
from ringwright.sites.rules import judge
from ringwright.sites.service import ExtendSite, SetGroundRule
from ringwright.sites.site import Authorisation, Person
from ringwright.sites.tables import AuthorisationGiven
from ringwright.sites.toml import parse_site
from tests.make.bench import HEADER
from tests.make.floor import CODE, INSPECTOR, MAKER, QUALITY, SUPERVISOR, Floor, actor

DAY_US = 24 * 3600 * 1_000_000
ROUTE = """
[product]
code = "CASE"
name = "Case"
[[step]]
number = 10
name = "Weld"
kind = "joining"
authorisation = "weld-tig"
[[step]]
number = 20
name = "Radiograph"
kind = "inspection"
authorisation = "RT-2"
[[step.characteristic]]
code = "pores"
unit = "mm"
upper = 1.0
[[step]]
number = 30
name = "Pack"
kind = "dispatch"
"""
WELDER = '[[person]]\ncode = "maker-2"\nroles = ["maker"]\nauthorisations = ["weld-tig"]\n'
SITE = f'[site]\ncode = "{CODE}"\nname = "Skarvik Blade Hall"\nzone = "Europe/Oslo"\n{WELDER}'
PAPER = """
[[authorisation]]
person = "insp-1"
method = "RT"
level = 2
valid_from = 2026-01-01
valid_to = 2026-09-29
eyesight_to = 2026-12-31
certificate = "C-77"
"""
SYSTEM = Actor(code="inspector", roles=frozenset({"inspector"}), person=False)


def furnished(floor: Floor, papers: str = PAPER) -> Floor:
    """The case's route, a welder by code alone, a radiographer by paper; a case waiting."""
    floor.do(LoadRoute(card=parse_route(ROUTE, "route")), actor("adm", "administrator"))
    load(floor, papers)
    floor.book("create", "C-1", product="CASE")
    return floor


def load(floor: Floor, papers: str = PAPER) -> int:
    """Load the site file, as often as one likes."""
    return load_as(floor, "adm", papers)


def load_as(floor: Floor, who: str, papers: str) -> int:
    """The same by an administrator of that code; how much was new."""
    command = ExtendSite(file=parse_site(SITE + papers, "site"))
    return int(floor.do(command, actor(who, "administrator"))["added"])


def paper(**other: Any) -> Authorise:
    """A radiographer's paper, to be granted."""
    given = {
        "person": "insp-2", "method": "RT-2", "valid_from": "2026-01-01",
        "valid_to": "2030-01-01", "eyesight_to": "2027-01-01", **other,
    }  # fmt: skip
    return Authorise(paper=Authorisation(**given), key=None)


def welded(floor: Floor) -> Floor:
    """The case waits for its radiograph."""
    furnished(floor)
    floor.visit("C-1", 10, who=actor("maker-2", "maker"))
    return floor


def test_only_who_holds_it_begins_resumes_reads_and_ends(floor: Floor) -> None:
    furnished(floor)
    welder = actor("maker-2", "maker")

    with pytest.raises(Forbidden, match=r"maker-1 holds no .* weld-tig; valid on .* maker-2"):
        floor.book("begin", "C-1", MAKER, step=10)
    floor.book("begin", "C-1", welder, step=10)
    for act, given in (("end", {"outcome": "pass"}), ("resume", {})):
        with pytest.raises(Forbidden, match="Hold the part, or let one of them do it"):
            floor.book(act, "C-1", MAKER, step=10, **given)
    floor.book("pause", "C-1", MAKER, step=10)
    with pytest.raises(Forbidden, match="weld-tig"):
        floor.book("resume", "C-1", MAKER)
    floor.book("hold", "C-1", SUPERVISOR, reason="look")

    assert floor.part("C-1").hold == "look"


def test_testing_needs_level_dates_and_eyes_that_day(floor: Floor) -> None:
    welded(floor)
    floor.book("begin", "C-1", INSPECTOR, step=20)
    readings: Any = {"readings": {"pores": 0.2}, "serial": "C-1"}

    floor.do(EnterReadings(key=floor.key(), **readings), INSPECTOR)
    floor.clock.at_us += 2 * DAY_US  # to 30 September: the paper ended on the 29th
    for command in (EnterReadings, Inspect):
        with pytest.raises(Forbidden, match=r"has lapsed: it was valid to 2026-09-29; nobody"):
            floor.do(command(key=floor.key(), **readings), INSPECTOR)
    with pytest.raises(Forbidden, match="insp-2 holds no"):
        floor.do(HandOver(key=floor.key(), serial="C-1", to="insp-2"), INSPECTOR)
    floor.do(paper(), QUALITY)
    floor.do(HandOver(key=floor.key(), serial="C-1", to="insp-2"), INSPECTOR)
    floor.do(Inspect(key=floor.key(), **readings), actor("insp-2", "inspector"))

    assert floor.part("C-1").step == 30


def test_a_stop_is_never_kept_from_anybody(floor: Floor) -> None:
    welded(floor)
    floor.book("begin", "C-1", INSPECTOR, step=20)

    floor.do(Stop(key=floor.key(), serial="C-1", defect="pores"), MAKER)

    assert floor.part("C-1").hold


def test_the_day_is_the_site_s_day_of_the_booking(sqlite_floor: Floor) -> None:
    floor = welded(sqlite_floor)
    floor.clock.at_us = parse_instant("2026-09-30T08:00:00+02:00")
    late = parse_instant("2026-09-29T21:59:00+00:00")  # 23:59 at the site
    after = parse_instant("2026-09-29T22:00:00+00:00")  # midnight at the site

    with pytest.raises(Forbidden, match="has lapsed"):
        floor.book("begin", "C-1", INSPECTOR, step=20, at_us=after)
    floor.book("begin", "C-1", INSPECTOR, step=20, at_us=late)


def test_who_did_the_work_counts_as_well_as_who_books_it(sqlite_floor: Floor) -> None:
    floor = welded(sqlite_floor)

    with pytest.raises(Forbidden, match="insp-2 holds no authorisation"):
        floor.book("begin", "C-1", INSPECTOR, step=20, by="insp-2")
    with pytest.raises(Forbidden, match="insp-2 holds no authorisation"):
        floor.book("begin", "C-1", actor("insp-2", "inspector"), step=20, by="insp-1")
    floor.book("begin", "C-1", INSPECTOR, step=20, by="insp-1")


def test_a_system_and_a_history_check_their_own_people(sqlite_floor: Floor) -> None:
    floor = welded(sqlite_floor)
    rows = HEADER + "2026-09-01T05:00+02:00,C-2,CASE,create,,,,,,,,,\n"
    rows += "2026-09-01T06:00+02:00,C-2,CASE,begin,10,,,,,,,,maker-1\n"

    floor.book("begin", "C-1", SYSTEM, step=20)
    floor.do(LoadHistory(rows=read_csv(rows)), actor("adm", "administrator"))

    assert floor.part("C-2").place == "in work"


def test_a_withdrawal_ends_it_at_once_and_a_file_does_not_bring_it_back(floor: Floor) -> None:
    welded(floor)
    before_us = floor.clock.at_us + 1
    floor.do(Withdraw(person="insp-1", method="RT-2", reason="missed a crack", key=None),
             QUALITY)  # fmt: skip

    with pytest.raises(Forbidden, match=r"withdrawn on 2026-09-28 \(missed a crack\)"):
        floor.book("begin", "C-1", INSPECTOR, step=20)
    assert load(floor) == 0
    with pytest.raises(Refused, match="no dated authorisation"):
        floor.do(Withdraw(person="insp-1", method="RT", reason="again", key=None), QUALITY)

    with floor.ledger.read(CODE) as read:
        then = read_grants(read.connection, read.site.id, "Europe/Oslo",
                           known_before_us=before_us)  # fmt: skip
        now = read_grants(read.connection, read.site.id, "Europe/Oslo")
    assert then["insp-1", "RT"][0].withdrawn_us is None
    assert now["insp-1", "RT"][0].withdrawn_by == "qe-1"


def test_it_can_be_asked_what_was_known_then(floor: Floor) -> None:
    furnished(floor, "")
    moment_us = floor.clock.at_us
    floor.do(paper(), QUALITY)

    with floor.ledger.read(CODE, moment_us) as read:
        known = read_grants(read.connection, read.site.id, "Europe/Oslo",
                            known_before_us=read.known_before_us)  # fmt: skip
    with floor.ledger.read(CODE) as read:
        now = read_grants(read.connection, read.site.id, "Europe/Oslo")
    assert known == {}
    person, when = Person(code="insp-2", roles=()), when_at(moment_us, "Europe/Oslo")
    assert judge(asked_of("RT-2"), person, now, when).holds


def test_nobody_grants_to_themselves_nor_to_a_stranger_nor_without_the_right(
    sqlite_floor: Floor,
) -> None:
    floor = furnished(sqlite_floor)

    with pytest.raises(Forbidden, match="themselves"):
        floor.do(paper(person="qe-1"), QUALITY)
    own = Person(code="adm", roles=("administrator",), authorisations=("weld-tig",))
    with pytest.raises(Forbidden, match="themselves"):
        floor.do(SetGroundRule(thing=own, key=None), actor("adm", "administrator"))
    with pytest.raises(Forbidden, match="themselves"):
        load_as(floor, "maker-2", PAPER.replace("insp-1", "maker-2"))
    with pytest.raises(Forbidden, match="may not do this"):
        floor.do(paper(), SUPERVISOR)
    with pytest.raises(Missing, match="no person"):
        floor.do(paper(person="stranger"), QUALITY)
    with pytest.raises(Missing, match="stranger"):
        load(floor, PAPER.replace("insp-1", "stranger"))
    with pytest.raises(Refused, match=r"authorisation no. 1: RT needs the last day"):
        load(floor, PAPER.replace("eyesight_to = 2026-12-31\n", ""))


def test_the_record_replays_and_a_backup_brings_them_back(
    floor: Floor, store_url: str, new_store_url: Callable[[], str], tmp_path: Path
) -> None:
    welded(floor)
    floor.do(paper(), QUALITY)
    floor.do(Withdraw(person="insp-1", method="RT", reason="missed a crack", key=None), QUALITY)
    rows = floor.rows(list(AuthorisationGiven.__table__.columns))

    assert compare(store_url)[1] is None
    backup(floor.ledger.store, tmp_path / "kept")
    store = Store(new_store_url())
    restore(open_ledger(store), tmp_path / "kept", PROJECTORS)
    with store.read() as connection:
        again = connection.execute(select(AuthorisationGiven.__table__)).all()
    store.close()
    assert len(rows) == 2
    assert sorted(map(tuple, again)) == sorted(rows)
