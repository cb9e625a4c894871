"""The shapes of chart, comparison and losses for the API's document, each with an example."""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel


class AccountOut(BaseModel):
    """The whole product over the weeks: the first three are as many as the rest."""

    opening: int
    created: int
    reopened: int
    released: int
    scrapped: int
    used: int
    closing: int


class ShareOut(BaseModel):
    """A proportion and its Wilson 95 % interval; nulls when n is 0.

    With `loads` the value is the share of parts and the interval that of so many loads.
    """

    value: float | None
    low: float | None
    high: float | None
    n: int
    loads: int | None


class WeeksOut(BaseModel):
    """Which product and weeks, what was left out, and their account."""

    product: str
    first: str
    last: str
    without: str | None
    account: AccountOut


class DotOut(BaseModel):
    """One week, load, visit or part of a chart, its limits and the rules it breaks."""

    name: str
    value: float | None
    n: int
    loads: int | None
    in_window: bool
    small: bool
    lower: float | None
    upper: float | None
    signals: list[str]


class BehindOut(BaseModel):
    """One part behind the point that is opened."""

    serial: str
    at: str
    outcome: str
    station: str
    run: str
    defect: str


class ChartOut(WeeksOut):
    """A control chart of a share by week, of single values, or of hours."""

    kind: str
    step: int | None
    unit: str
    of_loads: bool
    rules: list[str]
    centre: float | None
    from_before: bool
    false_signals_a_week: float | None
    charts: int
    false_signals_a_week_of_all: float
    points: list[DotOut]
    parts: list[BehindOut]


class SideOut(BaseModel):
    """One group, its good parts and their share."""

    key: str
    good: int
    share: ShareOut


class PairOut(BaseModel):
    """Two groups: the difference of their shares, its 95 % interval, and the chances of it."""

    one: str
    other: str
    difference: float
    low: float
    high: float
    p: float
    p_adjusted: float
    test: str
    small: bool


class ComparisonOut(WeeksOut):
    """Two groups compared, and the first against each other one."""

    by: str
    step: int | None
    groups: list[SideOut]
    comparisons: int
    overlap: bool
    chosen: PairOut | None
    pairs: list[PairOut]


class LossOut(BaseModel):
    """What some scrapped parts took; the mass is of those that were weighed."""

    parts: int
    weighed: int
    mass_kg: float | None
    touch_h: float
    touch_working_h: float
    elapsed_h: float
    elapsed_working_h: float


class LossOfOut(LossOut):
    """The same for one reason; null where none was recorded."""

    of: int | str | None


class LostOut(BaseModel):
    """One scrapped part, and what it took."""

    serial: str
    at: str
    defect: str | None
    place: str | None
    found: int | None
    caused: int | None
    mass_kg: float | None
    touch_h: float
    touch_working_h: float
    elapsed_h: float
    elapsed_working_h: float


class LossesOut(WeeksOut):
    """What scrap took: in all, by reason (each list adds up to all), part by part."""

    lost: LossOut
    by_caused: list[LossOfOut]
    by_found: list[LossOfOut]
    by_defect: list[LossOfOut]
    by_place: list[LossOfOut]
    parts: list[LostOut]


ACCOUNT: Final = {
    "opening": 70, "created": 72, "reopened": 0, "released": 60, "scrapped": 2, "used": 0,
    "closing": 80,
}  # fmt: skip
WEEKS: Final[dict[str, Any]] = {
    "product": "HF22-BLADE", "first": "2026-W39", "last": "2026-W40", "without": None,
    "account": ACCOUNT,
}  # fmt: skip
SHARE: Final = {"value": 0.9571, "low": 0.8814, "high": 0.9853, "n": 70, "loads": None}
CHART: Final[dict[str, Any]] = {
    **WEEKS,
    "kind": "shares", "step": None, "unit": "share", "of_loads": False, "rules": ["beyond"],
    "centre": 0.9571, "from_before": True, "false_signals_a_week": 0.0031, "charts": 13,
    "false_signals_a_week_of_all": 0.0472,
    "points": [
        {
            "name": "2026-W40", "value": 0.9677, "n": 62, "loads": None, "in_window": True,
            "small": False, "lower": 0.8799, "upper": 1.0, "signals": [],
        }
    ],
    "parts": [
        {
            "serial": "B-1042", "at": "2026-09-30T07:00:00+02:00", "outcome": "scrapped",
            "station": "", "run": "", "defect": "delamination",
        }
    ],
}  # fmt: skip
PAIR: Final[dict[str, Any]] = {
    "one": "L-88", "other": "L-89", "difference": -0.1, "low": -0.24, "high": 0.03,
    "p": 0.21, "p_adjusted": 0.21, "test": "exact", "small": False,
}  # fmt: skip
COMPARISON: Final[dict[str, Any]] = {
    **WEEKS,
    "by": "lot", "step": None,
    "groups": [{"key": "L-88", "good": 67, "share": SHARE}], "comparisons": 1,
    "overlap": False, "chosen": PAIR, "pairs": [PAIR],
}  # fmt: skip
LOSS: Final[dict[str, Any]] = {
    "parts": 2, "weighed": 1, "mass_kg": 4.2, "touch_h": 31.5, "touch_working_h": 28.0,
    "elapsed_h": 410.0, "elapsed_working_h": 190.5,
}  # fmt: skip
LOSSES: Final[dict[str, Any]] = {
    **WEEKS,
    "lost": LOSS,
    "by_caused": [{"of": 30, **LOSS}], "by_found": [{"of": 40, **LOSS}],
    "by_defect": [{"of": "delamination", **LOSS}], "by_place": [{"of": None, **LOSS}],
    "parts": [
        {
            "serial": "B-1042", "at": "2026-09-30T07:00:00+02:00", "defect": "delamination",
            "place": "root", "found": 40, "caused": 30, "mass_kg": 4.2, "touch_h": 15.5,
            "touch_working_h": 14.0, "elapsed_h": 205.0, "elapsed_working_h": 95.0,
        }
    ],
}  # fmt: skip
"""Answers as the API's document shows them."""
