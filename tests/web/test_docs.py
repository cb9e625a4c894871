"""What exists is written down, and what is written down exists."""

from __future__ import annotations

import argparse
import inspect
import json
import re
import shlex
import subprocess
import tomllib
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import pytest
from pydantic import BaseModel
from starlette.routing import Route
from starlette.testclient import TestClient

from ringwright.assembly import registry
from ringwright.cli import _parser, main
from ringwright.core.glossary import GLOSSARY
from ringwright.flow import queries
from ringwright.flow.api import (
    CohortOut,
    CycleTimeOut,
    ForecastOut,
    ProportionOut,
    StepOut,
    WeekOut,
)
from ringwright.people.rules import PERMISSIONS
from ringwright.routecards import card
from ringwright.settings import Settings, read_settings
from ringwright.sites import site
from ringwright.web import health
from ringwright.web.factory import create_app, room_routers

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
DECISIONS = sorted((ROOT / "docs" / "decisions").glob("*.md"))
PAPERS = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")]
PAPERS += [ROOT / "docs" / "guide.md", ROOT / "docs" / "operating.md", *DECISIONS]
PAPERS += [ROOT / "SECURITY.md"]
MARKERS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["pytest"]["ini_options"]
NUMBERS = (WeekOut, StepOut, CycleTimeOut, CohortOut, ForecastOut)
IN_FILES = (card.Step, card.Characteristic, card.Window, card.ReworkCard)
IN_FILES += (site.Shift, site.Station, site.Person, site.Authorisation)  # type: ignore[assignment]
BELOW_THEIR_TABLE = {"characteristics": "step.characteristic", "window": "window"}


def verbs(parser: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its parser: "load history" for one below another."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, sub in action.choices.items():
                inner = [(f"{name} {below}", found) for below, found in verbs(sub)]
                yield from inner or [(name, sub)]


def block(paper: str, language: str, place: int = 0) -> str:
    """A fenced piece of a paper."""
    found: list[str] = re.findall(rf"```{language}\n(.*?)```", paper, re.S)
    return found[place]


def row_of(paper: str, start: str) -> str:
    """The row of a table whose first cell begins so."""
    found = re.search(rf"^\| `{re.escape(start)}\b.*$", paper, re.M)
    assert found, f"no row begins with {start}"
    return found[0]


def tracked() -> list[Path]:
    """Every file of the repository; skips outside a checkout."""
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in listed.stdout.splitlines()]


@pytest.mark.parametrize(
    ("verb", "parser"), [pytest.param(*v, id=v[0]) for v in verbs(_parser())]
)
def test_every_command_and_option_is_documented(
    verb: str, parser: argparse.ArgumentParser
) -> None:
    row = row_of(README, f"ringwright {verb}")
    options = {name for action in parser._actions for name in action.option_strings}
    assert f"`{verb}`" in DEVELOPERS
    assert {name for name in options - {"-h", "--help", "--site"} if name not in row} == set()
    assert "--site CODE" in README


def test_no_command_is_documented_that_is_not_there() -> None:
    named = re.findall(r"^\| `ringwright ((?:load )?\w+)", README, re.M)
    assert sorted(named) == sorted(verb for verb, _ in verbs(_parser()))


def test_every_setting_is_documented() -> None:
    places = [ROOT / "docker-compose.yml", *(ROOT / "deploy").iterdir()]
    places += [*(ROOT / "scripts").glob("*.*"), ROOT / "ringwright" / "settings.py"]
    read = "".join(place.read_text() for place in places if place.is_file())
    names = {f"RINGWRIGHT_{name.upper()}" for name in Settings.__dataclass_fields__}
    names |= set(re.findall(r"RINGWRIGHT_[A-Z]+(?:_[A-Z]+)*", read))
    assert {name for name in names if f"`{name}`" not in DEVELOPERS} == set()


@pytest.mark.parametrize("kind", registry().kinds(), ids=" ".join)
def test_every_fact_is_documented(kind: tuple[str, str]) -> None:
    assert f"`{kind[1]}`" in DEVELOPERS


@pytest.mark.parametrize("permission", list(PERMISSIONS))
def test_every_permission_is_documented(permission: str) -> None:
    assert f"`{permission}`" in DEVELOPERS


@pytest.mark.parametrize("model", NUMBERS, ids=lambda model: model.__name__)
def test_every_number_of_the_week_is_documented(model: type[BaseModel]) -> None:
    names = [field.alias or name for name, field in model.model_fields.items()]
    assert [name for name in names if f"`{name}`" not in DEVELOPERS] == []
    assert set(ProportionOut.model_fields) == {"value", "low", "high", "n"}


def test_every_number_s_select_is_documented_and_every_named_function_exists() -> None:
    selects = [
        name
        for name, made in inspect.getmembers(queries, inspect.isfunction)
        if made.__module__ == queries.__name__ and made.__annotations__["return"] == "Sql"
    ]
    shown = [name for name in selects if not name.startswith("_")]
    assert len(shown) > 8
    assert [name for name in shown if f"`{name}`" not in DEVELOPERS] == []

    part = DEVELOPERS.split("## The numbers")[1].split("\n## ")[0]
    last_cells = re.findall(r"^\|.*\|.*\| ([^|]*) \|$", part, re.M)
    named = {name for cell in last_cells for name in re.findall(r"`(\w+)`", cell)}
    sources = "".join(path.read_text() for path in (ROOT / "ringwright").rglob("*.py"))
    assert {name for name in named if f"def {name}(" not in sources} == set()


def test_every_address_is_documented() -> None:
    routers = [*room_routers(), health.router]
    routes = [route for router in routers for route in router.routes]
    reads = [r for r in routes if isinstance(r, Route) and "GET" in (r.methods or ())]
    paths = {re.sub(r":\w+}", "}", route.path) for route in reads} | {"/api/bookings"}
    assert len(paths) > 10
    assert {path for path in paths if f"`{path}`" not in DEVELOPERS} == set()


def test_every_room_and_marker_is_documented() -> None:
    inits = (ROOT / "ringwright").glob("*/__init__.py")
    rooms = {init.parent.name for init in inits} - {"migrations"}
    assert {room for room in rooms if f"| `{room}/` |" not in DEVELOPERS} == set()
    markers = {marker.split(":")[0] for marker in MARKERS["markers"]}
    assert {marker for marker in markers if f"| `{marker}` |" not in DEVELOPERS} == set()


@pytest.mark.parametrize("thing", IN_FILES, ids=lambda thing: thing.__name__)
def test_every_field_of_the_files_is_in_the_guide(thing: type) -> None:
    names = [BELOW_THEIR_TABLE.get(field.name, field.name) for field in fields(thing)]
    assert [name for name in names if not re.search(rf"\b{name}\b", GUIDE)] == []


@pytest.mark.parametrize(
    "codes", [site.ROLES, card.STEP_KINDS, card.FAMILIES, card.ROLES_OF_CHARACTERISTIC]
)
def test_every_code_that_a_file_may_hold_is_in_the_guide(codes: tuple[str, ...]) -> None:
    assert [code for code in codes if f"`{code}`" not in GUIDE] == []


def test_the_readme_says_each_word_as_the_glossary_does() -> None:
    table = dict(re.findall(r"^\| ([^|]+?) \| ([^|]+?) \|$", README.split("## Words")[1], re.M))
    del table["word"]
    assert table == dict(GLOSSARY)


def test_the_readme_begins_with_the_job_and_then_the_two_commands() -> None:
    title, job, commands = README.split("\n\n")[:3]
    assert title == "# Ringwright"
    assert len(job.split()) > 50
    assert commands == "## Two commands"
    assert re.findall(r"^\./\w+", block(README, ""), re.M) == ["./start", "./check"]


def test_every_picture_is_shown_once_small_and_there() -> None:
    shown = re.findall(r"docs/pictures/[\w-]+\.png", README)
    there = [f"docs/pictures/{path.name}" for path in (ROOT / "docs/pictures").iterdir()]
    assert len(shown) >= 4
    assert sorted(shown) == sorted(there)
    assert all((ROOT / picture).stat().st_size < 100_000 for picture in shown)


@pytest.mark.parametrize("paper", PAPERS, ids=lambda path: path.name)
def test_what_a_paper_points_at_is_there(paper: Path) -> None:
    text = paper.read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
    assert [link for link in links if not (paper.parent / link).exists()] == []
    ours = re.findall(r"`((?:[\w.-]+/)+[\w.-]+\.(?:py|html|js|md|toml|in|txt))`", text)
    gone = [n for n in ours if not any((ROOT / up / n).exists() for up in (".", "ringwright"))]
    assert gone == []
    anchors = {re.sub(r"[^\w-]", "", h.lower().replace(" ", "-")) for h in _headings(text)}
    assert set(re.findall(r"\]\(#([^)]+)\)", text)) <= anchors


def _headings(text: str) -> list[str]:
    return re.findall(r"^#+ (.+)$", text, re.M)


@pytest.mark.parametrize("paper", DECISIONS, ids=lambda path: path.name)
def test_a_decision_says_why_what_follows_and_what_else_there_was(paper: Path) -> None:
    title, *parts = _headings(paper.read_text(encoding="utf-8"))
    assert title.startswith(f"{int(paper.name[:4])}. ")
    assert parts == ["Context", "Decision", "Consequences", "Alternatives"]
    assert [int(path.name[:4]) for path in DECISIONS] == list(range(1, len(DECISIONS) + 1))


@pytest.fixture
def shop_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the README's three files, its store chosen as the README says."""
    (tmp_path / "site.toml").write_text(block(README, "toml"), encoding="utf-8")
    (tmp_path / "route.toml").write_text(block(README, "toml", 1), encoding="utf-8")
    (tmp_path / "history.csv").write_text(block(README, "csv"), encoding="utf-8")
    url = re.search(r"^export RINGWRIGHT_DATABASE_URL=(\S+)$", README, re.M)
    assert url
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", url[1])
    return tmp_path


def readme_commands() -> list[list[str]]:
    """The README's own commands on a cell of one's own, but for the last, which serves."""
    lines = re.findall(r"^\.venv/bin/ringwright (.+)$", README, re.M)
    assert lines[-1] == "serve"
    return [shlex.split(line) for line in lines[:-1]]


@pytest.mark.usefixtures("shop_folder")
def test_the_readme_s_own_cell_loads_and_gives_the_number_it_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert [main(command) for command in readme_commands()] == [0, 0, 0, 0]
    said = capsys.readouterr().out.splitlines()
    assert f"The fifth line answers `{said[-1]}`" in README
    assert "1 out of 40 released" in said[-1]


@pytest.mark.usefixtures("shop_folder")
def test_the_readme_s_calls_of_the_api_are_answered(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for command in readme_commands():
        main(command)
    capsys.readouterr()
    main(["token", "--role", "supervisor"])
    token = capsys.readouterr().out.splitlines()[-1]
    api = block(README.split("## The API")[1], "")
    body = re.search(r"-d '(.+)'", api)
    asked = re.findall(r'http://127\.0\.0\.1:8321(/api/[^\s"]+)', api)
    assert body
    assert len(asked) == 3

    app = create_app(read_settings())
    client = TestClient(app, headers={"Authorization": f"Bearer {token}"})
    booked = client.post(asked[0], json=json.loads(body[1]))
    read = [client.get(path) for path in asked[1:]]
    app.state.ledger.store.close()
    assert [booked.status_code, *(answer.status_code for answer in read)] == [200, 200, 200]
    assert read[0].json()["place"] == "waiting"


def test_the_guide_s_files_load(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("RINGWRIGHT_DATABASE_URL", f"sqlite:///{tmp_path / 'guide.sqlite'}")
    kinds = ("site", "route", "history")
    texts = (block(GUIDE, "toml"), block(GUIDE, "toml", 1), block(GUIDE, "csv"))
    for kind, text in zip(kinds, texts, strict=True):
        (tmp_path / kind).write_text(text, encoding="utf-8")
        assert main(["load", kind, str(tmp_path / kind)]) == 0
    assert "8 events added" in capsys.readouterr().out


def test_the_repository_speaks_of_the_project_alone() -> None:
    # In two pieces, so that this file itself does not hold them.
    pieces = (("/wo", "rk/"), ("/tmp/", "rw"), ("pypi.", "org"), ("pythonhosted.", "org"))
    more = (("registry.npm", "js"), ("sha", "red/"), ("/home/", "u"), ("/ro", "ot/"))
    forbidden = ["".join(pair) for pair in (*pieces, *more)]
    found = []
    for path in tracked():
        try:
            text = path.read_text(encoding="utf-8")
        except (UnicodeDecodeError, OSError):
            continue
        found += [(path.name, word) for word in forbidden if word in text]
    assert found == []
