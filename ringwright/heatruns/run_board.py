"""One furnace run as a page asks for it: its load, its readings, what they say so far."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import Any, Final

from sqlalchemy import select

from ringwright.bench.queries import read_open_nonconformities
from ringwright.core.errors import Missing, RingwrightError
from ringwright.core.instants import site_time
from ringwright.flow.moment import to_the_minute
from ringwright.furnaces.queries import read_furnace, read_recipe, read_run
from ringwright.furnaces.rules import LOADING, RUNNING, FurnacePast, Run
from ringwright.heat.judge import Judged, Judgement, as_json, judge
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Trace
from ringwright.heatruns.breaks import Laid, laid_of
from ringwright.heatruns.departing import Departure, departure
from ringwright.heatruns.drawing import draw_run
from ringwright.heatruns.picture import Pictured, TraceDrawing
from ringwright.heatruns.readings import trace_of
from ringwright.heatruns.ready import Against, against
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.remembered import Remembered
from ringwright.ledger.service import Read
from ringwright.parts.tables import PartNow

MINUTE_US: Final = 60_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """One position of the furnace: what lies there, and how that part stands now."""

    position: str
    serial: str = ""
    """Empty where nothing lies there."""
    step: int | None = None
    place: str = ""
    place_step: int | None = None
    hold: str = ""
    nonconformity: int | None = None
    """Number of the open one that waits for its sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """What the readings kept so far say, and their picture."""

    drawing: TraceDrawing
    judgement: Judgement | None
    """None while nothing was read, or where it cannot be judged."""
    why_not: str = ""
    """Why it cannot be judged."""
    first_us: int | None = None
    last_us: int | None = None
    samples: int = 0
    clashes: int = 0
    """Times at which two batches say different things."""


@dataclass(frozen=True, kw_only=True)
class RunBoard:
    """One run, from one snapshot."""

    drawn: Snapshot
    run: Run
    past: FurnacePast
    recipe: Recipe
    load: tuple[LoadLine, ...]
    not_ready: tuple[Against, ...]
    """What keeps the furnace from being started."""
    pictures: Pictures
    left: Departure | None
    """When it left what good runs of its recipe do; None while it has not."""

    @property
    def judged(self) -> dict[str, Any] | None:
        """What the record says of the trace; while it goes on, what it says so far."""
        if self.run.judgement is not None:
            return self.run.judgement
        found = self.pictures.judgement
        return None if found is None else as_json(found)

    @property
    def under_way(self) -> Judged | None:
        """The segment that the readings end in."""
        found = self.pictures.judgement
        if found is None or found.under_way is None:
            return None
        return found.segments[found.under_way]

    @property
    def free(self) -> tuple[str, ...]:
        """Positions in which nothing lies."""
        return tuple(line.position for line in self.load if not line.serial)

    @property
    def elapsed_min(self) -> float | None:
        """From the cycle's start to its end, or to now; None before."""
        begun, ended = self.run.started_us, self.run.ended_us
        if begun is None:
            return None
        return ((ended or self.drawn.now_us) - begun) / MINUTE_US

    @property
    def waiting(self) -> tuple[LoadLine, ...]:
        """Parts of the load whose nonconformity waits for a sentence."""
        return tuple(line for line in self.load if line.nonconformity is not None)


def ptag_of(run: Run, now_us: int) -> str:
    """What the panel of a run shows: its last entry, and the minute, since time goes on."""
    return f"{run.last_seq}-{now_us // MINUTE_US}"


def known_run(read: Read, code: str) -> Run:
    """The run of that code; raises Missing."""
    run = read_run(read.connection, read.site.id, code) if code.isprintable() else None
    if run is None:
        raise Missing(f"there is no furnace run {code[:60]}")
    return run


def read_run_board(snapshot: Read, code: str) -> RunBoard:
    """The run as of now; raises Missing for none of that code."""
    read = to_the_minute(snapshot)
    run = known_run(read, code)
    connection, site_id = read.connection, read.site.id
    past = read_furnace(connection, site_id, run.furnace)
    recipe = read_recipe(connection, site_id, run.recipe, run.revision)
    if past is None or recipe is None:
        raise Missing(f"furnace or recipe of {run.code} are not on record")
    reasons = against(read, past) if run.state == LOADING else []
    return RunBoard(
        drawn=snapshot_of(read),
        run=run,
        past=past,
        recipe=recipe,
        load=tuple(_load(read, run, past)),
        not_ready=tuple(reasons),
        pictures=read_pictures(read, run, recipe),
        left=departure(read, run),
    )


def _load(read: Read, run: Run, past: FurnacePast) -> list[LoadLine]:
    """Every position in the furnace's order, the free ones too while it is loaded."""
    query = select(PartNow.serial, PartNow.place, PartNow.step, PartNow.hold).where(
        PartNow.site_id == read.site.id, PartNow.serial.in_(run.parts)
    )
    parts = {row.serial: row for row in read.connection.execute(query)}
    numbers = {one.serial: one.number for one in read_open_nonconformities(read)}
    by_position = {position: serial for serial, position in run.load.items()}
    positions = [*past.furnace.positions]
    positions += [one for one in by_position if one not in positions]
    found = []
    for position in positions:
        serial = by_position.get(position)
        part = parts.get(serial or "")
        if serial is None or part is None:
            if run.state == LOADING:
                found.append(LoadLine(position=position))
            continue
        found.append(
            LoadLine(
                position=position,
                serial=serial,
                step=run.steps[serial],
                place=part.place,
                place_step=part.step,
                hold=part.hold or "",
                nonconformity=numbers.get(serial),
            )
        )
    return found


_PICTURES: Final = Remembered[Pictures]()


def read_pictures(read: Read, run: Run, recipe: Recipe) -> Pictures:
    """What was kept so far, judged and drawn; remembered while no reading is added.

    A picture follows from the run's readings, its recipe and, while it goes on, the minute.
    """
    goes_on = run.state == RUNNING
    digests = tuple(batch.digest for batch in run.batches)
    own = replace(
        read, head_seq=0, head_hash="", now_us=read.now_us // MINUTE_US if goes_on else 0
    )
    question = (run.code, digests, json.dumps(run.times), recipe)
    return _PICTURES.answer(own, question, lambda: _pictured(read, run, recipe))


def _pictured(read: Read, run: Run, recipe: Recipe) -> Pictures:
    trace = trace_of(read.connection, read.site.id, run)
    judgement, why_not = _judged(trace, recipe)
    laid = [Laid(segment=one) for one in recipe.segments]
    if judgement is not None:
        laid = laid_of(judgement, recipe)
    # Before it begins the picture counts from nought.
    started_us = run.started_us or 0
    offset = site_time(started_us, read.site.zone).utcoffset()
    drawing = draw_run(
        Pictured(
            recipe=recipe,
            laid=laid,
            trace=trace,
            started_s=started_us / 1e6,
            now_s=read.now_us / 1e6 if run.state == RUNNING else None,
            offset_s=offset.total_seconds() if started_us and offset is not None else 0.0,
        )
    )
    known = trace is not None and trace.size > 0
    return Pictures(
        drawing=drawing,
        judgement=judgement,
        why_not=why_not,
        first_us=round(trace.at_s[0] * 1e6) if trace is not None and known else None,
        last_us=round(trace.at_s[-1] * 1e6) if trace is not None and known else None,
        samples=0 if trace is None else trace.size,
        clashes=0 if trace is None else len(trace.clashes),
    )


def _judged(trace: Trace | None, recipe: Recipe) -> tuple[Judgement | None, str]:
    if trace is None or not trace.size:
        return None, ""
    try:
        return judge(trace, recipe), ""
    except RingwrightError as trouble:
        return None, trouble.message
