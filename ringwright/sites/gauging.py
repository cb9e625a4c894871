"""The register of gauges and masters: set one, record a calibration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from ringwright.core.errors import Missing, Refused
from ringwright.core.facts import Fact
from ringwright.core.fields import as_data
from ringwright.ledger.transaction import Draft, Tx
from ringwright.sites.facts import GaugeCalibrated, GaugeSet, MasterSet, StationSet
from ringwright.sites.gauge_papers import checked_calibration, checked_gauge, checked_master
from ringwright.sites.queries import when_at
from ringwright.sites.site import Calibration, Gauge, Master, SiteFile

KIND = GaugeSet.subject_kind


@dataclass(frozen=True, slots=True, kw_only=True)
class SetGauge:
    """Put a gauge on the register, change what it says, or take the gauge out of use."""

    operation: ClassVar[str] = "set gauge"
    gauge: Gauge
    key: str | None

    def body(self) -> Any:
        """The gauge as JSON values."""
        return as_data(self.gauge)

    def subject(self) -> str:
        """The gauge's code."""
        return self.gauge.code


def set_gauge(tx: Tx, command: SetGauge) -> dict[str, Any]:
    """Record it; raises Refused for an unsound one or a station that is not there."""
    gauge = checked_gauge(command.gauge)
    # By its history, so that a station of the same file counts.
    if gauge.station and not tx.history(StationSet.subject_kind, gauge.station):
        raise Refused(f"there is no station {gauge.station}")
    history = tx.history(KIND, gauge.code)
    before = _last(history, GaugeSet)
    if before is not None and before.data["gauge"]["kind"] != gauge.kind:
        raise Refused(
            f"{gauge.code} is a {before.data['gauge']['kind']}; a gauge keeps its kind. Give "
            "the other one a code of its own"
        )
    changed = _record(tx, gauge.code, GaugeSet(gauge=as_data(gauge)), before)
    return {"gauge": gauge.code, "changed": changed}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetMaster:
    """Keep a master for gauges of a kind, or take it out of use."""

    operation: ClassVar[str] = "set master"
    master: Master
    key: str | None

    def body(self) -> Any:
        """The master as JSON values."""
        return as_data(self.master)

    def subject(self) -> str:
        """The master and the kind of gauge."""
        return self.master.subject


def set_master(tx: Tx, command: SetMaster) -> dict[str, Any]:
    """Record it; raises Refused for an unsound one."""
    master = checked_master(command.master)
    history = tx.history(MasterSet.subject_kind, master.subject)
    fact = MasterSet(master=as_data(master))
    return {
        "master": master.subject,
        "changed": _record(tx, master.subject, fact, _last(history, MasterSet)),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrate:
    """Record what a calibration of a gauge found."""

    operation: ClassVar[str] = "calibrate"
    calibration: Calibration
    key: str | None

    def body(self) -> Any:
        """The calibration as JSON values."""
        return as_data(self.calibration)

    def subject(self) -> str:
        """The gauge's code."""
        return self.calibration.gauge


def calibrate(tx: Tx, command: Calibrate) -> dict[str, Any]:
    """Record it; raises Missing for a gauge that is not there, Refused for unsound days."""
    one = checked_calibration(command.calibration)
    history = tx.history(KIND, one.gauge)
    if _last(history, GaugeSet) is None:
        raise Missing(f"there is no gauge {one.gauge}; put it on the register first")
    if one.on > when_at(tx.now_us, tx.site.zone).day:
        raise Refused("the day of the calibration has not come yet")
    fact = GaugeCalibrated(calibration=as_data(one))
    entry = tx.append(Draft(fact=fact, subject=one.gauge, at_us=tx.now_us), history)
    return {"gauge": one.gauge, "entry": entry.seq, "good": one.good}


def gauges_by_file(tx: Tx, file: SiteFile) -> int:
    """Record what a site file says of gauges and masters; how many facts that added.

    The same file again changes nothing: a calibration once recorded is not recorded again,
    and none that came since is undone.
    """
    added = 0
    for gauge in file.gauges:
        answer = set_gauge(tx, SetGauge(gauge=gauge, key=None))
        added += answer["changed"]
    for master in file.masters:
        added += set_master(tx, SetMaster(master=master, key=None))["changed"]
    for one in file.calibrations:
        data = {"calibration": as_data(one)}
        if all(entry.data != data for entry in tx.history(KIND, one.gauge)):
            calibrate(tx, Calibrate(calibration=one, key=None))
            added += 1
    return added


def _last(history: Any, fact: type[Fact]) -> Any:
    return next((one for one in reversed(history) if one.kind == fact.kind), None)


def _record(tx: Tx, subject: str, fact: Fact, before: Any) -> bool:
    if before is not None and before.data == fact.payload():
        return False
    history = tx.history(fact.subject_kind, subject)
    tx.append(Draft(fact=fact, subject=subject, at_us=tx.now_us), history)
    return True
