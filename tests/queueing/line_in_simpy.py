"""A small line of stations in SimPy, with and without an hour of one server more.

It shares nothing with `ringwright.queueing`: parts are processes, stations hold tokens of
servers, and the one more is a worker process that takes a part off the queue for an hour.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from random import Random
from typing import Any

import simpy


@dataclass(frozen=True)
class Numbers:
    """The line: three stations, the middle one the neck, some rework and scrap."""

    servers: tuple[int, ...] = (1, 2, 1)
    work_h: tuple[tuple[float, ...], ...] = (
        (0.3, 0.4, 0.5, 0.6), (1.5, 2.0, 2.5, 3.0), (0.2, 0.5, 0.6, 0.8),
    )  # fmt: skip
    waiting: tuple[int, ...] = (15, 4, 2)
    on: float = 9e6
    again: float = 7e5
    gone: float = 3e5
    end_h: float = 14.0
    neck: int = 1


@dataclass
class Part:
    """One part: where it is, what is left of its visit, its own chances."""

    place: int
    number: int
    dice: Random
    left_h: float = 0.0


class Line:
    """Stations that serve who came first; parts given back go to the head of the queue."""

    def __init__(self, numbers: Numbers, seed: int, more: int | None) -> None:
        self.numbers, self.env = numbers, simpy.Environment()
        self.queues: list[list[Part]] = [[] for _ in numbers.servers]
        self.bells = [self.env.event() for _ in numbers.servers]
        self.released = 0
        number = 0
        for place, waiting in enumerate(numbers.waiting):
            for _ in range(waiting):
                self._come(Part(place, number, Random(f"{seed} {number}")))
                number += 1
        for place, servers in enumerate(numbers.servers):
            for _ in range(servers):
                self.env.process(self._serve(place, None))
        if more is not None:
            self.env.process(self._serve(more, 1.0))
        self.env.run(until=numbers.end_h)

    def _come(self, part: Part) -> None:
        part.left_h = part.dice.choice(self.numbers.work_h[part.place])
        self.queues[part.place].append(part)
        self._ring(part.place)

    def _ring(self, place: int) -> None:
        self.bells[place].succeed()
        self.bells[place] = self.env.event()

    def _serve(self, place: int, until_h: float | None) -> Generator[Any, Any, None]:
        while until_h is None or self.env.now < until_h:
            if not self.queues[place]:
                yield self.bells[place]
                continue
            part = self.queues[place].pop(0)
            rest = part.left_h if until_h is None else min(part.left_h, until_h - self.env.now)
            yield self.env.timeout(rest)
            part.left_h -= rest
            if part.left_h > 1e-12:
                self.queues[place].insert(0, part)
                self._ring(place)
            else:
                self._go_on(part)

    def _go_on(self, part: Part) -> None:
        numbers = self.numbers
        draw = part.dice.random() * (numbers.on + numbers.again + numbers.gone)
        if draw >= numbers.on + numbers.again:
            return
        if draw < numbers.on:
            part.place += 1
        if part.place == len(numbers.servers):
            self.released += 1
        else:
            self._come(part)


def gain_in_simpy(numbers: Numbers, seed: int) -> int:
    """Parts released more with one server more for the first hour, by the same chances."""
    without = Line(numbers, seed, None).released
    return Line(numbers, seed, numbers.neck).released - without
