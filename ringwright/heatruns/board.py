"""Where each furnace stands: its run, its health, what waits for it, what must be decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.furnaces.queries import Which, read_furnaces, read_recipes, read_runs
from ringwright.furnaces.rules import (
    FINISHED,
    FOR_REVIEW,
    HELD,
    OPEN,
    FurnacePast,
    Health,
    Run,
    health,
)
from ringwright.heat.recipe import Recipe
from ringwright.heatruns.departing import Departure, departure
from ringwright.heatruns.next_load import NextFree, NextLoads, suggested
from ringwright.heatruns.ready import Against, against
from ringwright.heatruns.waiting import ForFurnace, read_waiting
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.routecards.card import Step
from ringwright.sites.queries import read_stations, when_at

SOON_US: Final = 2 * 3600 * 1_000_000
TO_DECIDE: Final = (FINISHED, FOR_REVIEW, HELD)


@dataclass(frozen=True, slots=True, kw_only=True)
class FurnaceLine:
    """One furnace as it stands."""

    past: FurnacePast
    name: str
    group: str
    run: Run | None
    """The run that takes it now."""
    against: Sequence[Against]
    """What keeps it from being started."""
    proofs: Sequence[Health]

    @property
    def code(self) -> str:
        """The code of its station."""
        return self.past.furnace.code

    @property
    def word(self) -> str:
        """Its state, in a word to be translated."""
        if self.run is not None:
            return self.run.state
        return "blocked" if self.against else "free"


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The Furnace page."""

    lines: Sequence[FurnaceLine]
    waiting: Sequence[ForFurnace]
    to_decide: Sequence[Run]
    recipes: Sequence[Recipe]
    """The newest revision of each."""
    left: Mapping[str, Departure]
    """Runs that left what good runs of their recipe do, and when."""
    coming: NextLoads
    """When each furnace is free next, and what would fill it."""
    now_us: int
    drawn: Snapshot

    @property
    def over(self) -> list[ForFurnace]:
        """Parts whose window has run out."""
        return [one for one in self.waiting if (one.left_us(self.now_us) or 0) < 0]

    @property
    def soon(self) -> list[ForFurnace]:
        """Parts to load whose window is over within two hours."""
        return [one for one in self._ending() if one.hold is None]

    @property
    def soon_held(self) -> list[ForFurnace]:
        """Parts on hold whose window is over within two hours: they cannot be loaded."""
        return [one for one in self._ending() if one.hold is not None]

    def _ending(self) -> list[ForFurnace]:
        left = [(one, one.left_us(self.now_us)) for one in self.waiting]
        return [one for one, us in left if us is not None and 0 <= us <= SOON_US]

    @property
    def blocked(self) -> list[FurnaceLine]:
        """Furnaces that may not be started."""
        return [line for line in self.lines if line.against]

    def next_free(self, line: FurnaceLine) -> NextFree | None:
        """When a furnace that is taken now is free next; None for one that is not taken."""
        if line.run is None:
            return None
        return next((one for one in self.coming.free if one.furnace == line.code), None)

    def does(self, line: FurnaceLine) -> list[Recipe]:
        """The recipes that this furnace may run, judged by its class."""
        return list(self.recipes) if line.run is None else []

    def stations_of(self, step: Step) -> list[FurnaceLine]:
        """The furnaces that a step is done at."""
        return [line for line in self.lines if line.group == step.station_group]


def read_board(read: Read) -> Board:
    """The furnaces in use with all that waits for them, in one snapshot."""
    pasts = read_furnaces(read.connection, read.site.id, read.known_before_us)
    stations = {one.code: one for one in read_stations(read.connection, read.site.id)}
    open_runs = {
        run.furnace: run for run in read_runs(read.connection, read.site.id, Which(states=OPEN))
    }
    day = when_at(read.now_us, read.site.zone).day
    lines = [
        FurnaceLine(
            past=past,
            name=stations[code].name if code in stations else "",
            group=stations[code].group if code in stations else "",
            run=open_runs.get(code),
            against=against(read, past),
            proofs=health(past, day),
        )
        for code, past in pasts.items()
        if not past.furnace.withdrawn
    ]
    recipes = read_recipes(read.connection, read.site.id)
    to_decide = read_runs(read.connection, read.site.id, Which(states=TO_DECIDE))
    left = {run.code: departure(read, run) for run in (*open_runs.values(), *to_decide)}
    return Board(
        lines=lines,
        waiting=read_waiting(read),
        to_decide=to_decide,
        recipes=[revisions[-1] for revisions in recipes.values()],
        left={code: found for code, found in left.items() if found is not None},
        coming=suggested(read),
        now_us=read.now_us,
        drawn=snapshot_of(read),
    )
