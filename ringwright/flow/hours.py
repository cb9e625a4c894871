"""Working hours of each station group: its stations' calendars, else the site's first one.

A group works while any of its stations does; where they have calendars of their own, these are
worked together. A site without a calendar works round the clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ringwright.core.shifts import Interval, working_intervals, working_us
from ringwright.ledger.service import Read
from ringwright.sites.queries import read_all_calendars, read_stations
from ringwright.sites.site import Calendar, Station


@dataclass(slots=True)
class GroupHours:
    """Working time of station groups within one span, worked out once for each calendar."""

    calendars: Mapping[str, Sequence[Calendar]]
    """Code to revisions, the site's own first."""
    stations: Sequence[Station]
    zone: str
    span: Interval
    """The widest span that is asked about [us)."""
    _codes: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _worked: dict[tuple[str, ...], tuple[Interval, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        own = next(iter(self.calendars), "")
        found: dict[str, set[str]] = {}
        for station in self.stations:
            code = station.calendar if station.calendar in self.calendars else own
            for name in {station.group, station.code} - {""}:
                found.setdefault(name, set()).add(code)
        self._codes.update({name: tuple(sorted(codes)) for name, codes in found.items()})
        self._codes[""] = (own,)

    def intervals(self, group: str) -> tuple[Interval, ...]:
        """When the group works within the span; one that no station has: as the site."""
        codes = self._codes.get(group, self._codes[""])
        if codes not in self._worked:
            revisions = [row for code in codes for row in self.calendars.get(code, ())]
            self._worked[codes] = working_intervals(revisions, *self.span, self.zone)
        return self._worked[codes]

    def worked_us(self, group: str, start_us: int, end_us: int) -> int:
        """Working time of the group between two instants of the span [us]."""
        return working_us(self.intervals(group), start_us, end_us)

    def works_at(self, group: str, us: int) -> bool:
        """True when the group works at that instant."""
        return any(start <= us < end for start, end in self.intervals(group))


def read_hours(read: Read, starts_us: Iterable[int], end_us: int) -> GroupHours:
    """The hours of every group from the first of these instants to the last one."""
    site = read.site
    return GroupHours(
        calendars=read_all_calendars(read.connection, site.id, read.known_before_us),
        stations=read_stations(read.connection, site.id),
        zone=site.zone,
        span=(min(starts_us, default=end_us), end_us),
    )
