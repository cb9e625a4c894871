"""The figures of welds against pandas, scipy and statsmodels on random histories."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import fisher_exact, sem
from scipy.stats import t as student
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from ringwright.measure.counts import mean_of, middle, poisson_rate
from ringwright.weldyield.model import History, JointOf, Made, RingOf, Verdict
from ringwright.weldyield.tally import HOUR_US, Site, accepted_us, count

JOINTS = {
    "OUT": JointOf(code="OUT", kind="T-joint", length_mm=160.0),
    "IN": JointOf(code="IN", kind="fillet weld", length_mm=60.0),
}
KINDS = ("2011", "3041", "401")
WEEK_US = 168 * HOUR_US
FROM_US, TO_US = 2 * WEEK_US, 8 * WEEK_US
VANES = 6
SITE = Site(
    from_us=FROM_US,
    to_us=TO_US,
    week=lambda at_us: f"w{at_us // WEEK_US}",
    shift=lambda at_us: ("early", "late", "night")[at_us // (8 * HOUR_US) % 3],
    worked_us=lambda begin, end: (end - begin) // 2,
)


class Story:
    """Random rings: welds made, read, repaired until accepted, or left open."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.entry = 0
        self.verdicts: list[Verdict] = []
        self.made: list[Made] = []
        self.defects: list[tuple[str, str, int, str]] = []
        self.rings: dict[str, RingOf] = {}
        for number in range(40):
            self._ring(f"C-{number}")

    def _ring(self, serial: str) -> None:
        product = self.dice.choice(("CASE-A", "CASE-B"))
        self.rings[serial] = RingOf(product=product, welds=2 * VANES, joints=JOINTS)
        began_us = self.dice.randrange(9 * WEEK_US)
        for vane in range(1, VANES + 1):
            for joint in JOINTS:
                self._weld(serial, f"{vane}-{joint}", began_us)

    def _weld(self, serial: str, weld: str, at_us: int) -> None:
        dice = self.dice
        for passed in range(4):
            at_us += dice.randrange(1, 30) * HOUR_US
            self.made.append(Made(
                serial=serial, weld=weld, passed=passed, at_us=at_us,
                welder=dice.choice(("w-1", "w-2", "w-3")), lot=dice.choice(("F-1", "F-2")),
            ))  # fmt: skip
            if passed == 0 and dice.random() < 0.05:
                continue  # penetrant showed something, and it was repaired at once
            if dice.random() < 0.03:
                return  # never read again
            at_us += dice.randrange(1, 40) * HOUR_US
            good = dice.random() < (0.75 if weld.endswith("IN") else 0.9)
            self.entry += 1
            self.verdicts.append(Verdict(
                serial=serial, weld=weld, entry=self.entry, passed=passed, at_us=at_us,
                accepted=good,
            ))  # fmt: skip
            if good:
                return
            for _ in range(dice.randrange(1, 4)):
                self.defects.append((serial, weld, self.entry, dice.choice(KINDS)))

    @property
    def history(self) -> History:
        """What was told, in a shuffled order of verdicts."""
        shuffled = list(self.verdicts)
        self.dice.shuffle(shuffled)
        return History(
            rings=self.rings, verdicts=tuple(shuffled), made=tuple(self.made),
            defects=tuple(self.defects),
        )  # fmt: skip


def frames(history: History) -> tuple[pd.DataFrame, pd.DataFrame]:
    """First readings in the weeks with how their welds were made, and all passes."""
    verdicts = pd.DataFrame([_fields(one) for one in history.verdicts])
    made = pd.DataFrame([_fields(one) for one in history.made])
    at = ["serial", "weld"]
    firsts = verdicts.sort_values("entry").groupby(at, as_index=False).first()
    joined = firsts.merge(made, on=[*at, "passed"], suffixes=("", "_made"))
    joined["joint"] = joined["weld"].str.split("-").str[1]
    joined["kind"] = joined["joint"].map(lambda code: JOINTS[code].kind)
    joined["length_mm"] = joined["joint"].map(lambda code: JOINTS[code].length_mm)
    joined["product"] = joined["serial"].map(lambda code: history.rings[code].product)
    joined["week"] = joined["at_us"].map(SITE.week)
    joined["shift"] = joined["at_us_made"].map(SITE.shift)
    within = (joined["at_us"] >= FROM_US) & (joined["at_us"] < TO_US)
    return joined[within], made


def _fields(one: Any) -> dict[str, Any]:
    return {name: getattr(one, name) for name in type(one).__dataclass_fields__}


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("by", ["joint", "kind", "lot", "shift", "week", "product", "welder"])
def test_groups_are_those_of_pandas_with_the_intervals_of_statsmodels(
    seed: int, by: str
) -> None:
    history = Story(seed).history
    counted = count(history, SITE, by)
    firsts, _ = frames(history)
    theirs = firsts.groupby(by)["accepted"].agg(["sum", "count"])

    assert {one.key: (one.share.good, one.share.n) for one in counted.groups} == {
        key: (int(row["sum"]), int(row["count"])) for key, row in theirs.iterrows()
    }
    total = (int(firsts["accepted"].sum()), len(firsts))
    assert (counted.first.good, counted.first.n) == total
    assert counted.mended == int((firsts["passed"] > 0).sum()) > 0
    chances = []
    for one in counted.groups:
        low, high = proportion_confint(one.share.good, one.share.n, method="wilson")
        assert one.share.low == pytest.approx(low, abs=1e-9)
        assert one.share.high == pytest.approx(high, abs=1e-9)
        rest = (total[0] - one.share.good, total[1] - one.share.n)
        own = (one.share.good, one.share.n)
        table = np.array([[good, n - good] for good, n in (own, rest)])
        chances.append(fisher_exact(table).pvalue)
        assert one.chance == pytest.approx(chances[-1], rel=1e-6)
    adjusted = multipletests(chances, method="holm")[1]
    assert [one.adjusted for one in counted.groups] == pytest.approx(list(adjusted), rel=1e-6)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_defects_a_metre_are_exact_poisson(seed: int) -> None:
    history = Story(seed).history
    counted = count(history, SITE, "joint")
    firsts, _ = frames(history)
    metres = firsts["length_mm"].sum() / 1000
    found = pd.DataFrame(history.defects, columns=["serial", "weld", "entry", "defect"])
    theirs = firsts.merge(found, on=["serial", "weld", "entry"])["defect"].value_counts()

    assert counted.metres == pytest.approx(metres)
    assert {one.kind: one.count for one in counted.defects} == theirs.to_dict()
    for one in counted.defects:
        low, high = confint_poisson(one.count, metres, method="exact-c")
        assert one.low == pytest.approx(low)
        assert one.high == pytest.approx(high)
        assert one.rate == pytest.approx(one.count / metres)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_repairs_rework_and_hours_are_those_of_pandas(seed: int) -> None:
    history = Story(seed).history
    counted = count(history, SITE, "joint")
    verdicts = pd.DataFrame([_fields(one) for one in history.verdicts]).sort_values("entry")
    made = pd.DataFrame([_fields(one) for one in history.made])
    at = ["serial", "weld"]
    last = verdicts.groupby(at).last()
    last["passes"] = made.groupby(at)["passed"].max()
    open_ = ~last["accepted"] | (last["passes"] != last["passed"])
    whole = last.groupby("serial").size() == 2 * VANES
    shut = ~open_.groupby("serial").any() & whole
    done = last.groupby("serial")["at_us"].max()[shut]
    done = done[(done >= FROM_US) & (done < TO_US)]
    repairs = made[made["passed"] > 0].groupby("serial").size()

    assert len(counted.cases) > 3
    assert sorted(counted.cases) == sorted(int(repairs.get(one, 0)) for one in done.index)
    within = made[(made["at_us"] >= FROM_US) & (made["at_us"] < TO_US)]
    assert counted.rework.n == len(within)
    assert counted.rework.good == int((within["passed"] > 0).sum())
    refused = verdicts[~verdicts["accepted"]].groupby(at)["at_us"].min()
    refused = refused[refused.index.get_level_values("serial").isin(done.index)]
    hours = (last.loc[refused.index, "at_us"] - refused) / HOUR_US
    of_weld, of_case = counted.delays
    assert sorted(of_weld.clock_h) == pytest.approx(sorted(hours))
    begun = refused.groupby("serial").min()
    whole_h = (done.loc[begun.index] - begun) / HOUR_US
    assert sorted(of_case.clock_h) == pytest.approx(sorted(whole_h))
    assert of_case.worked_h == pytest.approx([one / 2 for one in of_case.clock_h])
    assert middle(of_weld.clock_h) == pytest.approx(float(hours.median()))


def test_a_mean_has_students_interval_and_few_have_none() -> None:
    values = [0, 3, 1, 0, 2, 7]
    mean, error = float(np.mean(values)), float(sem(values))
    low, high = student.interval(0.95, len(values) - 1, loc=mean, scale=error)

    assert mean_of(values) == pytest.approx((13 / 6, low, high))
    assert mean_of([4]) is None
    assert middle([]) is None
    assert middle([3, 1]) == 2


@pytest.mark.parametrize("number", [0, 1, 7, 60])
def test_a_rate_of_nothing_found_has_an_upper_end(number: int) -> None:
    low, high = confint_poisson(number, 12.5, method="exact-c")

    rate, our_low, our_high = poisson_rate(number, 12.5)

    assert rate == number / 12.5
    assert our_low == pytest.approx(0.0 if number == 0 else low)
    assert our_high == pytest.approx(high)
    with pytest.raises(ValueError, match="exposed"):
        poisson_rate(1, 0.0)


def test_a_case_with_an_open_weld_is_not_done() -> None:
    story = Story(9)
    before = set(accepted_us(story.history))
    serial = next(iter(before))
    story.made.append(
        Made(serial=serial, weld="1-OUT", passed=9, at_us=WEEK_US, welder="w", lot="F")
    )

    assert set(accepted_us(story.history)) == before - {serial}


def test_nothing_gives_no_figure() -> None:
    counted = count(History(rings={}, verdicts=(), made=(), defects=()), SITE, "week")

    assert (counted.first.value, counted.groups, counted.defects) == (None, (), ())
    assert (counted.cases, counted.rework.n) == ((), 0)
