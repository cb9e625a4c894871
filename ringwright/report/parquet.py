"""The visits under a week's numbers as Parquet: typed, all of them, with what they are from."""

from __future__ import annotations

import io
import json
from typing import Any, Final

from ringwright.core.practice import WORD
from ringwright.report.model import Report, VisitLine

_MOMENTS: Final = ("ready_us", "begin_us", "end_us")
_SPANS: Final = ("pause_us", "touch_us", "queue_us")


def parquet_of(report: Report) -> bytes:
    """One row a visit that ended in the week; instants UTC, spans in whole microseconds.

    The head of the report stands in the file's own key-value metadata.
    """
    # Only here: it takes a third of a second to load.
    import pyarrow as pa
    import pyarrow.parquet as pq

    fields = [(name, _kind(pa, name)) for name in VisitLine.__dataclass_fields__]
    schema = pa.schema(
        [pa.field(_named(name), kind) for name, kind in fields], metadata=_head(report)
    )
    columns = [
        pa.array([getattr(visit, name) for visit in report.visits], pa.int64()).cast(kind)
        if name in _MOMENTS
        else pa.array([getattr(visit, name) for visit in report.visits], kind)
        for name, kind in fields
    ]
    kept = io.BytesIO()
    pq.write_table(pa.Table.from_arrays(columns, schema=schema), kept, compression="zstd")
    return kept.getvalue()


def _kind(pa: Any, name: str) -> Any:
    if name in _MOMENTS:
        return pa.timestamp("us", tz="UTC")
    if name in _SPANS:
        return pa.int64()
    return {"step": pa.int32(), "first": pa.bool_()}.get(name, pa.string())


def _named(name: str) -> str:
    """A moment is one in the file, so its unit falls from its name."""
    return f"{name.removesuffix('_us')}_at" if name in _MOMENTS else name


def _head(report: Report) -> dict[str, str]:
    """What the file is about, with the names of the API where it has them."""
    sheet, account, book = report.sheet, report.strip.account, report.book
    head = {
        "product": report.product,
        "week": sheet.week,
        "site": sheet.site,
        "zone": sheet.zone,
        "cut_off": book.cut_off,
        "head_seq": str(sheet.head_seq),
        "head_hash": sheet.head_hash,
        "filter": json.dumps(book.filters, ensure_ascii=False),
        "rows": str(len(report.visits)),
        "reconciliation": book.reconciliation[0],
        "account": json.dumps(
            {name: getattr(account, name) for name in account.__dataclass_fields__}
        ),
    }
    return {WORD: book.practice, **head} if book.practice else head
