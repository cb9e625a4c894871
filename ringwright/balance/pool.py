"""The blades to choose from, with the readings that a set is built on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from ringwright.core.errors import Refused

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.intp]
Vectors: TypeAlias = npt.NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Blade:
    """One finished blade as its last valid readings describe it; None where not read."""

    serial: str
    moment_g_mm: float
    tangential_g_mm: float = 0.0
    axial_g_mm2: float | None = None
    mass_g: float | None = None
    frequency_hz: float | None = None
    moment_u_g_mm: float | None = None
    """Standard uncertainty of the moment, from the scale."""


@dataclass(frozen=True, kw_only=True)
class Pool:
    """Blades in a fixed order; everything else in this package speaks of them by place in it.

    Raises Refused when a serial stands twice.
    """

    blades: tuple[Blade, ...]

    def __post_init__(self) -> None:
        if len(self.places) < len(self.blades):
            serials = Counter(blade.serial for blade in self.blades)
            twice = serials.most_common(1)[0][0]
            raise Refused(f"blade {twice} stands twice in the pool; a serial is one blade")

    def __len__(self) -> int:
        return len(self.blades)

    @cached_property
    def places(self) -> dict[str, int]:
        """Serial to place."""
        return {blade.serial: place for place, blade in enumerate(self.blades)}

    @cached_property
    def moment_g_mm(self) -> Floats:
        """Radial mass moments, shape (n,)."""
        return np.array([blade.moment_g_mm for blade in self.blades], dtype=np.float64)

    @cached_property
    def tangential_g_mm(self) -> Floats:
        """Tangential mass moments, shape (n,); positive towards rising slot number."""
        return np.array([blade.tangential_g_mm for blade in self.blades], dtype=np.float64)

    @cached_property
    def moments(self) -> Vectors:
        """Radial plus i times tangential moment, shape (n,), g·mm."""
        return self.moment_g_mm + 1j * self.tangential_g_mm

    @cached_property
    def axial_g_mm2(self) -> Floats | None:
        """Axial moments, shape (n,); None unless every blade has one."""
        return self._all("axial_g_mm2")

    @cached_property
    def frequency_hz(self) -> Floats | None:
        """Natural frequencies, shape (n,); None unless every blade has one."""
        return self._all("frequency_hz")

    @cached_property
    def moment_u_g_mm(self) -> Floats | None:
        """Standard uncertainties of the moments, shape (n,); None unless all have one."""
        return self._all("moment_u_g_mm")

    def _all(self, name: str) -> Floats | None:
        values = [getattr(blade, name) for blade in self.blades]
        if not values or any(value is None for value in values):
            return None
        return np.array(values, dtype=np.float64)

    def take(self, places: Sequence[int] | Ints) -> Pool:
        """The pool of these places alone, in the order given."""
        return Pool(blades=tuple(self.blades[int(place)] for place in places))

    def without(self, serials: frozenset[str]) -> Pool:
        """The pool less some blades."""
        return Pool(blades=tuple(b for b in self.blades if b.serial not in serials))

    def serials(self, places: Sequence[int] | Ints) -> tuple[str, ...]:
        """Serials of the places."""
        return tuple(self.blades[int(place)].serial for place in places)
