"""Machining plans from TOML files; everything that is wrong is told at once, with its line."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final, TypeVar

from ringwright.core.errors import BadRows, Refused
from ringwright.core.fields import Fields, first_repeated, read_toml
from ringwright.machines.card import Fixture, MachiningFile, MachiningPlan, Need

MOST_HOURS: Final = 1000.0
MOST_ROWS: Final = 500
OF_OPERATION: Final = ("step", "set_up_hours", "spindle_hours", "machines", "fixture")
_Read = TypeVar("_Read")


def parse_machining(text: str, name: str = "") -> MachiningFile:
    """The plan of a TOML file; raises Refused, or BadRows with a line for each bad table."""
    file = read_toml(text, name or "machining plan")
    file.only("product", "operation", "fixture")
    problems: list[tuple[int, str]] = []
    product = file.code("product")
    needs = _each(file, text, "operation", _need, problems)
    fixtures = _each(file, text, "fixture", _fixture, problems)
    _check_together(needs, fixtures, problems)
    if problems:
        raise BadRows(problems)
    return MachiningFile(
        plan=MachiningPlan(product=product, needs=tuple(sorted(needs, key=lambda n: n.step))),
        fixtures=tuple(fixtures),
    )


def _each(
    file: Fields,
    text: str,
    key: str,
    read: Callable[[Fields], _Read],
    problems: list[tuple[int, str]],
) -> list[_Read]:
    """Every table of that name that can be read; what is wrong with the others."""
    if not file.has(key):
        return []
    tables = file.tables(key)
    if len(tables) > MOST_ROWS:
        file.refuse(f"holds more than {MOST_ROWS} tables [[{key}]]")
    lines = _lines_of(text, key)
    found: list[_Read] = []
    for place, table in enumerate(tables):
        line = lines[place] if place < len(lines) else 1
        try:
            found.append(read(Fields(table, f"[[{key}]] {place + 1}")))
        except Refused as refusal:
            problems.append((line, refusal.message))
    return found


def _lines_of(text: str, key: str) -> list[int]:
    wanted = f"[[{key}]]"
    return [
        number
        for number, line in enumerate(text.splitlines(), start=1)
        if line.split("#")[0].replace(" ", "").strip() == wanted
    ]


def _need(table: Fields) -> Need:
    table.only(*OF_OPERATION)
    machines = table.codes("machines")
    if not machines:
        table.refuse('name the machines that may do it (machines = ["VTL-1"])')
    if (twice := first_repeated(machines)) is not None:
        table.refuse(f"machine {twice} stands twice")
    return Need(
        step=table.whole("step"),
        set_up_h=_hours(table, "set_up_hours", nought=True),
        spindle_h=_hours(table, "spindle_hours"),
        machines=tuple(machines),
        fixture=table.optional_code("fixture") or "",
    )


def _hours(table: Fields, key: str, *, nought: bool = False) -> float:
    value = table.number(key)
    if (
        not math.isfinite(value)
        or value < 0
        or value > MOST_HOURS
        or (not nought and not value)
    ):
        least = "0" if nought else "above 0"
        table.refuse(f"{key} must be hours from {least} to {MOST_HOURS:.0f}")
    return value


def _fixture(table: Fields) -> Fixture:
    table.only("kind", "count", "name")
    count = table.whole("count", at_least=0)
    if count > MOST_ROWS:
        table.refuse(f"count must be {MOST_ROWS} at most")
    return Fixture(kind=table.code("kind"), count=count, name=table.text("name", ""))


def _check_together(
    needs: Sequence[Need],
    fixtures: Sequence[Fixture],
    problems: list[tuple[int, str]],
) -> None:
    if not needs and not problems:
        problems.append((1, "name the steps that are machined ([[operation]])"))
    if (twice := first_repeated([need.step for need in needs])) is not None:
        problems.append((1, f"step {twice} stands twice; each once"))
    if (twice := first_repeated([one.kind for one in fixtures])) is not None:
        problems.append((1, f"fixture {twice} stands twice; each once"))


def needs_from(data: Sequence[Mapping[str, Any]]) -> tuple[Need, ...]:
    """The needs as the record keeps them."""
    return tuple(Need(**{**one, "machines": tuple(one["machines"])}) for one in data)
