"""Facts: what can happen, as frozen dataclasses, and how the ledger finds their class again.

A fact says one thing that happened to one subject (a part, a product, a calendar). The ledger
keeps it as an event: the envelope (who, where, when, when learned) and the fact's payload.
Folds read `Entry`, the event as a light tuple, because a replay reads millions of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, ClassVar, NamedTuple

from ringwright.core.errors import RingwrightError


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Something that happened to a subject; subclasses name it and carry its particulars."""

    kind: ClassVar[str] = ""
    subject_kind: ClassVar[str] = ""
    version: ClassVar[int] = 1

    def payload(self) -> dict[str, Any]:
        """The particulars that were given, as JSON values; absent ones are left out."""
        found = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if value is not None and value != ():
                found[field.name] = list(value) if isinstance(value, tuple) else value
        return found


class Entry(NamedTuple):
    """One event as folds read it. Instants are microseconds UTC."""

    seq: int
    kind: str
    at_us: int
    known_us: int
    actor: str
    station: str
    corrects: int | None
    data: Mapping[str, Any]


class UnknownFact(RingwrightError):
    """The ledger holds a kind of fact that this version does not know."""

    code = "unknown-fact"


Upcaster = Callable[[dict[str, Any]], dict[str, Any]]


class Registry:
    """Kind name to fact class, and the upcasters that bring old payloads up to date."""

    def __init__(self) -> None:
        self._kinds: dict[tuple[str, str], type[Fact]] = {}
        self._upcasters: dict[tuple[str, str, int], Upcaster] = {}
        self._present: set[tuple[str, str, int]] = set()

    def register(self, *facts: type[Fact]) -> None:
        """Make fact classes known; the same kind twice for one subject kind is an error."""
        for fact in facts:
            name = (fact.subject_kind, fact.kind)
            if self._kinds.setdefault(name, fact) is not fact:
                raise ValueError(f"two facts are called {name}")
            self._present.add((*name, fact.version))

    def upcast_from(self, fact: type[Fact], version: int, change: Upcaster) -> None:
        """Say how a payload of an old version becomes one of the next version."""
        self._upcasters[fact.subject_kind, fact.kind, version] = change

    def kinds(self) -> list[tuple[str, str]]:
        """All known (subject kind, kind) pairs, sorted."""
        return sorted(self._kinds)

    def is_current(self, subject_kind: str, kind: str, version: int) -> bool:
        """True when a payload of this version is in the present form."""
        return (subject_kind, kind, version) in self._present

    def current(self, subject_kind: str, kind: str, version: int, data: Any) -> Any:
        """The payload brought up to the present version; raises UnknownFact."""
        fact = self._kinds.get((subject_kind, kind))
        if fact is None or version > fact.version:
            raise UnknownFact(
                f"event kind {kind!r} v{version} of a {subject_kind} is not known"
            )
        while version < fact.version:
            data = self._upcasters[subject_kind, kind, version](data)
            version += 1
        return data
