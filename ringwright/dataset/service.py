"""Write a site's parts, visits and readings as a Parquet data set, with its manifest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from sqlalchemy import func, select

from ringwright.core.calendar import iso_text, week_window
from ringwright.core.weeks import week_before, week_of
from ringwright.dataset import queries
from ringwright.dataset.folder import manifest_name, replacing, site_folder
from ringwright.dataset.parquet import (
    FILE,
    SCHEMAS,
    Written,
    schema_of,
    write_file,
    write_months,
)
from ringwright.flow.moment import to_the_minute
from ringwright.flow.queries import MOMENTS, Window, believed, life_counts
from ringwright.flow.service import moment_of, read_wips
from ringwright.ledger.service import Read
from ringwright.parts.tables import Life
from ringwright.routecards.queries import Revision, read_revisions

SHAPE: Final = 1
"""Which columns the tables have; goes up when one changes its meaning or goes."""
ROWS_AT_A_TIME: Final = 10_000
SOURCES: Final = {
    "parts": queries.parts,
    "visits": queries.visits,
    "readings": queries.readings,
}
REVISIONS: Final = ("product", "revision", "name", "effective_at", "place", "target", "plan_h")
STEPS: Final = (
    *("product", "revision", "place", "step", "name", "kind", "planned_h", "queue_h"),
    "last",
)
WEEKS: Final = ("week", "week_from", "week_to", "counted_to", "in_force_at")


def write_dataset(read: Read, folder: Path) -> dict[str, Any]:
    """Replace the site's part of the data set in a folder; answers its manifest.

    Raises Refused for a folder that holds something else or cannot be written.
    """
    read, site = to_the_minute(read), read.site.code
    with replacing(folder, site) as aside:
        written = {table: list(files) for table, files in _tables(read, aside)}
        manifest = _manifest(read, aside, written)
        text = json.dumps(manifest, indent=1, ensure_ascii=False, sort_keys=True)
        (aside / manifest_name(site)).write_text(text + "\n", encoding="utf-8", newline="")
    return manifest


def _tables(read: Read, aside: Path) -> Iterator[tuple[str, Iterable[Written]]]:
    here = site_folder(read.site.code)
    for table, rows_of in SOURCES.items():
        rows = _streamed(read, rows_of(read))
        yield table, write_months(aside, f"{table}/{here}", SCHEMAS[table], rows)
    revisions = read_revisions(read.connection, read.site.id)
    small = {
        "revisions": (REVISIONS, map(_revision_row, revisions)),
        "steps": (STEPS, (row for one in revisions for row in _step_rows(one))),
        "weeks": (WEEKS, _week_rows(read)),
    }
    for table, (columns, listed) in small.items():
        path = f"{table}/{here}/{FILE}"
        rows_n = write_file(aside / path, schema_of(columns), listed)
        yield table, [Written(path=path, rows=rows_n)]


def _streamed(read: Read, query: Any) -> Iterator[Sequence[Any]]:
    """Rows as they come: a data set may be larger than the memory."""
    options = {"stream_results": True, "yield_per": ROWS_AT_A_TIME}
    yield from read.connection.execute(query, execution_options=options)


def _revision_row(one: Revision) -> tuple[Any, ...]:
    card = one.card
    return (
        *(one.product, one.revision, card.name, one.effective_us, one.number),
        *(card.target_per_week, card.plan_h),
    )


def _step_rows(one: Revision) -> Iterator[tuple[Any, ...]]:
    for place, step in enumerate(one.card.steps, 1):
        yield (
            *(one.product, one.revision, place, step.number, step.name, step.kind),
            *(step.planned_hours, step.queue_hours, step.number == one.card.last),
        )


def _week_rows(read: Read) -> Iterator[tuple[Any, ...]]:
    """Every site week from the first part to the cut-off, in the order of time."""
    first = select(func.min(Life.created_us)).where(believed(read, Life))
    first_us = read.connection.execute(first).scalar()
    if first_us is None:
        return
    zone, starts = read.site.zone, read.site.week_starts
    week, last = week_of(first_us, zone, starts), week_of(read.now_us, zone, starts)
    while week_window(week, zone, starts)[0] <= week_window(last, zone, starts)[0]:
        start_us, end_us = week_window(week, zone, starts)
        until_us, in_force_us = min(end_us, moment_of(read)), min(end_us - 1, read.now_us)
        yield week, start_us, end_us, until_us, in_force_us
        week = week_before(week, -1)


def _manifest(read: Read, aside: Path, written: dict[str, list[Written]]) -> dict[str, Any]:
    return {
        "shape": SHAPE,
        "site": read.site.code,
        "site_name": read.site.name,
        "practice_of": read.site.practice_of,
        "zone": read.site.zone,
        "filter": "every product",
        "cut_off": iso_text(read.now_us, "UTC"),
        "as_of": read.as_of_us is not None,
        "head": {"entry": read.head_seq, "hash": read.head_hash},
        "rows": {table: sum(one.rows for one in files) for table, files in written.items()},
        "account": _account(read),
        "files": [
            {**asdict(one), "sha256": _digest(aside / one.path)}
            for files in written.values()
            for one in files
        ],
    }


def _account(read: Read) -> dict[str, Any]:
    """Opening + created = released + scrapped + used + closing, over the whole record.

    Closing is counted where the parts stand; the others from when they came and went. What was
    reopened stands as open, since the data set holds each part as it is believed to be.
    """
    products = tuple(sorted({one.product for one in read_revisions(*_site(read))}))
    whole = Window(products=products, start_us=0, end_us=moment_of(read))
    counts = dict.fromkeys(MOMENTS, 0)
    for row in read.connection.execute(life_counts(read, whole)):
        counts[row.moment] += row.parts
    standing = read_wips(read, products, moment_of(read))
    closing = sum(sum(steps.values()) for steps in standing.values())
    gone = counts["released"] + counts["scrapped"] + counts["used"]
    balances = counts["created"] == gone + closing
    return {"opening": 0, "reopened": 0, **counts, "closing": closing, "balances": balances}


def _site(read: Read) -> tuple[Any, int]:
    return read.connection, read.site.id


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
