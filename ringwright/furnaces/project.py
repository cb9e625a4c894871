"""The facts of furnaces, recipes and runs into the rows of `tables.py`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

from sqlalchemy import Table

from ringwright.core.facts import Entry
from ringwright.db import table_of
from ringwright.furnaces.rules import Batch, Run, fold
from ringwright.furnaces.tables import (
    FurnaceNow,
    FurnaceProof,
    FurnaceRun,
    RecipeRevision,
    RunPart,
)
from ringwright.ledger.projecting import Plain, Row, Rows

COLUMNS: Final = frozenset({"code", "furnace", "recipe", "revision", "state", "last_seq"})
"""Fields of a run with a column of their own."""


class FurnaceProjector(Plain):
    """The furnace as it is set, and every proof of it."""

    subject_kind = "furnace"
    tables: tuple[Table, ...] = (table_of(FurnaceNow), table_of(FurnaceProof))

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row for the furnace, one a proof."""
        del lens
        proofs: list[Row] = []
        last: dict[str, Entry] = {}
        renewed: dict[str, int] = {}
        for entry in entries:
            last[entry.kind] = entry
            if entry.kind == "thermocouple-renewed":
                renewed[entry.data["channel"]] = entry.at_us
            elif entry.kind == "furnace-proved":
                proof = entry.data["proof"]
                when = (entry.seq, entry.at_us, entry.known_us, entry.actor)
                proofs.append((site_id, subject, *when, proof["what"], _text(proof)))
        columns = (
            last["recorder-columns"].data["columns"] if "recorder-columns" in last else None
        )
        set_ = last["furnace-set"]
        now = (site_id, subject, set_.seq, _text(set_.data["furnace"]))
        return {
            "furnace_now": [(*now, _text(columns), _text(renewed))],
            "furnace_proof": proofs,
        }


class RecipeProjector(Plain):
    """Every revision of a recipe."""

    subject_kind = "recipe"
    tables: tuple[Table, ...] = (table_of(RecipeRevision),)

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row a revision."""
        del lens
        rows: list[Row] = []
        for entry in entries:
            recipe = entry.data["recipe"]
            told = (recipe["revision"], entry.known_us, entry.actor, _text(recipe))
            rows.append((site_id, subject, entry.seq, *told))
        return {"recipe_revision": rows}


class RunProjector(Plain):
    """A run as it stands, and its load."""

    subject_kind = "run"
    tables: tuple[Table, ...] = (table_of(FurnaceRun), table_of(RunPart))

    def rows(self, site_id: int, subject: str, entries: Sequence[Entry], lens: Any) -> Rows:
        """One row for the run, one for each part in it."""
        del lens
        run = fold(subject, entries)
        first = entries[0]
        rest = {name: value for name, value in asdict(run).items() if name not in COLUMNS}
        row = (
            site_id, subject, run.furnace, run.recipe, run.revision, run.state, first.at_us,
            run.started_us, run.ended_us, first.seq, run.last_seq, _text(rest),
        )  # fmt: skip
        parts: list[Row] = [
            (site_id, subject, serial, run.steps[serial], position)
            for serial, position in run.load.items()
        ]
        return {"furnace_run": [row], "run_part": parts}


def run_of(row: Any) -> Run:
    """The run of a stored row."""
    rest = json.loads(row.data)
    batches = [Batch(**one) for one in rest.pop("batches")]
    return Run(
        row.code,
        furnace=row.furnace,
        recipe=row.recipe,
        revision=row.revision,
        state=row.state,
        last_seq=row.last_seq,
        batches=batches,
        **rest,
    )


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


PROJECTORS = (FurnaceProjector(), RecipeProjector(), RunProjector())
