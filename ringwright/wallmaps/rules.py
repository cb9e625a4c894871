"""What may be said of a case's wall; data in, data or Refused out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ringwright.core.errors import Refused
from ringwright.core.facts import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class WallSet:
    """One set of readings of a case, as it stands on record."""

    serial: str
    number: int
    """Its entry."""
    product: str
    revision: str
    step: int
    method: str
    digest: str
    readings: int
    gauge: str
    u_mm: float | None
    source: str
    file_digest: str
    at_us: int
    known_us: int
    actor: str
    withdrawn: int | None = None
    """The entry that withdrew it; None while it counts."""
    withdrawn_known_us: int | None = None
    withdrawn_by: str = ""
    withdrawn_why: str = ""

    @property
    def counts(self) -> bool:
        """True while nobody withdrew it."""
        return self.withdrawn is None


def fold(serial: str, entries: Sequence[Entry]) -> tuple[WallSet, ...]:
    """Every set of a case, in recorded order; raises Refused where a rule is broken."""
    found: dict[int, WallSet] = {}
    for entry in entries:
        if entry.kind == "wall-read":
            found[entry.seq] = _read(serial, entry, tuple(found.values()))
        else:
            number = entry.data["entry"]
            check_counts(found.get(number), serial, number)
            found[number] = replace(
                found[number],
                withdrawn=entry.seq,
                withdrawn_known_us=entry.known_us,
                withdrawn_by=entry.actor,
                withdrawn_why=entry.data["reason"],
            )
    return tuple(found.values())


def check_counts(found: WallSet | None, serial: str, number: int) -> None:
    """Refuse to withdraw a set that is not there, or twice."""
    if found is None:
        raise Refused(f"entry {number} is no set of readings of {serial}")
    if not found.counts:
        raise Refused(f"entry {number} of {serial} was withdrawn already")


def _read(serial: str, entry: Entry, before: Sequence[WallSet]) -> WallSet:
    data = entry.data
    check_new(before, data["digest"], data["step"])
    return WallSet(
        serial=serial,
        number=entry.seq,
        product=data["product"],
        revision=data["revision"],
        step=data["step"],
        method=data["method"],
        digest=data["digest"],
        readings=data["readings"],
        gauge=data.get("gauge") or "",
        u_mm=data.get("u_mm"),
        source=data.get("source", ""),
        file_digest=data.get("file_digest", ""),
        at_us=entry.at_us,
        known_us=entry.known_us,
        actor=entry.actor,
    )


def check_new(before: Sequence[WallSet], digest: str, step: int) -> None:
    """Refuse the very readings that count at this step already."""
    same = [one for one in before if one.counts and (one.digest, one.step) == (digest, step)]
    if same:
        raise Refused(f"these readings are in the record already (entry {same[0].number})")


def latest_by_step(sets: Sequence[WallSet]) -> dict[int, WallSet]:
    """Step to its latest set that counts, steps in order."""
    found = {
        one.step: one
        for one in sorted(sets, key=lambda one: (one.at_us, one.number))
        if one.counts
    }
    return dict(sorted(found.items()))
