"""Somebody changes the database behind the program's back: the first bad event is named."""

from __future__ import annotations

import random
import re
import sqlite3
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from sqlalchemy import text

from ringwright.db import Store
from ringwright.ledger.verify import Fault, audit
from ringwright.replaying import compare
from tests.make.floor import DELEGATE, Floor, open_floor
from tests.make.second import signed
from tests.reliability.checker import check_chain
from tests.reliability.server import command

TRIALS = 300
TEXTS = ("subject_kind", "subject", "kind", "zone", "actor", "station", "payload", "key")
NUMBERS = ("v", "at_us", "recorded_at_us", "known_at_us", "corrects")
BYTES = ("prev_hash", "hash")


def book_a_few_parts(floor: Floor) -> None:
    for number in range(6):
        floor.book("create", f"P{number}", station="rack-1")
        floor.visit(f"P{number}", 10)
        floor.visit(f"P{number}", 20)


@pytest.fixture
def kept(sqlite_url: str) -> Iterator[sqlite3.Connection]:
    """A booked SQLite store without its triggers, over a plain connection."""
    floor = open_floor(sqlite_url)
    book_a_few_parts(floor)
    floor.ledger.store.close()
    connection = sqlite3.connect(sqlite_url.removeprefix("sqlite:///"), isolation_level=None)
    connection.execute("DROP TRIGGER event_no_update")
    connection.execute("DROP TRIGGER event_no_delete")
    yield connection
    connection.close()


def fault_of(url: str) -> Fault | None:
    store = Store(url)
    with store.read() as connection:
        _, fault = audit(connection)
    store.close()
    return fault


def named(fault: Fault | None) -> int | None:
    """The entry that a fault names."""
    found = re.search(r"event (\d+)", fault.why) if fault else None
    return int(found[1]) if found else None


def change_a_letter(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    seq, column = dice.randint(1, count), dice.choice(TEXTS)
    (old,) = _value(kept, column, seq)
    while not old:
        seq, column = dice.randint(1, count), dice.choice(TEXTS)
        (old,) = _value(kept, column, seq)
    place = dice.randrange(len(old))
    letter = chr((ord(old[place]) - 32 + dice.randint(1, 94)) % 95 + 32)
    assert letter != old[place]
    _set(kept, column, seq, old[:place] + letter + old[place + 1 :])
    return seq


def change_a_number(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    seq, column = dice.randint(1, count), dice.choice(NUMBERS)
    (old,) = _value(kept, column, seq)
    _set(kept, column, seq, (old or 0) ^ (1 << dice.randrange(40)))
    return seq


def flip_a_hash_bit(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    seq, column = dice.randint(1, count), dice.choice(BYTES)
    flipped = bytearray(_value(kept, column, seq)[0])
    flipped[dice.randrange(32)] ^= 1 << dice.randrange(8)
    _set(kept, column, seq, bytes(flipped))
    return seq


def delete_a_row(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    seq = dice.randint(1, count)
    kept.execute("DELETE FROM event WHERE site_seq = ?", [seq])
    return seq


def swap_two_rows(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    one, other = sorted(dice.sample(range(1, count + 1), 2))
    for before, after in ((one, -1), (other, one), (-1, other)):
        kept.execute("UPDATE event SET site_seq = ? WHERE site_seq = ?", [after, before])
    return one


def cut_the_tail(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    seq = dice.randint(2, count)
    kept.execute("DELETE FROM event WHERE site_seq >= ?", [seq])
    return seq


def add_a_row(kept: sqlite3.Connection, dice: random.Random, count: int) -> int:
    copied = dice.randint(1, count)
    columns = [row[1] for row in kept.execute("PRAGMA table_info(event)")]
    taken = ["NULL" if name == "key" else name for name in columns]
    taken[columns.index("site_seq")] = str(count + 1)
    kept.execute(
        f"INSERT INTO event SELECT {', '.join(taken)} FROM event WHERE site_seq = ?", [copied]
    )
    return count + 1


def _value(kept: sqlite3.Connection, column: str, seq: int) -> tuple[Any, ...]:
    row: tuple[Any, ...] = kept.execute(
        f"SELECT {column} FROM event WHERE site_seq = ?", [seq]
    ).fetchone()
    return row


def _set(kept: sqlite3.Connection, column: str, seq: int, value: Any) -> None:
    kept.execute(f"UPDATE event SET {column} = ? WHERE site_seq = ?", [value, seq])


Tamper = Callable[[sqlite3.Connection, random.Random, int], int]
TAMPERS: tuple[Tamper, ...] = (
    change_a_letter,
    change_a_number,
    flip_a_hash_bit,
    delete_a_row,
    swap_two_rows,
    cut_the_tail,
    add_a_row,
)


@pytest.mark.parametrize("tamper", TAMPERS, ids=lambda tamper: tamper.__name__)
def test_every_tampering_is_found_and_its_first_bad_event_named(
    kept: sqlite3.Connection, sqlite_url: str, tamper: Tamper
) -> None:
    dice = random.Random(tamper.__name__)
    (count,) = kept.execute("SELECT count(*) FROM event").fetchone()
    assert fault_of(sqlite_url) is None
    store = Store(sqlite_url)
    whole = kept.execute("SELECT * FROM event").fetchall()

    missed = []
    for trial in range(TRIALS // len(TAMPERS)):
        kept.execute("BEGIN")
        seq = tamper(kept, dice, count)
        kept.execute("COMMIT")
        with store.read() as connection:
            _, fault = audit(connection)
        if named(fault) != seq:
            missed.append((trial, seq, fault))
        _put_back(kept, whole)
    store.close()

    assert missed == []
    assert fault_of(sqlite_url) is None


def _put_back(kept: sqlite3.Connection, rows: list[tuple[Any, ...]]) -> None:
    marks = ", ".join("?" * len(rows[0]))
    kept.execute("BEGIN")
    kept.execute("DELETE FROM event")
    kept.executemany(f"INSERT INTO event VALUES ({marks})", rows)
    kept.execute("COMMIT")


def test_a_value_taken_away_is_found_where_an_empty_one_stood(
    kept: sqlite3.Connection, sqlite_url: str
) -> None:
    """Nothing and an empty text are two things."""
    (seq,) = kept.execute("SELECT min(site_seq) FROM event WHERE approver IS NULL").fetchone()

    _set(kept, "approver", seq, "")

    assert named(fault_of(sqlite_url)) == seq


def signed_repair(floor: Floor) -> int:
    """A repair that a second person signed: its entry."""
    floor.bring_to("R1", 30)
    both = signed(DELEGATE, "qe-1", "quality-engineer")
    told = floor.book("end", "R1", both, step=30, outcome="repair")
    return int(told["event"]["site_seq"])


@pytest.mark.parametrize("put", ["'sup-1'", "''", "NULL"])
def test_a_second_person_put_there_or_taken_away_is_found(
    floor: Floor, store_url: str, put: str
) -> None:
    """Who signed too is in the chain, read here and by a checker that knows nothing of ours."""
    seq = signed_repair(floor)
    assert fault_of(store_url) is None
    assert check_chain(store_url) == []

    _unguard(floor.ledger.store, f"UPDATE event SET approver = {put} WHERE site_seq = {seq}")

    assert named(fault_of(store_url)) == seq
    assert check_chain(store_url) != []


def test_bytes_that_are_no_text_are_found_and_their_event_named(
    kept: sqlite3.Connection, sqlite_url: str
) -> None:
    kept.execute("UPDATE event SET payload = CAST(x'7b80ff7d' AS TEXT) WHERE site_seq = 30")

    assert named(fault_of(sqlite_url)) == 30


def test_an_event_moved_to_another_site_is_found(
    kept: sqlite3.Connection, sqlite_url: str
) -> None:
    kept.execute("UPDATE event SET site_id = 2 WHERE site_seq = 30")

    assert named(fault_of(sqlite_url)) == 30


def test_a_head_set_back_to_hide_a_cut_tail_differs_from_the_one_printed_before(
    kept: sqlite3.Connection, sqlite_url: str
) -> None:
    """A tail cut with its head is whole in itself: only a head kept elsewhere tells."""
    printed = printed_head(sqlite_url)

    kept.execute("DELETE FROM event WHERE site_seq > 40")
    (last,) = kept.execute("SELECT hash FROM event WHERE site_seq = 40").fetchone()
    kept.execute("UPDATE ledger_head SET seq = 40, hash = ?", [last])

    again = printed_head(sqlite_url)
    assert again[0] == "40"
    assert printed != again


def printed_head(url: str) -> tuple[str, ...]:
    """The head that an audit without a fault prints."""
    said = command(url, "audit")
    assert said.returncode == 0, said.stderr
    found = re.search(r"head (\d+) ([0-9a-f]{64})", said.stdout)
    assert found
    return found.groups()


def test_the_audit_command_names_the_event_and_exits_1(floor: Floor, store_url: str) -> None:
    book_a_few_parts(floor)
    said = command(store_url, "audit")
    assert said.returncode == 0
    assert f"{floor.events()} events verified" in said.stdout

    _unguard(floor.ledger.store, "UPDATE event SET actor = 'nobody' WHERE site_seq = 33")

    said = command(store_url, "audit")
    assert said.returncode == 1
    assert "event 33 " in said.stdout


def _unguard(store: Store, statement: str) -> None:
    """Take the triggers away, as somebody with the database's password can, and change it."""
    with store.write(0) as connection:
        if store.is_sqlite:
            connection.execute(text("DROP TRIGGER event_no_update"))
        else:
            connection.execute(text("ALTER TABLE event DISABLE TRIGGER ALL"))
        connection.execute(text(statement))


ALTERED = (
    ("part_now", "UPDATE part_now SET place = 'released' WHERE serial = 'P3'", "P3"),
    ("part_now", "DELETE FROM part_now WHERE serial = 'P2'", "P2"),
    ("visit", "UPDATE visit SET touch_us = 1 WHERE serial = 'P4' AND step = 10", "P4"),
    ("visit", "DELETE FROM visit WHERE serial = 'P1' AND step = 20", "P1"),
    ("life", "UPDATE life SET created_us = created_us - 1 WHERE serial = 'P5'", "P5"),
    ("life", "UPDATE life SET serial = 'GHOST' WHERE serial = 'P0'", "P0"),
    ("person_now", "UPDATE person_now SET data = '{}' WHERE code = 'qe-1'", "qe-1"),
    ("route_revision", "UPDATE route_revision SET target_per_week = 6", "OAR"),
)  # fmt: skip


@pytest.mark.parametrize(("table", "change", "subject"), ALTERED)
def test_a_projection_that_the_ledger_does_not_explain_is_named(
    floor: Floor, store_url: str, table: str, change: str, subject: str
) -> None:
    book_a_few_parts(floor)
    folded, why = compare(store_url)
    assert (folded, why) == (floor.events(), None)

    _alter(floor, change)

    _, why = compare(store_url)
    assert why is not None
    assert table in why
    assert subject in why
    assert fault_of(store_url) is None


def _alter(floor: Floor, change: str) -> None:
    with floor.ledger.store.write(0) as connection:
        assert connection.execute(text(change)).rowcount == 1


def test_the_replay_command_names_the_row_and_exits_1(floor: Floor, store_url: str) -> None:
    book_a_few_parts(floor)
    assert command(store_url, "replay", "--compare").returncode == 0

    _alter(floor, "UPDATE visit SET touch_us = 1 WHERE serial = 'P4' AND step = 10")

    said = command(store_url, "replay", "--compare")
    assert said.returncode == 1
    assert "visit of P4" in said.stdout
    assert "touch_us" in said.stdout


def test_the_chain_is_what_its_description_says(floor: Floor, store_url: str) -> None:
    book_a_few_parts(floor)

    assert check_chain(store_url) == []


def test_an_empty_store_is_whole(sqlite_url: str) -> None:
    assert fault_of(sqlite_url) is None
