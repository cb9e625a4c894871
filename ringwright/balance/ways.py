"""All the ways the blades of a few slots can stand when rules bind them: slot after slot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ringwright.balance.pool import Ints
from ringwright.balance.ring_rules import Flags, Rules

Unit = tuple[int, ...]
"""Slots that move together: one slot, or the two of a diameter."""
Options = npt.NDArray[np.int16]


@dataclass(frozen=True, kw_only=True)
class _Puzzle:
    """Places (units) to fill with options: each unit's blades, for pairs either way round."""

    slots: Ints
    """Shape (places, slots of one)."""
    options: Ints
    """Shape (options, slots of one): blades."""
    owner: Ints
    """The unit that an option takes its blades from."""
    open: Flags
    """Shape (places, options): what the slots outside allow."""
    beside: tuple[tuple[tuple[int, Flags], ...], ...]
    """For each place: earlier places that limit it, and which options agree, theirs by row."""


def ways(
    rules: Rules, order: Ints, units: Sequence[Unit], most: int, rng: np.random.Generator
) -> tuple[Ints, Ints]:
    """The units' slots and the blades in them, row by row; the first row is as they stand.

    More than `most` ways are thinned at random, slot after slot.
    """
    puzzle = _puzzle(rules, order, units)
    count = len(units)
    rows: Options = np.zeros((1, 0), dtype=np.int16)
    used: Flags = np.zeros((1, count), dtype=np.bool_)
    for place in range(count):
        good = ~used[:, puzzle.owner] & puzzle.open[place]
        for earlier, agree in puzzle.beside[place]:
            good &= agree[rows[:, earlier]]
        row, option = np.nonzero(good)
        if len(row) > most:
            kept = thinned(len(row), most, rng)
            kept[0] = 0
            row, option = row[kept], option[kept]
        rows = np.column_stack([rows[row], option.astype(np.int16)])
        used = used[row]
        used[np.arange(len(row)), puzzle.owner[option]] = True
    return puzzle.slots.ravel(), puzzle.options[rows].reshape(len(rows), -1)


def thinned(count: int, most: int, rng: np.random.Generator) -> Ints:
    """`most` of `count` places, ascending: one from each of as many equal stretches."""
    found: Ints = ((np.arange(most) + rng.random(most)) * (count / most)).astype(np.intp)
    return np.minimum(found, count - 1)


def _puzzle(rules: Rules, order: Ints, units: Sequence[Unit]) -> _Puzzle:
    """Write down what limits what."""
    slots = np.array(units, dtype=np.intp)
    held = order[slots]
    options, owner = held, np.arange(len(units))
    if slots.shape[1] == 2:
        options, owner = np.concatenate([held, held[:, ::-1]]), np.tile(owner, 2)
    where = {int(slot): divmod(at, slots.shape[1]) for at, slot in enumerate(slots.ravel())}
    radial = rules.radial[options]
    free = np.ones((len(units), len(options)), dtype=np.bool_)
    beside: list[dict[int, Flags]] = [{} for _ in units]
    if rules.alternate:
        free &= (rules.side[options][None, :, :] == rules.side[held][:, None, :]).all(axis=2)
    for slot, (place, column) in where.items():
        for other, limit in rules.edges[slot]:
            there = where.get(other)
            if there is None:
                outside = rules.radial[order[other]]
                free[place] &= np.abs(radial[:, column] - outside) <= limit
            elif there[0] == place:
                free[place] &= np.abs(radial[:, column] - radial[:, there[1]]) <= limit
            elif there[0] < place:
                agree = np.abs(radial[:, None, there[1]] - radial[None, :, column]) <= limit
                before = beside[place].get(there[0])
                beside[place][there[0]] = agree if before is None else agree & before
    return _Puzzle(
        slots=slots,
        options=options,
        owner=owner,
        open=free,
        beside=tuple(tuple(found.items()) for found in beside),
    )
