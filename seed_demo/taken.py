"""Furnace runs and blades that a person has laid hands on: the story leaves them alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from ringwright.furnaces.queries import Which, read_runs
from ringwright.furnaces.rules import OPEN, Run
from ringwright.ledger.transaction import Tx
from seed_demo.told import Told

Subject = tuple[str, str]
WALL: Final = "wall"
"""The wall of a part is read by who works on the part."""
ALWAYS_TOLD: Final = "furnace"
"""What the story proves of a furnace stands beside what a person proves of it."""
OF_ITSELF: Final = frozenset({"readings-kept", "run-finished", "run-aborted", "run-judged"})
"""What becomes of a cycle that has begun, whoever has a hand on a blade in it."""
ENDS: Final = frozenset({"run-finished", "run-aborted"})


@dataclass(slots=True)
class _Runs:
    """The runs that something is still told of."""

    loads: dict[str, set[Subject]]
    """Code to its blades."""
    opened: set[str]
    """Opened in what is told now."""
    known: set[str]
    """Opened before; and of these:"""
    begun: set[str]


def without_taken(
    tx: Tx, told: Sequence[Told], spoken: frozenset[Subject]
) -> tuple[list[Told], frozenset[Subject]]:
    """What is left to tell, and all that is people's: `spoken` with the loads it reaches.

    Half a load can be neither run nor accepted. A run that a person has a hand on is theirs,
    and so is one not begun that holds a blade of theirs, or would begin in a furnace that a
    run of theirs takes: then it is left out, with its whole load. A cycle that has begun with
    a blade of theirs in it runs to its end and is judged; what becomes of its load is theirs.
    """
    runs = _runs(tx, told)
    found = set(spoken)
    while True:
        theirs = {code for code in runs.loads if _is_theirs(code, runs, found)}
        theirs |= _begun_in_theirs(tx, told, theirs, runs)
        grown = found | {("run", code) for code in theirs}
        for code, parts in runs.loads.items():
            if code in theirs or parts & grown:
                grown |= parts
        if grown == found:
            break
        found = grown
    touched = {code for code, parts in runs.loads.items() if parts & found}
    left = [one for one in told if _is_told(one, found, touched)]
    parts = {one for one in found - spoken if one[0] == "part"}
    return left, spoken | parts


def _is_told(one: Told, found: set[Subject], touched: set[str]) -> bool:
    if one.subject_kind == ALWAYS_TOLD:
        return True
    if one[1:3] in found or (one.subject_kind == WALL and ("part", one.subject) in found):
        return False
    return one.subject_kind != "run" or one.subject not in touched or one.kind in OF_ITSELF


def _is_theirs(code: str, runs: _Runs, found: set[Subject]) -> bool:
    if ("run", code) in found or (code not in runs.known and code not in runs.opened):
        return True  # one that neither the record holds nor this telling opens was left before
    return code not in runs.begun and bool(runs.loads[code] & found)


def _runs(tx: Tx, told: Sequence[Told]) -> _Runs:
    codes = sorted({one.subject for one in told if one.subject_kind == "run"})
    known = tx.histories("run", codes)
    loads: dict[str, set[Subject]] = {code: set() for code in codes}
    for code, entries in known.items():
        loads[code] |= {
            ("part", entry.data["serial"]) for entry in entries if entry.kind == "part-loaded"
        }
    for one in told:
        if one.kind == "part-loaded":
            loads[one.subject].add(("part", one.data["serial"]))
    return _Runs(
        loads=loads,
        opened={one.subject for one in told if one.kind == "run-opened"},
        known=set(known),
        begun={
            code
            for code, entries in known.items()
            if any(entry.kind == "run-started" for entry in entries)
        },
    )


def _begun_in_theirs(
    tx: Tx, told: Sequence[Told], theirs: Iterable[str], runs: _Runs
) -> set[str]:
    """The runs that would be opened in a furnace which a run that nobody ends takes."""
    taken = {
        run.furnace
        for run in _open_runs(tx)
        if run.code in theirs or run.code not in runs.loads
    }
    return {
        one.subject for one in told if one.kind == "run-opened" and one.data["furnace"] in taken
    }


def _open_runs(tx: Tx) -> list[Run]:
    """Runs that took their furnace when this telling began, and have not ended in it."""
    runs = read_runs(tx.connection, tx.site.id, Which(states=OPEN))
    known = tx.histories("run", [run.code for run in runs])
    return [
        run for run in runs if not any(entry.kind in ENDS for entry in known.get(run.code, ()))
    ]
