"""Furnace runs over HTTP: readings of a recorder, and one run as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

import numpy as np
from fastapi import APIRouter, Body, Path
from pydantic import BaseModel, ConfigDict, Field

from ringwright.core.calendar import iso_text, parse_instant
from ringwright.core.errors import Refused
from ringwright.furnaces.queries import read_furnace
from ringwright.furnaces.rules import Run
from ringwright.heat.reading import merged
from ringwright.heat.trace import Floats, Trace
from ringwright.heatruns.breaks import PRESSURE
from ringwright.heatruns.readings import KeepReadings
from ringwright.heatruns.run_board import known_run
from ringwright.kit.problems import answer, problems
from ringwright.ledger.service import Read
from ringwright.people.deps import Bearer, Signed

router = APIRouter(prefix="/api", tags=["furnace runs"])

MOST_ROWS: Final = 5_000
MOST_CHANNELS: Final = 64
SOURCE: Final = "API"
PRINTED: Final[dict[str, Any]] = {"pattern": r"^[^\x00-\x1f\x7f-\x9f]+$"}
ROW: Final[dict[str, Any]] = {
    "type": "array",
    "prefixItems": [{"type": "string", "format": "date-time"}],
    "items": {"anyOf": [{"type": "number"}, {"type": "null"}]},
    "minItems": 2,
    "maxItems": MOST_CHANNELS + 1,
}
"""One row: its time, then a figure or null for each channel."""
RunCode = Annotated[str, Path(alias="run", examples=["HF-1-0001"])]
Key = Annotated[str, Field(min_length=1, max_length=200, json_schema_extra=PRINTED)]
Channel = Annotated[str, Field(min_length=1, max_length=80, json_schema_extra=PRINTED)]
Cell = str | float | None
Row = Annotated[
    list[Cell], Field(min_length=2, max_length=MOST_CHANNELS + 1, json_schema_extra=ROW)
]
KEEP: Final = {
    "two": {
        "summary": "Two samples of a cycle under way; tc2 was silent in the second",
        "value": {
            "key": "recorder-1-000117",
            "channels": ["tc1_c", "tc2_c"],
            "rows": [
                ["2026-10-01T12:00:10+02:00", 24.6, 25.1],
                ["2026-10-01T12:00:20+02:00", 31.2, None],
            ],
        },
    }
}
LOADED: Final[dict[str, Any]] = {
    "run": "HF-1-0001",
    "furnace": "HF-1",
    "recipe": "SLOW",
    "revision": "1",
    "state": "running",
    "load": [{"serial": "B-1042", "position": "left"}],
    "entry": 40218,
}
STANDING: Final[dict[str, Any]] = {
    **LOADED,
    "started": "2026-10-01T12:00:00+02:00",
    "ended": None,
    "readings": [
        {
            "source": SOURCE,
            "first": "2026-10-01T12:00:10+02:00",
            "last": "2026-10-01T12:00:20+02:00",
            "samples": 2,
        }
    ],
    "judgement": None,
    "accepted_by": None,
}


class ReadingsIn(BaseModel):
    """Readings of a run, one batch of many. A repeated key answers as it did first."""

    model_config = ConfigDict(extra="forbid", strict=True)

    key: Key
    channels: Annotated[list[Channel], Field(min_length=1, max_length=MOST_CHANNELS)]
    """`tc1_c`, `tc2_c` … in degC as the furnace has them, `pressure_kpa` as gauge pressure."""
    rows: Annotated[list[Row], Field(min_length=1, max_length=MOST_ROWS)]
    """`[at, value, …]`: `at` ISO 8601 with offset, a figure or null for each channel."""


class LoadOut(BaseModel):
    """A part in the load and where it lies."""

    serial: str
    position: str


class RunOut(BaseModel):
    """A run as its commands answer it."""

    run: str
    furnace: str
    recipe: str
    revision: str
    state: str
    load: list[LoadOut]
    entry: int
    """Its last entry."""


class KeptOut(RunOut):
    """The run after readings were kept with it."""

    samples: int


class BatchOut(BaseModel):
    """Readings that were kept together."""

    source: str
    first: str
    last: str
    samples: int


class SegmentOut(BaseModel):
    """One segment as it was judged."""

    name: str
    start: str | float | None
    minutes: float | None
    min_c: float | None
    max_c: float | None
    spread_c: float | None
    out_of_band_minutes: float | None
    met: bool
    why: str


class JudgementOut(BaseModel):
    """What the trace says of the cycle, as `ringwright furnace --json`."""

    verdict: str
    segments: list[SegmentOut]
    channels_failed: list[str]


class RunStanding(RunOut):
    """A run with its times, its readings and what they say."""

    started: str | None
    ended: str | None
    readings: list[BatchOut]
    judgement: JudgementOut | None
    accepted_by: str | None


@router.post(
    "/furnace/runs/{run:path}/readings",
    name="heatruns.keep_api",
    summary="Keep readings with a furnace run",
    response_model=KeptOut,
    responses=answer({**LOADED, "samples": 2}) | problems(401, 403, 404, 409, 422),
)
def keep(
    caller: Signed, code: RunCode, order: Annotated[ReadingsIn, Body(openapi_examples=KEEP)]
) -> Any:
    """Keep readings with a run whose cycle has begun; one that has ended is judged at once."""
    with caller.ledger.read(caller.site) as read:
        channels = _channels_of(read, known_run(read, code))
    trace = _trace(order, channels)
    command = KeepReadings(run=code, key=order.key, trace=trace, source=SOURCE)
    return caller.ledger.execute(caller.site, command, caller.actor)


def _channels_of(read: Read, run: Run) -> tuple[str, ...]:
    past = read_furnace(read.connection, read.site.id, run.furnace)
    own = () if past is None else past.furnace.channels
    return (*(one.code for one in own), PRESSURE)


def _trace(order: ReadingsIn, known: Sequence[str]) -> Trace:
    """The readings sorted; raises Refused for a channel or row that cannot be."""
    names = order.channels
    strange = [name for name in names if name not in known]
    if strange or len(set(names)) < len(names):
        told = f"no channel {strange[0][:40]!r}" if strange else "a channel twice"
        raise Refused(f"the furnace has {told}; its channels are {', '.join(known)[:300]}")
    at_s = np.empty(len(order.rows))
    read = np.empty((len(order.rows), len(names)))
    for place, row in enumerate(order.rows):
        at_s[place] = _instant_s(place, row)
        read[place] = _figures(place, row, len(names))
    columns = dict(zip(names, read.T, strict=True))
    pressure = columns.pop(PRESSURE, None)
    return merged([Trace(at_s=at_s, temperatures_c=columns, pressure_kpa=pressure)])


def _instant_s(place: int, row: Sequence[Cell]) -> float:
    at = row[0]
    if not isinstance(at, str):
        raise Refused(f"row {place}: the time comes first, as ISO 8601 text with its offset")
    try:
        return parse_instant(at) / 1e6
    except ValueError as trouble:
        raise Refused(f"row {place}: {trouble}") from None


def _figures(place: int, row: Sequence[Cell], count: int) -> Floats:
    """A row's readings, NaN where it is null; raises Refused for what is none."""
    values = row[1:]
    if len(values) != count:
        raise Refused(f"row {place}: {len(values)} readings for {count} channels")
    if any(isinstance(value, str) for value in values):
        raise Refused(f"row {place}: a reading is a figure or null")
    found = np.array([np.nan if value is None else value for value in values], dtype=float)
    if np.isinf(found).any():
        raise Refused(f"row {place}: a reading is a finite figure or null")
    return found


@router.get(
    "/furnace/runs/{run:path}",
    name="heatruns.one_api",
    summary="One furnace run",
    response_model=RunStanding,
    responses=answer(STANDING) | problems(401, 404, 422),
)
def one(caller: Bearer, code: RunCode) -> Any:
    """One run: its load, its state, its readings, what its trace says."""
    with caller.ledger.read(caller.site) as read:
        return standing(known_run(read, code), read.site.zone)


def standing(run: Run, zone: str) -> dict[str, Any]:
    """A run as the API shows it."""

    def told(us: int | None) -> str | None:
        return None if us is None else iso_text(us, zone)

    return {
        "run": run.code,
        "furnace": run.furnace,
        "recipe": run.recipe,
        "revision": run.revision,
        "state": run.state,
        "load": [{"serial": one, "position": place} for one, place in run.load.items()],
        "entry": run.last_seq,
        "started": told(run.started_us),
        "ended": told(run.ended_us),
        "readings": [
            {
                "source": batch.source,
                "first": told(batch.first_us),
                "last": told(batch.last_us),
                "samples": batch.samples,
            }
            for batch in run.batches
        ],
        "judgement": run.judgement,
        "accepted_by": run.accepted_by or None,
    }
