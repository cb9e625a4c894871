"""One set as its pages show it: planned, as it stands in the disc, and what it lacks."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ringwright.balance.grade import Comparison, compare
from ringwright.balance.pool import Pool
from ringwright.balance.uncertainty import Floor, Uncertainty, uncertainty_of
from ringwright.balance.vectors import Measured, measure
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.sets.lacking import WATCHED, lacking_of
from ringwright.sets.queries import read_rotor, read_set, read_set_events
from ringwright.sets.ring import Seat
from ringwright.sets.rotor import Rotor, floor_of
from ringwright.sets.rules import BladeSet, Readings
from ringwright.sets.stock import blade_of


@dataclass(frozen=True, slots=True)
class Told:
    """One fact of the set, as its history shows it."""

    seq: int
    kind: str
    at_us: int
    actor: str
    data: Mapping[str, object]


@dataclass(frozen=True, kw_only=True)
class SetSheet:
    """Everything of one set's pages, from one snapshot."""

    snapshot: Snapshot
    found: BladeSet
    rotor: Rotor
    lacking: Mapping[str, str]
    """Serial to why it does not count now."""
    events: tuple[Told, ...]
    pool: Pool
    """The set's blades that were read, as it was built on; fewer where one was not."""

    @property
    def floor(self) -> Floor:
        """What is entered of the uncertainties."""
        return floor_of(self.rotor)

    @property
    def measured(self) -> Measured | None:
        """The set as planned; None while a blade of it was never read."""
        return self.measure(self.found.slots)

    @property
    def expected(self) -> Measured | None:
        """The set as it will stand: what is fitted where it is, the rest as planned."""
        return self.measure(as_it_will_stand(self.found))

    def measure(self, serials: Sequence[str]) -> Measured | None:
        """An order of the set's blades; None while one of them was never read."""
        if len(self.pool) < len(self.found.slots):
            return None
        return measure(self.pool, [self.pool.places[serial] for serial in serials])

    @property
    def doubt(self) -> Uncertainty | None:
        """How far the residual may be off."""
        if len(self.pool) < len(self.found.slots):
            return None
        return uncertainty_of(self.pool, range(len(self.pool)), self.floor)

    def compared(self, measured: Measured | None) -> Comparison | None:
        """Against the share; None where none is allotted."""
        doubt = self.doubt
        if measured is None or doubt is None:
            return None
        return compare(measured.residual_g_mm, doubt.p95_g_mm, self.rotor.share_g_mm)

    @property
    def misplaced(self) -> tuple[tuple[int, str, int], ...]:
        """(slot, serial, slot planned for it) of blades that stand elsewhere than planned."""
        return tuple(
            (slot, serial, self.found.slot_of(serial) or 0)
            for slot, serial in sorted(self.found.fitted.items())
            if self.found.slot_of(serial) != slot
        )

    def seats(self) -> tuple[Seat, ...]:
        """The ring as planned, or as it stands once a blade is fitted."""
        if not self.found.fitted:
            return self.planned_seats()
        return tuple(
            self._seat(slot, serial or "", self._mark(slot, serial))
            for slot, serial in enumerate(self.found.standing(), 1)
        )

    def planned_seats(self) -> tuple[Seat, ...]:
        """The ring as planned, whatever stands in it."""
        return tuple(
            self._seat(slot, serial, "lacking" if serial in self.lacking else "")
            for slot, serial in enumerate(self.found.slots, 1)
        )

    def _mark(self, slot: int, serial: str | None) -> str:
        if serial is None:
            return "empty"
        if serial in self.lacking:
            return "lacking"
        return "" if self.found.slot_of(serial) == slot else "other"

    def _seat(self, slot: int, serial: str, mark: str) -> Seat:
        values = self.found.readings.get(serial, {})
        return Seat(
            slot=slot,
            serial=serial,
            moment_g_mm=values.get("moment"),
            frequency_hz=values.get("frequency"),
            mark=mark,
        )


def as_it_will_stand(found: BladeSet) -> list[str]:
    """Serial of slot 1 … N if all that is not fitted yet goes where it was planned.

    A blade whose slot is taken goes into a slot that is left, in their order: two blades in
    each other's slots thus show as exchanged with the first of them that is scanned.
    """
    standing = found.standing()
    waiting = [serial for serial in found.slots if serial not in found.fitted.values()]
    for slot, there in enumerate(standing):
        if there is None and found.slots[slot] in waiting:
            standing[slot] = found.slots[slot]
            waiting.remove(found.slots[slot])
    return [serial if serial is not None else waiting.pop(0) for serial in standing]


def read_set_sheet(read: Read, code: str) -> SetSheet:
    """One set; raises Missing."""
    found = read_set(read, code)
    events = tuple(
        Told(row.site_seq, row.kind, row.at_us, row.actor, json.loads(row.payload))
        for row in read_set_events(read, code)
    )
    return SetSheet(
        snapshot=snapshot_of(read),
        found=found,
        rotor=read_rotor(read, found.product),
        lacking=lacking_of(read, found.slots) if found.state in WATCHED else {},
        events=events,
        pool=pool_of(found.slots, found.readings),
    )


def pool_of(serials: Sequence[str], readings: Readings) -> Pool:
    """The blades that have a moment."""
    return Pool(
        blades=tuple(
            blade_of(serial, readings[serial], readings[serial].get("moment_u"))
            for serial in serials
            if readings.get(serial, {}).get("moment") is not None
        )
    )
