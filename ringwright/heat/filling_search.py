"""One question after the other to HiGHS, each within the answers to those before it.

Q. Huangfu & J. A. J. Hall, Parallelizing the dual revised simplex method, Mathematical
Programming Computation 10 (2018) 119, as SciPy has it.
"""

from __future__ import annotations

from time import monotonic
from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from ringwright.heat.filling_model import Model
from ringwright.heat.trace import Floats

NODES: Final = 20_000
"""Branches of a tree that are looked at for one question; time is a ceiling beside it."""
_CLOSE: Final = 1e-6


class Search:
    """The best plan so far, and whether it is proved to be the best."""

    def __init__(self, model: Model, seconds: float) -> None:
        self.best: Floats = np.zeros(model.upper.size)
        """Values of the model's variables; at first nothing is run."""
        self.proved = True
        self._model = model
        self._until = monotonic() + seconds
        self._settled: list[tuple[Floats, float]] = []

    def ask(self, worth: Floats) -> None:
        """Make the sum of `worth` over the variables as small as can be, and settle it."""
        if not worth.any():
            return
        found, proved = self._solved(worth)
        if found is not None and worth @ found <= worth @ self.best + _CLOSE:
            self.best = found
        self.proved = self.proved and proved
        self._settled.append((worth, float(worth @ self.best)))

    def _solved(self, worth: Floats) -> tuple[Floats | None, bool]:
        left = self._until - monotonic()
        if left <= 0.0:
            return None, False
        answer = milp(
            worth,
            integrality=np.ones(worth.size, dtype=np.int64),
            bounds=Bounds(0.0, self._model.upper),
            constraints=self._limits(),
            options={"time_limit": left, "node_limit": NODES, "mip_rel_gap": 0.0},
        )
        if answer.x is None:
            return None, False
        found: Floats = np.rint(answer.x)
        return (found, answer.status == 0) if self._keeps(found) else (None, False)

    def _limits(self) -> list[LinearConstraint]:
        limits = [LinearConstraint(self._model.rows, -np.inf, self._model.most)]
        if self._settled:
            rows = np.array([worth for worth, _ in self._settled])
            limits.append(LinearConstraint(rows, -np.inf, self._levels()))
        return limits

    def _levels(self) -> Floats:
        """Rounding of a sum may not forbid what was settled."""
        return np.array([level + _CLOSE + 1e-9 * abs(level) for _, level in self._settled])

    def _keeps(self, found: Floats) -> bool:
        """Rounded to whole numbers it must still keep every limit."""
        inside = np.all(self._model.rows @ found <= self._model.most + _CLOSE)
        settled = all(
            worth @ found <= level
            for (worth, _), level in zip(self._settled, self._levels(), strict=True)
        )
        return bool(inside and settled)
