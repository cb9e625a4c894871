"""Which gauges a step can be read with, and which is chosen at this screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ringwright.bench.forms import WITH
from ringwright.bench.queries import BenchSheet, Ruler
from ringwright.gauges.queries import read_gauges
from ringwright.gauges.register import GaugeLine, read_lines
from ringwright.gauges.rules import uncertainty_in
from ringwright.kit.forms import Given
from ringwright.ledger.service import Read
from ringwright.sites.queries import read_stations


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeChoice:
    """The gauges of one kind that are in use, and the one chosen."""

    kind: str
    lines: tuple[GaugeLine, ...]
    chosen: str

    @property
    def line(self) -> GaugeLine | None:
        """The chosen gauge; None while none is."""
        return next((one for one in self.lines if one.gauge.code == self.chosen), None)


def read_gauge_choices(
    read: Read, sheet: BenchSheet, station: str, given: Given
) -> tuple[GaugeChoice, ...]:
    """A choice for each kind of gauge that the step reads with and the register keeps."""
    kinds = list(dict.fromkeys(one.of.gauge_kind for one in sheet.rulers if one.of.gauge_kind))
    if not kinds or sheet.part.place != "in work":
        return ()
    lines = _lines(read, kinds)
    typed = given.under(WITH)
    found = []
    for kind in kinds:
        of_kind = tuple(one for one in lines if one.gauge.kind == kind)
        if of_kind:
            used = [one.gauge for one in sheet.rulers if one.of.gauge_kind == kind]
            chosen = typed.get(kind) or _default(of_kind, used, station)
            found.append(GaugeChoice(kind=kind, lines=of_kind, chosen=chosen))
    return tuple(found)


def _lines(read: Read, kinds: Sequence[str]) -> tuple[GaugeLine, ...]:
    """The gauges of some kinds that are in use: a screen of the Bench reads no others."""
    connection, site_id = read.connection, read.site.id
    wanted = [
        one
        for one in read_gauges(connection, site_id)
        if one.kind in kinds and not one.withdrawn
    ]
    return read_lines(read, wanted, read_stations(connection, site_id)) if wanted else ()


def _default(lines: Sequence[GaugeLine], used: Sequence[str | None], station: str) -> str:
    """What this visit was read with; else the only one that can be meant.

    That is the only one at this station, or where the station has none the only one there is.
    With two to choose from a person chooses: a wrong gauge in the record is worse than a scan.
    """
    codes = [one.gauge.code for one in lines]
    last = next((code for code in reversed(used) if code in codes), None)
    if last:
        return last
    here = [one for one in lines if station and one.gauge.station == station]
    meant = here or list(lines)
    return meant[0].gauge.code if len(meant) == 1 else ""


def chosen_uncertainty(choices: Sequence[GaugeChoice], ruler: Ruler) -> float | None:
    """Standard uncertainty of a reading with the chosen gauge; None where it is not known."""
    of_kind = (one.line for one in choices if one.kind == ruler.of.gauge_kind)
    line = next(of_kind, None)
    return uncertainty_in(line.gauge, line.now, ruler.unit) if line else None
