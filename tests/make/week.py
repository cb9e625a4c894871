"""Hand-made read models of a week, for tests of what is drawn from them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ringwright.core.calendar import parse_instant, working_us
from ringwright.core.proportion import wilson
from ringwright.flow.acts import ActPart
from ringwright.flow.model import (
    Account,
    Cohort,
    CycleTime,
    LittlesLaw,
    Proportion,
    ScrapReason,
    StepStanding,
    StepWeek,
    Strip,
    WeekNumbers,
    WeekSheet,
)

ZONE = "Europe/Oslo"
HOUR_US = 3_600_000_000


def at(text: str) -> int:
    """Site time of Oslo as an instant."""
    return parse_instant(text, ZONE)


START_US = at("2026-09-28T00:00")
END_US = at("2026-10-05T00:00")
NOW_US = at("2026-10-01T03:10:12")
# Five days of three shifts, from Sunday night 22:00 to Saturday 06:00, as the week cuts them.
WORKING = ((START_US, at("2026-10-03T06:00")),)


def share(part: int, n: int) -> Proportion:
    """A proportion with its interval."""
    if n == 0:
        return Proportion(value=None, low=None, high=None, n=0)
    low, high = wilson(part, n)
    return Proportion(value=part / n, low=low, high=high, n=n)


def step(number: int = 10, name: str = "Clean", firsts: int = 40, passes: int = 38) -> StepWeek:
    """A step with some visits, one in twenty of them reworked."""
    return StepWeek(
        number=number, name=name, visits=firsts, first_visits=firsts, first_passes=passes,
        first_pass_yield=share(passes, firsts), rework_ratio=(firsts - passes) / firsts,
        touch_h_median=1.25, queue_h_median=6.5,
    )  # fmt: skip


def standing(number: int = 10, name: str = "Clean", **given: Any) -> StepStanding:
    """What stands at a step; nothing unless given."""
    counts = {"waiting": 0, "in_work": 0, "held": 0, "over_plan": 0}
    return StepStanding(
        number=number, name=name, oldest_h=given.pop("oldest_h", None),
        oldest_serial=given.pop("oldest_serial", None), **{**counts, **given},
    )  # fmt: skip


def numbers(**given: Any) -> WeekNumbers:
    """The numbers of fan blades: 33 out of 66 with two fifths of the week gone."""
    usual: dict[str, Any] = {
        "product": "HF22-BLADE", "week": "2026-W40", "start_us": START_US, "end_us": END_US,
        "zone": ZONE, "target": 66.0, "output": 33, "scrapped": 3, "created": 38,
        "wip": {10: 6, 20: 9}, "steps": (step(), step(20, "Inflate", 41, 34)),
        "cycle_time_h": CycleTime(n=33, median=431.2, mean=447.9, p90=561.0, plan=412.0),
        "rolled_throughput_yield": 0.788, "rolled_missing": (), "final_yield": share(33, 36),
        "cohort": Cohort(created=38, released=0, scrapped=1, open=37),
    }  # fmt: skip
    return WeekNumbers(**{**usual, **given})


def evenly(count: int, until_us: int = NOW_US, since_us: int = START_US) -> tuple[int, ...]:
    """So many releases at even distances."""
    gap = (until_us - since_us) / (count + 1)
    return tuple(round(since_us + gap * (k + 1)) for k in range(count))


def account(**given: int) -> Account:
    """Every fan blade accounted for; another count where given."""
    usual = {"opening": 13, "created": 38, "reopened": 0, "released": 33, "scrapped": 3,
             "used": 0, "closing": 15}  # fmt: skip
    return Account(**{**usual, **given})


def strip(name: str = "Fan blades", **given: Any) -> Strip:
    """One product of the week; figures of `numbers` may be given among the others."""
    fields = set(Strip.__dataclass_fields__) - {"numbers", "name"}
    own = {key: value for key, value in given.items() if key in fields}
    counted = numbers(**{key: value for key, value in given.items() if key not in fields})
    gone = working_us(WORKING, START_US, NOW_US) / working_us(WORKING, START_US, END_US)
    usual: dict[str, Any] = {
        "promised_now": None if counted.target is None else counted.target * gone,
        "releases_us": evenly(counted.output),
        "standing": (
            standing(waiting=4, in_work=2, over_plan=1, oldest_h=31.4, oldest_serial="HB-4127"),
            standing(20, "Inflate", waiting=7, in_work=2, held=3, oldest_h=52.0,
                     oldest_serial="HB-4098"),
        ),
        "scrap": (ScrapReason(defect="pin hole", count=3, found_at="20 Inflate",
                              caused_at="10 Clean"),),
        "account": account(),
        "cycle_time_working_h": CycleTime(
            n=33, median=330.1, mean=341.0, p90=420.2, plan=412.0
        ),
        "law": LittlesLaw(weeks=8, mean_wip=95.0, exits_per_day=9.5, mean_days=10.0),
        "restated": False,
    }  # fmt: skip
    return Strip(numbers=counted, name=name, **{**usual, **own})


def sheet(*strips: Strip, **given: Any) -> WeekSheet:
    """A week of Holmfell on the night of 1 October."""
    made = WeekSheet(
        site="HOLMFELL", site_name="Holmfell", zone=ZONE, week="2026-W40", start_us=START_US,
        end_us=END_US, now_us=NOW_US, as_of=False, head_seq=184_206,
        head_hash="7c1e90a4" + "0" * 56, last_entry_us=NOW_US, working=WORKING, strips=strips,
    )  # fmt: skip
    return replace(made, **given)


def part(serial: str = "HB-4098", **given: Any) -> ActPart:
    """A fan blade that waits for its inflating, inside its plan."""
    usual: dict[str, Any] = {
        "product": "HF22-BLADE", "step": 20, "in_work": False, "since_us": NOW_US - HOUR_US,
        "excess_us": 0, "excess_worked_us": 0,
    }  # fmt: skip
    return ActPart(serial=serial, **{**usual, **given})
