"""Furnaces and recipes of a practice site, as its real site has them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sqlalchemy import Connection

from ringwright.core.errors import Clash, Refused
from ringwright.core.facts import Entry
from ringwright.furnaces.facts import ColumnsKept, FurnaceFact, FurnaceProved, FurnaceSet
from ringwright.furnaces.queries import read_furnaces, read_recipes
from ringwright.furnaces.service import ReviseRecipe, revise_recipe
from ringwright.heat.recipe import Recipe
from ringwright.ledger.transaction import Draft, Tx, fetch_entries


def copy_furnaces(tx: Tx, real_id: int) -> None:
    """What each furnace is, what was proved of it last, and how its recorder writes.

    Uses of thermocouples are not copied: in a practice site nothing wears.
    """
    codes = list(read_furnaces(tx.connection, real_id))
    kind = FurnaceFact.subject_kind
    found = fetch_entries(tx.connection, tx.registry, real_id, kind, codes)
    for code, entries in found.items():
        for fact in _as_they_are(entries):
            history = tx.history(kind, code)
            if fact.payload() not in [entry.data for entry in _as_last(history)]:
                tx.append(Draft(fact=fact, subject=code, at_us=tx.now_us), history)


def _as_they_are(entries: Sequence[Entry]) -> Iterator[FurnaceFact]:
    kinds = {one.kind: one for one in (FurnaceSet, FurnaceProved, ColumnsKept)}
    for entry in _as_last(entries):
        yield kinds[entry.kind](**entry.data)


def _as_last(entries: Sequence[Entry]) -> list[Entry]:
    """The newest of each: the furnace first, then each kind of proof, then the columns."""
    found: dict[tuple[str, str], Entry] = {}
    for kind in (FurnaceSet.kind, FurnaceProved.kind, ColumnsKept.kind):
        for entry in entries:
            if entry.kind == kind:
                found[kind, entry.data.get("proof", {}).get("what", "")] = entry
    return list(found.values())


def copy_recipes(tx: Tx, real_id: int) -> list[str]:
    """Take the newest revisions in; those whose like has other content here, or no step.

    The cards they are for must be there already.
    """
    left = []
    for recipe in _newest(tx.connection, real_id):
        command = ReviseRecipe(recipe=recipe, key=None)
        try:
            revise_recipe(tx, command)
        except (Clash, Refused):
            left.append(f"{recipe.code} {recipe.revision}")
    return left


def _newest(connection: Connection, site_id: int) -> Iterator[Recipe]:
    for revisions in read_recipes(connection, site_id).values():
        yield revisions[-1]
