"""A furnace trace as arrays: what each thermocouple and the pressure read, in order of time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
UTC: Final = "utc"
LOCAL: Final = "local"
SECONDS: Final = "seconds"
CLOCKS: Final = (UTC, LOCAL, SECONDS)
"""Which clock a trace was read by: with an offset, on the wall, or one that was started."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace:
    """Readings of one run, sorted by time, each time once; blanks are NaN."""

    at_s: Floats
    """(n,) seconds of the `clock`: since 1970 UTC where the record says when."""
    temperatures_c: Mapping[str, Floats]
    """Thermocouple (tc1_c, tc2_c …) to its (n,) readings [degC]."""
    pressure_kpa: Floats | None = None
    """(n,) gauge pressure in the cavity; None where it was not recorded."""
    stamps: tuple[str, ...] = ()
    """The times as the file spells them, (n,); empty where the trace comes from no file."""
    clashes: tuple[str, ...] = field(default=())
    """Times, as spelled, at which the file holds two different readings."""
    clock: str = UTC
    """`utc`: seconds since 1970 UTC. `local`: the same of a clock whose offset is not known.
    `seconds`: since whatever the recorder counts from."""

    @property
    def size(self) -> int:
        """Samples."""
        return int(self.at_s.size)
