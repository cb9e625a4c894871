"""What exists is written down, and what is written down exists."""

from __future__ import annotations

import argparse
import re
import subprocess
from pathlib import Path

import pytest
from starlette.routing import Route

from ringwright.assembly import registry
from ringwright.cli import _parser
from ringwright.core.glossary import GLOSSARY
from ringwright.flow.api import WeekOut
from ringwright.people.rules import PERMISSIONS
from ringwright.settings import Settings
from ringwright.web.factory import room_routers

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")


def verbs(parser: argparse.ArgumentParser) -> list[str]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found = []
            for name, sub in action.choices.items():
                inner = verbs(sub)
                found += [f"{name} {one}" for one in inner] or [name]
            return found
    return []


@pytest.mark.parametrize("verb", verbs(_parser()))
def test_every_command_is_in_both_documents(verb: str) -> None:
    assert f"ringwright {verb}" in README
    assert f"`{verb}`" in DEVELOPERS


@pytest.mark.parametrize("name", list(Settings.__dataclass_fields__))
def test_every_setting_is_documented(name: str) -> None:
    assert f"RINGWRIGHT_{name.upper()}" in DEVELOPERS


@pytest.mark.parametrize("kind", registry().kinds())
def test_every_fact_is_documented(kind: tuple[str, str]) -> None:
    assert f"`{kind[1]}`" in DEVELOPERS


@pytest.mark.parametrize("permission", list(PERMISSIONS))
def test_every_permission_is_documented(permission: str) -> None:
    assert f"`{permission}`" in DEVELOPERS


@pytest.mark.parametrize("field", [f.alias or n for n, f in WeekOut.model_fields.items()])
def test_every_number_of_the_week_is_documented(field: str) -> None:
    assert f"`{field}`" in DEVELOPERS


def test_every_page_without_a_place_in_its_path_is_documented() -> None:
    routes = [route for router in room_routers() for route in router.routes]
    gets = [r for r in routes if isinstance(r, Route) and "GET" in (r.methods or ())]
    paths = [route.path for route in gets if "{" not in route.path]
    named = [path for path in paths if not path.startswith(("/api", "/live")) and path != "/"]
    assert named
    top = {"/" + path.split("/")[1] for path in named}
    assert all(f"`{path}`" in DEVELOPERS for path in top)


def test_the_readme_says_each_word_as_the_glossary_does() -> None:
    table = dict(re.findall(r"^\| ([^|]+?) \| ([^|]+?) \|$", README.split("## Words")[1], re.M))
    del table["word"]
    assert table == dict(GLOSSARY)


def test_the_readme_s_pictures_are_there() -> None:
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert len(pictures) >= 3
    assert all((ROOT / picture).is_file() for picture in pictures)


def test_the_guide_s_files_can_be_loaded() -> None:
    from ringwright.bench.history import read_csv
    from ringwright.routecards.toml import parse_route
    from ringwright.sites.toml import parse_site

    site, route = re.findall(r"```toml\n(.*?)```", GUIDE, re.S)
    history = re.search(r"```\n(at,serial.*?)```", GUIDE, re.S)
    assert history
    assert parse_site(site, "guide").people[0].authorisations == ("self-inspection",)
    assert parse_route(route, "guide").order == (10, 20)
    assert len(list(read_csv(history[1]))) == 3


def test_the_repository_speaks_of_the_project_alone() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    # In two pieces, so that this file itself does not hold them.
    pieces = (("/wo", "rk/"), ("/tmp/", "rw"), ("pypi.", "org"), ("registry.npm", "js"))
    forbidden = ["".join(pair) for pair in (*pieces, ("../sha", "red"))]
    found = []
    for name in listed.stdout.splitlines():
        try:
            text = (ROOT / name).read_text(encoding="utf-8")
        except (UnicodeDecodeError, OSError):
            continue
        found += [(name, word) for word in forbidden if word in text]
    assert found == []
