"""Rows into Parquet files, a month a file, by pyarrow; the same rows give the same bytes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby, islice
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from ringwright.dataset.queries import PART_COLUMNS, READING_COLUMNS, VISIT_COLUMNS
from ringwright.db import FOREVER_US

ROWS_A_GROUP: Final = 50_000
"""Rows held at a time, and those of one row group: what bounds the memory."""
FILE: Final = "part-0.parquet"
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
TEXT: Final = pa.string()
INSTANT: Final = pa.timestamp("us", tz="UTC")
TYPES: Final = {
    **dict.fromkeys(("visit", "step", "next_step", "skipped", "found_step"), pa.int32()),
    **dict.fromkeys(("caused_step", "reading", "repeats", "place"), pa.int32()),
    **dict.fromkeys(("touch_us", "queue_us", "pause_us", "cycle_us"), pa.int64()),
    **dict.fromkeys(
        ("value", "uncertainty", "planned_h", "plan_h", "queue_h", "target"), pa.float64()
    ),
    **dict.fromkeys(("first", "inside", "last"), pa.bool_()),
}
"""The type of each column that is neither a text nor an instant (`at`, `…_at`, `…_from`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One file of the data set: its path within the set, and its rows."""

    path: str
    rows: int


def schema_of(columns: Sequence[str]) -> pa.Schema:
    """The columns with their types, told by their names."""
    return pa.schema([(name, _type_of(name)) for name in columns])


def _type_of(name: str) -> pa.DataType:
    if name in TYPES:
        return TYPES[name]
    return INSTANT if name.rpartition("_")[2] in {"at", "from", "to"} else TEXT


SCHEMAS: Final = {
    "parts": schema_of(PART_COLUMNS),
    "visits": schema_of(VISIT_COLUMNS),
    "readings": schema_of(READING_COLUMNS),
}


def month_of(at_us: int) -> str:
    """The month in UTC, as 2026-10."""
    return (EPOCH + timedelta(microseconds=at_us)).strftime("%Y-%m")


def write_months(
    folder: Path, within: str, schema: pa.Schema, rows: Iterable[Any]
) -> Iterator[Written]:
    """Lay rows that come in the order of their first column, an instant [us], into months."""
    for month, some in groupby(rows, lambda row: month_of(row[0])):
        path = f"{within}/month={month}/{FILE}"
        yield Written(path=path, rows=write_file(folder / path, schema, _after_first(some)))


def _after_first(rows: Iterable[Any]) -> Iterator[Sequence[Any]]:
    return (row[1:] for row in rows)


def write_file(path: Path, schema: pa.Schema, rows: Iterable[Sequence[Any]]) -> int:
    """Write one file in groups of rows; answers how many rows it has."""
    path.parent.mkdir(parents=True, exist_ok=True)
    written, source = 0, iter(rows)
    with pq.ParquetWriter(path, schema, compression="zstd") as file:
        while some := list(islice(source, ROWS_A_GROUP)):
            file.write_table(_table(schema, some), row_group_size=ROWS_A_GROUP)
            written += len(some)
    return written


def _table(schema: pa.Schema, rows: Sequence[Sequence[Any]]) -> pa.Table:
    columns = zip(*rows, strict=True)
    arrays = [_array(values, one.type) for values, one in zip(columns, schema, strict=True)]
    return pa.Table.from_arrays(arrays, schema=schema)


def _array(values: Sequence[Any], kind: pa.DataType) -> pa.Array:
    if kind != INSTANT:
        return pa.array(values, kind)
    ends = [None if value == FOREVER_US else value for value in values]
    return pa.array(ends, pa.int64()).cast(INSTANT)
