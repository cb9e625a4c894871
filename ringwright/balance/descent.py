"""Polish an order by exchanging two blades at a time, as long as that helps and is legal."""

from __future__ import annotations

import numpy as np

from ringwright.balance.pool import Floats, Ints
from ringwright.balance.ring_rules import Flags, Rules

TRIED = 200
"""Exchanges looked at for the rules in each step, the most helpful first."""


def exchanges(rules: Rules, order: Ints) -> tuple[Ints, Ints, Floats]:
    """All exchanges of two free slots that keep alternation, and the score after each."""
    one, other = np.triu_indices(len(rules.free), 1)
    one, other = rules.free[one], rules.free[other]
    if rules.alternate:
        same = rules.side[order[one]] == rules.side[order[other]]
        one, other = one[same], other[same]
    if rules.bound:
        fits = _fits(rules, order)
        good = fits[one, order[other]] & fits[other, order[one]]
        # Slots that limit each other move together; the exact check that follows judges them.
        good |= _touch(rules, one, other)
        one, other = one[good], other[good]
    change = (rules.loads[:, order[other]] - rules.loads[:, order[one]]) * (
        rules.phasors[one] - rules.phasors[other]
    )
    return one, other, rules.score(rules.left(order)[:, None] + change)


def _fits(rules: Rules, order: Ints) -> Flags:
    """Which blade would suit which slot while all others stay, shape (slots, blades)."""
    good = np.ones((rules.slots, rules.slots), dtype=np.bool_)
    held = rules.radial[order]
    for limit, steps in ((rules.near, (1, -1)), (rules.across, (rules.slots // 2,))):
        for step in steps if limit is not None else ():
            beside = np.roll(held, -step)
            good &= np.abs(rules.radial[None, :] - beside[:, None]) <= limit
    return good


def _touch(rules: Rules, one: Ints, other: Ints) -> Flags:
    """Which couples of slots limit each other."""
    apart = other - one
    found: Flags = np.zeros(len(one), dtype=np.bool_)
    if rules.near is not None:
        found |= (apart == 1) | (apart == rules.slots - 1)
    if rules.across is not None:
        found |= apart == rules.slots // 2
    return found


def _swapped(order: Ints, one: Ints, other: Ints) -> Ints:
    """The order after each exchange, shape (exchanges, slots)."""
    found = np.repeat(order[None, :], len(one), axis=0)
    rows = np.arange(len(one))
    found[rows, one], found[rows, other] = order[other], order[one]
    return found


def descend(rules: Rules, order: Ints, steps: int) -> Ints:
    """Take the best legal exchange again and again."""
    score = float(rules.score(rules.left(order)))
    for _ in range(steps):
        one, other, scores = exchanges(rules, order)
        better = np.flatnonzero(scores < score * (1.0 - 1e-9))
        better = better[np.argsort(scores[better], kind="stable")][:TRIED]
        if not len(better):
            break
        orders = _swapped(order, one[better], other[better])
        legal = np.flatnonzero(rules.legal(orders)) if rules.bound else np.arange(len(better))
        if not len(legal):
            break
        order, score = orders[legal[0]], float(scores[better[legal[0]]])
    return order


def even_out(rules: Rules, order: Ints, steps: int) -> Ints:
    """Bring opposite blades closer together without leaving more than is there or enough."""
    half = rules.slots // 2
    if rules.slots % 2:
        return order
    for _ in range(steps):
        one, other, scores = exchanges(rules, order)
        now = float(rules.score(rules.left(order)))
        held, facing = rules.radial[order], rules.radial[np.roll(order, -half)]
        gain = (held[one] - facing[one]) ** 2 + (held[other] - facing[other]) ** 2
        gain -= (held[other] - facing[one]) ** 2 + (held[one] - facing[other]) ** 2
        gain[(other - one) == half] = 0.0
        good = np.flatnonzero((scores <= now) & (gain > 1e-9 * rules.scale[0] ** 2))
        good = good[np.argsort(-gain[good], kind="stable")][:TRIED]
        if not len(good):
            break
        orders = _swapped(order, one[good], other[good])
        legal = np.flatnonzero(rules.legal(orders))
        if not len(legal):
            break
        order = orders[legal[0]]
    return order


def turn(rules: Rules, order: Ints) -> Ints:
    """The best of the ring turned and mirrored; only where nothing is locked."""
    if len(rules.free) < rules.slots:
        return order
    places = np.arange(rules.slots)
    turned = (places[None, :] + places[:, None]) % rules.slots
    orders = np.concatenate([order[turned], order[::-1][turned]])
    left = rules.start[:, None] + rules.loads[:, orders] @ rules.phasors
    found: Ints = orders[int(np.argmin(rules.score(left)))]
    return found
