"""The worked heat trace: its soak begins with the slowest sensor, not with the first.

`data/heat_trace.csv` is a sheet made for the purpose (three thermocouples, a minute a sample,
920 ± 8 degC), `data/heat_trace_expected.csv` what was worked out of it by hand and least
squares outside this project. That a soak begins with the slowest sensor is common practice, no
source. In it the thermocouples stand still for two hours, which ours takes for broken ones; so
they flicker by a tenth here.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from ringwright.heat.judge import Judgement, judge
from ringwright.heat.rates import steepest_per_min
from ringwright.heat.reading import read_trace
from ringwright.heat.toml import parse_recipe
from ringwright.heat.trace import Trace

DATA = Path(__file__).parent / "data"
RECIPE = parse_recipe("""
[[segment]]
name = "heat"
kind = "ramp"
target_c = 920
[[segment]]
name = "soak"
kind = "soak"
target_c = 920
tolerance_c = 8
min_minutes = 120
[[segment]]
name = "cool"
kind = "ramp"
target_c = 690
tolerance_c = 4
""")


def expected(quantity: str) -> str:
    with (DATA / "heat_trace_expected.csv").open(newline="") as file:
        return next(
            row["expected"] for row in csv.DictReader(file) if row["quantity"] == quantity
        )


def number(quantity: str) -> float:
    """The figure of a row such as `minute 96` or `144 min` or `-4.000 C/min`."""
    words = expected(quantity).split()
    return float(next(word for word in words if word.lstrip("-").replace(".", "").isdigit()))


def sheet(flicker: float) -> Trace:
    with (DATA / "heat_trace.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    lines = ["at,tc1_c,tc2_c,tc3_c"]
    for row in rows:
        minute = int(row["minute"])
        less = flicker if minute % 2 else 0.0
        reads = [f"{float(row[f'tc{n}_c']) - less:.1f}" for n in (1, 2, 3)]
        lines.append(",".join([str(60 * minute), *reads]))
    return read_trace("\n".join(lines), "heat_trace.csv")


@pytest.fixture(scope="module")
def found() -> Judgement:
    """The sheet as judged."""
    return judge(sheet(0.1), RECIPE)


def test_the_soak_runs_from_the_slowest_sensor_to_the_last_minute_in_band(
    found: Judgement,
) -> None:
    soak = found.segments[1]

    assert soak.first == number("soak start (all TCs in band)")
    assert soak.last == number("last in-band minute")
    assert soak.start_s is not None
    assert soak.end_s is not None
    assert (soak.end_s - soak.start_s) / 60.0 == number("elapsed soak 96..240")


def test_the_excursion_is_out_of_band_and_too_hot(found: Judgement) -> None:
    soak = found.segments[1]

    # Three samples, each standing for its minute; the last in band stands for none.
    assert soak.out_of_band_minutes == 3.0
    assert soak.minutes == number("samples in band") - 1
    assert soak.max_c == number("peak")
    assert not soak.met
    assert soak.why == "tc3_c read 930.5 °C at 10800 s, above 928 °C"
    assert found.verdict == "not met"


def test_the_rates_are_those_of_the_sheet() -> None:
    trace = sheet(0.0)
    first = trace.temperatures_c["tc1_c"]
    rise = np.flatnonzero((first >= 100) & (first <= 800) & (trace.at_s < 6000))
    fall = slice(240, 301)

    up = steepest_per_min(trace.at_s[rise], first[rise], 60.0)
    down = steepest_per_min(trace.at_s[fall], first[fall], 60.0)

    assert up is not None
    assert down is not None
    assert up[0] == pytest.approx(number("heating rate 100-800 C on TC1"))
    assert down[0] == pytest.approx(abs(number("cooling rate")))


def test_thermocouples_that_stand_still_for_hours_are_named() -> None:
    found = judge(sheet(0.0), RECIPE)
    assert (found.channels_failed, found.verdict) == (("tc1_c", "tc2_c", "tc3_c"), "not met")
