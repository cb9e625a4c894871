"""What limits a pool can keep at all: proofs, and the smallest feasible value."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ringwright.balance.deadlines import Seated, seat
from ringwright.balance.limits import Impossible, Limits
from ringwright.balance.pool import Floats, Ints, Pool
from ringwright.balance.ring_rules import Aim, Rules, compile_rules, sides
from ringwright.balance.starts import hill_orders
from ringwright.core.errors import Refused

BUDGET = 4_000
"""Blades seated and taken up again before one question is left undecided."""


def smallest_neighbour(moments_g_mm: Floats) -> float:
    """Least possible largest difference of neighbours round a free ring.

    Light to heavy up one side and down the other: slot by slot the sorted moments zigzag, and
    the largest step is between a moment and the next but one. No ring does better: the two
    ways round from lightest to heaviest must both step over every moment between.
    """
    values = np.sort(moments_g_mm)
    if len(values) < 3:
        return float(np.ptp(values)) if len(values) else 0.0
    return float((values[2:] - values[:-2]).max())


def smallest_opposite(moments_g_mm: Floats) -> float:
    """Least possible largest difference of opposite blades on a free even ring."""
    values = np.sort(moments_g_mm)
    return float((values[1::2] - values[::2]).max()) if len(values) else 0.0


@dataclass(frozen=True, kw_only=True)
class Least:
    """The smallest value of one limit that can be kept; `proved` when nothing below it can."""

    value: float
    proved: bool


def find_seats(rules: Rules, budget: int = BUDGET) -> Seated:
    """Some order that keeps the rules, a proof that there is none, or neither."""
    if _below(rules.near, smallest_neighbour(rules.radial)):
        return Seated(order=None, decided=True)
    if rules.across is not None and _below(rules.across, smallest_opposite(rules.radial)):
        return Seated(order=None, decided=True)
    if rules.turns or not rules.alternate:
        lightest = int(np.argmin(rules.radial))
        return seat(rules, bool(rules.side[lightest] > 0), budget)
    first = seat(rules, True, budget)
    if first.order is not None:
        return first
    second = seat(rules, False, budget)
    decided = second.order is not None or (first.decided and second.decided)
    return replace(second, decided=decided)


def _below(limit: float | None, smallest: float) -> bool:
    """True when a limit asks for less than is possible."""
    return limit is not None and limit < smallest


def least(rules: Rules, with_limit: Callable[[Rules, float], Rules]) -> Least:
    """Bisect one limit over the differences that there are."""
    gaps = np.abs(rules.radial[:, None] - rules.radial[None, :])
    values = np.unique(gaps)
    low, high, proved = 0, len(values) - 1, True
    while low < high:
        middle = (low + high) // 2
        found = find_seats(with_limit(rules, float(values[middle])))
        if found.order is not None:
            high = middle
        else:
            proved = proved and found.decided
            low = middle + 1
    return Least(value=float(values[low]), proved=proved)


def with_near(rules: Rules, value: float) -> Rules:
    """The rules with another neighbour limit."""
    return replace(rules, near=value)


def with_across(rules: Rules, value: float) -> Rules:
    """The rules with another opposite limit."""
    return replace(rules, across=value)


def check_set(pool: Pool, limits: Limits) -> None:
    """Refuse what no order of these blades can mend."""
    if len(pool) != limits.slots:
        raise Refused(f"a ring of {limits.slots} slots takes as many blades, not {len(pool)}")
    for slot, serial in sorted(limits.locks.items()):
        if serial not in pool.places:
            raise Refused(f"{serial}, locked into slot {slot}, is not among the blades")
    for blade in pool.blades:
        if blade.serial in limits.excluded:
            raise Refused(f"{blade.serial} is excluded and among the blades")
    _check_spreads(pool, limits)
    if limits.alternate:
        _check_alternate(pool, limits)


def _check_spreads(pool: Pool, limits: Limits) -> None:
    """The spreads are the blades' own."""
    frequencies = pool.frequency_hz
    needed = limits.frequency_spread_hz is not None or limits.alternate
    if needed and frequencies is None:
        bare = next((b.serial for b in pool.blades if b.frequency_hz is None), "a blade")
        raise Refused(f"{bare} has no frequency reading, and a limit asks for one")
    spreads = (
        ("frequency", frequencies, limits.frequency_spread_hz, "Hz"),
        ("moment", pool.moment_g_mm, limits.moment_spread_g_mm, "g·mm"),
    )
    for name, values, limit, unit in spreads:
        if limit is None or values is None:
            continue
        spread = float(np.ptp(values))
        if spread > limit:
            raise Impossible(
                f"the {name} spread of these blades is {_rounded_up(spread)} {unit}; no order"
                f" brings it to {limit:.10g}",
                spread,
            )


def _check_alternate(pool: Pool, limits: Limits) -> None:
    """High and low: as many of each, none on the median, locks on slots of one kind."""
    side = sides(pool)
    if np.any(side == 0):
        blade = pool.blades[int(np.flatnonzero(side == 0)[0])].serial
        raise Impossible(
            f"high and low cannot alternate: {blade} lies on the median frequency of the set"
        )
    kinds = {
        int(side[pool.places[serial]]) * (1 if slot % 2 else -1)
        for slot, serial in limits.locks.items()
    }
    if len(kinds) > 1:
        raise Impossible("high and low cannot alternate: the locked blades stand against it")


def refuse(rules: Rules) -> None:
    """Say why no order was found: which limit is impossible, and its smallest value."""
    limits = (
        ("neighbour", rules.near, replace(rules, across=None), with_near),
        ("opposite", rules.across, replace(rules, near=None), with_across),
    )
    for name, limit, alone, change in limits:
        if limit is None:
            continue
        found = least(alone, change)
        if limit < found.value:
            _tell(name, limit, found, find_seats(alone).decided, "")
    if rules.near is not None and rules.across is not None:
        beside = f" beside an opposite limit of {rules.across:.10g}"
        found = least(rules, with_near)
        _tell("neighbour", rules.near, found, find_seats(rules).decided, beside)
    raise Refused("no order was found that keeps all limits, and none is proved impossible")


def _tell(name: str, limit: float, found: Least, decided: bool, beside: str) -> None:
    """Raise what is known of one limit that could not be kept."""
    if not decided:
        raise Refused(
            f"no order was found with the {name} limit of {limit:.10g} g·mm{beside}, though it"
            f" is not proved impossible; one was found with {_rounded_up(found.value)} g·mm"
        )
    told = "the smallest possible is" if found.proved else "the smallest found is"
    raise Impossible(
        f"the {name} limit of {limit:.10g} g·mm{beside} is impossible for these blades; {told}"
        f" {_rounded_up(found.value)} g·mm",
        found.value,
    )


def _rounded_up(value: float) -> str:
    """The value to a thousandth, up: who asks for what is printed can have it."""
    return f"{math.ceil(value * 1e3) / 1e3:.12g}"


def orderable(pool: Pool, limits: Limits) -> bool:
    """Whether an order that keeps the limits is known for this set; spreads included."""
    try:
        check_set(pool, limits)
    except Refused:
        return False
    return first_order(compile_rules(pool, limits, Aim())) is not None


def first_order(rules: Rules) -> Ints | None:
    """Any order that keeps the rules, or None when none was found."""
    for order in hill_orders(rules):
        return order
    return find_seats(rules).order
