"""The demo in a store: written as facts, told on at every start, hands off what is others'."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest
from sqlalchemy import select

from ringwright.bench.rules import make_booking
from ringwright.bench.service import Book
from ringwright.flow.service import read_week_numbers
from ringwright.ledger.service import Handling, Ledger
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Draft
from ringwright.ledger.verify import audit
from ringwright.parts.tables import Condition, Life, Nonconformity, PartNow, Visit
from ringwright.replaying import compare
from ringwright.sets.queries import read_set, read_sets
from ringwright.sets.service import Reserve
from ringwright.sets.stock import read_stock
from ringwright.sites.service import ExtendSite
from ringwright.sites.tables import Shutting
from seed_demo.facts import DemoBegun
from seed_demo.plant import demo_site
from seed_demo.service import ADMINISTRATOR, run_demo
from seed_demo.telling import HANDLINGS, TELLER, OpenDemo
from tests.demo.stores import WEEKS, at_work, opened
from tests.demo.story import DAY_US, NOW
from tests.make.floor import actor

HOUR_US = DAY_US // 24


def events(ledger: Ledger) -> list[Any]:
    """What the record says of parts, without the numbers it gave."""
    query = (
        select(
            Event.at_us, Event.subject_kind, Event.subject, Event.kind, Event.actor,
            Event.station, Event.known_at_us,
        )
        .where(Event.subject_kind.in_(["part", "carrier", "shutting"]))
        .order_by(Event.site_seq)
    )  # fmt: skip
    with ledger.store.read() as connection:
        return [tuple(row) for row in connection.execute(query)]


def test_the_story_stands_in_the_record_and_its_projections_follow(told_url: str) -> None:
    folded, why = compare(told_url)
    ledger, _ = at_work(told_url)

    with ledger.store.read() as connection:
        verified, fault = audit(connection)

    assert why is None
    assert fault is None
    assert 25_000 < folded <= verified
    assert all(known == at for at, *_, known in events(ledger))


def test_told_in_pieces_the_record_is_the_same_as_told_at_once(
    new_sqlite_url: Callable[[], str],
) -> None:
    pieces_url = new_sqlite_url()
    for back_us in (9 * DAY_US, 9 * DAY_US - 60_000_000, 3 * DAY_US + HOUR_US, 0):
        weeks = WEEKS - 1 if back_us > 4 * DAY_US else WEEKS
        pieces, _ = at_work(pieces_url, NOW - back_us, weeks)

    whole, _ = at_work(new_sqlite_url())

    assert events(pieces) == events(whole)
    assert compare(pieces_url)[1] is None


def test_a_start_a_minute_later_adds_what_happened_since(told_url: str) -> None:
    before = at_work(told_url)[0].head()[0]
    ledger, said = at_work(told_url, NOW + 60_000_000)

    told = int(said[-1].split()[0])
    assert said[-1] == f"  {told} events added."
    assert told < 100
    assert ledger.head()[0] == before + told + 1  # and that the story was told up to here


def test_a_second_start_at_the_same_moment_adds_nothing(told_url: str) -> None:
    ledger, said = at_work(told_url)
    before = ledger.head()

    run_demo(ledger, said.append, WEEKS)

    assert ledger.head() == before
    assert said[-1] == "  0 events added."


def test_a_part_booked_on_by_hand_is_left_alone(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    waiting = select(PartNow.serial).where(
        PartNow.place == "waiting", PartNow.hold.is_(None), PartNow.product == "PT68-BLADE"
    )
    with ledger.store.read() as connection:
        serial = connection.execute(waiting.limit(1)).scalar_one()
    by_hand = _hold(ledger, serial)

    later, _ = at_work(told_url, NOW + 6 * DAY_US)

    with later.store.read() as connection:
        kinds = connection.execute(
            select(Event.kind).where(Event.subject == serial).order_by(Event.site_seq)
        ).scalars()
        assert list(kinds)[-1] == "hold"
    assert by_hand["event"]["act"] == "hold"
    assert compare(told_url)[1] is None


def test_a_set_that_a_person_has_laid_hands_on_is_theirs(
    new_sqlite_url: Callable[[], str],
) -> None:
    told_url = new_sqlite_url()
    ledger, _ = at_work(told_url, NOW, 6)
    with ledger.read() as read:
        kept = next(one for one in read_sets(read) if one.state in ("reserved", "handed over"))
        free = read_stock(read, "HF22-BLADE").blades[:22]
    _hold(ledger, kept.slots[0])
    slots = tuple(one.blade.serial for one in free)
    planner = actor("planner", "planner")
    mine = Reserve(key="by-hand-set", product="HF22-BLADE", slots=slots)
    code = ledger.execute(None, mine, planner)["set"]

    later, said = at_work(told_url, NOW + 6 * DAY_US, 6)

    with later.read() as read:
        assert read_set(read, kept.code).state == kept.state
        assert (read_set(read, code).state, read_set(read, code).slots) == (
            "reserved", list(slots),
        )  # fmt: skip
        sent = [one for one in read_sets(read) if one.state == "sent"]
    assert "events added" in said[-1]
    assert sent
    assert compare(told_url)[1] is None


def _hold(ledger: Ledger, serial: str) -> dict[str, Any]:
    given = {"serial": serial, "act": "hold", "reason": "looked at by hand", "key": "by-hand"}
    booking = make_booking(given, None)
    by = actor("quality-engineer", "quality-engineer")
    return ledger.execute(None, Book(booking=booking), by)


def test_a_store_of_the_older_demo_is_left_as_it_is(new_sqlite_url: Callable[[], str]) -> None:
    old = new_sqlite_url()
    ledger = open_older(old)
    before = ledger.heads()

    _, said = at_work(old)

    assert ledger.heads() == before
    assert "another version" in said[0]


def open_older(url: str) -> Ledger:
    """A store as the program before this one left it: its demo had begun."""

    class Begin(OpenDemo):
        """The older command."""

    def begin(tx: Any, command: Any) -> dict[str, Any]:
        fact = DemoBegun(seed=command.seed, start_us=command.start_us)
        tx.append(Draft(fact=fact, subject="demo", at_us=tx.now_us))
        return {}

    ledger = opened(url)
    ledger.teach({Begin: Handling(begin, HANDLINGS[OpenDemo].allows)})
    ledger.open_site("HOLMFELL")
    ledger.execute("HOLMFELL", ExtendSite(file=demo_site()), ADMINISTRATOR)
    ledger.execute("HOLMFELL", Begin(seed=1, start_us=0, story=0, key=None), TELLER)
    return ledger


def test_a_story_that_differs_leaves_the_store_as_it_was(
    told_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger, _ = at_work(told_url)
    before = ledger.heads()
    monkeypatch.setattr("seed_demo.stations.SLIP_CHANCE", 0.5)

    _, said = at_work(told_url, NOW + DAY_US)

    assert ledger.heads() == before
    assert "differs" in said[-1]


def test_a_store_with_a_record_of_its_own_is_left_alone(
    new_sqlite_url: Callable[[], str],
) -> None:
    ledger = opened(new_sqlite_url())
    ledger.open_site("OWN")
    said: list[str] = []

    run_demo(ledger, said.append)

    assert said == []
    assert list(ledger.heads().values()) == [0]


def test_the_numbers_of_a_week_are_those_pandas_counts(told_url: str) -> None:
    ledger, _ = at_work(told_url)
    with ledger.read() as read:
        numbers = read_week_numbers(read, "PT68-BLADE", "2026-W43")
        query = select(Life.product, Life.created_us, Life.released_us, Life.scrapped_us)
        life = pd.DataFrame(
            read.connection.execute(query.where(Life.known_to_us >= 2**62)).all()
        )
    life = life[life["product"] == "PT68-BLADE"]

    def within(column: str) -> int:
        return int(((life[column] >= numbers.start_us) & (life[column] < numbers.end_us)).sum())

    assert numbers.output == within("released_us") > 100
    assert numbers.scrapped == within("scrapped_us")
    assert numbers.created == within("created_us")
    opening = (life["created_us"] < numbers.start_us).sum() - (
        (life["released_us"] < numbers.start_us) | (life["scrapped_us"] < numbers.start_us)
    ).sum()
    closing = opening + numbers.created - numbers.output - numbers.scrapped
    assert sum(numbers.wip.values()) == closing


def test_everything_the_pages_show_is_there(told_url: str) -> None:
    ledger, _ = at_work(told_url)

    with ledger.store.read() as connection:

        def some(query: Any) -> int:
            return len(connection.execute(query).all())

        assert some(select(Visit).where(Visit.end_us >= 2**62, Visit.station.like("CRY%")))
        assert some(select(Nonconformity).where(Nonconformity.closed_us >= 2**62))
        for kind in ("priority", "search", "containment", "whereabouts"):
            assert some(select(Condition).where(Condition.kind == kind)), kind
        assert some(select(Shutting).where(Shutting.to_us >= 2**62))
        assert some(select(PartNow).where(PartNow.whereabouts == "CAGE-1"))


@pytest.mark.slow
def test_half_a_year_is_loaded_and_an_older_week_is_published(sqlite_url: str) -> None:
    ledger, _ = at_work(sqlite_url, weeks=26)

    assert ledger.head()[0] > 250_000
    with ledger.store.read() as connection:
        found = connection.execute(
            select(Event.subject).where(Event.kind == "week-publish")
        ).scalars()
        assert len(list(found)) == 3
