"""What can happen to a product."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteRevised(Fact):
    """A revision of a product's route card was added; `at` is the instant it takes effect."""

    kind: ClassVar[str] = "route-revised"
    subject_kind: ClassVar[str] = "product"
    revision: str
    card: dict[str, Any]
