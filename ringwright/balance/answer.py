"""Sets drawn and ordered: the whole answer, as pages and the command tell it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ringwright.balance.bound import Bound
from ringwright.balance.draw import Drawn, draw_sets
from ringwright.balance.limits import Limits
from ringwright.balance.order import order_set
from ringwright.balance.pool import Ints, Pool
from ringwright.balance.uncertainty import NOT_ENTERED, Floor, Uncertainty, uncertainty_of
from ringwright.balance.vectors import Measured, measure
from ringwright.balance.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class RingSet:
    """One ordered set: place in the pool for slot 1 … N, and what it comes to."""

    places: tuple[int, ...]
    measured: Measured
    uncertainty: Uncertainty | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Sets of one pool, what is left, and what was done to find them."""

    sets: tuple[RingSet, ...]
    unused: tuple[int, ...]
    bound: Bound
    left_out: tuple[tuple[str, str], ...]
    """Serial and reason of each blade that could not enter any set."""
    effort: int
    seed: int
    stopped_early: bool
    seconds: float


def build(
    pool: Pool,
    limits: Limits,
    work: Work,
    *,
    sets: int | None = 1,
    floor: Floor = NOT_ENTERED,
    prove: bool = False,
) -> Answer:
    """Draw `sets` sets (None: as many as there are) and order each; every limit is kept.

    Blades that are excluded stay unused. The search of each set stops where its nominal
    residual is a quarter of what the readings leave open, where that is known (`floor`).
    Raises Refused or Impossible.
    """
    kept = pool.without(limits.excluded)
    drawn = draw_sets(kept, limits, work, sets=sets)
    ordered = _all_ordered(kept, drawn, limits, work, floor)
    bound = drawn.bound
    if prove and not bound.proved:
        # After the ordering, so that a proof that is stopped does not cut it short.
        drawn, bound = _proved(kept, limits, work, drawn, sets)
        if {frozenset(one) for one in drawn.sets} != {frozenset(o.places) for o in ordered}:
            ordered = _all_ordered(kept, drawn, limits, work, floor)
    found = tuple(replace(one, places=_in(pool, kept, one.places)) for one in ordered)
    used = {place for one in found for place in one.places}
    return Answer(
        sets=found,
        unused=tuple(place for place in range(len(pool)) if place not in used),
        bound=bound,
        left_out=drawn.left_out,
        effort=work.effort,
        seed=work.seed,
        stopped_early=work.stopped_early,
        seconds=work.gone_s,
    )


def _all_ordered(
    pool: Pool, drawn: Drawn, limits: Limits, work: Work, floor: Floor
) -> tuple[RingSet, ...]:
    """Every set in its order; locks are the first one's."""
    others = replace(limits, locks={})
    return tuple(
        _ordered(pool, blades, others if number else limits, work, floor)
        for number, blades in enumerate(drawn.sets)
    )


def _proved(
    pool: Pool, limits: Limits, work: Work, drawn: Drawn, sets: int | None
) -> tuple[Drawn, Bound]:
    """The proof of the largest number; it may find a set more, where as many are asked for."""
    from ringwright.balance.proof import improve, prove

    if sets is not None:
        return drawn, prove(pool, limits, work)
    better = improve(pool, limits, work, drawn)
    return better, better.bound


def _ordered(
    pool: Pool, blades: Sequence[int], limits: Limits, work: Work, floor: Floor
) -> RingSet:
    chosen = pool.take(blades)
    doubt = uncertainty_of(chosen, range(len(chosen)), floor)
    order = order_set(
        chosen, limits, work, stop_at_g_mm=None if doubt is None else doubt.stop_at_g_mm
    )
    return RingSet(
        places=tuple(blades[int(place)] for place in order),
        measured=measure(chosen, order, limits.disc_g_mm),
        uncertainty=doubt,
    )


def _in(pool: Pool, kept: Pool, places: Sequence[int]) -> tuple[int, ...]:
    return tuple(pool.places[kept.blades[place].serial] for place in places)


def ring_set(
    pool: Pool, places: Sequence[int] | Ints, limits: Limits, floor: Floor = NOT_ENTERED
) -> RingSet:
    """A set that stands already, measured; readings of blades outside it do not matter."""
    chosen = pool.take(places)
    return RingSet(
        places=tuple(int(place) for place in places),
        measured=measure(chosen, range(len(chosen)), limits.disc_g_mm),
        uncertainty=uncertainty_of(pool, places, floor),
    )


def as_json(answer: Answer, pool: Pool) -> dict[str, Any]:
    """The answer as `ring --json` prints it: g·mm, g·mm², Hz and degrees."""
    return {
        "sets": [set_json(one, pool) for one in answer.sets],
        "unused": list(pool.serials(answer.unused)),
        "bound": {"max_sets": answer.bound.max_sets, "proved": answer.bound.proved},
        "left_out": [
            {"serial": serial, "reason": reason} for serial, reason in answer.left_out
        ],
        "effort": answer.effort,
        "stopped_early": answer.stopped_early,
        "seconds": round(answer.seconds, 3),
        "seed": answer.seed,
    }


def set_json(one: RingSet, pool: Pool) -> dict[str, Any]:
    """One set of it; null where a blade lacks the reading, or the ring is odd."""
    found, doubt = one.measured, one.uncertainty
    return {
        "slots": list(pool.serials(one.places)),
        "residual_g_mm": found.residual_g_mm,
        "residual_deg": found.residual_deg,
        "uncertainty_g_mm": None if doubt is None else doubt.rms_g_mm,
        "uncertainty_95_g_mm": None if doubt is None else doubt.p95_g_mm,
        "couple_g_mm2": found.couple_g_mm2,
        "frequency_spread_hz": found.frequency_spread_hz,
        "moment_spread_g_mm": found.moment_spread_g_mm,
        "neighbour_max_g_mm": found.neighbour_max_g_mm,
        "opposite_max_g_mm": found.opposite_max_g_mm,
    }
