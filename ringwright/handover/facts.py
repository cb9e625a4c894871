"""What crews tell each other at the end of a shift; the subject is when the shift begins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.facts import Fact

KIND = "shift"


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverNoted(Fact):
    """Somebody of a shift told the next one something."""

    kind: ClassVar[str] = "handover-noted"
    subject_kind: ClassVar[str] = KIND
    text: str
    for_role: str | None = None
    """A role's code: whom it is for; None: whoever comes."""
    serial: str | None = None
    """The part it is about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverTaken(Fact):
    """Somebody of a later shift read notes of this one and took them over."""

    kind: ClassVar[str] = "handover-taken"
    subject_kind: ClassVar[str] = KIND
    notes: tuple[Any, ...]
    """The entry numbers of the notes."""


FACTS: tuple[type[Fact], ...] = (HandoverNoted, HandoverTaken)
