"""The commands: open a practice site, keep its papers apart, and change nothing for scripts."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ringwright.assembly import open_ledger
from ringwright.core.practice import LONGEST_KEY, key_of
from ringwright.db import Store
from ringwright.ledger.service import Ledger
from ringwright.parts.queries import read_part
from tests.make import practice, shop
from tests.make.practice import CODE, REAL
from tests.reliability.server import command


@pytest.fixture
def ledger(sqlite_url: str) -> Iterator[Ledger]:
    record = practice.open_practised(sqlite_url, shop.HISTORY)
    yield record
    record.store.close()


def test_it_opens_the_site_and_says_where_its_pages_are(sqlite_url: str) -> None:
    shop.open_shop(sqlite_url, "").store.close()

    said = command(sqlite_url, "practice", "--parts", "2")
    again = command(sqlite_url, "practice", "--site", CODE)

    assert (said.returncode, said.stderr) == (0, "")
    assert "Practice site NORD-PRACTICE of NORD: " in said.stdout
    assert "2 practice parts made" in said.stdout
    assert "?site=NORD-PRACTICE" in said.stdout
    assert "0 facts added, 0 practice parts made" in again.stdout


def test_another_code_may_be_given(sqlite_url: str) -> None:
    shop.open_shop(sqlite_url, "").store.close()

    assert command(sqlite_url, "practice", "--code", "SCHOOL").returncode == 0
    said = command(sqlite_url, "practice")

    assert "Practice site SCHOOL of NORD" in said.stdout


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--site", "NONE"), "no site 'NONE'"),
        (("--code", REAL), "NORD is a real site and stays one"),
        (("--parts", "999"), "from 0 to 200"),
        (("--parts", "few"), "invalid int"),
    ],
)
def test_what_cannot_be_is_told_in_one_line(
    sqlite_url: str, words: tuple[str, ...], why: str
) -> None:
    shop.open_shop(sqlite_url, "").store.close()

    said = command(sqlite_url, "practice", *words)

    assert said.returncode == 2
    assert why in said.stderr
    assert said.stderr.count("\n") == 1


@pytest.mark.usefixtures("ledger")
def test_the_site_file_of_its_code_is_refused(sqlite_url: str, tmp_path: Path) -> None:
    file = tmp_path / "site.toml"
    file.write_text(shop.SITE.replace('"NORD"', f'"{CODE}"'))

    said = command(sqlite_url, "load", "site", str(file))

    assert said.returncode == 2
    assert "is the practice site of NORD and stays one" in said.stderr


@pytest.mark.usefixtures("ledger")
def test_audit_names_it_and_marks_its_head(sqlite_url: str) -> None:
    said = command(sqlite_url, "audit")

    first, real, practised, attached = said.stdout.splitlines()
    assert re.fullmatch(r"\d+ events verified\. \d+ of them are practice\.", first)
    assert re.fullmatch(r"site NORD: head \d+ [0-9a-f]{64}", real)
    marked = r"site NORD-PRACTICE \(practice of NORD\): head \d+ practice [0-9a-f]{64}"
    assert re.fullmatch(marked, practised)
    assert attached == "2 attachments verified."


@pytest.mark.usefixtures("ledger")
def test_a_week_without_a_site_is_the_real_ones_and_practice_is_told_beside(
    sqlite_url: str,
) -> None:
    asked = ("week", "--product", "VANE", "--week", "2026-W40", "--json")
    plain = command(sqlite_url, *asked)
    practised = command(sqlite_url, *asked, "--site", CODE)

    assert plain.stderr == ""
    assert "is a practice site" in practised.stderr
    real, own = json.loads(plain.stdout), json.loads(practised.stdout)
    assert real.keys() == own.keys()
    assert own["created"] - real["created"] == 2, "the parts made to practise on"


def exported(url: str, folder: Path, site: str) -> tuple[Path, list[dict[str, str]]]:
    """The history file of a site, wherever it was written, and its rows."""
    said = command(url, "export", str(folder / "history.csv"), "--site", site)
    assert said.returncode == 0, said.stderr
    file = Path(said.stdout.rpartition(" written to ")[2].strip().removesuffix("."))
    return file, list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))


@pytest.mark.usefixtures("ledger")
def test_what_is_exported_says_so_by_name_and_in_every_key(
    sqlite_url: str, tmp_path: Path
) -> None:
    file, rows = exported(sqlite_url, tmp_path, CODE)
    own, real = exported(sqlite_url, tmp_path, REAL)

    assert (file.name, own.name) == ("PRACTICE-history.csv", "history.csv")
    assert len(rows) > 10
    assert all(row["key"].startswith("practice:") for row in rows)
    assert not any("practice" in row["key"] for row in real)


@pytest.mark.usefixtures("ledger")
def test_an_exported_history_is_refused_row_by_row_by_a_real_site(
    sqlite_url: str, new_sqlite_url: Callable[[], str], tmp_path: Path
) -> None:
    file, rows = exported(sqlite_url, tmp_path, CODE)
    other = new_sqlite_url()
    shop.open_shop(other, "").store.close()

    refused = command(other, "load", "history", str(file))

    assert refused.returncode == 2
    _waiting, *lines = refused.stderr.splitlines()
    assert len(lines) == len(rows)
    assert all("is a practice record's; a real site takes none in" in line for line in lines)
    assert "line 2: " in lines[0]
    taken = command(other, "practice")
    assert taken.returncode == 0
    assert command(other, "load", "history", str(file), "--site", CODE).returncode == 0
    _file, keys = exported(other, tmp_path, CODE)
    assert {row["key"] for row in keys} == {row["key"] for row in rows}, "marked once only"
    store = Store(other)
    assert open_ledger(store).head(REAL)[0] < 10
    store.close()


def test_a_label_in_a_history_file_is_refused_or_read_as_what_it_names(
    sqlite_url: str, tmp_path: Path, ledger: Ledger
) -> None:
    file = tmp_path / "labels.csv"
    text = f"{shop.HEADER}2026-09-30T07:00+02:00,practice:V-50,VANE,create,,,{shop.REST}\n"
    file.write_text(text)

    real = command(sqlite_url, "load", "history", str(file))
    own = command(sqlite_url, "load", "history", str(file), "--site", CODE)

    assert (real.returncode, own.returncode) == (2, 0)
    assert "is a practice label" in real.stderr
    with ledger.read(CODE) as read:
        assert read_part(read, "V-50").place == "waiting"


@pytest.mark.parametrize("key", ["k", "practice:k", "PRACTICE:k", "k" * 191, "k" * 200])
def test_a_marked_key_is_marked_once_and_never_too_long(key: str) -> None:
    marked = key_of(key)

    assert marked.lower().startswith("practice:")
    assert len(marked) <= LONGEST_KEY
    assert key_of(marked) == marked


def test_two_long_keys_stay_two() -> None:
    assert key_of("k" * 199 + "a") != key_of("k" * 199 + "b")
