"""What the recorder of an inflation furnace writes: a cycle from its seed, minute by minute.

Each thermocouple follows the programme as a body does that is heated through its surface: by a
first-order lag, longer where it lies deep in the load. About that it strays by its place, by
the run, slowly within the run, and by the noise of the reading. The argon follows its own
programme. What goes wrong in a run is settled beforehand and laid over this.

All figures are the factory's own, chosen to look like a hot furnace: common practice, no
source.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np

from ringwright.core.calendar import SECOND_US
from ringwright.heat.trace import Floats, Trace

CHANNELS: Final = ("tc1_c", "tc2_c", "tc3_c", "tc4_c", "tc5_c")
"""One at each position of the load, the last on the platen in the middle."""
STEP_S: Final = 60.0
BATCH_S: Final = 7200.0
"""The recorder hands its readings in every two hours, and what is left at the end."""
HANDED_IN_S: Final = 20
"""How long that takes."""

TARGET_C, BAND_C, ROOM_C = 912.0, 12.0, 24.0
HEAT_C_PER_MIN: Final = 4.9
HEAT_MIN: Final = (6.4, 6.1, 7.2, 6.9, 5.4)
COOL_MIN: Final = (119.0, 116.0, 124.0, 121.0, 127.0)
"""Time constants of each thermocouple in heating, and in cooling with the furnace shut."""
PLACES_C: Final = {"INF-1": (-1.4, 0.9, -2.1, 1.5, 0.4), "INF-2": (-0.8, 1.1, -1.6, -2.4, 0.3)}
"""How far each thermocouple reads from the set point while the furnace is well."""
EVEN_MIN, FORM_MIN = 45.0, 74.0
LONGEST_WAIT_MIN: Final = 45.0
"""The programme waits so long for the coldest zone, and then goes on."""
PRESS_KPA_PER_MIN: Final = {"1": 8.4, "2": 7.6}
CATCH_UP_KPA_PER_MIN: Final = {"1": 10.8, "2": 9.0}
"""By revision of the recipe; the fastest a regulator that stuck makes up for it."""
PURGE_KPA, FULL_KPA, VENTED_KPA = 20.0, 1200.0, 40.0
VENT_MIN: Final = 3.5
STARVES_KPA_PER_MIN: Final = 1.6
SLIDES_C_PER_MIN: Final = 0.16
ABORTED_MIN: Final = (130.0, 40.0)
"""A cycle that is broken off lasts so long at least, and how much longer at most."""

GOOD, SLIDE, STARVED, DEAD, ABORTED = "good", "slide", "starved", "dead", "aborted"
STUCK, GAP = "stuck", "gap"
"""What becomes of a cycle: nothing wrong; a zone goes cold; the argon runs short; a
thermocouple dies; broken off while it heats; the argon regulator sticks and catches up within
its limits; the recorder is silent for some minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """All that decides what the recorder writes: plain data, so that a week can be kept."""

    run: str
    furnace: str
    revision: str
    began_us: int
    parts: int
    fate: str = GOOD
    zone: int = 0
    """The thermocouple whose zone ages, goes cold, or that dies."""
    aged_c: float = 0.0
    """How far that zone reads from where it did when it was well."""
    stuck_min: float = 0.0

    def data(self) -> list[Any]:
        """As `cycle_from` reads it."""
        return [getattr(self, name) for name in self.__slots__]


def cycle_from(data: list[Any]) -> Cycle:
    """The cycle that `data` wrote."""
    return Cycle(**dict(zip(Cycle.__slots__, data, strict=True)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Drawn:
    """What differs from run to run; arrays are (thermocouples, 1)."""

    from_c: float
    heat_c_per_min: float
    heat_min: Floats
    cool_min: Floats
    off_c: Floats
    press_kpa_per_min: float
    stays_min: float
    cooling_min: float
    when: float
    """How far through its stretch something goes wrong, 0 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """When each thing happens, in minutes since the cycle began."""

    hot: float
    """The set point is at its target."""
    press: float
    full: float
    vent: float
    end: int
    wrong: float
    """When what goes wrong begins."""


def minutes_of(cycle: Cycle) -> int:
    """How long the cycle takes [min]."""
    return _plan(cycle, _draw(cycle, _die(cycle))).end


@lru_cache(maxsize=8)
def trace_of(cycle: Cycle) -> Trace:
    """The whole record of a cycle, a sample a minute, to a tenth of a degree and of a kPa."""
    die = _die(cycle)
    drawn = _draw(cycle, die)
    plan = _plan(cycle, drawn)
    minute = np.arange(plan.end + 1, dtype=np.float64)
    reads = _temperatures(cycle, minute, drawn, plan, die)
    argon = _argon(cycle, minute, drawn, plan, die)
    kept = _recorded(cycle, minute, plan)
    at_s = cycle.began_us / SECOND_US + minute * STEP_S
    return Trace(
        at_s=at_s[kept],
        temperatures_c={
            name: np.round(read[kept], 1) for name, read in zip(CHANNELS, reads, strict=True)
        },
        pressure_kpa=np.round(argon[kept], 1),
    )


def batches_of(cycle: Cycle) -> list[tuple[int, int, int]]:
    """When each batch is handed in [us], its first sample and the one after its last."""
    trace = trace_of(cycle)
    since_s = trace.at_s - cycle.began_us / SECOND_US
    edges_s = np.append(np.arange(BATCH_S, since_s[-1], BATCH_S), since_s[-1])
    ends = np.searchsorted(since_s, edges_s, side="right").tolist()
    found = []
    for first, last, edge_s in zip([0, *ends], ends, edges_s.tolist(), strict=False):
        if last > first:
            at_us = cycle.began_us + (round(edge_s) + HANDED_IN_S) * SECOND_US
            found.append((at_us, first, last))
    return found


def batch_of(cycle: Cycle, first: int, last: int) -> Trace:
    """The samples of one batch."""
    trace, part = trace_of(cycle), slice(first, last)
    pressure = trace.pressure_kpa
    return Trace(
        at_s=trace.at_s[part],
        temperatures_c={name: read[part] for name, read in trace.temperatures_c.items()},
        pressure_kpa=None if pressure is None else pressure[part],
    )


def _die(cycle: Cycle) -> np.random.RandomState:
    # The stream of this generator is frozen by its makers; that of the newer ones is not.
    return np.random.RandomState(zlib.crc32(f"{cycle.run}/{cycle.began_us}".encode()))


def _draw(cycle: Cycle, die: np.random.RandomState) -> _Drawn:
    many = len(CHANNELS)
    off = np.array(PLACES_C[cycle.furnace]) + 0.55 * die.standard_normal(many)
    off += 0.5 * die.standard_normal()
    off[cycle.zone] += cycle.aged_c
    load = 0.86 + 0.035 * cycle.parts
    heat = np.array(HEAT_MIN) * load * (1.0 + 0.025 * die.standard_normal(many))
    cool = np.array(COOL_MIN) * (1.0 + 0.01 * die.standard_normal())
    press = PRESS_KPA_PER_MIN[cycle.revision] * (1.0 + 0.006 * die.standard_normal())
    return _Drawn(
        from_c=ROOM_C + 30.0 * die.random_sample(),
        heat_c_per_min=HEAT_C_PER_MIN + 0.05 * die.standard_normal(),
        heat_min=heat[:, None],
        cool_min=cool[:, None],
        off_c=off[:, None],
        press_kpa_per_min=float(press),
        stays_min=3.0 * die.random_sample(),
        cooling_min=160.0 + 45.0 * die.random_sample(),
        when=die.random_sample(),
    )


def _plan(cycle: Cycle, drawn: _Drawn) -> _Plan:
    hot = (TARGET_C - drawn.from_c) / drawn.heat_c_per_min
    room = np.maximum(BAND_C + drawn.off_c, 0.2)
    waits = drawn.heat_min * np.log(np.maximum(_short_c(drawn, hot) / room, 1.0))
    press = hot + min(float(waits.max()), LONGEST_WAIT_MIN) + EVEN_MIN + drawn.stays_min
    full = press + _rise_min(cycle, drawn)
    vent = full + FORM_MIN + drawn.stays_min
    end = math.ceil(vent + drawn.cooling_min)
    if cycle.fate == ABORTED:
        end = math.ceil(ABORTED_MIN[0] + ABORTED_MIN[1] * drawn.when)
    begins = {
        SLIDE: press + (0.15 + 0.25 * drawn.when) * (full - press),
        STARVED: full + 2.0 + 8.0 * drawn.when,
        DEAD: press + 40.0 * drawn.when,
        STUCK: press + 25.0 + 25.0 * drawn.when,
        GAP: full + 10.0 + 30.0 * drawn.when,
    }
    wrong = begins.get(cycle.fate, math.inf)
    return _Plan(hot=hot, press=press, full=full, vent=vent, end=end, wrong=wrong)


def _rise_min(cycle: Cycle, drawn: _Drawn) -> float:
    """How long the pressure takes to rise, with what a stuck regulator costs beyond it."""
    rate, catch_up = drawn.press_kpa_per_min, CATCH_UP_KPA_PER_MIN[cycle.revision]
    usual = (FULL_KPA - PURGE_KPA) / rate
    if cycle.fate != STUCK:
        return usual
    return max(usual, cycle.stuck_min + (FULL_KPA - PURGE_KPA - rate * 50.0) / catch_up + 50.0)


def _short_c(drawn: _Drawn, hot: float) -> Floats:
    """How far below the target each thermocouple is when the set point comes to it."""
    short: Floats = (
        drawn.heat_c_per_min * drawn.heat_min * (1.0 - np.exp(-hot / drawn.heat_min))
    )
    return short


def _temperatures(
    cycle: Cycle, minute: Floats, drawn: _Drawn, plan: _Plan, die: np.random.RandomState
) -> Floats:
    """(thermocouples, minutes) as read."""
    lag = drawn.heat_min
    heating = np.minimum(minute, plan.hot)
    rise = heating - lag * (1.0 - np.exp(-heating / lag))
    after = np.maximum(minute - plan.hot, 0.0)
    true = np.where(
        after > 0.0,
        TARGET_C - _short_c(drawn, plan.hot) * np.exp(-after / lag),
        drawn.from_c + drawn.heat_c_per_min * rise,
    )
    cooling = np.maximum(minute - plan.vent - 2.0, 0.0)
    true = ROOM_C + (true - ROOM_C) * np.exp(-cooling / drawn.cool_min)
    share = (true - ROOM_C) / (TARGET_C - ROOM_C)
    off = drawn.off_c + 0.35 * _waves(minute, die)
    if cycle.fate == SLIDE:
        gone = np.clip(minute, plan.wrong, plan.vent) - plan.wrong
        off[cycle.zone] -= SLIDES_C_PER_MIN * gone
    read: Floats = true + share * off + 0.15 * die.standard_normal(true.shape)
    if cycle.fate == DEAD:
        dies = math.ceil(plan.wrong)
        read[cycle.zone, dies:] = read[cycle.zone, dies]
    return read


def _waves(minute: Floats, die: np.random.RandomState) -> Floats:
    """(thermocouples, minutes): slow waves, of twenty minutes to over an hour."""
    many, periods = len(CHANNELS), np.array([23.0, 37.0, 71.0])
    phase = 2.0 * np.pi * die.random_sample((many, 3, 1))
    size = die.standard_normal((many, 3, 1)) / math.sqrt(1.5)
    waves: Floats = np.sin(2.0 * np.pi * minute / periods[:, None] + phase)
    found: Floats = (size * waves).sum(axis=1)
    return found


def _argon(
    cycle: Cycle, minute: Floats, drawn: _Drawn, plan: _Plan, die: np.random.RandomState
) -> Floats:
    """(minutes,) gauge pressure in the cavity as read."""
    rate = drawn.press_kpa_per_min
    level = PURGE_KPA + np.maximum(minute - plan.press, 0.0) * rate
    if cycle.fate == STUCK:
        stands = PURGE_KPA + (plan.wrong - plan.press) * rate
        freed = np.maximum(minute - plan.wrong - cycle.stuck_min, 0.0)
        level = np.minimum(level, stands + freed * CATCH_UP_KPA_PER_MIN[cycle.revision])
    level = np.minimum(level, FULL_KPA)
    if cycle.fate == STARVED:
        level = level - STARVES_KPA_PER_MIN * np.maximum(minute - plan.wrong, 0.0)
    gone = np.exp(-np.maximum(minute - plan.vent, 0.0) / VENT_MIN)
    level = np.where(minute > plan.vent, VENTED_KPA + (level - VENTED_KPA) * gone, level)
    read: Floats = level + (0.3 + 0.0004 * level) * die.standard_normal(minute.size)
    return read


def _recorded(cycle: Cycle, minute: Floats, plan: _Plan) -> Any:
    """(minutes,) True where the recorder wrote; it was silent for some minutes in a gap."""
    if cycle.fate != GAP:
        return np.ones(minute.size, dtype=bool)
    return (minute < plan.wrong) | (minute > plan.wrong + 7.0)
