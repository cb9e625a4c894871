"""Orders to begin a search from: by hand, or so that the limits are kept from the start."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringwright.balance.pool import Floats, Ints
from ringwright.balance.ring_rules import Rules

TIPS = (0.02, 0.05, 0.1, 0.2, 0.35)


def high_slots(rules: Rules) -> list[Ints]:
    """The slots of the high blades and of the low ones, in either way that locks allow."""
    slots = np.arange(rules.slots)
    if not rules.alternate:
        return [np.zeros(rules.slots, dtype=np.intp)]
    found = []
    for parity in (0, 1):
        wanted = np.where(slots % 2 == parity, 1, -1)
        locked = rules.fixed >= 0
        if np.all(rules.side[rules.fixed[locked]] == wanted[locked]):
            found.append(wanted)
    return found


def dealt(rules: Rules, slot_side: Ints, slot_key: Floats, blade_key: Floats) -> Ints:
    """Blades by their key into slots by theirs, side by side; locked ones stay."""
    order = rules.fixed.copy()
    for side in np.unique(slot_side):
        slots = rules.free[slot_side[rules.free] == side]
        blades = rules.free_blades[rules.side[rules.free_blades] == side]
        slots = slots[np.argsort(slot_key[slots], kind="stable")]
        order[slots] = blades[np.argsort(blade_key[blades], kind="stable")]
    return order


def random_order(rules: Rules, rng: np.random.Generator) -> Ints:
    """Any order that keeps locks and alternation."""
    keys = rng.random((2, rules.slots))
    return dealt(rules, high_slots(rules)[0], keys[0], keys[1])


def against(rules: Rules, rng: np.random.Generator) -> Ints:
    """Heavy blades opposite the disc's unbalance, a little shaken."""
    ways = high_slots(rules)
    along = (np.conj(rules.start[0]) * rules.phasors).real
    shaken = along + 1e-9 * np.ptp(along) * rng.random(rules.slots)
    orders = [dealt(rules, way, -shaken, rules.radial) for way in ways]
    return min(orders, key=lambda order: float(rules.score(rules.left(order))))


def pair_order(rules: Rules, rng: np.random.Generator) -> Ints:
    """Sorted blades in pairs, each pair on a diameter of its own, as locks allow."""
    slots = np.arange(rules.slots)
    half = rules.slots // 2
    shuffled = rng.random(half)
    key = shuffled[slots % half] + 0.0 if rules.slots % 2 == 0 else rng.random(rules.slots)
    return dealt(rules, high_slots(rules)[0], key, rules.radial)


def spread_pairs(rules: Rules) -> Ints:
    """Sorted blades in pairs, the most unlike pair first, each to where it cancels most."""
    half = rules.slots // 2
    order = pair_order(rules, np.random.default_rng(0))
    locked = rules.fixed >= 0
    open_ = [k for k in range(half) if not locked[k] and not locked[k + half]]
    pairs = np.array([(order[k], order[k + half]) for k in open_], dtype=np.intp)
    pairs = pairs.reshape(-1, 2)
    unlike = np.abs(rules.loads[0, pairs[:, 0]] - rules.loads[0, pairs[:, 1]])
    places = np.array(open_, dtype=np.intp)
    order[places], order[places + half] = -1, -1
    filled = np.flatnonzero(order >= 0)
    left = rules.start + rules.loads[:, order[filled]] @ rules.phasors[filled]
    side = high_slots(rules)[0]
    for pair in pairs[np.argsort(-unlike, kind="stable")]:
        ways = np.array([pair, pair[::-1]])
        brought = (rules.loads[:, ways[:, 0]] - rules.loads[:, ways[:, 1]])[:, :, None] * (
            rules.phasors[places]
        )
        score = rules.score(left[:, None, None] + brought)
        if rules.alternate:
            fits = rules.side[ways[:, 0]][:, None] == side[places]
            fits &= rules.side[ways[:, 1]][:, None] == side[places + half]
            score = np.where(fits, score, np.inf)
        way, at = np.unravel_index(int(np.argmin(score)), score.shape)
        order[places[at]], order[places[at] + half] = ways[way]
        left = left + brought[:, way, at]
        places = np.delete(places, at)
    return order


def hill_orders(rules: Rules) -> Iterator[Ints]:
    """Legal orders whose moments rise and fall round the ring, the most hills first.

    One hill is the zigzag of sorted moments that the smallest neighbour limit asks for; even
    numbers of hills cancel by themselves and put like opposite like.
    """
    slots = np.arange(rules.slots)
    half = max(rules.slots // 2, 1)
    for hills in range(half, 0, -1):
        phase = (slots * hills / rules.slots) % 1.0
        height = np.minimum(phase, 1.0 - phase).round(9) * 1e6 + slots % half
        for way in high_slots(rules):
            order = dealt(rules, way, height, rules.radial)
            if rules.keeps(order):
                yield order
                break


def tipped_orders(rules: Rules) -> Iterator[Ints]:
    """Legal orders of several hills, one of which alone has the heaviest and lightest blades.

    Where moments lie thin, at both ends, only one path may pass; in their middle many can. The
    two tips stand side by side, so that what they weigh cancels.
    """
    for hills in (16, 8, 4, 3, 2):
        for top in TIPS:
            for low in TIPS:
                height = _tipped(
                    rules.slots,
                    hills,
                    max(1, round(top * rules.slots)),
                    max(1, round(low * rules.slots)),
                )
                if height is None:
                    continue
                for way in high_slots(rules):
                    order = dealt(rules, way, height, rules.radial)
                    if rules.keeps(order):
                        yield order
                        break


def _tipped(slots: int, hills: int, top: int, low: int) -> Floats | None:
    """Heights round the ring: a tip up, down through a tip below, then waves."""
    body = slots - top - low
    if body < 4 * hills:
        return None
    wave = (np.arange(body) + 0.5) * hills / body + 0.5
    phase = wave % 1.0
    heights = np.minimum(phase, 1.0 - phase) * 2.0
    fall = body // (2 * hills)
    tip = 1.0 + np.minimum(np.arange(top) + 0.5, top - np.arange(top) - 0.5) / top
    dip = -np.minimum(np.arange(low) + 0.5, low - np.arange(low) - 0.5) / low
    parts = [tip, heights[:fall], dip, heights[fall:]]
    found: Floats = np.concatenate(parts) + 1e-7 * np.arange(slots)
    return found
