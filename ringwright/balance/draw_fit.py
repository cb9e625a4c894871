"""Place limit boxes over the stock so that each can be filled with blades of its own.

K boxes can be filled with N blades each exactly when any k of them hold k·N blades together
(P. Hall, "On representatives of subsets", J. London Math. Soc. 10, 1935). With few boxes all
their subsets can be counted at once, and so can what every possible replacement of one box
would lack: a tabu search (F. Glover, ORSA Journal on Computing 1, 1989) that sees its whole
neighbourhood.
More boxes than that are improved a few at a time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from ringwright.balance.draw_stock import Masks, maximal
from ringwright.balance.pool import Floats, Ints

Flags: TypeAlias = npt.NDArray[np.bool_]

MOST_TOGETHER = 8
"""Boxes whose subsets are counted at once."""
# What a count costs apart from its multiplications, in multiplications.
_EACH_CALL = 3e6


@dataclass(frozen=True, kw_only=True)
class Puzzle:
    """Boxes to choose from, and what the first one must be."""

    boxes: Masks
    """Shape (boxes, blades); locked blades are in no box."""
    slots: int
    first: Ints | None = None
    """Boxes the first set may lie in, because they hold its locked blades; None: any."""
    locked: int = 0
    """How many blades the first set has already."""

    def __len__(self) -> int:
        return len(self.boxes)

    def within(self, free: Flags, *, first: bool, most: int, rng: np.random.Generator) -> Part:
        """The puzzle of the free blades alone, with at most so many boxes drawn at random.

        `first` says whether the first set is one of those to place.
        """
        boxes = self.boxes & free
        kept = np.flatnonzero(boxes.sum(axis=1) >= self.slots - self.locked)
        if not first or self.first is None:
            kept = kept[maximal(boxes[kept])]
        if len(kept) > most:
            kept = np.sort(rng.choice(kept, size=most, replace=False))
        if not first or self.first is None:
            return Part(puzzle=Puzzle(boxes=boxes[kept], slots=self.slots), numbers=kept)
        mine = np.flatnonzero(np.isin(kept, self.first))
        part = Puzzle(boxes=boxes[kept], slots=self.slots, first=mine, locked=self.locked)
        return Part(puzzle=part, numbers=kept)

    def need(self, number: int) -> int:
        """Blades the set still wants."""
        return self.slots - (self.locked if number == 0 else 0)

    def choices(self, number: int) -> Ints:
        """Boxes the set may lie in."""
        if number == 0 and self.first is not None:
            return self.first
        return np.arange(len(self.boxes))


@dataclass(frozen=True, kw_only=True)
class Part:
    """A smaller puzzle, and which boxes of the whole one it has."""

    puzzle: Puzzle
    numbers: Ints


class Fitter:
    """Search for K boxes that can all be filled."""

    def __init__(self, puzzle: Puzzle, rng: np.random.Generator) -> None:
        self.puzzle = puzzle
        self.rng = rng
        self.labour = 0.0
        """Multiplications done so far: a measure of work that does not hang on the machine."""
        self.dense = puzzle.boxes.astype(np.float32)
        self.sizes = self.dense.sum(axis=1)
        crowd = self.dense.sum(axis=0)
        # Boxes whose blades few other boxes hold come first: what they leave is easy to use.
        self.crowd = (self.dense @ crowd) / np.maximum(self.sizes, 1.0)
        self.crowd = self.crowd / max(float(self.crowd.max(initial=0.0)), 1.0)

    def lacking(self, chosen: list[int], number: int, numbers: list[int]) -> Floats:
        """Blades short, for each box that set `number` could lie in beside the chosen ones.

        `numbers` says which sets the chosen boxes are.
        """
        union = np.zeros((1, self.dense.shape[1]), dtype=np.bool_)
        wanted = np.zeros(1)
        for box, which in zip(chosen, numbers, strict=True):
            union = np.concatenate([union, union | self.puzzle.boxes[box]])
            wanted = np.concatenate([wanted, wanted + self.puzzle.need(which)])
        held = union.sum(axis=1)
        choices = self.puzzle.choices(number)
        self.labour += float(union.size) * len(choices) + _EACH_CALL
        shared = union.astype(np.float32) @ self.dense[choices].T
        together = held[:, None] + self.sizes[choices][None, :] - shared
        short = (wanted + self.puzzle.need(number))[:, None] - together
        found: Floats = np.maximum(short.max(axis=0), (wanted - held).max())
        return found

    def start(self, count: int) -> tuple[list[int], float]:
        """One box after the other, each where least is lacking and least crowded."""
        chosen: list[int] = []
        lacking = 0.0
        for number in range(count):
            short = self.lacking(chosen, number, list(range(number)))
            choices = self.puzzle.choices(number)
            noise = self.rng.random(len(choices)) * 0.1
            best = int(np.argmin(short + 0.5 * self.crowd[choices] + noise))
            chosen.append(int(choices[best]))
            lacking = float(short[best])
        return chosen, lacking

    def fit(self, count: int, rounds: int, allowed: int = 0) -> list[int] | None:
        """Boxes of `count` sets that lack at most so many blades; None when none were found."""
        if count == 0:
            return []
        if any(len(self.puzzle.choices(number)) == 0 for number in range(count)):
            return None
        chosen, lacking = self.start(count)
        banned: dict[int, int] = {}
        for round_ in range(rounds):
            if lacking <= allowed:
                return chosen
            number, box, lacking = self._move(chosen, banned, round_)
            banned[chosen[number]] = round_ + 5 + int(self.rng.integers(6))
            chosen[number] = box
        return chosen if lacking <= allowed else None

    def _move(
        self, chosen: list[int], banned: dict[int, int], round_: int
    ) -> tuple[int, int, float]:
        """The best replacement of one box that is not banned: set, box, what is lacking."""
        tabu = [box for box, until in banned.items() if until > round_]
        best = (np.inf, 0, chosen[0], np.inf)
        for number in range(len(chosen)):
            others = [n for n in range(len(chosen)) if n != number]
            short = self.lacking([chosen[n] for n in others], number, others)
            choices = self.puzzle.choices(number)
            score = short + self.rng.random(len(short)) * 0.9
            score[np.isin(choices, [*tabu, chosen[number]])] += 1000.0
            at = int(np.argmin(score))
            if score[at] < best[0]:
                best = (float(score[at]), number, int(choices[at]), float(short[at]))
        return best[1:]
