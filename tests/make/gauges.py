"""Gauges on the small floor of `tests/make/floor.py`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ringwright.assembly import SYSTEM
from ringwright.bench.acts import EnterReadings, Inspect
from ringwright.db import FOREVER_US
from ringwright.gauges.queries import moment_of, read_gauge
from ringwright.gauges.rules import GaugePast, Standing, standing
from ringwright.gauges.service import CheckGauge, Trust
from ringwright.gauges.studies import KeepStudy
from ringwright.measure.study import StudyReading
from ringwright.parts.tables import Reading
from ringwright.routecards.service import LoadRoute
from ringwright.routecards.toml import parse_route
from ringwright.sites.gauging import Calibrate, SetGauge, SetMaster
from ringwright.sites.site import Calibration, Gauge, Master
from tests.make.floor import CODE, INSPECTOR, QUALITY, ROUTE, Floor, open_floor


@dataclass
class GaugeRoom:
    """What is done with gauges."""

    floor: Floor

    def set(self, code: str = "CMM-1", kind: str = "cmm", **given: Any) -> dict[str, Any]:
        """Put a gauge on the register."""
        given = {"unit": "mm", "uncertainty": 0.02, **given}
        command = SetGauge(gauge=Gauge(code=code, kind=kind, **given), key=self.floor.key())
        return self.floor.do(command, QUALITY)

    def calibrate(self, code: str = "CMM-1", **given: Any) -> dict[str, Any]:
        """Record a calibration: good for the year, unless said otherwise."""
        given = {"on": "2026-09-01", "due": "2027-08-31", **given}
        one = Calibration(gauge=code, **given)
        return self.floor.do(Calibrate(calibration=one, key=self.floor.key()), QUALITY)

    def master(self, code: str = "MB-1", kind: str = "cmm", **given: Any) -> dict[str, Any]:
        """Keep a master."""
        given = {"unit": "mm", "value": 11.0, "allowed": 0.1, **given}
        one = Master(code=code, gauge_kind=kind, **given)
        return self.floor.do(SetMaster(master=one, key=self.floor.key()), QUALITY)

    def check(self, value: float = 11.0, code: str = "CMM-1", **given: Any) -> dict[str, Any]:
        """Hold a gauge to its master."""
        given = {"master": "MB-1", **given}
        command = CheckGauge(gauge=code, value=value, key=self.floor.key(), **given)
        return self.floor.do(command, INSPECTOR)

    def trust(self, code: str = "CMM-1", **given: Any) -> dict[str, Any]:
        """Let suspect readings stand."""
        given = {"reason": "read again on the other machine", **given}
        return self.floor.do(Trust(gauge=code, key=self.floor.key(), **given), QUALITY)

    def past(self, code: str = "CMM-1") -> GaugePast:
        """A gauge as the record has it."""
        with self.floor.ledger.read(CODE) as read:
            found = read_gauge(read.connection, read.site.id, code)
        assert found is not None
        return found

    def standing(self, code: str = "CMM-1", at_us: int | None = None) -> Standing:
        """How it stands now, or stood."""
        past = self.past(code)
        with self.floor.ledger.read(CODE) as read:
            at = read.now_us if at_us is None else at_us
            site = (read.site.id, read.site.zone)
            return standing(past, moment_of(read.connection, site, at, past.gauge.station))

    def read(self, serial: str, value: float, **given: Any) -> dict[str, Any]:
        """Read the chord of a part at step 30 and keep it."""
        given = {"gauges": {"cmm": "CMM-1"}, **given}
        command = EnterReadings(
            serial=serial, readings={"chord": value}, key=self.floor.key(), **given
        )
        return self.floor.do(command, INSPECTOR)

    def pass_on(self, serial: str, value: float | None = None, **given: Any) -> dict[str, Any]:
        """Pass a part at step 30, with a reading of its chord."""
        given = {"gauges": {"cmm": "CMM-1"}, **given}
        readings = {} if value is None else {"chord": value}
        command = Inspect(
            serial=serial, readings=readings, outcome="pass", key=self.floor.key(), **given
        )
        return self.floor.do(command, INSPECTOR)

    def suspects(self) -> list[tuple[str, str]]:
        """Serial and reason of each suspect reading, as believed now."""
        rows = self.floor.rows(
            [Reading.serial, Reading.suspect],
            Reading.suspect.is_not(None),
            Reading.known_to_us == FOREVER_US,
        )
        return [(serial, why) for serial, why in rows]

    def uncertainty_of(self, serial: str) -> float | None:
        """Of the part's last reading."""
        rows = self.floor.rows(
            [Reading.number, Reading.uncertainty],
            Reading.serial == serial,
            Reading.known_to_us == FOREVER_US,
        )
        return rows[-1][1] if rows else None


def open_with_gauges(url: str) -> GaugeRoom:
    """A floor whose chord names its kind of gauge and is guarded; CMM-1 is calibrated."""
    floor = open_floor(url)
    line = "decimals = 2\n"
    route = ROUTE.replace(line, f'{line}gauge_kind = "cmm"\ndecision = "guarded"\n')
    route = route.replace('name = "Oar blade"', 'name = "Oar blade"\nrevision = "2"')
    floor.ledger.execute(CODE, LoadRoute(card=parse_route(route, "route")), SYSTEM)
    room = GaugeRoom(floor)
    room.set()
    room.calibrate()
    return room


def small_study(gauge: str, what: str, unit: str) -> KeepStudy:
    """Two people read three parts twice."""
    return KeepStudy(
        gauge=gauge,
        characteristic=what,
        unit=unit,
        readings=tuple(
            StudyReading(
                part=f"P-{part}", operator=f"insp-{who}", value=part + who / 10 + turn / 50
            )
            for part in (1, 2, 3)
            for who in (1, 2)
            for turn in (1, 2)
        ),
        key=f"study-{gauge}",
    )
