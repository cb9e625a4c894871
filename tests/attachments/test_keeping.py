"""Kept under its digest, once a site, unchanged; served to the readers of that site alone."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import DatabaseError

from ringwright.assembly import PROJECTORS, open_ledger
from ringwright.attachments.content import Content, judged
from ringwright.attachments.queries import read_attached, read_attachment, read_attachments
from ringwright.attachments.tables import Attachment
from ringwright.attachments.verify import kept_tables, verify_attachments
from ringwright.bench.attaching import Attach, Note
from ringwright.bench.correcting import Correct
from ringwright.core.errors import Forbidden, Missing, Refused
from ringwright.db import Store
from ringwright.ledger.backup import backup, restore
from ringwright.ledger.migrate import migrate
from ringwright.ledger.service import Ledger
from ringwright.ledger.verify import Fault
from tests.make.bench import Screen, open_bench
from tests.make.floor import INSPECTOR, actor
from tests.make.pictures import PAPER, TABLE, photo, tap
from tests.reliability.server import command

PHOTO = judged(photo())


@pytest.fixture
def ledger(store_url: str) -> Iterator[Ledger]:
    kept = open_bench(store_url)
    yield kept
    kept.store.close()


@pytest.fixture
def here(sqlite_url: str) -> Iterator[Ledger]:
    """A record in a file, whose name `sqlite_url` tells too."""
    kept = open_bench(sqlite_url)
    yield kept
    kept.store.close()


def attach(ledger: Ledger, content: Content = PHOTO, key: str = "a1", **given: Any) -> int:
    order: dict[str, Any] = {"serial": "V-1", "shows": "dent at the tip", **given}
    answer = ledger.execute("NORD", Attach(content=content, key=key, **order), INSPECTOR)
    return int(answer["event"]["site_seq"])


def attached(ledger: Ledger) -> list[tuple[str, str]]:
    with ledger.read("NORD") as read:
        return [(one.shows, one.digest) for one in read_attached(read, "V-1")]


def fault_of(ledger: Ledger) -> str | None:
    with ledger.store.read() as connection:
        fault = verify_attachments(connection)[1]
    return fault.why if fault else None


def test_a_photo_is_kept_with_its_part_and_read_by_its_digest(ledger: Ledger) -> None:
    attach(ledger)

    assert attached(ledger) == [("dent at the tip", PHOTO.digest)]
    with ledger.read("NORD") as read:
        assert read_attachment(read.connection, read.site.id, PHOTO.digest) == PHOTO
        with pytest.raises(Missing):
            read_attachment(read.connection, read.site.id + 1, PHOTO.digest)


def test_many_are_read_at_once_and_one_that_lacks_is_missed(ledger: Ledger) -> None:
    attach(ledger)

    with ledger.read("NORD") as read:
        here = (read.connection, read.site.id)
        assert read_attachments(*here, [PHOTO.digest]) == {PHOTO.digest: PHOTO}
        assert read_attachments(*here, []) == {}
        with pytest.raises(Missing, match="nothing is kept under"):
            read_attachments(*here, [PHOTO.digest, "0" * 64])


def test_the_same_bytes_are_kept_once_and_a_key_sent_twice_books_once(ledger: Ledger) -> None:
    first = attach(ledger)

    assert attach(ledger) == first
    attach(ledger, key="a2", serial="V-2")
    with ledger.store.read() as connection:
        assert connection.execute(select(func.count()).select_from(Attachment)).scalar() == 1
    with pytest.raises(Refused, match="attached to V-1 already"):
        attach(ledger, key="a3")


def test_what_is_refused_keeps_nothing(ledger: Ledger) -> None:
    with pytest.raises(Refused, match="say what it shows"):
        attach(ledger, shows=" ")
    with pytest.raises(Missing):
        attach(ledger, key="a2", serial="V-9")
    order = Attach(content=PHOTO, key="a3", serial="V-1", shows="x")
    with pytest.raises(Forbidden):
        ledger.execute("NORD", order, actor("man-1", "manager"))
    with ledger.store.read() as connection:
        assert connection.execute(select(func.count()).select_from(Attachment)).scalar() == 0


def test_an_attachment_taken_back_is_shown_no_more(ledger: Ledger) -> None:
    entry = attach(ledger)
    ledger.execute("NORD", Correct(serial="V-1", key="c", entry=entry, void=True), INSPECTOR)

    assert attached(ledger) == []


def test_a_note_stands_in_the_history_and_moves_nothing(ledger: Ledger) -> None:
    answer = ledger.execute(
        "NORD", Note(serial="V-1", text="light scratch, told", key="n"), INSPECTOR
    )

    assert answer["part"]["place"] == "waiting"
    with pytest.raises(Refused, match="say the note"):
        ledger.execute("NORD", Note(serial="V-1", text=" ", key="m"), INSPECTOR)


def test_the_store_itself_refuses_to_change_or_lose_what_is_kept(ledger: Ledger) -> None:
    attach(ledger)
    for statement in ("UPDATE attachment SET media = 'text/csv'", "DELETE FROM attachment"):
        with (
            pytest.raises(DatabaseError, match="refuses change"),
            ledger.store.write(0) as connection,
        ):
            connection.execute(text(statement))


def test_a_backup_brings_back_every_byte(ledger: Ledger, tmp_path: Path) -> None:
    attach(ledger)
    file = tmp_path / "a.backup"
    backup(ledger.store, file, kept_tables())

    url = f"sqlite:///{tmp_path / 'back.sqlite'}"
    migrate(url)
    back = open_ledger(Store(url))
    restore(back, file, PROJECTORS, kept_tables(), lambda c: verify_attachments(c)[1])

    assert attached(back) == [("dent at the tip", PHOTO.digest)]
    assert fault_of(back) is None
    back.store.close()


def test_a_damaged_backup_is_refused_whole(here: Ledger, tmp_path: Path) -> None:
    attach(here)
    file = tmp_path / "a.backup"
    backup(here.store, file, kept_tables())
    with sqlite3.connect(file) as damaged:
        damaged.execute("UPDATE attachment SET content = x'00'")

    def check(connection: object) -> Fault | None:
        return verify_attachments(connection)[1]  # type: ignore[arg-type]

    url = f"sqlite:///{tmp_path / 'back.sqlite'}"
    migrate(url)
    back = open_ledger(Store(url))
    with pytest.raises(Refused, match=f"attachment {PHOTO.digest} is not as it was kept"):
        restore(back, file, PROJECTORS, kept_tables(), check)
    with back.store.read() as connection:
        assert connection.execute(select(func.count()).select_from(Attachment)).scalar() == 0
    back.store.close()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("UPDATE attachment SET content = content || x'00'", "is not as it was kept"),
        ("DELETE FROM attachment", "of event [0-9]+ is missing"),
    ],
)
def test_the_audit_names_what_was_changed_behind_its_back(
    here: Ledger, sqlite_url: str, change: str, told: str
) -> None:
    attach(here)
    assert fault_of(here) is None
    here.store.close()
    with sqlite3.connect(sqlite_url.removeprefix("sqlite:///")) as kept:
        kept.execute("DROP TRIGGER attachment_no_update")
        kept.execute("DROP TRIGGER attachment_no_delete")
        kept.execute(change)

    answer = command(sqlite_url, "audit")

    assert answer.returncode == 1
    assert PHOTO.digest in answer.stdout
    assert re.search(told, answer.stdout)


def test_what_is_attached_is_served_as_what_it_is_and_may_do_nothing(
    here: Ledger, sqlite_url: str
) -> None:
    screen = Screen(sqlite_url, here)
    for number, data in enumerate((photo(), tap(), TABLE, PAPER)):
        attach(here, judged(data), key=f"k{number}")
    for one in _all(here):
        answer = screen.client.get(f"/attachments/{one.digest}/file.{one.ending}")

        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(one.media)
        assert answer.headers["content-disposition"].startswith("attachment; filename=")
        assert answer.headers["content-security-policy"] == "default-src 'none'; sandbox"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
    wrong = f"/attachments/{PHOTO.digest}/file.html"
    assert screen.client.get(wrong).status_code == 404
    assert screen.client.get("/attachments/..%2f..%2fetc/photo").status_code == 404
    assert screen.client.get(f"/attachments/{PHOTO.digest}/thumbnail").status_code == 200


def _all(ledger: Ledger) -> list:  # type: ignore[type-arg]
    with ledger.read("NORD") as read:
        return read_attached(read, "V-1")


def test_only_who_is_signed_in_gets_it(here: Ledger, sqlite_url: str) -> None:
    attach(here)
    screen = Screen(sqlite_url, here)
    screen.client.cookies.clear()

    answer = screen.client.get(f"/attachments/{PHOTO.digest}/photo")

    assert answer.status_code == 303
    assert "/sign-in" in answer.headers["location"]
