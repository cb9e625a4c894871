"""Where the demo's story began, so that it can be told on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoBegun(Fact):
    """The invented factory of this store was simulated from this seed and moment on."""

    kind: ClassVar[str] = "demo-begun"
    subject_kind: ClassVar[str] = "demo"
    seed: int
    start_us: int
