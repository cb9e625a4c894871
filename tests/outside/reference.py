"""The numbers of a week worked out a second time, in pandas, from the events alone.

It imports nothing of the product. Intervals: statsmodels `proportion_confint(method="wilson")`.
Quantiles: pandas, linear. The definitions are those of the project's own contract.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from statsmodels.stats.proportion import proportion_confint


@dataclass(frozen=True)
class Mend:
    """A correction: the event by its place in the list, when it became known, what it says."""

    place: int
    known: datetime
    void: bool
    changes: dict[str, Any]


@lru_cache(maxsize=64)
def site_week(
    week: str, zone: str, week_starts: str = "monday 00:00"
) -> tuple[pd.Timestamp, pd.Timestamp]:
    """[from, to) of the site week that holds the noon of that ISO week's Thursday."""
    day, clock = week_starts.split()
    noon = datetime.fromisocalendar(int(week[:4]), int(week[6:]), 4).replace(hour=12)
    starts = pd.date_range(noon - timedelta(days=8), noon + timedelta(days=8), freq="min")
    hour, minute = map(int, clock.split(":"))
    wall = starts[
        (starts.day_name() == day.capitalize())
        & (starts.hour == hour)
        & (starts.minute == minute)
    ]
    start = max(moment for moment in wall if moment <= noon)
    local = ZoneInfo(zone)
    return (
        start.tz_localize(local).tz_convert(UTC),
        (start + pd.Timedelta(days=7)).tz_localize(local).tz_convert(UTC),
    )


def events_of(
    rows: list[dict[str, Any]], mends: list[Mend], before: datetime | None
) -> pd.DataFrame:
    """Events as known before a moment, each part's in the order they happened."""
    kept = []
    for place, row in enumerate(rows):
        at = datetime.fromisoformat(row["at"]).astimezone(UTC)
        known = row.get("known", at)
        if before is not None and known >= before:
            continue
        event = {**row, "at": at, "place": place}
        for mend in mends:
            if mend.place == place and (before is None or mend.known < before):
                event |= {"void": mend.void, **mend.changes}
        if not event.get("void"):
            kept.append(event)
    frame = pd.DataFrame(kept, columns=[*rows[0], "place"] if not kept else None)
    frame["at"] = pd.to_datetime(frame["at"], utc=True)
    return frame.sort_values(["serial", "at", "place"], kind="stable").reset_index(drop=True)


def visits_of(events: pd.DataFrame, created: pd.Series[Any]) -> pd.DataFrame:
    """One row a visit: the n-th begin of a part with its n-th end."""
    begins = events[events.act == "begin"].copy()
    ends = events[events.act == "end"].copy()
    begins["n"] = begins.groupby("serial").cumcount()
    ends["n"] = ends.groupby("serial").cumcount()
    visits = begins[["serial", "n", "step", "at"]].merge(
        ends[["serial", "n", "outcome", "at"]],
        on=["serial", "n"], how="left", suffixes=("_begin", "_end"),
    )  # fmt: skip
    visits["step"] = visits.step.astype(int)
    visits["first"] = visits.groupby(["serial", "step"]).cumcount() == 0
    previous = visits.groupby("serial").at_end.shift(1)
    came = created.reindex(visits.serial).set_axis(visits.index)
    visits["queue"] = visits.at_begin - previous.fillna(came)
    visits["touch"] = visits.at_end - visits.at_begin - paused(events, visits)
    return visits


def paused(events: pd.DataFrame, visits: pd.DataFrame) -> pd.Series[Any]:
    """Time each visit rested; a rest nobody ended lasts to the visit's end."""
    rests = []
    for visit in visits.itertuples():
        own = events[events.serial == visit.serial].reset_index(drop=True)
        nth = own[own.act == "begin"].index[int(str(visit.n))]
        rests.append(_rest(own.iloc[nth + 1 :]))
    return pd.Series(rests, index=visits.index, dtype="timedelta64[us]")


def _rest(after: pd.DataFrame) -> pd.Timedelta:
    """Time rested from a begin to the end that follows it."""
    rest, open_since = pd.Timedelta(0), None
    for act, at in zip(after.act, after["at"], strict=True):
        if act == "pause":
            open_since = at
        elif act in ("resume", "end") and open_since is not None:
            rest, open_since = rest + (at - open_since), None
        if act == "end":
            break
    return rest


def share(part: int, n: int) -> dict[str, Any]:
    """A proportion as the contract prints it."""
    if n == 0:
        return {"value": None, "low": None, "high": None, "n": 0}
    low, high = proportion_confint(part, n, alpha=0.05, method="wilson")
    return {"value": part / n, "low": low, "high": high, "n": n}


def hours(values: pd.Series[Any], how: str) -> float | None:
    """Median, mean or 90th percentile of durations [h]."""
    if values.empty:
        return None
    numbers = values.dt.total_seconds() / 3600
    how_to = {"median": 0.5, "p90": 0.9}
    return float(numbers.mean() if how == "mean" else numbers.quantile(how_to[how]))


def wip(
    at: pd.Timestamp,
    created: pd.Series[Any],
    out: pd.Series[Any],
    visits: pd.DataFrame,
    steps: list[int],
) -> dict[str, int]:
    """Parts by step at a moment; what happens at that very moment has not happened yet."""
    found: dict[str, int] = {}
    left = dict(zip(out.index, out, strict=True))
    for serial, came in created.items():
        if came >= at or left.get(serial, at) < at:
            continue
        own = visits[(visits.serial == serial) & (visits.at_begin < at)]
        step = steps[0]
        if not own.empty:
            last = own.iloc[-1]
            step = last.step
            ended = pd.notna(last.at_end) and last.at_end < at
            if ended and last.outcome in ("pass", "concession"):
                step = steps[steps.index(step) + 1]
        found[str(step)] = found.get(str(step), 0) + 1
    return found


def week_numbers(  # noqa: PLR0913 - one question, asked in full
    rows: list[dict[str, Any]],
    steps: list[int],
    zone: str,
    week: str,
    now: datetime,
    *,
    mends: list[Mend] | None = None,
    before: datetime | None = None,
    week_starts: str = "monday 00:00",
) -> dict[str, Any]:
    """What `week --json` should say of one product, less names, target and plan."""
    start, end = site_week(week, zone, week_starts)
    events = events_of(rows, mends or [], before)
    created = events[events.act == "create"].set_index("serial")["at"]
    visits = visits_of(events, created)
    good = visits[visits.outcome.isin(["pass", "concession"]) & (visits.step == steps[-1])]
    released = good.groupby("serial").at_end.last()
    scrapped = visits[visits.outcome == "scrap"].groupby("serial").at_end.last()

    def within(moments: pd.Series[Any]) -> pd.Series[Any]:
        return moments[(moments >= start) & (moments < end)]

    ended = visits[(visits.at_end >= start) & (visits.at_end < end)]
    cycle = within(released) - created.reindex(within(released).index)
    cohort = within(created).index
    table = [_step(number, ended[ended.step == number]) for number in steps]
    yields = [row["first_pass_yield"]["value"] for row in table]
    known = [value for value in yields if value is not None]
    out_n, bad_n = len(within(released)), len(within(scrapped))
    moment = min(end, pd.Timestamp(before or now))
    return {
        "output": out_n, "scrapped": bad_n, "created": len(cohort),
        "wip": wip(moment, created, pd.concat([released, scrapped]), visits, steps),
        "cycle_time_h": {
            "n": len(cycle),
            **{name: hours(cycle, name) for name in ("median", "mean", "p90")},
        },
        "steps": table,
        "rolled_throughput_yield": float(np.prod(known)) if known else None,
        "final_yield": share(out_n, out_n + bad_n),
        "cohort": {
            "created": len(cohort),
            "released": int(cohort.isin(released.index).sum()),
            "scrapped": int(cohort.isin(scrapped.index).sum()),
            "open": int((~cohort.isin(released.index) & ~cohort.isin(scrapped.index)).sum()),
        },
    }  # fmt: skip


def _step(number: int, ended: pd.DataFrame) -> dict[str, Any]:
    firsts = ended[ended["first"]]
    passes = int((firsts.outcome == "pass").sum())
    again = ended.outcome.isin(["rework", "repair"])
    return {
        "number": number, "visits": len(ended), "first_visits": len(firsts),
        "first_passes": passes, "first_pass_yield": share(passes, len(firsts)),
        "rework_ratio": float(again.mean()) if len(ended) else None,
        "touch_h_median": hours(ended.touch, "median"),
        "queue_h_median": hours(ended.queue, "median"),
    }  # fmt: skip
