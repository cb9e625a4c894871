"""The planner's board against the rule of thumb, on case shops drawn from a seed.

`python -m benchmarks.bench_jobshop` plans each shop by CP-SAT and by the list rule (whichever
can go on first, and of those the one due first), and says the ratio of their total lateness and
the time that a board of the demo's size takes.
"""

from __future__ import annotations

from random import Random
from time import perf_counter, process_time

from ringwright.jobshop.shop import Case, Machine, Operation, Shop, weighted_lateness
from ringwright.jobshop.solve import best_plan
from ringwright.jobshop.timing import by_due, missed

SHOPS, CASES, LIMIT_S = 8, 12, 5.0
HOUR = 4
"""Ticks of an hour."""
LATHES = ("VTL-1", "VTL-2", "VTL-3")
NEEDS = (
    ("20", 4.0, 32.0, LATHES, "chuck", 0),
    ("40", 2.5, 17.5, LATHES, "ring", 66),
    ("50", 3.0, 23.0, ("CML-1",), "plate", 24),
    ("80", 3.0, 27.0, LATHES, "ring", 100),
)
"""Step, set-up and spindle hours, machines, fixture, hours of other steps before."""


def shop_of(seed: int) -> Shop:
    """Twelve cases somewhere on their way, on four machines closed from Saturday noon."""
    die = Random(seed)
    open_ = tuple(((week * 168 + 6) * HOUR, (week * 168 + 132) * HOUR) for week in range(12))
    cases = []
    for number in range(CASES):
        ahead = NEEDS[die.randrange(len(NEEDS)) :]
        operations = tuple(
            Operation(
                name=name, set_up=round(set_up * HOUR), spindle=round(spindle * HOUR),
                machines=machines, fixture=fixture, after=after * HOUR, work=name,
            )
            for name, set_up, spindle, machines, fixture, after in ahead
        )  # fmt: skip
        cases.append(
            Case(
                serial=f"C{number:02}",
                operations=operations,
                release=die.randrange(100) * HOUR,
                due=die.randrange(80, 500) * HOUR,
                weight=die.choice((1, 1, 1, 3)),
            )
        )
    machines = tuple(Machine(code=code, open=open_) for code in (*LATHES, "CML-1"))
    return Shop(cases=tuple(cases), machines=machines, fixtures={"chuck": 2, "ring": 2})


def main() -> None:
    """Plan every shop both ways and print what came of it."""
    best_plan(Shop(cases=(), machines=()))
    ruled, planned, worst_s, worst_cpu_s = 0, 0, 0.0, 0.0
    for seed in range(1, SHOPS + 1):
        shop = shop_of(seed)
        rule = weighted_lateness(shop, by_due(shop))
        began, cpu = perf_counter(), process_time()
        plan = best_plan(shop)
        took, worked = perf_counter() - began, process_time() - cpu
        assert not missed(shop, plan)
        found = weighted_lateness(shop, plan)
        ruled, planned = ruled + rule, planned + found
        worst_s, worst_cpu_s = max(worst_s, took), max(worst_cpu_s, worked)
        print(
            f"shop {seed}: {len(plan.placements)} operations, weighted lateness "
            f"{found / HOUR:.0f} h against {rule / HOUR:.0f} h by the rule, {took:.1f} s "
            f"({worked:.1f} s of processor)"
        )
    print(f"ratio of lateness: {planned / ruled:.3f}")
    met = "met" if worst_cpu_s <= LIMIT_S else "not met"
    print(
        f"longest plan: {worst_cpu_s:.1f} s of processor, {worst_s:.1f} s by the clock; "
        f"limit {LIMIT_S:.0f} s: {met}"
    )


if __name__ == "__main__":
    main()
