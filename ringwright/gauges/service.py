"""Check a gauge on its master; say that doubted readings stand after all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from sqlalchemy import select

from ringwright.core.errors import Missing, Refused
from ringwright.core.fields import problem_of_text
from ringwright.core.instants import midnight_us
from ringwright.db import FOREVER_US
from ringwright.gauges.queries import read_gauge, read_masters
from ringwright.gauges.rules import (
    GaugePast,
    first_good_after,
    last_good_before,
    last_good_calibration,
    sound,
    why_doubted,
)
from ringwright.ledger.service import Handling
from ringwright.ledger.transaction import Draft, Tx
from ringwright.parts.facts import Doubted, Trusted
from ringwright.parts.tables import Reading
from ringwright.people.allowing import allows
from ringwright.sites.facts import GaugeChecked
from ringwright.sites.gauging import (
    KIND,
    Calibrate,
    SetGauge,
    SetMaster,
    calibrate,
    set_gauge,
    set_master,
)
from ringwright.sites.site import Master

AHEAD_LIMIT_US = 5 * 60 * 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckGauge:
    """A gauge was held to a master: what it read."""

    operation: ClassVar[str] = "check gauge"
    gauge: str
    master: str
    value: float
    unit: str = ""
    """Empty: the master's."""
    note: str = ""
    at_us: int | None = None
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.gauge, self.master, self.value, self.unit, self.note, self.at_us]

    def subject(self) -> str:
        """The gauge's code."""
        return self.gauge


def check_gauge(tx: Tx, command: CheckGauge) -> dict[str, Any]:
    """Record it. Found unsound, what was read since the last good check becomes suspect.

    Raises Missing for an unknown gauge, Refused for a master that is not for its kind.
    """
    past = read_gauge(tx.connection, tx.site.id, command.gauge)
    if past is None:
        raise Missing(f"there is no gauge {command.gauge} on the register")
    problem = problem_of_text(command.note)
    if problem is not None:
        raise Refused(f"note {problem}")
    master = _master(tx, command, past)
    at_us = tx.now_us if command.at_us is None else command.at_us
    if at_us > tx.now_us + AHEAD_LIMIT_US:
        raise Refused("at lies more than five minutes ahead of the server's clock")
    good = sound(command.value, master)
    fact = GaugeChecked(
        master=master.code,
        value=command.value,
        expected=master.value,
        allowed=master.allowed,
        unit=master.unit,
        good=good,
        note=command.note.strip() or None,
    )
    history = tx.history(KIND, command.gauge)
    entry = tx.append(Draft(fact=fact, subject=command.gauge, at_us=at_us), history)
    doubted = (
        0 if good else _doubt_since(tx, past, at_us, why_doubted(command.gauge, master.code))
    )
    return {"gauge": command.gauge, "entry": entry.seq, "good": good, "suspect": doubted}


def _master(tx: Tx, command: CheckGauge, past: GaugePast) -> Master:
    kept = {one.subject: one for one in read_masters(tx.connection, tx.site.id)}
    master = kept.get(f"{command.master}/{past.gauge.kind}")
    if master is None or master.withdrawn:
        known = ", ".join(one.code for one in past.masters) or "none yet"
        raise Refused(
            f"{command.master or 'nothing'} is no master for a {past.gauge.kind} "
            f"(masters: {known})"
        )
    if command.unit and command.unit != master.unit:
        raise Refused(f"{master.code} is read in {master.unit}, not in {command.unit}")
    return master


def _doubt_since(tx: Tx, past: GaugePast, at_us: int, why: str) -> int:
    """Doubt what the gauge read between the good checks before and after `at_us`.

    Without a good check before, what it read since its last good calibration. Returns how
    many readings that were.
    """
    last, following = last_good_before(past.checks, at_us), first_good_after(past.checks, at_us)
    since_us = last.at_us if last else _calibrated_us(tx, past)
    until_us = following.at_us if following else FOREVER_US
    found: dict[str, list[int]] = {}
    for row in _readings_between(tx, past.gauge.code, since_us, until_us):
        if row.suspect is None:
            found.setdefault(row.serial, []).append(row.number)
    facts = {
        serial: Doubted(readings=tuple(numbers), gauge=past.gauge.code, reason=why)
        for serial, numbers in found.items()
    }
    _record_each(tx, facts)
    return sum(map(len, found.values()))


def _calibrated_us(tx: Tx, past: GaugePast) -> int:
    """Midnight of the day of its last good calibration; 0 where there is none."""
    last = last_good_calibration(past.calibrations)
    return midnight_us(last.on, tx.site.zone) if last else 0


def _readings_between(tx: Tx, gauge: str, since_us: int, until_us: int) -> Iterable[Any]:
    query = select(Reading.serial, Reading.number, Reading.suspect).where(
        Reading.site_id == tx.site.id,
        Reading.gauge == gauge,
        Reading.at_us > since_us,
        Reading.at_us < until_us,
        Reading.known_to_us == FOREVER_US,
    )
    return tx.connection.execute(query.order_by(Reading.serial, Reading.number))


def _record_each(tx: Tx, facts: dict[str, Doubted] | dict[str, Trusted]) -> None:
    """One fact a part. A part's rules never refuse these, so none needs to be tried first."""
    histories = tx.histories("part", sorted(facts))
    drafts = [
        Draft(
            fact=fact,
            subject=serial,
            at_us=max([tx.now_us, *(entry.at_us for entry in histories[serial])]),
        )
        for serial, fact in sorted(facts.items())
    ]
    tx.append_many(drafts, {("part", serial): histories[serial] for serial in facts})


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """Suspect readings of a gauge stand after all: of some parts, or of all."""

    operation: ClassVar[str] = "trust readings"
    gauge: str
    reason: str
    serials: tuple[str, ...] = ()
    """Empty: every part with a suspect reading of that gauge."""
    key: str | None

    def body(self) -> Any:
        """All fields but the key."""
        return [self.gauge, self.reason, list(self.serials)]

    def subject(self) -> str:
        """The gauge's code."""
        return self.gauge


def trust(tx: Tx, command: Trust) -> dict[str, Any]:
    """Record it part by part; raises Refused without a reason, or where nothing is suspect."""
    problem = problem_of_text(command.reason)
    if problem is not None or not command.reason.strip():
        raise Refused(f"reason {problem}" if problem else "say how it is known (reason)")
    found: dict[str, list[int]] = {}
    for row in read_suspects(tx, command.gauge):
        found.setdefault(row.serial, []).append(row.number)
    wanted = set(command.serials) or set(found)
    unknown = sorted(wanted - set(found))
    if unknown or not wanted:
        named = ", ".join(unknown[:12]) or f"gauge {command.gauge}"
        raise Refused(f"no suspect reading of {named}")
    reason = command.reason.strip()
    facts = {
        serial: Trusted(readings=tuple(numbers), reason=reason)
        for serial, numbers in found.items()
        if serial in wanted
    }
    _record_each(tx, facts)
    return {"gauge": command.gauge, "parts": len(facts)}


def read_suspects(tx: Tx, gauge: str) -> Sequence[Any]:
    """Serial and entry number of every suspect reading of a gauge, as believed now."""
    query = select(Reading.serial, Reading.number).where(
        Reading.site_id == tx.site.id,
        Reading.gauge == gauge,
        Reading.suspect.is_not(None),
        Reading.known_to_us == FOREVER_US,
    )
    return tx.connection.execute(query.order_by(Reading.serial, Reading.number)).all()


HANDLINGS: dict[type, Handling] = {
    SetGauge: Handling(set_gauge, allows("gauges")),
    SetMaster: Handling(set_master, allows("gauges")),
    Calibrate: Handling(calibrate, allows("gauges")),
    CheckGauge: Handling(check_gauge, allows("check gauge")),
    Trust: Handling(trust, allows("trust readings")),
}
