"""What can happen to a week."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPublished(Fact):
    """A product's week was published as it stood; the subject is `PRODUCT 2026-W40`."""

    kind: ClassVar[str] = "week-publish"
    subject_kind: ClassVar[str] = "week"
    numbers: dict[str, Any]
    """The week's numbers as `ringwright week --json` prints them."""
    head_seq: int
    """Number of the last entry they were computed from."""
    head_hash: str
    reason: str | None = None
