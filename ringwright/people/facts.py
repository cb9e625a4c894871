"""What can happen to temporary permissions and call-out lists. Codes only, never a name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ringwright.core.facts import Fact


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitGranted(Fact):
    """Somebody may do one thing more for some hours; the subject is its code, `P-1`."""

    kind: ClassVar[str] = "permit"
    subject_kind: ClassVar[str] = "permit"
    person: str
    permission: str
    reason: str
    until_us: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitEnded(Fact):
    """The permission was ended before its time."""

    kind: ClassVar[str] = "permit-end"
    subject_kind: ClassVar[str] = "permit"
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PermitReviewed(Fact):
    """Somebody else looked at what was granted and what was done under it."""

    kind: ClassVar[str] = "permit-review"
    subject_kind: ClassVar[str] = "permit"
    agreed: bool
    note: str | None = None
    """What is done about it, where it was not agreed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalloutSet(Fact):
    """Who is called for a role, in this order, from now on; the subject is the role."""

    kind: ClassVar[str] = "callout-set"
    subject_kind: ClassVar[str] = "callout"
    people: tuple[str, ...] = ()


FACTS: tuple[type[Fact], ...] = (PermitGranted, PermitEnded, PermitReviewed, CalloutSet)
