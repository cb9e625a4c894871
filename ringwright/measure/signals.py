"""Rules that call a point of a control chart a signal, and how often each is wrong. Pure.

A point stands in a zone: how many standard errors, rounded up, it lies from the middle line,
1 to 3 inside the limits and 4 past them, below the line with a minus; 0 is on the line. Rules
read the zones one after another; after a signal they begin anew. The one rule that looks at
values, six in a row that rise or fall, tells a run once, at its sixth point.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Final

import numpy as np

BEYOND, SIDE, TWO_OF_THREE, FOUR_OF_FIVE = "beyond", "side", "two of three", "four of five"
SIX_RISING: Final = "six rising"
ZONE_RULES: Final = (BEYOND, SIDE, TWO_OF_THREE, FOUR_OF_FIVE)
RULES: Final = (BEYOND, SIDE, SIX_RISING, TWO_OF_THREE, FOUR_OF_FIVE)
"""A point past three sigma; nine in a row on one side; six in a row that rise or fall; two of
three past two sigma and four of five past one sigma, on one side: L. S. Nelson, Journal of
Quality Technology 16 (1984) 237, tests 1, 2, 3, 5 and 6."""
ONE_SIDE: Final = 9
SIX: Final = 6
PAST: Final = 4
ZONES: Final = (-4, -3, -2, -1, 0, 1, 2, 3, 4)

State = tuple[int, tuple[int, ...]]
"""Points in a row on one side, with its sign, and the zones last seen that a rule may count."""
START: Final[State] = (0, ())
Chances = Mapping[int, float]
"""Zone to its chance while nothing has changed; they add up to 1."""


def zone_of(value: float, centre: float, sigma: float) -> int:
    """The zone of a value; one exactly on a line belongs to the zone inside it."""
    if sigma <= 0:
        return (value > centre) - (value < centre)
    away = (value - centre) / sigma
    # A point worked out to lie on the line must not pass it by rounding.
    rings = min(PAST, math.ceil(abs(away) - 1e-9))
    return rings if away > 0 else -rings


@lru_cache(maxsize=65_536)
def step(state: State, zone: int, rules: tuple[str, ...], one_side: int = ONE_SIDE
         ) -> tuple[State, tuple[str, ...]]:  # fmt: skip
    """The state after one more point, and the rules it breaks; a signal begins anew."""
    run, seen = state
    side = (zone > 0) - (zone < 0)
    run = run + side if side and run * side > 0 else side
    seen = (*seen, zone)
    told = [
        rule
        for rule, broken in (
            (BEYOND, abs(zone) >= PAST),
            (SIDE, abs(run) >= one_side),
            (TWO_OF_THREE, _past(seen[-3:], 3, side) >= 2 and abs(zone) >= 3),
            (FOUR_OF_FIVE, _past(seen[-5:], 2, side) >= 4 and abs(zone) >= 2),
        )
        if broken and rule in rules
    ]
    return (START if told else _kept(run, seen, rules)), tuple(told)


def _past(zones: Sequence[int], ring: int, side: int) -> int:
    return sum(side != 0 and zone * side >= ring for zone in zones)


def _kept(run: int, seen: tuple[int, ...], rules: tuple[str, ...]) -> State:
    """What of the past can still matter: fewer states make the chain short."""
    keep = 4 if FOUR_OF_FIVE in rules else 2 if TWO_OF_THREE in rules else 0
    floor = 2 if FOUR_OF_FIVE in rules else 3
    last = seen[-keep:] if keep else ()
    plain = tuple(
        0 if abs(zone) < floor else _rounded(zone, place >= len(last) - 2, rules)
        for place, zone in enumerate(last)
    )
    while plain and plain[0] == 0:
        plain = plain[1:]
    return (run if SIDE in rules else 0), plain


def _rounded(zone: int, recent: bool, rules: tuple[str, ...]) -> int:
    """The zone as far as a rule can still tell it from the next one inside."""
    ring = 3 if abs(zone) >= 3 and recent and TWO_OF_THREE in rules else 2
    return ring if zone > 0 else -ring


def signals(
    zones: Sequence[int | None],
    rules: tuple[str, ...],
    values: Sequence[float | None] | None = None,
) -> dict[int, tuple[str, ...]]:
    """Place of a point to the rules it breaks. None is a point that nothing can be said of.

    `values` are what the points stand at; without them nothing is said of what rises or falls.
    """
    state, found = START, dict[int, tuple[str, ...]]()
    turned = rising(zones, values) if values and SIX_RISING in rules else frozenset[int]()
    for place, zone in enumerate(zones):
        if zone is None:
            continue
        state, told = step(state, zone, rules)
        told = tuple(r for r in rules if r in told or (r == SIX_RISING and place in turned))
        if told:
            found[place] = told
    return found


def rising(zones: Sequence[int | None], values: Sequence[float | None]) -> frozenset[int]:
    """The places at which six points in a row have risen, or fallen; each run tells once.

    Two alike end a run. Points that nothing can be said of are passed over.
    """
    found, run, way = set(), 1, 0
    before: float | None = None
    for place, (zone, value) in enumerate(zip(zones, values, strict=True)):
        if zone is None or value is None:
            continue
        turn = 0 if before is None else (value > before) - (value < before)
        run = run + 1 if turn and turn == way else 1 + abs(turn)
        way, before = turn, value
        if run == SIX:
            found.add(place)
    return frozenset(found)


def chance_of_six(place: int) -> float:
    """Chance that a run of six ends its sixth point at this place, counted from 0.

    Of values in any order, all alike likely and none twice. The sum over n places is the
    expected number of runs, 2 (6 n - 29) / 7! (H. Levene and J. Wolfowitz, Annals of
    Mathematical Statistics 15 (1944) 58); ties only make runs rarer.
    """
    if place < SIX - 1:
        return 0.0
    at_first = 2 / math.factorial(SIX)
    # Later ones must not go on from a seventh: the run would have told at its sixth.
    return at_first if place == SIX - 1 else at_first - 2 / math.factorial(SIX + 1)


@lru_cache
def by_chance(rules: tuple[str, ...]) -> float:
    """Signals a point while nothing changes, of normal values with the true limits.

    Where a point breaks two rules of different kinds it is counted for both: an upper figure.
    """
    zoned = 1 / run_length(normal_zones(), rules) if set(rules) & set(ZONE_RULES) else 0.0
    return zoned + (chance_of_six(SIX) if SIX_RISING in rules else 0.0)


def normal_zones() -> dict[int, float]:
    """Chances of the zones where values are normal and the limits are the true ones."""
    ends = [0.5 * (1 + math.erf(k / math.sqrt(2))) for k in range(4)]
    half = [ends[1] - ends[0], ends[2] - ends[1], ends[3] - ends[2], 1 - ends[3]]
    both = dict(enumerate(half, start=1))
    return both | {-ring: chance for ring, chance in both.items()}


def binomial_zones(n: int, centre: float) -> dict[int, float]:
    """Exact chances of the zones of a share of n, each part good with chance `centre`."""
    found: dict[int, float] = defaultdict(float)
    if not 0.0 < centre < 1.0:
        return {0: 1.0}
    sigma = math.sqrt(centre * (1 - centre) / n)
    log_p, log_q, log_n = math.log(centre), math.log1p(-centre), math.lgamma(n + 1)
    for k in range(n + 1):
        chosen = log_n - math.lgamma(k + 1) - math.lgamma(n - k + 1)
        found[zone_of(k / n, centre, sigma)] += math.exp(chosen + k * log_p + (n - k) * log_q)
    return dict(found)


def false_signals(points: Sequence[Chances | None], rules: tuple[str, ...]) -> list[float]:
    """Chance of a signal at each point while nothing changes; with one rule it is the point's.

    The chain goes from state to state as `step` does, so the rules are counted together; six
    that rise or fall are added to them, which is an upper figure.
    """
    now: dict[State, float] = {START: 1.0}
    found: list[float] = []
    said = 0
    for chances in points:
        if chances is None:
            found.append(0.0)
            continue
        later: dict[State, float] = defaultdict(float)
        wrong = 0.0
        for state, held in now.items():
            for zone, chance in chances.items():
                after, told = step(state, zone, rules)
                wrong += held * chance if told else 0.0
                later[after] += held * chance
        now = later
        six = chance_of_six(said) if SIX_RISING in rules else 0.0
        found.append(min(1.0, wrong + six))
        said += 1
    return found


def run_length(chances: Chances, rules: tuple[str, ...], one_side: int = ONE_SIDE) -> float:
    """Points until a signal on average while nothing changes (average run length).

    C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393: the mean time to absorption of
    the Markov chain of the rules' states; infinite where no signal is possible.
    """
    states = list(_reached(chances, rules, one_side))
    place = {state: number for number, state in enumerate(states)}
    moves = np.eye(len(states))
    lost = False
    for state, row in place.items():
        for zone, chance in chances.items():
            after, told = step(state, zone, rules, one_side)
            lost = lost or bool(told and chance > 0)
            if not told:
                moves[row, place[after]] -= chance
    if not lost:
        return math.inf
    return float(np.linalg.solve(moves, np.ones(len(states)))[0])


def _reached(chances: Chances, rules: tuple[str, ...], one_side: int) -> Iterator[State]:
    """Every state that the rules can come to, the start first."""
    known, ahead = {START}, [START]
    while ahead:
        state = ahead.pop()
        yield state
        for zone in chances:
            after, told = step(state, zone, rules, one_side)
            if not told and after not in known:
                known.add(after)
                ahead.append(after)
