"""A furnace run worked out a second time, in pandas, from its CSV file and the band alone.

It imports nothing of the product. The rules are the project's own contract, read anew: a soak
begins with the first row that has every thermocouple in band and ends with the last such row
before the first row of the next target; each row stands for the time until the next; an
interval over three times the median stops the clock; a rate is the slope of a line by least
squares over five minutes (`pandas.Series.rolling().cov`, so even intervals are wanted).
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """What the contract asks of one soak."""

    start: str
    begin: int
    end: int
    """Its first and last row."""
    minutes: float
    min_c: float
    max_c: float
    spread_c: float
    out_of_band_minutes: float
    longest_dip_min: float


def rows_of(text: str) -> pd.DataFrame:
    """The file's rows by time, repeated ones once, with the time as seconds in `s`."""
    rows = pd.read_csv(io.StringIO(text)).drop_duplicates()
    if pd.api.types.is_numeric_dtype(rows["at"]):
        rows["s"] = rows["at"].astype(float)
    else:
        epoch = pd.Timestamp("1970-01-01", tz="UTC")
        rows["s"] = (pd.to_datetime(rows["at"], utc=True) - epoch).dt.total_seconds()
    return rows.sort_values("s").drop_duplicates("s").reset_index(drop=True)


def channels(rows: pd.DataFrame) -> pd.DataFrame:
    """The thermocouples' columns."""
    return rows.filter(regex=r"^tc\d+_c$")


def _first(true: pd.Series) -> int:
    """The label of the first row where something is so."""
    return int(true[true].index[0])


def soak_of(
    rows: pd.DataFrame, band: tuple[float, float], after: tuple[float, float], since: int = 0
) -> Soak:
    """The soak in `band` (low, high) from row `since` on, ended by the way to band `after`."""
    reads = channels(rows)
    inside = ((reads >= band[0]) & (reads <= band[1])).all(axis=1)
    begin = _first(inside[since:])
    there = ((reads >= after[0]) & (reads <= after[1])).all(axis=1) & (rows.index > begin)
    limit = _first(there) if there.any() else len(rows)
    end = _first(inside[:limit][::-1])
    steps = rows["s"].shift(-1) - rows["s"]
    steps[steps > 3 * steps.median()] = 0.0
    part = slice(begin, end - 1)
    within = reads.loc[begin:end]
    dips = rows["s"].loc[begin:end].groupby((inside != inside.shift()).cumsum()).agg("first")
    lengths = (dips.shift(-1) - dips)[1::2]
    return Soak(
        start=str(rows["at"][begin]),
        begin=begin,
        end=end,
        minutes=float(steps.loc[part][inside.loc[part]].sum() / 60),
        min_c=float(within.min().min()),
        max_c=float(within.max().max()),
        spread_c=float((within.max(axis=1) - within.min(axis=1)).max()),
        out_of_band_minutes=float(steps.loc[part][~inside.loc[part]].sum() / 60),
        longest_dip_min=float(lengths.max() / 60) if len(lengths) else 0.0,
    )


def steepest(rows: pd.DataFrame, first_s: float, last_s: float) -> float:
    """Size of the steepest slope [degC/min] of any thermocouple over five minutes."""
    part = rows[(rows["s"] >= first_s) & (rows["s"] <= last_s)]
    minutes = (part["s"] - first_s) / 60
    window = round(5 / float(minutes.diff().median())) + 1
    variance = minutes.rolling(window).var()
    slopes = [
        channels(part)[name].rolling(window).cov(minutes) / variance for name in channels(part)
    ]
    return float(np.nanmax(np.abs(np.array(slopes))))


def above(rows: pd.DataFrame, band: tuple[float, float], after: tuple[float, float]) -> bool:
    """True where something reads above the band, from the first thermocouple in it until the
    load is at the next target, which is colder."""
    reads = channels(rows)
    begin = _first((reads >= band[0]).any(axis=1))
    later = reads[begin:]
    there = ((later >= after[0]) & (later <= after[1])).all(axis=1)
    until = _first(there) if there.any() else len(rows)
    return bool((reads[begin:until] > band[1]).any(axis=None))
