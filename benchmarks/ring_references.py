"""What the builder of sets is measured against: general solvers and rules of thumb.

All are given the same pools in the same run. Moments less their mean: the mean cancels round
the ring, and every reference is the better for not carrying it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt
from ortools.sat.python import cp_model
from scipy.optimize import dual_annealing

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
WORKERS = 2
CHAINS = 200
HOT, COLD = 0.1, 1e-10


def unit(slots: int) -> npt.NDArray[np.complex128]:
    """Where the slots stand."""
    found: npt.NDArray[np.complex128] = np.exp(2j * np.pi * np.arange(slots) / slots)
    return found


def left(moments: Floats, order: Sequence[int] | Ints) -> float:
    """Residual of an order, from the definition alone, g·mm."""
    held = moments[np.asarray(order)] - moments.mean()
    return float(abs((held * unit(len(held))).sum()))


def cp_sat(moments: Floats, seconds: float) -> list[int]:
    """OR-tools CP-SAT: one variable a blade and slot, the larger component least.

    Whole numbers: moments in tenths of a g·mm, cosines in millionths.
    """
    count = len(moments)
    held = np.round(10 * (moments - moments.mean())).astype(int)
    turn = unit(count)
    model = cp_model.CpModel()
    stands = [[model.new_bool_var(f"{b},{s}") for s in range(count)] for b in range(count)]
    for place in range(count):
        model.add_exactly_one(stands[place])
        model.add_exactly_one(row[place] for row in stands)
    model.add(stands[0][0] == 1)  # a ring turned is the same ring
    worst = model.new_int_var(0, int(np.abs(held).sum()) * 1_000_000, "worst")
    for part in (turn.real, turn.imag):
        share = np.round(1e6 * part).astype(int)
        total = sum(
            int(held[b]) * int(share[s]) * stands[b][s]
            for b in range(count)
            for s in range(count)
        )
        model.add(total <= worst)
        model.add(-total <= worst)
    model.minimize(worst)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = WORKERS
    solver.solve(model)
    order = [0] * count
    for blade in range(count):
        for slot in range(count):
            if solver.value(stands[blade][slot]):
                order[slot] = blade
    return order


def annealed_keys(moments: Floats, seconds: float, seed: int) -> Ints:
    """scipy's dual annealing over random keys: the order is that of one key a blade."""
    held, turn = moments - moments.mean(), unit(len(moments))
    until = time.perf_counter() + seconds
    best: tuple[float, Ints] = (np.inf, np.arange(len(moments)))

    def asked(keys: Floats) -> float:
        nonlocal best
        order = np.argsort(keys)
        size = float(abs((held[order] * turn).sum()))
        if size < best[0]:
            best = (size, order)
        return size

    def enough(*_: object) -> bool:
        return time.perf_counter() >= until

    while time.perf_counter() < until:
        dual_annealing(
            _until(asked, until),
            [(0.0, 1.0)] * len(moments),
            rng=np.random.default_rng(seed),
            callback=enough,
            maxiter=10**9,
            no_local_search=True,
        )
        seed += 1
    return best[1]


def _until(asked: Callable[[Floats], float], until: float) -> Callable[[Floats], float]:
    """After the time is up every point is as good as nothing, and the callback ends it."""

    def watched(keys: Floats) -> float:
        return 0.0 if time.perf_counter() >= until else asked(keys)

    return watched


def annealed(moments: Floats, axial: Floats, seconds: float, seed: int) -> Ints:
    """A plain annealer that exchanges two blades, cost by difference, static and couple alike.

    Both are divided by what blades dealt at random leave, so that neither rules the other.
    CHAINS walk side by side, some millions of exchanges a second, cooling over the whole time.
    """
    chance = np.random.default_rng(seed)
    count, begun = len(moments), time.perf_counter()
    loads = np.stack([_scaled(moments), _scaled(axial)])
    turn, row = unit(count), np.arange(CHAINS)
    order = chance.permuted(np.tile(np.arange(count), (CHAINS, 1)), axis=1)
    vectors = (loads[:, order] * turn).sum(axis=2)
    cost = (np.abs(vectors) ** 2).sum(axis=0)
    best = (float(cost.min()), order[cost.argmin()].copy())
    while (gone := (time.perf_counter() - begun) / seconds) < 1.0:
        heat = HOT * (COLD / HOT) ** gone
        one, other = chance.integers(0, count, (2, CHAINS))
        first, second = order[row, one], order[row, other]
        step = (loads[:, second] - loads[:, first]) * (turn[one] - turn[other])
        tried = vectors + step
        tried_cost = (np.abs(tried) ** 2).sum(axis=0)
        take = tried_cost < cost + heat * chance.exponential(size=CHAINS)
        taken = row[take]
        order[taken, one[take]], order[taken, other[take]] = second[take], first[take]
        vectors[:, take], cost[take] = tried[:, take], tried_cost[take]
        least = int(cost.argmin())
        if cost[least] < best[0]:
            best = (float(cost[least]), order[least].copy())
    found: Ints = best[1]
    return found


def _scaled(values: Floats) -> Floats:
    held = values - values.mean()
    found: Floats = held / np.sqrt((held**2).sum())
    return found


def heavy_and_light(moments: Floats) -> list[int]:
    """Sorted by moment, heavy and light in turn round the ring."""
    ranked = np.argsort(-moments).tolist()
    order = []
    while ranked:
        order.append(ranked.pop(0))
        if ranked:
            order.append(ranked.pop())
    return order


def opposite_pairs(moments: Floats) -> list[int]:
    """Sorted by moment, the next two on a diameter."""
    ranked, half = np.argsort(-moments).tolist(), len(moments) // 2
    order = [0] * len(moments)
    for place in range(half):
        order[place], order[place + half] = ranked[2 * place], ranked[2 * place + 1]
    return order


def greedy_by_diameter(moments: Floats) -> list[int]:
    """Pairs alike on diameters, the largest difference first, where it takes most away."""
    ranked, half = np.argsort(-moments), len(moments) // 2
    turn = unit(len(moments))
    pairs = sorted(
        ((int(ranked[2 * n]), int(ranked[2 * n + 1])) for n in range(half)),
        key=lambda pair: -(moments[pair[0]] - moments[pair[1]]),
    )
    free, total, order = list(range(half)), 0j, [0] * len(moments)
    for heavy, light in pairs:
        gap = moments[heavy] - moments[light]
        slot, sign = min(
            ((s, sign) for s in free for sign in (1, -1)),
            key=lambda way: abs(total + way[1] * gap * turn[way[0]]),
        )
        total += sign * gap * turn[slot]
        free.remove(slot)
        first, second = (heavy, light) if sign > 0 else (light, heavy)
        order[slot], order[slot + half] = first, second
    return order


def first_fit(
    moments: Floats, frequencies: Floats, slots: int, hertz: float, g_mm: float
) -> list[list[int]]:
    """Sets in the order of frequency: each blade goes into the first set it fits in.

    A set is closed when it is full; sets that never fill count for nothing.
    """
    open_sets: list[list[int]] = []
    full = []
    for blade in np.argsort(frequencies).tolist():
        for one in open_sets:
            rung = [*frequencies[one], frequencies[blade]]
            held = [*moments[one], moments[blade]]
            if max(rung) - min(rung) <= hertz and max(held) - min(held) <= g_mm:
                one.append(blade)
                break
        else:
            open_sets.append([blade])
            continue
        if len(one) == slots:
            full.append(one)
            open_sets.remove(one)
    return full
