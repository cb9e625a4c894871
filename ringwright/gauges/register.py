"""The register of gauges as one snapshot: how each stands, what is to be checked this shift."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

from sqlalchemy import func, select

from ringwright.core.errors import Missing
from ringwright.core.instants import iso_text, midnight_us
from ringwright.db import FOREVER_US
from ringwright.gauges.queries import (
    moment_in,
    moment_of,
    read_gauge,
    read_gauges,
    read_masters,
    read_pasts,
)
from ringwright.gauges.rules import (
    UNCHECKED,
    WITHDRAWN,
    Calibrated,
    GaugePast,
    Moment,
    Standing,
    day_after,
    last_good_calibration,
    standing,
)
from ringwright.kit.cutoff import Snapshot
from ringwright.ledger.drawn import snapshot_of
from ringwright.ledger.service import Read
from ringwright.parts.tables import PartNow, Reading
from ringwright.sites.queries import read_calendars, read_stations
from ringwright.sites.site import Gauge, Master, Station

SUSPECTS_SHOWN: Final = 500
LATEST: Final = 24
"""Checks read of each gauge to say how it stands: more than one shift has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLine:
    """One gauge as it stands now."""

    past: GaugePast
    now: Standing
    suspects: int = 0
    """Readings of it that are suspect, as believed now."""

    @property
    def gauge(self) -> Gauge:
        """What the register says of it."""
        return self.past.gauge

    @property
    def blocked(self) -> bool:
        """True when it is in use and may not decide."""
        return not self.now.decides and self.now.state != WITHDRAWN

    @property
    def checkable(self) -> bool:
        """True when there is a master to hold it to."""
        return bool(self.past.masters) and self.now.state != WITHDRAWN


@dataclass(frozen=True, kw_only=True)
class Register:
    """Every gauge of a site."""

    drawn: Snapshot
    lines: tuple[GaugeLine, ...]
    masters: tuple[Master, ...]
    stations: tuple[Station, ...]

    @cached_property
    def blocked(self) -> tuple[GaugeLine, ...]:
        """Those in use that decide nothing now."""
        return tuple(line for line in self.lines if line.blocked)

    def to_check(self, station: str) -> tuple[GaugeLine, ...]:
        """What has a master, what is not checked this shift first, then the station's own."""
        found = [line for line in self.lines if line.checkable]
        return tuple(
            sorted(
                found,
                key=lambda one: (
                    one.now.state != UNCHECKED, one.gauge.station != station, one.gauge.code
                ),
            )
        )  # fmt: skip


def read_register(read: Read) -> Register:
    """The register as of now."""
    connection, site_id = read.connection, read.site.id
    stations = tuple(read_stations(connection, site_id))
    suspects = _suspect_counts(read)
    lines = read_lines(read, read_gauges(connection, site_id), stations)
    return Register(
        drawn=snapshot_of(read, to_the_minute=True),
        lines=tuple(replace(one, suspects=suspects.get(one.gauge.code, 0)) for one in lines),
        masters=tuple(read_masters(connection, site_id)),
        stations=stations,
    )


def read_lines(
    read: Read, gauges: Sequence[Gauge], stations: Sequence[Station]
) -> tuple[GaugeLine, ...]:
    """How some gauges stand now; their suspect readings are not counted."""
    pasts = read_pasts(read.connection, read.site.id, gauges, most_checks=LATEST)
    moments = _moments(read, stations, {one.station for one in gauges})
    return tuple(
        GaugeLine(past=past, now=standing(past, moments[past.gauge.station]))
        for past in pasts.values()
    )


def _moments(read: Read, stations: Sequence[Station], asked: set[str]) -> dict[str, Moment]:
    """Station code to this moment in its shifts; many stations share one calendar."""
    calendar_of = {one.code: one.calendar for one in stations}
    found: dict[str, Moment] = {}
    by_calendar: dict[str, Moment] = {}
    for station in asked:
        calendar = calendar_of.get(station, "")
        if calendar not in by_calendar:
            rows = read_calendars(read.connection, read.site.id, calendar or None)
            by_calendar[calendar] = moment_in(rows, read.site.zone, read.now_us)
        found[station] = by_calendar[calendar]
    return found


def _suspect_counts(read: Read) -> dict[str, int]:
    query = (
        select(Reading.gauge, func.count())
        .where(
            Reading.site_id == read.site.id,
            Reading.suspect.is_not(None),
            Reading.known_to_us == FOREVER_US,
        )
        .group_by(Reading.gauge)
    )
    return {str(gauge): int(count) for gauge, count in read.connection.execute(query)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SuspectReading:
    """A suspect reading, and where its part is now."""

    serial: str
    characteristic: str
    value: float
    unit: str
    at_us: int
    why: str
    place: str
    step: int | None


@dataclass(frozen=True, kw_only=True)
class GaugeSheet:
    """One gauge with all that is known of it."""

    drawn: Snapshot
    line: GaugeLine
    suspects: tuple[SuspectReading, ...]
    since_us: int | None
    """Midnight of the day of its last good calibration; None: it never had one."""
    read_since: int
    """Parts read with it since then."""

    @property
    def gauge(self) -> Gauge:
        """What the register says of it."""
        return self.line.gauge

    def touched_by(self, failed: Calibrated) -> dict[str, str]:
        """What Traceability is asked about a failed calibration: all that was read with the
        gauge from the last good calibration before it on, up to the end of its day."""
        zone = self.drawn.zone
        order = (failed.on, failed.number)
        before = [one for one in self.line.past.calibrations if (one.on, one.number) < order]
        last = last_good_calibration(before)
        asked = {
            "gauge": self.gauge.code,
            "to": iso_text(midnight_us(day_after(failed.on), zone), zone),
        }
        if last is not None:
            asked["from"] = iso_text(midnight_us(last.on, zone), zone)
        return asked


def read_gauge_sheet(read: Read, code: str) -> GaugeSheet:
    """Everything about one gauge; raises Missing."""
    site = (read.site.id, read.site.zone)
    past = read_gauge(read.connection, read.site.id, code)
    if past is None:
        raise Missing(f"there is no gauge {code} on the register")
    now = standing(past, moment_of(read.connection, site, read.now_us, past.gauge.station))
    suspects = _suspect_counts(read).get(code, 0)
    last = last_good_calibration(past.calibrations)
    since_us = midnight_us(last.on, read.site.zone) if last else None
    return GaugeSheet(
        drawn=snapshot_of(read, to_the_minute=True),
        line=GaugeLine(past=past, now=now, suspects=suspects),
        suspects=tuple(_suspects(read, code)),
        since_us=since_us,
        read_since=_parts_since(read, code, since_us),
    )


def _parts_since(read: Read, code: str, since_us: int | None) -> int:
    query = select(func.count(func.distinct(Reading.serial))).where(
        Reading.site_id == read.site.id,
        Reading.gauge == code,
        Reading.known_to_us == FOREVER_US,
    )
    if since_us is not None:
        query = query.where(Reading.at_us >= since_us)
    return int(read.connection.execute(query).scalar_one())


def _suspects(read: Read, code: str) -> Iterable[SuspectReading]:
    query = (
        select(
            Reading.serial, Reading.characteristic, Reading.value, Reading.unit,
            Reading.at_us, Reading.suspect, PartNow.place, PartNow.step,
        )
        .join(
            PartNow,
            (PartNow.site_id == Reading.site_id) & (PartNow.serial == Reading.serial),
        )
        .where(
            Reading.site_id == read.site.id,
            Reading.gauge == code,
            Reading.suspect.is_not(None),
            Reading.known_to_us == FOREVER_US,
        )
        .order_by(Reading.at_us.desc(), Reading.serial)
        .limit(SUSPECTS_SHOWN)
    )  # fmt: skip
    row: Any
    for row in read.connection.execute(query):
        yield SuspectReading(
            serial=row.serial,
            characteristic=row.characteristic,
            value=row.value,
            unit=row.unit,
            at_us=row.at_us,
            why=row.suspect,
            place=row.place,
            step=row.step,
        )
