"""Gauge studies in the record: keep one, read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from sqlalchemy import func, select

from ringwright.core.errors import Missing, Refused
from ringwright.core.facts import Entry, Registry
from ringwright.core.fields import problem_of_code, problem_of_text
from ringwright.gauges.queries import read_gauges
from ringwright.ledger.service import Handling, Read
from ringwright.ledger.tables import Event
from ringwright.ledger.transaction import Draft, Tx, fetch_entries
from ringwright.measure.study import StudyAnswer, StudyReading, crossed_study
from ringwright.people.allowing import allows
from ringwright.sites.facts import FACTS, GaugeSet, GaugeStudied
from ringwright.sites.gauging import KIND

_REGISTRY = Registry()
_REGISTRY.register(*FACTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepStudy:
    """A crossed study of a gauge, as it was read."""

    operation: ClassVar[str] = "keep gauge study"
    gauge: str
    characteristic: str
    unit: str
    readings: tuple[StudyReading, ...]
    lower: float | None = None
    upper: float | None = None
    note: str = ""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        told = [[one.part, one.operator, one.value] for one in self.readings]
        limits = [self.lower, self.upper]
        return [self.gauge, self.characteristic, self.unit, told, limits, self.note]

    def subject(self) -> str:
        """The gauge's code."""
        return self.gauge


def keep_study(tx: Tx, command: KeepStudy) -> dict[str, Any]:
    """Record it; raises Missing for an unknown gauge, Refused for what is no crossed study."""
    history = tx.history(KIND, command.gauge)
    if not any(entry.kind == GaugeSet.kind for entry in history):
        raise Missing(f"there is no gauge {command.gauge} on the register")
    _check_texts(command)
    lower, upper = command.lower, command.upper
    if lower is not None and upper is not None and upper <= lower:
        raise Refused("the upper limit must lie above the lower one")
    crossed_study(command.readings, command.lower, command.upper)
    fact = GaugeStudied(
        characteristic=command.characteristic.strip(),
        unit=command.unit,
        readings=[[one.part, one.operator, one.value] for one in command.readings],
        lower=command.lower,
        upper=command.upper,
        note=command.note.strip() or None,
    )
    number = _kept(tx) + 1
    entry = tx.append(Draft(fact=fact, subject=command.gauge, at_us=tx.now_us), history)
    return {"gauge": command.gauge, "study": number, "entry": entry.seq}


def _kept(tx: Tx) -> int:
    """How many studies the site has kept: they are numbered in their order."""
    query = select(func.count()).where(
        Event.site_id == tx.site.id,
        Event.subject_kind == KIND,
        Event.kind == GaugeStudied.kind,
    )
    return int(tx.connection.execute(query).scalar_one())


def _check_texts(command: KeepStudy) -> None:
    if not command.characteristic.strip():
        raise Refused("say what was read (characteristic)")
    for name, text in (("characteristic", command.characteristic), ("note", command.note)):
        problem = problem_of_text(text)
        if problem is not None:
            raise Refused(f"{name} {problem}")
    problem = "is missing" if not command.unit else problem_of_code(command.unit)
    if problem is not None:
        raise Refused(f"unit {problem}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A study on the record with what it found."""

    number: int
    """Its place, from 1, in the order the site kept them."""
    gauge: str
    characteristic: str
    unit: str
    lower: float | None
    upper: float | None
    note: str
    at_us: int
    actor: str
    readings: tuple[StudyReading, ...]
    answer: StudyAnswer


def read_studies(read: Read) -> list[Study]:
    """Every study of the site, the newest first."""
    codes = [one.code for one in read_gauges(read.connection, read.site.id)]
    found = fetch_entries(read.connection, _REGISTRY, read.site.id, KIND, codes)
    kept = sorted(
        (entry.seq, code, entry)
        for code, entries in found.items()
        for entry in entries
        if entry.kind == GaugeStudied.kind
    )
    studies = [_study(place, code, entry) for place, (_, code, entry) in enumerate(kept, 1)]
    return studies[::-1]


def _study(number: int, code: str, entry: Entry) -> Study:
    data = entry.data
    readings = tuple(
        StudyReading(part=part, operator=operator, value=value)
        for part, operator, value in data["readings"]
    )
    lower, upper = data.get("lower"), data.get("upper")
    return Study(
        number=number,
        gauge=code,
        characteristic=data["characteristic"],
        unit=data["unit"],
        lower=lower,
        upper=upper,
        note=data.get("note") or "",
        at_us=entry.at_us,
        actor=entry.actor,
        readings=readings,
        answer=crossed_study(readings, lower, upper),
    )


HANDLINGS: dict[type, Handling] = {
    KeepStudy: Handling(keep_study, allows("check gauge")),
}
