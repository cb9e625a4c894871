"""An hour more at a station group: against lines with a known answer, Erlang C and SimPy."""

from __future__ import annotations

import csv
from pathlib import Path
from random import Random

import numpy as np
import pytest

from ringwright.queueing.extra import Gains, extra_of, gains
from ringwright.queueing.luck import Luck
from ringwright.queueing.shop import (
    GONE,
    RELEASED,
    Clock,
    Coming,
    Group,
    Load,
    Shop,
    Stage,
    Standing,
)
from ringwright.queueing.walk import Walk
from tests.queueing.line_in_simpy import Numbers, gain_in_simpy

HERE = Path(__file__).parent
DAY = Clock(((0.0, 24.0),))
SHIFT = Clock(((0.0, 8.0),))


def _group(code: str, clock: Clock = DAY, servers: int = 1) -> Group:
    open_all_along = len(clock.spans) == 1 and clock is not SHIFT
    return Group(code=code, servers=servers, clock=clock, round_the_clock=open_all_along)


def _stage(
    group: int, work_h: tuple[float, ...], onward: int, load: Load | None = None
) -> Stage:
    return Stage(
        product="VANE", number=10 * group + 10, group=group, work_h=work_h,
        onward=((onward, 1e6),), load=load,
    )  # fmt: skip


def _tandem(first: Clock, parts: int = 12) -> Shop:
    """Two stations in a row, an hour and half an hour; all parts wait before the first."""
    return Shop(
        groups=(_group("CUT", first), _group("INSPECT")),
        stages=(_stage(0, (1.0,), 1), _stage(1, (0.5,), RELEASED)),
        parts=tuple(Standing(stage=0, since_h=-1.0) for _ in range(parts)),
        end_h=24.0,
    )


def _of(found: Gains, code: str) -> tuple[float, float | None]:
    one = next(one for one in found.groups if one.code == code)
    return one.hour.mean, one.shift.mean if one.shift else None


def test_a_line_that_closes_gains_one_part_for_an_hour_of_overtime_at_its_neck() -> None:
    """Reckoned by hand: 8 parts in 8 hours; a ninth in the ninth; the last 4 in a shift."""
    found = gains(_tandem(SHIFT), runs=3)

    assert found.without.mean == 8
    assert _of(found, "CUT") == (1.0, 4.0)
    assert _of(found, "INSPECT") == (0.0, 0.0)
    assert found.named is not None
    assert (found.named.code, found.named.beside, found.named.at_h) == ("CUT", False, 8.0)
    assert found.named.best == 1.0


def test_a_line_round_the_clock_gets_one_beside_for_an_hour() -> None:
    """23 of 40 parts are out in 24 h: the 24th is inspected at 24.5 h, too late. With one
    beside for an hour the cutting is a part ahead, for a shift eight."""
    found = gains(_tandem(DAY, parts=40), runs=3)

    assert found.without.mean == 23
    assert _of(found, "CUT") == (1.0, 8.0)


def test_what_the_one_beside_has_begun_goes_back_with_what_is_left() -> None:
    """Work of 2.5 h each: an hour beside takes 1 h off the second; the third is done an hour
    earlier, at 6.5 h and not at 7.5 h."""
    shop = Shop(
        groups=(_group("CUT"),),
        stages=(_stage(0, (2.5,), RELEASED),),
        parts=tuple(Standing(stage=0, since_h=-1.0) for _ in range(3)),
        end_h=7.0,
    )
    luck, extra = Luck(shop, "1"), extra_of(shop, 0, 1.0)
    assert extra is not None
    before = Walk(shop, luck, (extra,))

    assert [at for at, _ in before.out] == [2.5, 5.0]
    assert [at for at, _ in Walk(shop, luck, (extra,), before).out] == [2.5, 4.0, 6.5]


def test_an_hour_away_from_the_neck_shows_no_difference() -> None:
    found = gains(_tandem(DAY, parts=30), runs=3)
    inspect = next(one for one in found.groups if one.code == "INSPECT")

    assert not inspect.hour.seen
    assert inspect.used == 0.0


def test_raised_parts_go_first_then_who_came_first() -> None:
    shop = Shop(
        groups=(_group("CUT"),),
        stages=(_stage(0, (1.0,), RELEASED),),
        parts=(
            Standing(stage=0, since_h=-1.0),
            Standing(stage=0, since_h=-5.0),
            Standing(stage=0, since_h=-0.5, raised=1),
        ),
        end_h=24.0,
    )

    assert [part for _, part in Walk(shop, Luck(shop, "1")).out] == [2, 1, 0]


def test_loads_wait_for_their_usual_size_and_no_longer_than_usual() -> None:
    """Four make a load of 10 h at once; the fifth is begun after 3 h, but the furnace is free
    at 10 h only. It ends in closed time and is taken out when the shop opens."""
    clock = Clock(((0.0, 12.0), (30.0, 40.0)))
    shop = Shop(
        groups=(Group(code="FURNACE", servers=1, clock=clock),),
        stages=(_stage(0, (10.0,), RELEASED, Load(usual=4, most=4, patience_h=3.0)),),
        parts=tuple(Standing(stage=0, since_h=0.0) for _ in range(5)),
        end_h=48.0,
    )

    assert Walk(shop, Luck(shop, "1")).out == [
        (10.0, 0), (10.0, 1), (10.0, 2), (10.0, 3), (30.0, 4),
    ]  # fmt: skip


def test_work_pauses_while_closed_and_what_lasts_too_long_is_begun_anew() -> None:
    clock = Clock(((0.0, 1.0), (10.0, 20.0)))
    shop = Shop(
        groups=(Group(code="CUT", servers=2, clock=clock),),
        stages=(_stage(0, (3.0,), RELEASED),),
        parts=(
            Standing(stage=0, since_h=-2.0, in_work=True, age_h=1.0),
            Standing(stage=0, since_h=-9.0, in_work=True, age_h=4.0),
        ),
        end_h=24.0,
    )

    assert Walk(shop, Luck(shop, "1")).out == [(11.0, 0), (12.0, 1)]


@pytest.mark.parametrize("row", [0, 2])
def test_waits_of_like_servers_are_those_of_erlang_c(row: int) -> None:
    """Worked examples with their source in mmc_erlang_c.csv; random arrivals and work."""
    with (HERE / "mmc_erlang_c.csv").open(newline="") as file:
        case = list(csv.DictReader(file))[row]
    arrivals, work_h = float(case["lambda"]), 1 / float(case["mu"])
    waits = [_mean_wait(arrivals, work_h, int(case["c"]), seed) for seed in range(24)]
    error = np.std(waits, ddof=1) / len(waits) ** 0.5

    assert abs(np.mean(waits) - float(case["Wq"])) < 3 * error + 0.002 * work_h


def _mean_wait(arrivals: float, work_h: float, servers: int, seed: int) -> float:
    """Mean wait after a while, of 600 arrivals; work by 4,000 quantiles of the exponential."""
    dice, at_h, coming = Random(seed), 0.0, []
    for _ in range(1200):
        at_h += dice.expovariate(arrivals)
        coming.append(Coming(stage=0, at_h=at_h))
    shares = (np.arange(4000) + 0.5) / 4000
    works = tuple(float(-work_h * np.log1p(-share)) for share in shares)
    end_h = at_h + 1000 * work_h
    shop = Shop(
        groups=(_group("CUT", Clock(((0.0, end_h),)), servers),),
        stages=(_stage(0, works, RELEASED),),
        parts=(),
        weeks=(tuple(coming),),
        end_h=end_h,
    )
    luck = Luck(shop, str(seed))
    out = Walk(shop, luck).out
    assert len(out) == len(coming)
    waits = {part: at - coming[part].at_h - luck.visit(part, 0)[1] for at, part in out}
    return float(np.mean([waits[part] for part in range(400, 1200)]))


def _shop_of(numbers: Numbers) -> Shop:
    """The small line of the SimPy model, in our terms."""
    return Shop(
        groups=tuple(
            _group(f"G{place}", Clock(((0.0, numbers.end_h),)), servers)
            for place, servers in enumerate(numbers.servers)
        ),
        stages=tuple(
            Stage(
                product="VANE", number=place, group=place, work_h=numbers.work_h[place],
                onward=(
                    (place + 1 if place + 1 < len(numbers.servers) else RELEASED, numbers.on),
                    (place, numbers.again),
                    (GONE, numbers.gone),
                ),
            )
            for place in range(len(numbers.servers))
        ),
        parts=tuple(
            Standing(stage=place, since_h=-1.0)
            for place, waiting in enumerate(numbers.waiting) for _ in range(waiting)
        ),
        end_h=numbers.end_h,
    )  # fmt: skip


def _against_simpy(runs: int, others: int) -> tuple[float, float]:
    """Our gain at the neck less SimPy's, and the standard error of the difference."""
    numbers = Numbers()
    found = gains(_shop_of(numbers), runs=runs)
    ours = next(one.hour for one in found.groups if one.code == f"G{numbers.neck}")
    theirs = [gain_in_simpy(numbers, seed) for seed in range(others)]
    error = np.std(theirs, ddof=1) / len(theirs) ** 0.5
    return ours.mean - float(np.mean(theirs)), float(np.hypot(ours.error, error))


def test_the_gain_is_that_of_an_independent_model_in_simpy() -> None:
    difference, error = _against_simpy(runs=150, others=300)

    assert abs(difference) < 3 * error
    assert error < 0.15


@pytest.mark.long
def test_the_gain_is_that_of_simpy_over_many_runs() -> None:
    difference, error = _against_simpy(runs=3000, others=8000)

    assert abs(difference) < 3 * error
    assert error < 0.03


def test_only_what_an_extra_touches_is_walked_and_gives_the_same() -> None:
    shop = _shop_of(Numbers())
    extra = extra_of(shop, 2, 1.0)
    assert extra is not None
    for seed in range(20):
        luck = Luck(shop, str(seed))
        before = Walk(shop, luck, (extra,))
        having = Walk(shop, luck, (extra,), before)
        whole = Walk(_touched_by_all(shop), luck, (extra,), before)

        assert sorted(whole.out) == sorted(having.out)
        assert having.events < whole.events


def _touched_by_all(shop: Shop) -> Shop:
    """The same shop in which every group may be touched from every other."""
    same = Shop(groups=shop.groups, stages=shop.stages, parts=shop.parts, end_h=shop.end_h)
    everything = frozenset(range(len(shop.groups)))
    same.__dict__["after"] = tuple(everything for _ in shop.groups)
    return same
