"""A fault planted in a copy of the program makes the tests that guard against it fail.

Each mutation changes the text of one copy; the named guards must pass on an unchanged copy and
every one of them must fail on the changed one. A mutation whose text is not found is an error,
so that a rewrite of the program cannot quietly disarm this file.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.planted, pytest.mark.slow, pytest.mark.xdist_group("planted")]

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("ringwright", "seed_demo", "tests", "scripts", "pyproject.toml")
HONEST = "tests/reliability/test_honest_answers.py::"
RACES = "tests/reliability/test_races.py::"
KILLS = "tests/reliability/test_kills.py::"
TAMPER = "tests/ledger/test_tampering.py::"
KEYS = "tests/ledger/test_keys.py::"
GUARDS = "tests/ledger/test_append_only.py::"
FOUND = TAMPER + "test_every_tampering_is_found_and_its_first_bad_event_named"
TEMPLATES = "tests/web/test_templates.py::test_a_template_keeps_to_the_rules"

ANSWER_FIRST = '''
def _answer_first(ledger, site_id, run):
    import queue
    import threading
    import time
    box = queue.Queue()

    def work():
        told = False
        try:
            with ledger.store.write(site_id) as connection:
                answer = run(connection)
                told = True
                box.put((answer, None))
                time.sleep(0.2)
        except BaseException as trouble:
            if not told:
                box.put((None, trouble))

    threading.Thread(target=work).start()
    answer, trouble = box.get()
    if trouble is not None:
        raise trouble
    return answer


class Ledger:
    """The record of all sites of one store."""
'''
COMMIT_UNASKED = """
@contextmanager
def _commit_unasked(connection):
    transaction = connection.begin()
    try:
        yield
    except BaseException:
        transaction.rollback()
        raise
    try:
        transaction.commit()
    except Exception:
        connection.invalidate()


class Gate:
"""


@dataclass(frozen=True)
class Mutation:
    """One planted fault: the file, the texts exchanged in it, the tests that must notice."""

    name: str
    file: str
    swaps: tuple[tuple[str, str], ...]
    guards: tuple[str, ...]


MUTATIONS = (
    Mutation(
        "a commit that fails is told as a success",
        "ringwright/db.py",
        (
            ("class Gate:\n", COMMIT_UNASKED),
            (
                "            with connection.begin():\n"
                "                if not self.is_sqlite:\n",
                "            with _commit_unasked(connection):\n"
                "                if not self.is_sqlite:\n",
            ),
        ),
        (HONEST + "test_a_commit_that_fails_is_never_answered_as_success[sqlite]",),
    ),
    Mutation(
        "acknowledged before the commit",
        "ringwright/ledger/service.py",
        (
            (
                '\nclass Ledger:\n    """The record of all sites of one store."""\n',
                ANSWER_FIRST,
            ),
            (
                "            with self.store.write(head.site_id) as connection:\n"
                "                answer = self._run(connection, head.site_id, command, actor, "
                "handling.handler)\n",
                "            answer = _answer_first(self, head.site_id, lambda connection: "
                "self._run(connection, head.site_id, command, actor, handling.handler))\n",
            ),
        ),
        (
            HONEST + "test_what_is_answered_is_in_the_database_at_that_moment[sqlite]",
            KILLS + "test_no_acknowledged_booking_is_lost_or_doubled_by_kills[sqlite]",
        ),
    ),
    Mutation(
        "the hash leaves the payload out",
        "ringwright/ledger/canonical.py",
        (("str(column) for column in columns]", "str(column) for column in columns[:-1]]"),),
        (
            FOUND + "[change_a_letter]",
            TAMPER + "test_the_chain_is_what_its_description_says[sqlite]",
        ),
    ),
    Mutation(
        "the hash leaves the one before it out",
        "ringwright/ledger/canonical.py",
        (("hashlib.sha256(previous + text", "hashlib.sha256(GENESIS + text"),),
        (TAMPER + "test_the_chain_is_what_its_description_says[sqlite]",),
    ),
    Mutation(
        "the audit does not compute the hash",
        "ringwright/ledger/verify.py",
        (("bytes(hashes[1]) != link(previous, columns)", "False"),),
        (FOUND + "[change_a_letter]", FOUND + "[change_a_number]"),
    ),
    Mutation(
        "the key is looked up before the lock is taken",
        "ringwright/ledger/service.py",
        (
            (
                "            with self.store.write(head.site_id) as connection:\n"
                "                answer = self._run(",
                "            if command.key is not None:\n"
                "                with self.store.read() as early:\n"
                "                    asked = digest(command.operation, command.body())\n"
                "                    stored = self._seen("
                "early, head.site_id, command.key, asked)\n"
                "                if stored is not None:\n"
                "                    return stored\n"
                "            with self.store.write(head.site_id) as connection:\n"
                "                answer = self._run(",
            ),
            (
                "            stored = self._seen(connection, site_id, command.key, asked)\n",
                "            stored = None\n",
            ),
        ),
        (RACES + "test_fifty_requests_with_one_key_are_one_booking_and_one_answer[sqlite]",),
    ),
    Mutation(
        "the key is not unique in the database",
        "ringwright/migrations/versions/2026_11_25_0001_the_record.py",
        (
            (
                '"ux_event_key", "event", ["site_id", "key"], unique=True',
                '"ux_event_key", "event", ["site_id", "key"], unique=False',
            ),
        ),
        (GUARDS + "test_a_second_event_of_one_number_or_one_key_is_refused[sqlite]",),
    ),
    Mutation(
        "the key is asked after the rules",
        "ringwright/ledger/service.py",
        (
            (
                "            stored = self._seen(connection, site_id, command.key, asked)\n",
                "            handler(tx, command)\n"
                "            stored = self._seen(connection, site_id, command.key, asked)\n",
            ),
        ),
        (KEYS + "test_a_key_answers_the_same_though_the_rules_would_refuse_it_now[sqlite]",),
    ),
    Mutation(
        "a template sums a column up",
        "ringwright/templates/week/_product.html",
        (
            (
                "show.count(item.totals.waiting)",
                'show.count(item.rows | sum(attribute="waiting"))',
            ),
        ),
        (TEMPLATES + "[week/_product.html]",),
    ),
    Mutation(
        "a template adds two figures",
        "ringwright/templates/week/_product.html",
        (
            (
                "show.count(item.totals.waiting)",
                "show.count(item.totals.waiting + item.totals.in_work)",
            ),
        ),
        (TEMPLATES + "[week/_product.html]",),
    ),
)


@pytest.fixture(scope="module")
def new_copy(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[], Path]]:
    """Makes copies of the program and its tests."""
    made: list[Path] = []

    def make() -> Path:
        folder = tmp_path_factory.mktemp("copy")
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                skipped = shutil.ignore_patterns("__pycache__", "node_modules")
                shutil.copytree(source, folder / name, ignore=skipped)
            else:
                shutil.copy(source, folder / name)
        made.append(folder)
        return folder

    yield make
    for folder in made:
        shutil.rmtree(folder, ignore_errors=True)


def run(folder: Path, guards: tuple[str, ...]) -> subprocess.CompletedProcess[str]:
    """Run guarding tests in a copy, against that copy's program."""
    outer = {name: text for name, text in os.environ.items() if not name.startswith("PYTEST")}
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "--tb=line", *guards],
        cwd=folder,
        env={**outer, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=280,
    )


def plant(folder: Path, mutation: Mutation) -> None:
    """Exchange the texts; each must be there exactly once."""
    path = folder / mutation.file
    text = path.read_text(encoding="utf-8")
    for old, new in mutation.swaps:
        assert text.count(old) == 1, f"{mutation.name}: the text to change is gone: {old}"
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


@pytest.mark.long  # They run by themselves beside this file as well.
def test_the_guards_pass_where_no_fault_is_planted(new_copy: Callable[[], Path]) -> None:
    guards = tuple(dict.fromkeys(guard for one in MUTATIONS for guard in one.guards))

    said = run(new_copy(), guards)

    assert said.returncode == 0, said.stdout + said.stderr
    assert f"{len(guards)} passed" in said.stdout


def _planted(mutation: Mutation) -> Any:
    """The guard that kills servers for over a minute has its turn in the long run."""
    kills = any(guard.startswith(KILLS) for guard in mutation.guards)
    marks = [pytest.mark.long] if kills else []
    return pytest.param(mutation, id=mutation.name, marks=marks)


@pytest.mark.parametrize("mutation", [_planted(one) for one in MUTATIONS])
def test_a_planted_fault_fails_every_test_that_guards_against_it(
    new_copy: Callable[[], Path], mutation: Mutation
) -> None:
    folder = new_copy()
    plant(folder, mutation)

    said = run(folder, mutation.guards)

    assert said.returncode == 1, said.stdout + said.stderr  # 1: tests ran, and some failed
    failed = set(re.findall(r"^FAILED (\S+\])", said.stdout, re.MULTILINE))
    assert failed == set(mutation.guards), said.stdout
