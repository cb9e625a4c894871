"""A crossed gauge study: repeatability and reproducibility by analysis of variance.

Every operator reads every part equally often. The method, the rule for pooling and the verdict
are those of AIAG, Measurement Systems Analysis, 4th ed. (2010), chapter III (printed figures
from memory, see the tests).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats

from ringwright.core.errors import Refused

POOL_ABOVE: Final = 0.25
"""The interaction is pooled with the repeats where its p-value lies above this."""
GOOD, POOR = 0.10, 0.30
"""Share of the tolerance, or of all variation, up to which a gauge is good, and is usable."""
CATEGORIES: Final = 5
"""The fewest distinct categories of a gauge that can follow a process."""
CONFIDENCE: Final = 0.95
MOST: Final = 5_000

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyReading:
    """One reading of a study."""

    part: str
    operator: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A line of the analysis of variance. `f` and `p` are None where nothing is tested."""

    name: str
    df: int
    ss: float
    ms: float
    f: float | None = None
    p: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One source of variation, as a standard deviation in the unit of the readings."""

    name: str
    sigma: float
    of_total: float
    """Share of the total standard deviation."""
    of_variance: float
    of_tolerance: float | None
    """6 sigma over the tolerance; with one limit 3 sigma over its distance from the mean."""
    low: float | None = None
    high: float | None = None
    """Ends of the 95 % confidence interval; None where none is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyAnswer:
    """What a study found."""

    parts: tuple[str, ...]
    operators: tuple[str, ...]
    repeats: int
    mean: float
    table: tuple[Source, ...]
    pooled: bool
    """True when the interaction was pooled with the repeats."""
    components: tuple[Component, ...]
    categories: int | None
    """Distinct categories, 1.41 part over gauge, cut to a whole number.

    None where the gauge scattered nowhere: its last digit is too coarse for the study to tell.
    """
    verdict: str
    """`good`, `usable with care` or `not fit`."""
    judged_by: str
    """`tolerance` or `total`: which share the verdict looks at."""

    def component(self, name: str) -> Component:
        """One of the components by its name."""
        return next(one for one in self.components if one.name == name)


REPEAT, OPERATOR, INTERACTION = "repeatability", "operators", "operators by parts"
GAUGE, PART, TOTAL = "gauge", "parts", "total"
VERDICTS: Final = ("good", "usable with care", "not fit")


def crossed_study(
    readings: Sequence[StudyReading],
    lower: float | None = None,
    upper: float | None = None,
) -> StudyAnswer:
    """Analyse a study; readings may stand in any order.

    Raises Refused where it is not crossed and balanced, is too small, or nothing varies.
    """
    parts, operators, cube = _cube(readings)
    table, pooled, means = _analysis(cube)
    p, o, r = cube.shape
    variances, intervals = _variances(means, (p, o, r), pooled=pooled)
    tolerance = _tolerance(float(cube.mean()), lower, upper)
    components = _components(variances, intervals, tolerance)
    gauge = next(one for one in components if one.name == GAUGE)
    part = next(one for one in components if one.name == PART)
    categories = int(1.41 * part.sigma / gauge.sigma) if gauge.sigma > 0 else None
    share = gauge.of_total if gauge.of_tolerance is None else gauge.of_tolerance
    return StudyAnswer(
        parts=parts,
        operators=operators,
        repeats=r,
        mean=float(cube.mean()),
        table=table,
        pooled=pooled,
        components=components,
        categories=categories,
        verdict=_verdict(share, categories),
        judged_by="total" if gauge.of_tolerance is None else "tolerance",
    )


def _verdict(share: float, categories: int | None) -> str:
    if share > POOR:
        return VERDICTS[2]
    if share > GOOD or categories is None or categories < CATEGORIES:
        return VERDICTS[1]
    return VERDICTS[0]


def _cube(
    readings: Sequence[StudyReading],
) -> tuple[tuple[str, ...], tuple[str, ...], Array]:
    """Parts, operators, and the readings as (parts, operators, repeats)."""
    if len(readings) > MOST:
        raise Refused(f"{len(readings)} readings are too many for one study; {MOST} at most")
    if any(not math.isfinite(one.value) for one in readings):
        raise Refused("a reading of the study is not a finite number")
    parts = tuple(dict.fromkeys(one.part for one in readings))
    operators = tuple(dict.fromkeys(one.operator for one in readings))
    counts = Counter((one.part, one.operator) for one in readings)
    _check_shape(parts, operators, counts)
    cells: dict[tuple[str, str], list[float]] = {}
    for one in readings:
        cells.setdefault((one.part, one.operator), []).append(one.value)
    cube = np.array([[cells[part, who] for who in operators] for part in parts])
    if float(np.ptp(cube)) == 0.0:
        raise Refused("all readings of the study are the same; nothing can be told from them")
    return parts, operators, cube


def _check_shape(
    parts: Sequence[str], operators: Sequence[str], counts: Counter[tuple[str, str]]
) -> None:
    for name, found in (("parts", parts), ("operators", operators)):
        if len(found) < 2:
            raise Refused(f"a crossed study needs two {name} at least, not {len(found)}")
    most = max(counts.values())
    if most < 2:
        raise Refused("a study needs each operator to read each part twice at least")
    missing = [
        f"{who} read {part} {counts.get((part, who), 0)} times"
        for part in parts
        for who in operators
        if counts.get((part, who), 0) != most
    ]
    if missing:
        more = f" and {len(missing) - 5} more" if len(missing) > 5 else ""
        raise Refused(
            f"every operator must read every part equally often ({most} times): "
            f"{'; '.join(missing[:5])}{more}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Means:
    """Mean squares and their degrees of freedom."""

    part: tuple[float, int]
    operator: tuple[float, int]
    interaction: tuple[float, int]
    error: tuple[float, int]


def _analysis(cube: Array) -> tuple[tuple[Source, ...], bool, _Means]:
    p, o, r = cube.shape
    grand, cell = cube.mean(), cube.mean(axis=2)
    ss_part = o * r * float(((cube.mean(axis=(1, 2)) - grand) ** 2).sum())
    ss_operator = p * r * float(((cube.mean(axis=(0, 2)) - grand) ** 2).sum())
    ss_cell = r * float(((cell - grand) ** 2).sum())
    ss_error = float(((cube - cell[:, :, None]) ** 2).sum())
    ss_interaction = max(0.0, ss_cell - ss_part - ss_operator)
    df_interaction, df_error = (p - 1) * (o - 1), p * o * (r - 1)
    f, chance = _test((ss_interaction, df_interaction), (ss_error, df_error))
    pooled = chance > POOL_ABOVE
    interaction = Source(
        name=INTERACTION, df=df_interaction, ss=ss_interaction,
        ms=ss_interaction / df_interaction, f=f, p=chance,
    )  # fmt: skip
    if pooled:
        below = (ss_interaction + ss_error, df_interaction + df_error)
    else:
        below = (ss_interaction, df_interaction)
    error = (below[0] / below[1], below[1]) if pooled else (ss_error / df_error, df_error)
    tested = [
        (PART, ss_part, p - 1),
        (OPERATOR, ss_operator, o - 1),
    ]
    lines = []
    for name, ss, df in tested:
        f, chance = _test((ss, df), below)
        lines.append(Source(name=name, df=df, ss=ss, ms=ss / df, f=f, p=chance))
    rest = Source(name=REPEAT, df=df_error, ss=ss_error, ms=ss_error / df_error)
    total = ss_part + ss_operator + ss_interaction + ss_error
    whole = Source(name=TOTAL, df=p * o * r - 1, ss=total, ms=total / (p * o * r - 1))
    means = _Means(
        part=(lines[0].ms, p - 1),
        operator=(lines[1].ms, o - 1),
        interaction=(interaction.ms, df_interaction),
        error=error,
    )
    return (*lines, interaction, rest, whole), pooled, means


def _test(above: tuple[float, int], below: tuple[float, int]) -> tuple[float | None, float]:
    """F and its p-value; without any scatter below, nothing could be larger by chance."""
    if below[0] <= 0.0:
        return None, 0.0 if above[0] > 0.0 else 1.0
    f = (above[0] / above[1]) / (below[0] / below[1])
    return f, float(stats.f.sf(f, above[1], below[1]))


Interval = tuple[float | None, float | None]


def _variances(
    means: _Means, shape: tuple[int, int, int], *, pooled: bool
) -> tuple[dict[str, float], dict[str, Interval]]:
    """Variance components, those below zero taken as zero, and their intervals."""
    p, o, r = shape
    below = means.error if pooled else means.interaction
    found = {
        REPEAT: means.error[0],
        OPERATOR: max(0.0, (means.operator[0] - below[0]) / (p * r)),
        INTERACTION: 0.0 if pooled else max(0.0, (below[0] - means.error[0]) / r),
        PART: max(0.0, (means.part[0] - below[0]) / (o * r)),
    }
    found[GAUGE] = found[REPEAT] + found[OPERATOR] + found[INTERACTION]
    found[TOTAL] = found[GAUGE] + found[PART]
    terms: list[tuple[float, tuple[float, int]]] = [(1.0 / (p * r), means.operator)]
    if pooled:
        terms.append((1.0 - 1.0 / (p * r), means.error))
    else:
        terms.append(((p - 1.0) / (p * r), means.interaction))
        terms.append(((r - 1.0) / r, means.error))
    gauge_ends = _satterthwaite(terms)
    intervals: dict[str, Interval] = {REPEAT: _satterthwaite([(1.0, means.error)])}
    if found[OPERATOR] > 0.0 and (pooled or found[INTERACTION] > 0.0):
        # Only then is the sum of mean squares the sum of the components as they are told.
        intervals[GAUGE] = gauge_ends
    intervals[OPERATOR] = _of_difference(means.operator, below, p * r)
    intervals[PART] = _of_difference(means.part, below, o * r)
    return found, intervals


def _of_difference(above: tuple[float, int], below: tuple[float, int], over: int) -> Interval:
    """Ends of the 95 % interval of a component that is a difference of two mean squares.

    The modified large-sample interval of N. Ting and others, Journal of Statistical Computation
    and Simulation 35 (1990) 135, as in Burdick, Borror and Montgomery, Journal of Quality
    Technology 35 (2003) 342 (both from memory; a test draws their coverage). An end below zero
    is zero.
    """
    (first, n), (second, m) = above, below
    if first <= 0.0 or second <= 0.0:
        return None, None
    tail = (1 - CONFIDENCE) / 2
    f_high, f_low = float(stats.f.isf(tail, n, m)), float(stats.f.ppf(tail, n, m))
    g1, h1 = (1 - n / float(stats.chi2.isf(tail, n)), n / float(stats.chi2.ppf(tail, n)) - 1)
    g2, h2 = (1 - m / float(stats.chi2.isf(tail, m)), m / float(stats.chi2.ppf(tail, m)) - 1)
    g12 = ((f_high - 1) ** 2 - (g1 * f_high) ** 2 - h2**2) / f_high
    h12 = ((1 - f_low) ** 2 - (h1 * f_low) ** 2 - g2**2) / f_low
    low = (g1 * first) ** 2 + (h2 * second) ** 2 + g12 * first * second
    high = (h1 * first) ** 2 + (g2 * second) ** 2 + h12 * first * second
    ends = (
        first - second - math.sqrt(max(0.0, low)),
        first - second + math.sqrt(max(0.0, high)),
    )
    return math.sqrt(max(0.0, ends[0]) / over), math.sqrt(max(0.0, ends[1]) / over)


def _satterthwaite(terms: Sequence[tuple[float, tuple[float, int]]]) -> Interval:
    """Ends of the 95 % interval of a sum of mean squares, by approximate degrees of freedom.

    F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110; exact for one mean square.
    """
    total = sum(weight * ms for weight, (ms, _) in terms)
    spread = sum((weight * ms) ** 2 / df for weight, (ms, df) in terms)
    if spread <= 0.0:
        return None, None
    df = total**2 / spread
    tail = (1 - CONFIDENCE) / 2
    low, high = stats.chi2.isf(tail, df), stats.chi2.isf(1 - tail, df)
    return math.sqrt(total * df / low), math.sqrt(total * df / high)


def _tolerance(mean: float, lower: float | None, upper: float | None) -> float | None:
    """What six sigma are held against; with one limit twice its distance from the mean.

    None where the mean lies beyond the only limit: then nothing of it is left to share.
    """
    if lower is not None and upper is not None:
        return upper - lower if upper > lower else None
    if upper is not None:
        return 2 * (upper - mean) if mean < upper else None
    if lower is not None:
        return 2 * (mean - lower) if mean > lower else None
    return None


def _components(
    variances: dict[str, float], intervals: dict[str, Interval], tolerance: float | None
) -> tuple[Component, ...]:
    total = variances[TOTAL]
    found = []
    for name in (GAUGE, REPEAT, OPERATOR, INTERACTION, PART, TOTAL):
        sigma = math.sqrt(variances[name])
        low, high = intervals.get(name, (None, None))
        found.append(
            Component(
                name=name,
                sigma=sigma,
                of_total=sigma / math.sqrt(total),
                of_variance=variances[name] / total,
                of_tolerance=None if tolerance is None else 6 * sigma / tolerance,
                low=low,
                high=high,
            )
        )
    return tuple(found)
