"""Furnace runs at chosen times, for tests of what a week of them adds up to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ringwright.bench.acts import Sentence
from ringwright.core.instants import parse_instant
from ringwright.heat.trace import Trace
from ringwright.parts.tables import Nonconformity, PartNow
from tests.make.floor import MINUTE_US, QUALITY
from tests.make.furnaces import FURNACE, RECIPE, Hall
from tests.make.second import signed

READY_MIN = 60
"""Before a run begins its parts are created, cleaned and loaded within so many minutes."""


def at(hall: Hall, moment: str | int) -> None:
    """Let the next act happen at this moment."""
    us = parse_instant(moment) if isinstance(moment, str) else moment
    assert us > hall.floor.clock.at_us, "the record goes on forwards"
    hall.floor.clock.at_us = us - MINUTE_US


def begin(
    hall: Hall,
    began: str | int,
    serials: Sequence[str] | Mapping[str, str],
    furnace: str = FURNACE,
    recipe: str = RECIPE,
) -> str:
    """A run that begins at a moment; serials as a mapping name their positions."""
    began_us = parse_instant(began) if isinstance(began, str) else began
    at(hall, began_us - READY_MIN * MINUTE_US)
    there = {row[0] for row in hall.floor.rows((PartNow.serial,))}
    hall.waiting(*(one for one in serials if one not in there))
    run = hall.open(furnace, recipe)
    for serial in serials:
        position = serials[serial] if isinstance(serials, Mapping) else ""
        hall.load(run, serial, position)
    at(hall, began_us)
    hall.start(run)
    return run


def end(
    hall: Hall, run: str, minutes: int, held_at_c: float = 900.0, trace: Trace | None = None
) -> None:
    """Its end so many minutes after it began, and its trace."""
    began_us = hall.run(run).started_us
    assert began_us is not None
    at(hall, began_us + minutes * MINUTE_US)
    hall.finish(run)
    hall.started_s = began_us / 1e6
    hall.keep(run, hall.trace(held_at_c, minutes) if trace is None else trace)


def sentence(hall: Hall, serial: str, decision: str) -> None:
    """What the quality engineer decides on a part of a held run."""
    number = hall.floor.rows((Nonconformity.number,), Nonconformity.serial == serial)[-1][0]
    given = {"kept": "marked"} if decision == "scrap" else {}
    act = Sentence(
        serial=serial, key=hall.floor.key(), nonconformity=number, decision=decision,
        reason="too cold", defect="underformed", caused_step=20, **given,  # type: ignore[arg-type]
    )  # fmt: skip
    hall.floor.do(act, signed(QUALITY, "insp-2", "inspector"))
