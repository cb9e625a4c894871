"""SECURITY.md names only tests and files that are there, and says the limits that hold."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import ringwright
from ringwright.ground.service import CSV_BYTES, TOML_BYTES
from ringwright.kit import forms
from ringwright.live import stream
from ringwright.sets import upload
from ringwright.settings import Settings
from ringwright.web import caps, serving

PROJECT = Path(ringwright.__file__).parent.parent
PAPER = (PROJECT / "SECURITY.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAPER.splitlines()
    if re.match(r"\| (?:none|\d+\.\d+\.\d+)", line)
]


def functions(path: Path) -> set[str]:
    """The names of a module's functions."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def test_the_paper_lists_what_is_checked() -> None:
    assert len(ROWS) > 35
    assert {len(row) for row in ROWS} == {4}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]} {row[1][:30]}")
def test_every_test_and_file_that_is_named_exists(row: list[str]) -> None:
    named = re.findall(r"`([\w/]+\.py)::(\w+)`", row[3])
    files = re.findall(r"`([\w/.-]+\.(?:py|yml|txt))`", row[2])

    assert named, "an item without a test is not checked"
    for file, function in named:
        path = PROJECT / "tests" / file
        assert path.is_file(), file
        assert function in functions(path), function
    bare = {"queries.py"}
    for file in set(files) - bare:
        assert any((PROJECT / up / file).is_file() for up in (".", "ringwright")), file


def test_identifiers_are_those_of_the_standard() -> None:
    """Chapter, section, requirement: 17 chapters in OWASP ASVS 5.0.0."""
    for row in ROWS:
        if row[0] != "none":
            for one in row[0].split(", "):
                assert re.fullmatch(r"([1-9]|1[0-7])\.\d{1,2}\.\d{1,2}", one), one


def test_the_limits_are_those_that_hold() -> None:
    mb = 1024 * 1024
    for told in (
        f"| {caps.MOST_HEADERS} headers, {caps.MOST_HEADER_BYTES // 1000} kB; 16 kB whole |",
        f"| {caps.MOST_QUERY_BYTES:,} bytes, {caps.MOST_QUERY_FIELDS} fields |",
        f"| {forms.MOST_BYTES // mb} MB, {forms.MOST_FIELDS:,} fields, {forms.MOST_FILES}",
        f"at the Bench with a file {forms.MOST_FILM_BYTES // mb} MB |",
        f"| {caps.MOST_JSON_BYTES // mb} MB, {caps.MOST_DEPTH} deep",
        f"| {serving.HEAD_S} s for a head, {serving.BODY_S // 60} minutes for a body |",
        f"| {serving.MOST_CONNECTIONS}; {stream.MOST_STREAMS} streams, {stream.MOST_OF_ONE} of",
        f"one at a time, {Settings(database_url='').exports_a_minute} a minute",
        f"| {TOML_BYTES // mb} MB, `.toml`",
        f"| {CSV_BYTES // mb} MB, `.csv` or `.txt`; more",
        f"{upload.MOST_UNPACKED // mb} MB and {upload.MOST_ENTRIES:,} pieces unpacked",
    ):
        assert told in PAPER
