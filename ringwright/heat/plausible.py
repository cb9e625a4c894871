"""Readings that no furnace gives: another unit under the heading, a code for a broken wire.

A reading in degF of what the recipe asks lies 0.8 times the target and 32 degrees too high, one
in K 273. Whoever reads half as far above the hottest band or ceiling (at least 50 degC, at most
200) is not believed; nor who reads below -50 degC, or jumps by 300 degC and back within one
sample. Where the record begins hotter than the recipe, on its way down, that is the measure.
The figures 50, 200, -50 and 300 are the project's own: common practice, no source.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from ringwright.heat.channels import Bools, Working
from ringwright.heat.recipe import Recipe
from ringwright.heat.trace import Floats, Trace
from ringwright.heat.wording import figure, when, worst

MOST_ABOVE_C: Final = 200.0
LEAST_ABOVE_C: Final = 50.0
COLDEST_C: Final = -50.0
JUMP_C: Final = 300.0


def implausible(trace: Trace, work: Working, recipe: Recipe) -> list[tuple[Bools, str]]:
    """(samples (n,) at which, sentence) for each kind of reading that cannot be."""
    read = work.read_c
    top, bottom = hottest_c(work, recipe), coldest_c(recipe)
    kinds: tuple[tuple[Bools, Floats, str], ...] = (
        (read > top, read, "far above all that the recipe asks: is it in °F or K?"),
        (read < bottom, -read, "colder than any furnace: is a wire broken?"),
        (jumps(read), np.abs(read - work.middle_c), "a jump and back: is a wire broken?"),
    )
    found: list[tuple[Bools, str]] = []
    for where, away, told in kinds:
        if where.any():
            name, _, place = worst(work, np.where(where, away, np.nan))
            value = figure(read[work.names.index(name), place])
            sentence = f"{name} read {value} °C at {when(trace, place)}, {told}"
            samples: Bools = np.any(where, axis=0)
            found.append((samples, sentence))
    return found


def hottest_c(work: Working, recipe: Recipe) -> float:
    """Above this, no reading of this recipe's run is believed [degC]."""
    edges = [one.target_c + one.tolerance_c for one in recipe.segments]
    ceiling = recipe.ceiling_c if recipe.ceiling_c is not None else edges[0]
    top = max(*edges, ceiling, float(work.middle_c[0]) if _cools(work, recipe) else edges[0])
    in_fahrenheit = 0.8 * top + 32.0
    return top + min(MOST_ABOVE_C, max(LEAST_ABOVE_C, in_fahrenheit / 2.0))


def coldest_c(recipe: Recipe) -> float:
    """Below this, no reading of this recipe's run is believed [degC]."""
    edges = [one.target_c - one.tolerance_c for one in recipe.segments]
    return min(COLDEST_C, min(edges) + COLDEST_C)


def jumps(read: Floats) -> Bools:
    """(k, n) True where one reading stands 300 degC off both its neighbours, to one side."""
    found: Bools = np.zeros(read.shape, dtype=bool)
    if read.shape[1] < 3:
        return found
    before, here, after = read[:, :-2], read[:, 1:-1], read[:, 2:]
    below = np.minimum(before, after) - here
    above = here - np.maximum(before, after)
    found[:, 1:-1] = np.fmax(below, above) > JUMP_C
    return found


def _cools(work: Working, recipe: Recipe) -> bool:
    """True where the record begins above the first band."""
    first = recipe.segments[0]
    return bool(work.middle_c[0] > first.target_c + first.tolerance_c)
