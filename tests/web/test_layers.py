"""The import contract covers every room and every pure module there is on disk."""

from __future__ import annotations

import ast
import sys
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

import ringwright

PACKAGE = Path(ringwright.__file__).parent
PROJECT = PACKAGE.parent
# _typeshed exists for the type checker alone and is never imported when running.
ALLOWED = sys.stdlib_module_names | {"_typeshed"}
PURE_NAMES = ("rules", "facts", "card", "site", "toml")
CONTRACTS = {
    contract["id"]: contract
    for contract in tomllib.loads((PROJECT / "pyproject.toml").read_text())["tool"][
        "importlinter"
    ]["contracts"]
}


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(PROJECT).with_suffix("").parts)


def is_pure(path: Path) -> bool:
    """core/*, and what its name or its folder makes a rule, a fact or a card of a room."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return parts[0] == "core" or any(part in PURE_NAMES for part in parts[1:])


PURE = [path for path in sorted(PACKAGE.rglob("*.py")) if is_pure(path)]
# Migrations are run by Alembic alone; no room imports them.
ROOMS = sorted({path.parent.name for path in PACKAGE.glob("*/__init__.py")} - {"migrations"})


def covered(name: str, expressions: list[str]) -> bool:
    """Say whether import-linter takes this module in: `*` is one name, packages go with all."""
    levels = name.split(".")
    packages = [levels[:depth] for depth in range(1, len(levels) + 1)]
    return any(
        len(package) == len(wanted.split("."))
        and all(
            fnmatch(part, want) for part, want in zip(package, wanted.split("."), strict=True)
        )
        for package in packages
        for wanted in expressions
    )


def imports(path: Path) -> set[str]:
    """Name every module that a file imports, wherever in the file it does."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def our_file(name: str) -> Path | None:
    """Find the file behind an imported name: a module, or a thing inside one."""
    parts = name.split(".")
    for module in (parts, parts[:-1]):
        path = PROJECT.joinpath(*module)
        for candidate in (path.with_suffix(".py"), path / "__init__.py"):
            if candidate.is_file():
                return candidate
    return None


def strangers(path: Path, seen: set[Path]) -> set[str]:
    """Name what a module imports, itself or through ours, that Python does not bring along."""
    seen.add(path)
    found: set[str] = set()
    for name in imports(path):
        top = name.split(".")[0]
        ours = our_file(name) if top == "ringwright" else None
        if ours is not None and ours not in seen:
            found |= strangers(ours, seen)
        elif top != "ringwright" and top not in ALLOWED:
            found.add(f"{path.name} imports {name}")
    return found


def test_there_are_pure_modules_to_watch() -> None:
    names = {path.relative_to(PACKAGE).as_posix() for path in PURE}

    assert {"core/errors.py", "parts/rules.py", "routecards/card.py", "sites/site.py"} <= names


@pytest.mark.parametrize("path", PURE, ids=module_name)
def test_every_pure_module_on_disk_is_in_the_contract(path: Path) -> None:
    assert covered(module_name(path), CONTRACTS["pure-core"]["source_modules"])


@pytest.mark.parametrize("path", PURE, ids=module_name)
def test_every_pure_module_stands_on_the_standard_library_alone(path: Path) -> None:
    assert strangers(path, set()) == set()


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_has_its_place_among_the_rooms(room: str) -> None:
    layers = " ".join(CONTRACTS["rooms"]["layers"])

    assert f"ringwright.{room}" in layers.replace("(", " ").replace(")", " ").split()
    assert covered(f"ringwright.{room}", CONTRACTS["inside-a-room"]["containers"])


def test_a_module_outside_the_contract_would_be_noticed() -> None:
    expressions = CONTRACTS["pure-core"]["source_modules"]

    assert covered("ringwright.parts.rules.holds", expressions)
    assert not covered("ringwright.parts.service", expressions)


def test_an_import_of_sql_through_another_module_would_be_noticed(tmp_path: Path) -> None:
    rules = tmp_path / "rules.py"
    rules.write_text("def late():\n    from ringwright.db import Base\n")

    found = strangers(rules, set())

    assert "db.py imports sqlalchemy.create_engine" in found
