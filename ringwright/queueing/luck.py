"""What chance gives the parts of one run: their ways and their work, whoever waits for whom.

Kept apart from the run itself, so that a run with an extra hour and one without have the same
random numbers: part by part, visit by visit (common random numbers; A. M. Law, Simulation
Modeling and Analysis, 5th ed., section 11.2).
"""

from __future__ import annotations

from bisect import bisect, bisect_right
from itertools import accumulate
from random import Random

from ringwright.queueing.shop import GONE, Coming, Shop, Stage, Standing

Visit = tuple[int, float]
"""Stage and hours of work; RELEASED or GONE at the end of a way."""


class Luck:
    """One draw: yields, which past week's starts come again, and each part's way."""

    def __init__(self, shop: Shop, seed: str) -> None:
        self._dice = Random(seed)  # noqa: S311  # a simulation, no secret
        self._stages = shop.stages
        self._ways = [self._shares(stage) for stage in shop.stages]
        self.coming: tuple[Coming, ...] = self._dice.choice(shop.weeks) if shop.weeks else ()
        self.visits: list[list[Visit]] = [
            *([(part.stage, self._first(part))] for part in shop.parts),
            *([(one.stage, self._work(one.stage))] for one in self.coming),
        ]
        self._share_loads(shop)

    def visit(self, part: int, place: int) -> Visit:
        """The visit at that place of a part's way; drawn when it is first asked for."""
        visits = self.visits[part]
        while len(visits) <= place:
            # Each draw belongs to the part and the place: later runs find it here.
            goes, limits = self._ways[visits[-1][0]]
            stage = goes[min(bisect(limits, self._dice.random()), len(goes) - 1)]
            visits.append((stage, self._work(stage) if stage >= 0 else 0.0))
        return visits[place]

    def _work(self, stage: int) -> float:
        work_h = self._stages[stage].work_h
        return work_h[int(self._dice.random() * len(work_h))]

    def _first(self, part: Standing) -> float:
        """What is left of a part's work: by the visits that lasted longer than it has."""
        if not part.in_work:
            return self._work(part.stage)
        stage = self._stages[part.stage]
        work_h, first = stage.work_h, bisect_right(stage.work_h, part.age_h)
        if first == len(work_h):
            # Older than all before it: as if begun anew; a load is done, to be taken out.
            return 0.0 if stage.load else self._work(part.stage)
        return self._dice.choice(work_h[first:]) - part.age_h

    def _share_loads(self, shop: Shop) -> None:
        """Parts of one load come out together: with what the first has left."""
        left: dict[tuple[int, str], float] = {}
        for number, part in enumerate(shop.parts):
            if part.in_work and part.load:
                key = (part.stage, part.load)
                work_h = left.setdefault(key, self.visits[number][0][1])
                self.visits[number][0] = (part.stage, work_h)

    def _shares(self, stage: Stage) -> tuple[list[int], list[float]]:
        """Where parts go from a stage, its shares drawn from their counts (Dirichlet; a Beta
        where there are two ways), so that few visits leave more doubt than many."""
        known = [(goes, count) for goes, count in stage.onward if count > 0] or [(GONE, 1.0)]
        raw = [self._dice.gammavariate(count, 1.0) for _, count in known]
        whole = sum(raw)
        return [goes for goes, _ in known], list(accumulate(one / whole for one in raw))
