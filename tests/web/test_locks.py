"""The lock files name exact versions with digests, and nothing of where they came from."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import ringwright

PROJECT = Path(ringwright.__file__).parent.parent
LOCKS = ("requirements.txt", "requirements-dev.txt")


def pinned(lock: str) -> dict[str, str]:
    text = (PROJECT / lock).read_text(encoding="utf-8")
    return dict(re.findall(r"^([a-z0-9-]+)(?:\[[a-z,]+\])?==(\S+)", text, re.MULTILINE))


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_pinned_with_a_digest(lock: str) -> None:
    text = (PROJECT / lock).read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]

    assert len(lines) > 20
    assert [line for line in lines if "==" not in line or "--hash=sha256:" not in line] == []


@pytest.mark.parametrize("lock", LOCKS)
def test_no_lock_tells_where_to_download(lock: str) -> None:
    text = (PROJECT / lock).read_text(encoding="utf-8")

    assert re.findall(r"://|--index-url|--extra-index-url|--find-links|file:", text) == []


def test_checks_run_on_the_very_versions_that_serve() -> None:
    serving, checking = (pinned(lock) for lock in LOCKS)

    assert {name: checking.get(name) for name in serving} == serving


@pytest.mark.parametrize("asked", ["requirements.in", "requirements-dev.in"])
def test_everything_asked_for_is_locked(asked: str) -> None:
    lines = (PROJECT / asked).read_text(encoding="utf-8").splitlines()
    names = {line.split("[")[0] for line in lines if line[:1].isalpha()}

    assert len(names) > 10
    assert names - set(pinned(asked.replace(".in", ".txt"))) == set()
